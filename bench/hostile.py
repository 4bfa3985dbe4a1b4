"""python -m bench.hostile: what each hostile file costs, in a process of its own: CPU seconds, peak memory, what is told.

A row over its bound is marked with `>`, and the exit code is then 1. Nothing here is a test: machines differ.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bench.hostile_files import HOSTILE, Hostile, plain

REPOSITORY = Path(__file__).resolve().parents[1]
LONGEST = 120  # seconds of the clock, after which a process is ended
SHOWN = 100  # characters of what is told

_PUBLICATION = {
    "publication.yaml": "name: Moorkamp\nlead: de\naddress: https://moorkamp.example/\nauthor: Ilse Brankamp\n",
    "ledger.yaml": "samples: [{id: T1, product: tarn, obtained: bought, role: self, received: 2026-08-03, receipt: R-1}]\n",
    "products/tarn.yaml": 'name: Tarn 3\nmaker: Wollgras\nversions: [{id: "2026"}]\n',
    "rounds/trousers/round.yaml": "title: Hosen\nentrants: [tarn]\nprotocols: [mass, run_time]\n",
    "rounds/trousers/mass.csv": "product,specimen,value,unit,date\ntarn,1,412.0,g,2026-08-11\n",
    "reviews/tarn/de.md": (
        "---\ntitle: Tarn 3\nproduct: tarn\ndate: 2026-10-04\nslug: tarn\nphotos: [{file: photos/tarn.jpg, alt: Hose}]\n---\nText.\n"
    ),
    "reviews/fenn/de.md": "---\ntitle: Fenn\nproduct: tarn\ndate: 2026-10-04\nslug: fenn\n---\nText.\n",
}


@dataclass(frozen=True, slots=True)
class Cost:
    """What a process took; `told` is the first line about the file, `ended` why it had to be stopped."""

    cpu: float
    memory: float
    told: str
    ended: str


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m bench.hostile", description=__doc__)
    parser.add_argument("--only", default="", metavar="WORDS", help="only those whose name holds these words")
    parser.add_argument(
        "--write", nargs=2, metavar=("FOLDER", "NAME"), help="only write the publication with that file"
    )
    asked = parser.parse_args()
    if asked.write:
        _write(Path(asked.write[0]), asked.write[1])
        return 0
    over = 0
    print(f"{'':44}{'CPU s':>9}{'MB':>9}  told")
    for name, one in HOSTILE.items():
        if asked.only in name:
            cost = measure(name)
            faults = list(_faults(one, cost))
            over += bool(faults)
            print(
                f"{'>' if faults else ' '} {name:42}{cost.cpu:9.2f}{cost.memory:9.0f}  {cost.told[:SHOWN] or '-'}",
                flush=True,
            )
            for fault in faults:
                print(f"{'':44}{fault}")
    print(f"{over} over their bounds")
    return 1 if over else 0


def measure(name: str) -> Cost:
    """Check (or build) a small sound publication with the hostile file in it."""
    one = HOSTILE[name]
    with tempfile.TemporaryDirectory(prefix="hostile-") as place:
        folder = Path(place) / "publication"
        # Written by another process: what this one holds would count as the peak of those that it starts.
        subprocess.run(
            [sys.executable, "-m", "bench.hostile", "--write", str(folder), name], cwd=REPOSITORY, check=True
        )
        words = (
            ["build", str(folder), "--to", str(Path(place) / "site"), "--quiet"]
            if one.builds
            else ["check", str(folder)]
        )
        return _run(one, Path(place) / "told", words)


def _write(folder: Path, name: str) -> None:
    one = HOSTILE[name]
    for path, content in {**_PUBLICATION, "photos/tarn.jpg": plain("JPEG", 64, 48), one.name: one.make()}.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content if isinstance(content, bytes) else content.encode())


def _run(one: Hostile, told: Path, words: list[str]) -> Cost:
    with told.open("wb") as out:
        process = subprocess.Popen([sys.executable, "-m", "sitegen", *words], cwd=REPOSITORY, stdout=out, stderr=out)
        end = threading.Timer(LONGEST, process.kill)
        end.start()
        _, status, used = os.wait4(process.pid, 0)
    end.cancel()
    process.returncode = os.waitstatus_to_exitcode(status)
    with told.open("rb") as lines:
        text = lines.read(2_000_000).decode("utf-8", "replace")
    ended = (
        ""
        if process.returncode in (0, 1) and "Traceback" not in text
        else f"ended with {process.returncode}: {text.strip().rpartition(chr(10))[2][:SHOWN]}"
    )
    return Cost(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, _first(text, one), ended)


def _first(text: str, one: Hostile) -> str:
    lines = [line for line in text.split("\n") if ": error:" in line or ": caution:" in line]
    wanted = [line for line in lines if one.code and f"[{one.code}]" in line]
    return (wanted or lines or [""])[0]


def _faults(one: Hostile, cost: Cost) -> Iterator[str]:
    if cost.ended:
        yield cost.ended
    if cost.cpu > one.cpu:
        yield f"more than {one.cpu:g} s of CPU"
    if cost.memory > one.memory:
        yield f"more than {one.memory:g} MB"
    if one.code and f"[{one.code}]" not in cost.told:
        yield f"[{one.code}] was not told"


if __name__ == "__main__":
    sys.exit(main())
