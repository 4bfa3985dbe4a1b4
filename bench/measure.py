"""Runs builds as an author would, each in a process of its own, and measures them from outside."""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from bench.publication import ident, write_publication

REPOSITORY = Path(__file__).resolve().parents[1]
PICTURED, PHOTOS = 8, 3  # reviews, and photos of each, of the publication that shows what pictures cost


@dataclass(frozen=True, slots=True)
class Run:
    """What one process took: seconds of CPU (user and system, with its children) and of the clock; peak memory in MB.

    `said` is what it printed.
    """

    cpu: float
    wall: float
    peak: float
    said: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: medians; `floor` in CPU seconds, 0 for none."""

    name: str
    cpu: float
    floor: float
    wall: float
    peak: float


@contextmanager
def workplace() -> Iterator[Path]:
    """A folder on a memory file system where there is one, gone afterwards."""
    shared = Path("/dev/shm")
    with tempfile.TemporaryDirectory(prefix="bench-", dir=shared if shared.is_dir() else None) as place:
        yield Path(place)


def run(place: Path, *words: str) -> Run:
    """One process from start to end."""
    # Byte code is kept, as for anybody who has started the tool before, but not in the checkout.
    settings = {**os.environ, "PYTHONPATH": str(REPOSITORY), "PYTHONPYCACHEPREFIX": str(place / "bytecode")}
    settings["XDG_CACHE_HOME"] = str(place / "cache")
    settings.pop("PYTHONDONTWRITEBYTECODE", None)
    start = time.perf_counter()
    process = subprocess.Popen([sys.executable, *words], env=settings, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    assert process.stdout is not None
    told = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    process.stdout.close()
    if process.returncode:
        raise SystemExit(f"{' '.join(words)} failed:\n{told.decode(errors='replace')[-2000:]}")
    took = time.perf_counter() - start
    return Run(used.ru_utime + used.ru_stime, took, used.ru_maxrss / 1024, told.decode(errors="replace"))


@dataclass(frozen=True, slots=True)
class Case:
    """A publication under measurement."""

    place: Path
    reviews: int
    floor: Path | None
    workers: tuple[str, ...]
    folder: str = "publication"

    @property
    def source(self) -> Path:
        return self.place / f"{self.folder}-{self.reviews}"

    def build(self) -> Run:
        """Build into the same folder as before."""
        return run(
            self.place,
            "-m",
            "sitegen",
            "build",
            str(self.source),
            "--to",
            str(self.source) + "-site",
            "--quiet",
            *self.workers,
        )

    def pages(self) -> tuple[int, int]:
        """How many pages the site has, and how many the bare libraries make of as many reviews."""
        made = sum(1 for path in Path(f"{self.source}-site").rglob("*.html"))
        return made, bare_pages(self.reviews)

    def forget(self) -> None:
        """As if it had never been built."""
        for name in (f"{self.source}-site", self.place / "cache"):
            shutil.rmtree(name, ignore_errors=True)

    def bare(self, reviews: int, charts: int) -> float:
        """CPU seconds of the bare libraries for so many reviews; 0 without a floor."""
        if self.floor is None:
            return 0.0
        out = self.place / "floor"
        shutil.rmtree(out, ignore_errors=True)
        words = (
            str(self.floor / "floor.py"),
            "--reviews",
            str(reviews),
            "--languages",
            "2",
            "--charts",
            str(charts),
            "--out",
            str(out),
        )
        return run(self.place, *words).cpu

    def bare_look(self) -> float:
        """CPU seconds of finding that nothing changed, bare; 0 without a floor."""
        if self.floor is None:
            return 0.0
        return run(self.place, str(self.floor / "nochange.py"), str(self.source), str(self.place / "floor-state")).cpu


def bare_pages(reviews: int) -> int:
    """How many pages the bare libraries make of so many reviews."""
    return sum(-(-reviews // share) * 2 for share in (1, 8, 50))


def measure(place: Path, reviews: int, times: int, floor: Path | None, workers: int | None) -> Iterator[Row]:
    """The lines of the table for one size; product and floor take turns, so that both see the same machine."""
    case = Case(place, reviews, floor, ("--workers", str(workers)) if workers else ())
    write_publication(case.source, reviews)
    run(place, "-m", "sitegen", "build", str(case.source), "--to", str(place / "warm-up"), "--quiet")
    cold = _row("cold build", case, times, case.forget, lambda: case.bare(reviews, 3))
    yield cold
    if cold.floor:
        ours, bare = case.pages()
        yield replace(
            cold, name=f"  by page: {ours:,}, bare {bare:,}", cpu=cold.cpu / ours, floor=cold.floor / bare, wall=0.0
        )
    one = _row("cold build, one process", replace(case, workers=("--workers", "1")), times, case.forget, lambda: 0.0)
    yield one
    yield _row("nothing changed", case, max(times, 5), lambda: None, case.bare_look)
    yield _row(
        "one text edited", case, times, lambda: edit_text(case.source), lambda: case.bare(1, 0) + case.bare_look()
    )
    yield _row(
        "one reading edited",
        case,
        times,
        lambda: _edit_reading(case.source),
        lambda: case.bare(1, 3) + case.bare_look(),
    )
    yield _row("one template edited", case, times, lambda: _edit_template(case.source), lambda: 0.0)
    pictured = replace(case, folder="with-photos", reviews=PICTURED)
    write_publication(pictured.source, PICTURED, photos=PHOTOS)
    yield _row(f"cold, {PICTURED * PHOTOS} photos of 12 MP", pictured, 1, pictured.forget, lambda: 0.0)


def _row(name: str, case: Case, times: int, prepare: Callable[[], None], bare: Callable[[], float]) -> Row:
    runs, floors = [], []
    for _ in range(times):
        prepare()
        floors.append(bare())
        runs.append(case.build())
    middle = statistics.median
    return Row(
        name, middle(r.cpu for r in runs), middle(floors), middle(r.wall for r in runs), middle(r.peak for r in runs)
    )


def edit_text(source: Path) -> None:
    """A sentence more in one text."""
    with (source / "reviews" / ident(0) / "de.md").open("a", encoding="utf-8") as file:
        file.write("\nNoch ein Satz.\n")


def _edit_reading(source: Path) -> None:
    path = source / "rounds" / "round-00000" / "mass.csv"
    lines = path.read_text("utf-8").splitlines()
    product, specimen, value, *rest = lines[1].split(",")
    lines[1] = ",".join([product, specimen, f"{float(value) + 0.5:.1f}", *rest])
    path.write_text("\n".join(lines) + "\n", "utf-8")


def _edit_template(source: Path) -> None:
    own = source / "theme" / "templates" / "review.html"
    own.parent.mkdir(parents=True, exist_ok=True)
    size = len(own.read_text("utf-8")) if own.exists() else 0
    own.write_text('{% extends "stock/review.html" %}\n' + "\n" * (size % 7), "utf-8")
