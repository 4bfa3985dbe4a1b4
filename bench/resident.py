"""What a rebuild costs a process that stays: everything is loaded, and the last build was its own.

    python -m bench.resident SOURCE SITE TEXT TIMES

Prints the median CPU seconds of a build after a sentence was added to the file TEXT.
"""

import gc
import statistics
import sys
import time
from pathlib import Path

from sitegen.build import build
from sitegen.disk.memory import Memory


def main(source: Path, site: Path, text: Path, times: int) -> float:
    """Median CPU seconds of `times` builds, the first two left out."""
    gc.set_threshold(20_000, 50, 50)
    took = []
    for _ in range(times + 2):
        with text.open("a", encoding="utf-8") as file:
            file.write("\nNoch ein Satz.\n")
        start = time.process_time()
        built = build(source, site, Memory(site.with_name(f"{site.name}.memory")))
        took.append(time.process_time() - start)
        if not built.published:
            raise SystemExit("the publication under measurement has errors")
    return statistics.median(took[2:])


if __name__ == "__main__":
    print(main(Path(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])))
