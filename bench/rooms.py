"""Where the time of a cold build goes, by room."""

import cProfile
import pstats
import shutil
import sys
from collections import Counter
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[1]
MOST = 14


def profile(place: Path, reviews: int) -> str:
    """The share of each room and library in a cold build, as the profiler counts it (its own cost falls on small functions)."""
    source = place / f"publication-{reviews}"
    site = place / "profiled"
    shutil.rmtree(site, ignore_errors=True)
    profiler = cProfile.Profile()
    profiler.runcall(_build, source, site)
    spent: Counter[str] = Counter()
    for (file, _, _), (_, _, own, _, callers) in pstats.Stats(profiler).stats.items():  # type: ignore[attr-defined]
        if file != "~":
            spent[_room(file)] += own
            continue
        # What is built in counts for whoever calls it.
        for (caller, _, _), (_, _, part, _) in callers.items():
            spent[_room(caller)] += part
    total = sum(spent.values())
    return "\n".join(
        ["", "a cold build by room, % of the time"]
        + [f"  {100 * t / total:5.1f}  {room}" for room, t in spent.most_common(MOST)]
    )


def _build(source: Path, site: Path) -> None:
    from sitegen.pipeline.build import build

    build(source, site, workers=1)


def _room(file: str) -> str:
    path = Path(file)
    if path.is_relative_to(REPOSITORY / "sitegen"):
        parts = path.relative_to(REPOSITORY / "sitegen").parts
        return f"sitegen/{parts[0]}"
    if path.is_relative_to(REPOSITORY / "themes"):
        return "templates"
    if "site-packages" in path.parts:
        return path.parts[path.parts.index("site-packages") + 1]
    return "Python and its library"


if __name__ == "__main__":
    print(profile(Path(sys.argv[1]), int(sys.argv[2])), flush=True)
