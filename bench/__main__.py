"""python -m bench: the table of what builds cost, beside what the bare libraries cost where a floor is named."""

import argparse
import os
import platform
import subprocess
import sys
from pathlib import Path

from bench.measure import REPOSITORY, Row, measure, workplace

SHORT, LONG = (44, 437), (44, 437, 4_367)  # reviews: some 200, 1,900 and 19,000 pages with those of products


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    parser.add_argument(
        "--reviews", type=int, nargs="+", metavar="N", help=f"sizes of the publications (default: {SHORT})"
    )
    parser.add_argument("--long", action="store_true", help=f"also the large one: {LONG}")
    parser.add_argument(
        "--times",
        type=int,
        default=3,
        metavar="N",
        help="how often each is run; the median counts (large publications: less often)",
    )
    parser.add_argument(
        "--floor", type=Path, metavar="PATH", help="a folder with floor.py and nochange.py, to be run side by side"
    )
    parser.add_argument("--profile", action="store_true", help="also where the time of a cold build goes, by room")
    parser.add_argument("--workers", type=int, metavar="N", help="hand this on to the build")
    asked = parser.parse_args()
    print(
        f"{os.cpu_count()} processors, {_memory()} of memory, Python {platform.python_version()}, {platform.machine()}; CPU seconds, medians"
    )
    with workplace() as place:
        for reviews in asked.reviews or (LONG if asked.long else SHORT):
            print(f"\n{reviews} reviews in two languages")
            print(f"{'':34}{'product':>10}{'floor':>10}{'ratio':>8}{'wall':>9}{'peak RSS':>11}")
            for row in measure(
                place, reviews, max(1, asked.times * 100 // max(100, reviews)), asked.floor, asked.workers
            ):
                print(_line(row), flush=True)
            if asked.profile:
                # In a process of its own: what this one holds would count as the peak of every build that it starts.
                subprocess.run(
                    [sys.executable, "-m", "bench.rooms", str(place), str(reviews)], cwd=REPOSITORY, check=True
                )
    return 0


def _line(row: Row) -> str:
    floor = f"{row.floor:10.3f}{row.cpu / row.floor:8.2f}" if row.floor else f"{'':18}"
    wall = f"{row.wall:9.3f}" if row.wall else f"{'':9}"
    return f"{row.name:34}{row.cpu:10.3f}{floor}{wall}{row.peak:8.0f} MB"


def _memory() -> str:
    return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"


sys.exit(main())
