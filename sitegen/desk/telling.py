"""What commands say while they work and when they have: how far they are, which site stands, what is wrong."""

import os
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from sitegen.exit_codes import AT_FAULT, FINE
from sitegen.terminal import tell

if TYPE_CHECKING:
    from sitegen.problems import Problem, Problems


class Teller:
    """Tells how far a build has come: one changing line on a terminal, a plain line a stage elsewhere."""

    def __init__(self, out: TextIO | None, quiet: bool) -> None:
        self._out, self._quiet = out, quiet
        self._live = not quiet and out is not None and out.isatty() and os.environ.get("TERM") != "dumb"
        self._stage = ""
        self._shown = 0.0

    def __call__(self, stage: str, done: int, of: int) -> None:
        if self._quiet:
            return
        if self._live:
            now = time.monotonic()
            if done == of or now - self._shown > 0.05:
                self._shown = now
                self._write(f"\r\x1b[K{stage} {done}/{of}" if of > 1 else f"\r\x1b[K{stage}")
        elif stage != self._stage:
            self._write(f"{stage} …\n")
        self._stage = stage

    def end(self) -> None:
        """Clear the changing line."""
        if self._live:
            self._write("\r\x1b[K")

    def _write(self, text: str) -> None:
        if self._out is not None:
            with suppress(OSError):  # where this can't be written nobody can be told so
                self._out.write(text)
                self._out.flush()


def standing() -> str:
    """Which site stands after a command was stopped."""
    lock = sys.modules.get("sitegen.disk.lock")  # loaded by what publishes
    stopped_in_time = lock is None or lock.stopped_in_time()
    return "the published site is as it was" if stopped_in_time else "the new site is published all the same"


def problems_text(folder: Path, problems: "Problems") -> str:
    """Every problem once, worst first, each with its line (also of a file beside the publication); then how many."""
    if not len(problems):
        return ""
    from sitegen.problems import Problems, render

    single = Problems()
    single.extend(dict.fromkeys(problems))
    lines = [render(problem, _line_of(folder, problem)) for problem in single.worst_first()]
    errors, cautions = len(single.errors), len(single.cautions)
    return "\n".join(
        [*lines, f"{errors} error{'' if errors == 1 else 's'}, {cautions} caution{'' if cautions == 1 else 's'}", ""]
    )


def print_problems(folder: Path, problems: "Problems") -> int:
    """Print all problems to the error stream; the exit code."""
    tell(problems_text(folder, problems))
    return AT_FAULT if problems.has_errors else FINE


def _line_of(folder: Path, problem: "Problem") -> str | None:
    from sitegen.text.source import shown_line

    file = Path(problem.place.file)
    root, name = (file.parent, file.name) if file.is_absolute() else (folder, problem.place.file)
    return shown_line(root, name, problem.place.line)
