"""python -m tests.fuzz.run: feed changed files to a reading, led by which lines of the code they reach.

With the package `atheris` (the extra `fuzz`) its engine leads; without it the same changes are made unled. A fault is
kept once, by where it was raised, as a file in --faults; the run goes on. --minimise leaves in the corpus only what
reaches lines that nothing shorter does.
"""

import argparse
import os
import random
import signal
import sys
import time
import traceback
from collections.abc import Iterator, Sequence
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from types import FrameType
from typing import Any

CORPUS = Path(__file__).parent / "corpus"
LONGEST_SECONDS = 5.0  # for one input of 4 KiB; the slowest honest one takes 0.05
KEPT_EACH = 40  # files of one target's corpus
PACKAGE = str(Path(__file__).parents[2] / "sitegen")


class Hang(BaseException):
    """An input took longer than LONGEST_SECONDS; no `except Exception` of the code may catch it."""


class Runner:
    """Looks at inputs one after another, keeps each fault once, and counts."""

    def __init__(self, name: str, executions: int, faults: Path) -> None:
        self.name, self.executions, self.faults = name, executions, faults
        self.done = 0
        self.found: dict[str, str] = {}
        self.started = time.monotonic()
        signal.signal(signal.SIGALRM, _hang)

    def look(self, data: bytes) -> None:
        """One input."""
        signal.setitimer(signal.ITIMER_REAL, LONGEST_SECONDS)
        try:
            _look(self.name)(data)
        except (Exception, Hang) as fault:
            signal.setitimer(signal.ITIMER_REAL, 0)
            self._keep(data, fault)
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
        self.done += 1
        if self.done >= self.executions:
            self.end()

    def end(self) -> None:
        """Say what came of it, and stop the process: the engine wouldn't return."""
        seconds = time.monotonic() - self.started
        print(f"{self.name}: {self.done} executions in {seconds:.0f} s, {len(self.found)} faults", flush=True)
        os._exit(1 if self.found else 0)

    def _keep(self, data: bytes, fault: BaseException) -> None:
        frames = [frame for frame in traceback.extract_tb(fault.__traceback__) if "/fuzz/run.py" not in frame.filename]
        law = str(fault).split("Place(")[0][:60] if type(fault).__name__ == "Broken" else ""
        where = "" if isinstance(fault, Hang) else f"{frames[-1].filename}:{frames[-1].lineno}" if frames else ""
        sign = sha256(f"{type(fault).__name__} {law or where}".encode()).hexdigest()[:10]
        if sign in self.found:
            return
        self.found[sign] = str(fault)
        self.faults.mkdir(parents=True, exist_ok=True)
        (self.faults / f"{self.name}-{sign}").write_bytes(data)
        told = "".join(traceback.format_exception(fault))
        (self.faults / f"{self.name}-{sign}.txt").write_text(told, "utf-8")
        print(f"{self.name}: fault {sign} after {self.done}: {type(fault).__name__} {str(fault)[:200]}", flush=True)


def _hang(number: int, frame: FrameType | None) -> None:
    raise Hang


def _look(name: str) -> Any:
    from tests.fuzz.targets import targets

    return targets()[name].look


def begun_with(name: str, *more: Path) -> list[bytes]:
    """The inputs that a target begins with: its seeds, the kept corpus and further folders, in a fixed order."""
    from tests.fuzz.targets import targets

    folders = [folder for folder in (CORPUS / name, *more) if folder.is_dir()]
    kept = [path for folder in folders for path in sorted(folder.iterdir())]
    seeds = (seed if isinstance(seed, bytes) else seed.encode() for seed in targets()[name].seeds)
    return [*seeds, *(path.read_bytes() for path in kept)]


def changed(name: str, number: int, seed: int, *more: Path) -> Iterator[bytes]:
    """`number` changed inputs of a target, always the same for a seed."""
    from tests.fuzz.mutate import mutated

    chance = random.Random(f"{name} {seed}")
    begun = begun_with(name, *more)
    for _ in range(number):
        yield mutated(chance.choice(begun), begun, chance)


def _led(runner: Runner, asked: argparse.Namespace) -> None:
    """The engine's loop; never returns. It adds what reaches new code to the corpus."""
    import atheris

    with atheris.instrument_imports(include=["sitegen", "yaml", "markdown_it"]):
        begun = begun_with(runner.name)
    from tests.fuzz.mutate import LONGEST, mutated

    chance = random.Random(asked.seed)

    def change(data: bytes, most: int, seed: int) -> bytes:
        if chance.random() < 0.2:
            return bytes(atheris.Mutate(data, most))
        return mutated(data, begun, chance)[:most]

    corpus = Path(asked.corpus)
    corpus.mkdir(parents=True, exist_ok=True)
    for data in begun:
        (corpus / sha256(data).hexdigest()[:16]).write_bytes(data)
    flags = [
        f"-seed={asked.seed}",
        f"-max_len={LONGEST}",
        "-timeout=0",
        "-rss_limit_mb=4096",
        "-print_final_stats=0",
        "-verbosity=0",
    ]
    atheris.Setup(["fuzz", str(corpus), *flags], runner.look, custom_mutator=change, enable_python_coverage=True)
    atheris.Fuzz()


def reached(name: str, data: bytes) -> frozenset[tuple[str, int, int]]:
    """The steps from line to line of the package that an input takes."""
    steps: set[tuple[str, int, int]] = set()

    def trace(frame: FrameType, event: str, _: object) -> Any:
        file = frame.f_code.co_filename
        if not file.startswith(PACKAGE):
            return None
        before = [0]

        def line(frame: FrameType, event: str, _: object) -> Any:
            steps.add((file, before[0], frame.f_lineno))
            before[0] = frame.f_lineno
            return line

        return line

    look = _look(name)
    sys.settrace(trace)
    try:
        look(data)
    finally:
        sys.settrace(None)
    return frozenset(steps)


def minimise(name: str, corpus: Path) -> list[bytes]:
    """The shortest inputs that together reach all that the corpus reaches, at most KEPT_EACH; the kept corpus anew."""
    look = _look(name)
    every = sorted({path.read_bytes() for path in corpus.iterdir()} | set(begun_with(name)), key=lambda d: (len(d), d))
    look(every[0])  # what is read once and kept is no step of an input
    steps = {data: reached(name, data) for data in every}
    known: set[tuple[str, int, int]] = set()
    chosen = []
    while len(chosen) < KEPT_EACH:
        best = max(every, key=lambda data: (len(steps[data] - known) / (64 + len(data)), -len(data)))
        if not steps[best] - known:
            break
        known |= steps[best]
        chosen.append(best)
    return chosen


def _write(name: str, chosen: Sequence[bytes]) -> None:
    folder = CORPUS / name
    folder.mkdir(parents=True, exist_ok=True)
    for path in folder.iterdir():
        if not path.name.startswith("fault-"):  # a regression stays, whatever it reaches
            path.unlink()
    for data in chosen:
        (folder / sha256(data).hexdigest()[:16]).write_bytes(data)
    print(f"{name}: {len(chosen)} files, {sum(map(len, chosen))} bytes")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.run", description=__doc__)
    parser.add_argument("--target", required=True, help="which reading; `list` prints their names")
    parser.add_argument("--executions", type=int, default=100_000, metavar="N")
    parser.add_argument(
        "--corpus", metavar="FOLDER", help="the working corpus, which grows (default: build/fuzz/TARGET)"
    )
    parser.add_argument("--faults", type=Path, default=Path("build/fuzz/faults"), metavar="FOLDER")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument(
        "--unled", action="store_true", help="as without atheris: several times as many, led by nothing"
    )
    parser.add_argument("--minimise", action="store_true", help="make the kept corpus of the working one")
    asked = parser.parse_args()
    asked.corpus = asked.corpus or f"build/fuzz/{asked.target}"
    if asked.target == "list":
        from tests.fuzz.targets import targets

        print("\n".join(targets()))
    elif asked.minimise:
        _write(asked.target, minimise(asked.target, Path(asked.corpus)))
    else:
        runner = Runner(asked.target, asked.executions, asked.faults)
        if asked.unled or find_spec("atheris") is None:
            for data in changed(asked.target, asked.executions, asked.seed, Path(asked.corpus)):
                runner.look(data)
        else:
            _led(runner, asked)
    return 0


if __name__ == "__main__":
    sys.exit(main())
