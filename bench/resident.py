"""What a rebuild costs a process that stays: everything is loaded, and the last build was its own.

    python -m bench.resident SOURCE SITE TEXT TIMES

Prints the median CPU seconds of a build after a sentence was added to the file TEXT, and before them those of making the
pages that show it alone.
"""

import gc
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sitegen.build import build
from sitegen.disk.memory import Memory
from sitegen.pages.site import Site
from sitegen.resident import Resident


def main(source: Path, site: Path, text: Path, times: int) -> tuple[float, float]:
    """Median CPU seconds of `times` edits, the first two left out: of their pages alone, and of a build."""
    gc.set_threshold(20_000, 50, 50)

    def built() -> Site:
        found = build(source, site, Memory(site.with_name(f"{site.name}.memory"))).site
        if found is None:
            raise SystemExit("the publication under measurement has errors")
        return found

    stays, name = Resident(source, built()), text.relative_to(source).as_posix()

    def pages() -> None:
        found = stays.after(name)
        if found is None or not found.pages:
            raise SystemExit("the edit came to no page")

    return _median(pages, text, times), _median(built, text, times)


def _median(work: Callable[[], object], text: Path, times: int) -> float:
    took = []
    for _ in range(times + 2):
        with text.open("a", encoding="utf-8") as file:
            file.write("\nNoch ein Satz.\n")
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return statistics.median(took[2:])


if __name__ == "__main__":
    print(*main(Path(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])))
