"""What builds cost as a publication grows from a hundred pages to a hundred thousand: python -m bench.growth

The largest takes half an hour, and some 6 GB of the memory file system; `--reviews N …` chooses others. Each build is made
three times, of which the middle one counts; of a publication above a thousand pages everything new once. Where a floor is named, beside what the bare
libraries take: for as many pages anew, for a look at all files, and for the pages of an edited text.
"""

import argparse
import itertools
from collections.abc import Callable
from pathlib import Path
from statistics import median

from bench.measure import Case, Run, bare_pages, edit_text, run, workplace
from bench.publication import write_publication

REVIEWS = (23, 232, 2_325, 23_250)  # 4.3 pages each
BARE_MOST = 437  # reviews: from there on everything new takes the bare libraries the same for a page
TIMES, MOST_OFTEN = 3, 500  # how often, up to so many reviews


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.growth", description=__doc__)
    parser.add_argument("--reviews", type=int, nargs="+", metavar="N", default=REVIEWS)
    parser.add_argument("--floor", type=Path, metavar="PATH", help="a folder with floor.py and nochange.py")
    parser.add_argument("--workers", type=int, metavar="N", help="hand this on to the build")
    asked = parser.parse_args()
    with workplace() as place:
        write_publication(place / "first", 3)  # so that the tool is compiled to byte code
        run(place, "-m", "sitegen", "build", str(place / "first"), "--quiet")
        print("CPU seconds")
        heads = (
            "everything new",
            "a page",
            "ratio",
            "wall",
            "peak",
            "unchanged",
            "ratio",
            "text edited",
            "ratio",
            "peak",
        )
        print(f"{'reviews':>8}{'pages':>9}", *(f"{head:>15}" for head in heads), sep="")
        for reviews in asked.reviews:
            case = Case(place, reviews, asked.floor, ("--workers", str(asked.workers)) if asked.workers else ())
            print(_line(case), flush=True)


def _bare_anew(case: Case, pages: int) -> float:
    """CPU seconds that the bare libraries take for so many pages anew; 0 without a floor."""
    reviews = next(n for n in itertools.count(1) if n == BARE_MOST or bare_pages(n) >= pages)
    return case.bare(reviews, 3) * pages / bare_pages(reviews)


def _anew(case: Case) -> tuple[Run, float, int]:
    """Everything new, what the bare libraries take for as many pages, and how many that are."""
    times = TIMES if case.reviews <= MOST_OFTEN else 1
    runs, floors = [], []
    for _ in range(times):
        case.forget()
        runs.append(case.build())
        floors.append(_bare_anew(case, case.pages()[0]))
    return sorted(runs, key=lambda one: one.cpu)[times // 2], median(floors), case.pages()[0]


def _line(case: Case) -> str:
    write_publication(case.source, case.reviews)
    anew, bare_anew, pages = _anew(case)
    same, bare_same = _middle(case, lambda: None, case.bare_look)
    text, bare_text = _middle(case, lambda: edit_text(case.source), lambda: case.bare(1, 0) + case.bare_look())
    case.forget()
    shown = (
        f"{anew.cpu:.1f}", f"{1000 * anew.cpu / pages:.1f} ms", _ratio(anew.cpu, bare_anew), f"{anew.wall:.1f}",
        f"{anew.peak:.0f} MB", f"{same.cpu:.3f}", _ratio(same.cpu, bare_same), f"{text.cpu:.3f}", _ratio(text.cpu, bare_text),
        f"{text.peak:.0f} MB",
    )  # fmt: skip
    return "".join([f"{case.reviews:>8,}{pages:>9,}", *(f"{word:>15}" for word in shown)])


def _middle(case: Case, prepare: Callable[[], None], bare: Callable[[], float]) -> tuple[Run, float]:
    """The middle one of some builds, each after `prepare`, and of what the bare libraries took between them."""
    runs, floors = [], []
    for _ in range(TIMES):
        prepare()
        floors.append(bare())
        runs.append(case.build())
    return sorted(runs, key=lambda one: one.cpu)[TIMES // 2], median(floors)


def _ratio(ours: float, bare: float) -> str:
    return f"{ours / bare:.2f}" if bare else ""


if __name__ == "__main__":
    main()
