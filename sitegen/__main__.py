"""python -m sitegen, and the command `sitegen`."""

import sys

from sitegen.exit_codes import STOPPED


def main() -> int:
    """Run one command; a build with nothing to do is answered before the rest of the tool is loaded."""
    try:
        from sitegen.pipeline.unchanged import answer

        code = answer(sys.argv[1:])
        if code is not None:
            return code
        from sitegen.cli import main as run
    except KeyboardInterrupt:
        sys.stderr.write("\nstopped; the published site is as it was\n")
        return STOPPED
    return run()


if __name__ == "__main__":
    sys.exit(main())
