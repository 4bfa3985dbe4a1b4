"""Runs one case of tests/data/invalid: the sound small publication with some files replaced, and what is printed."""

from pathlib import Path

from builders import SMALL, write

from sitegen.pipeline.build import build, check
from sitegen.problems import Problems, render
from sitegen.text.source import shown_line

CASES = Path(__file__).parent / "data" / "invalid"


def lay_out(case: Path, folder: Path) -> Path:
    """The publication of a case, written into `folder`."""
    without = (case / "without.txt").read_text().split("\n") if (case / "without.txt").is_file() else []
    files: dict[str, bytes | None] = {name: None for name in SMALL if name in without or "all" in without}
    own = case / "files"
    files |= {path.relative_to(own).as_posix(): path.read_bytes() for path in sorted(own.rglob("*")) if path.is_file()}
    folder.mkdir(parents=True, exist_ok=True)
    return write(folder, files)


def printed(folder: Path, problems: Problems) -> str:
    """All problems as they are printed, worst first."""
    blocks = [render(p, shown_line(folder, p.place.file, p.place.line)) for p in problems.worst_first()]
    return "".join(block + "\n" for block in blocks)


def problems_of(case: Path, folder: Path) -> Problems:
    """What is wrong with a case: by a check, or by a build where only that looks (pictures, templates)."""
    lay_out(case, folder)
    found = check(folder)
    return found if found.has_errors else build(folder, folder.with_name("site"), None).problems
