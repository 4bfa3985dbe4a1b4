"""python -m sitegen, and the command `sitegen`."""

import sys

from sitegen.exit_codes import AT_FAULT, FINE, STOPPED
from sitegen.terminal import OutputLost, ready, settle, tell


def main() -> int:
    """Run one command, whatever becomes of what it writes."""
    try:
        try:
            ready()
            return _run()
        finally:
            settle()
    except KeyboardInterrupt:
        from sitegen.desk.telling import standing

        tell(f"\nstopped; {standing()}\n")
        return STOPPED
    except BrokenPipeError:
        return FINE
    except OutputLost as lost:
        tell(f"sitegen: the output could not be written: {lost}\n")
        return AT_FAULT


def _run() -> int:
    """A build with nothing to do is answered before the rest of the tool is loaded."""
    from sitegen.pipeline.unchanged import answer

    code = answer(sys.argv[1:])
    if code is not None:
        return code
    from sitegen.cli import main as run

    return run()


if __name__ == "__main__":
    sys.exit(main())
