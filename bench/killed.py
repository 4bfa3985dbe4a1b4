"""python -m bench.killed: builds ended by force at random instants, and what stands afterwards.

Two versions of a publication take turns. Each build of the other version is ended somewhere: by SIGKILL to it and
its workers, or to it alone, or by Ctrl-C. Then the published folder must be the old site or the new one, file by
file; the next build must work, give what a clean one gives, and leave nothing lying about.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import blake2b
from pathlib import Path

from bench.publication import write_publication
from sitegen.__main__ import main as program

REVIEWS = 6
PATIENCE = 300.0  # s, until a build counts as hanging
# Calls that touch the disk, as Python reports them to whoever watches (PEP 578).
STEPS = frozenset(
    "open os.link os.listdir os.mkdir os.remove os.rename os.rmdir os.scandir os.utime ctypes.dlsym".split()
)
STOPPED = 130
SAID = {
    True: "stopped; the published site is as it was",
    False: "stopped; the new site is published all the same",
}
ENDED = "had ended before"


class Broken(Exception):
    """A law doesn't hold; the text says which, where and how to come there again."""


@dataclass(frozen=True, slots=True)
class Instant:
    """When and how a build is ended: after this part of its steps or of its usual time; `at` says the same exactly."""

    number: int
    signal: signal.Signals
    alone: bool
    cold: bool
    by_step: bool
    part: float
    at: float = 0.0

    def __str__(self) -> str:
        when = f"step {self.at}" if self.by_step else f"{self.at:.3f} s"
        whom = "the build alone" if self.alone else "the build and its workers"
        return f"instant {self.number} ({self.signal.name} to {whom} at {when}, {'cold' if self.cold else 'warm'})"


class Lab:
    """A publication in two versions, its site and the digests of what clean builds make of both.

    Everything is loaded once; each build is a fork of this process, so that the instants fall on the work itself.
    """

    def __init__(self, place: Path, publication: Path, edited: str) -> None:
        self.place = place
        self.source, self.site, self.cache = place / "pub", place / "site", place / "cache"
        os.environ["XDG_CACHE_HOME"] = str(self.cache)
        shutil.copytree(publication, self.source)
        self._texts = [{path: path.read_text("utf-8") for path in _edited(self.source, edited)}]
        self._texts.append({path: _edit(path, text) for path, text in self._texts[0].items()})
        self.clean = [self._clean(version) for version in (0, 1)]
        if self.clean[0] == self.clean[1]:
            raise Broken("the two versions give the same site, so nothing can be told")
        self._write(0)
        self._build()
        self.version = 0
        # What a build takes: seconds and steps, warm and cold.
        self.usual = {cold: min(self._measure(cold) for _ in range(3)) for cold in (False, True)}

    def _clean(self, version: int) -> str:
        """The site's digest by a build without a store; here also everything is loaded that builds need."""
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # threads and forks don't go together
        import sitegen.cli  # noqa: F401
        from sitegen.pipeline.build import build

        self._write(version)
        target = self.place / "clean"
        if not build(self.source, target, None, workers=1).published:
            raise Broken("the publication has errors")
        found = digest(target)
        shutil.rmtree(target)
        return found

    def _write(self, version: int) -> None:
        for path, text in self._texts[version].items():
            path.write_text(text, "utf-8")

    def _measure(self, cold: bool) -> tuple[float, int]:
        self._turn(cold)
        start = time.monotonic()
        code, told = self._end(self._start(0, signal.SIGKILL, alone=False))
        if code != 0:
            raise Broken(f"a build fails:\n{told}")
        steps, taken = int((self.place / "steps").read_text()), time.monotonic() - start
        (self.place / "steps").unlink()
        return taken, steps

    def _turn(self, cold: bool) -> None:
        """The other version's files; with `cold` nothing is stored of earlier builds."""
        self.version = 1 - self.version
        self._write(self.version)
        if cold:
            shutil.rmtree(self.cache, ignore_errors=True)

    def _start(self, step: int, sign: signal.Signals, alone: bool) -> int:
        """A build in a group of processes of its own, which `sign` hits at the `step`th step; at none where it is 0."""
        sys.stdout.flush()
        sys.stderr.flush()
        number = os.fork()
        if number:
            return number
        code = 70
        try:
            os.setpgid(0, 0)
            told = os.open(self.place / "told", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(told, 1)
            os.dup2(told, 2)
            code = self._build_here(step, sign, alone)
        except KeyboardInterrupt:  # before the program got as far as hearing it
            code = STOPPED
            print(SAID[True], file=sys.stderr)
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)

    def _build_here(self, step: int, sign: signal.Signals, alone: bool) -> int:
        build, passed = os.getpid(), 0

        def watch(event: str, _: object) -> None:
            nonlocal passed
            if event in STEPS:
                passed += 1
                if passed == step:
                    os.kill(build, sign) if alone else os.killpg(build, sign)

        sys.addaudithook(watch)
        sys.argv = ["sitegen", "build", str(self.source), "--to", str(self.site), "--workers", "2"]
        code = program()
        (self.place / "steps").write_text(str(passed))
        return code

    def _end(self, number: int) -> tuple[int, str]:
        """Exit code (negative for a signal) and what was said."""
        last = time.monotonic() + PATIENCE
        while True:
            done, status = os.waitpid(number, os.WNOHANG)
            if done:
                return os.waitstatus_to_exitcode(status), (self.place / "told").read_text("utf-8")
            if time.monotonic() > last:
                os.killpg(number, signal.SIGKILL)
                os.waitpid(number, 0)
                raise Broken(f"a build hangs:\n{(self.place / 'told').read_text('utf-8')}")
            time.sleep(0.002)

    def _build(self) -> None:
        """A build that nobody disturbs."""
        code, told = self._end(self._start(0, signal.SIGKILL, alone=False))
        (self.place / "steps").unlink(missing_ok=True)
        if code != 0 or "Traceback" in told:
            raise Broken(f"the next build ends in {code}:\n{told}")

    def attempt(self, wish: Instant) -> str:
        """End a build at this instant and look; which site stood then. Raises Broken."""
        seconds, steps = self.usual[wish.cold]
        wish = replace(wish, at=max(1, round(wish.part * steps)) if wish.by_step else wish.part * seconds)
        self._turn(wish.cold)
        old, new = self.clean[1 - self.version], self.clean[self.version]
        sources = digest(self.source)
        number = self._start(int(wish.at) if wish.by_step else 0, wish.signal, wish.alone)
        if not wish.by_step:
            time.sleep(wish.at)
            _send(number, wish)
        code, told = self._end(number)
        found = digest(self.site)
        if found not in (old, new):
            raise Broken(f"{wish}: the published folder is neither the old site nor the new one")
        if wish.signal == signal.SIGINT:
            self._check_stopped(wish, code, told, found == old)
        self._build()
        if digest(self.site) != new:
            raise Broken(f"{wish}: the next build doesn't give what a clean one gives")
        self._check_left(wish)
        if digest(self.source) != sources:
            raise Broken(f"{wish}: the publication itself was changed")
        return ENDED if code == 0 else "old" if found == old else "new"

    def _check_stopped(self, wish: Instant, code: int, told: str, is_old: bool) -> None:
        """Ctrl-C: one sentence, an exit code of its own, and the old site; or too late, and all is as usual."""
        lines = [line for line in told.splitlines() if line and not line.endswith(" …")]
        stopped = code == STOPPED and lines == [SAID[is_old]]
        if "Traceback" in told or not (stopped or (code == 0 and not is_old)):
            raise Broken(f"{wish}: ends in {code} with the {'old' if is_old else 'new'} site and says:\n{told}")
        self._check_left(wish)

    def _check_left(self, wish: Instant) -> None:
        """Nothing beside the site, and nothing half-made in the cache."""
        (self.place / "told").unlink()
        (self.place / "steps").unlink(missing_ok=True)
        beside = {path.name for path in self.place.iterdir()} - {"pub", "site", "cache"}
        half = {path.name for path in self.cache.rglob("*.*") if path.suffix[1:].isdigit()}
        (self.place / "told").touch()
        if beside or half:
            raise Broken(f"{wish}: left over: {', '.join(sorted(beside | half))}")


def _send(number: int, wish: Instant) -> None:
    try:
        os.kill(number, wish.signal) if wish.alone else os.killpg(number, wish.signal)
    except (ProcessLookupError, PermissionError):  # it has ended, or has no group of its own yet
        os.kill(number, wish.signal)


def _edited(source: Path, edited: str) -> list[Path]:
    """A text, and a table of readings: pages and charts change."""
    patterns = {"text": ("reviews/*/*.md",), "both": ("reviews/*/*.md", "rounds/*/mass.csv")}
    return [sorted(source.glob(pattern))[0] for pattern in patterns[edited]]


def _edit(path: Path, text: str) -> str:
    if path.suffix == ".md":
        return text.rstrip() + " One more sentence.\n"
    lines = text.splitlines()
    product, specimen, value, *rest = lines[1].split(",")
    lines[1] = ",".join([product, specimen, f"{float(value) + 0.5:.1f}", *rest])
    return "\n".join(lines) + "\n"


def digest(folder: Path) -> str:
    """Of the names of all folders and files below, and of every byte."""
    found = blake2b(digest_size=20)
    for path in sorted(folder.rglob("*")):
        data = path.read_bytes() if path.is_file() else b"folder"
        found.update(f"{path.relative_to(folder).as_posix()}\0{len(data)}\0".encode())
        found.update(data)
    return found.hexdigest()


def instants(count: int, by: str, sign: signal.Signals, seed: int) -> Iterator[Instant]:
    """So many instants, spread over the whole build, each somewhere in its own part of it; the same for the same seed."""
    rng = random.Random(seed)
    parts = [(number + rng.random()) / count for number in range(count)]
    rng.shuffle(parts)
    for number, part in enumerate(parts):
        by_step = by == "step" or (by == "both" and number % 2 == 0)
        yield Instant(number, sign, alone=number % 3 == 2, cold=number % 5 == 4, by_step=by_step, part=part)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m bench.killed", description=__doc__)
    parser.add_argument("--instants", type=int, default=60, metavar="N", help="how many builds are ended (default: 60)")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument("--by", choices=("step", "clock", "both"), default="both", help="what instants are counted in")
    parser.add_argument("--signal", choices=("KILL", "INT"), default="KILL", help="INT is Ctrl-C")
    parser.add_argument(
        "--edit", choices=("text", "both"), default="both",
        help="what changes from one version to the other: a text, or a table of readings too",
    )  # fmt: skip
    parser.add_argument(
        "--publication", type=Path, metavar="FOLDER", help=f"default: one of {REVIEWS} reviews, made for this"
    )
    asked = parser.parse_args()
    sign = signal.Signals[f"SIG{asked.signal}"]
    with tempfile.TemporaryDirectory(prefix="killed-") as place:
        publication = asked.publication or Path(place) / "made"
        if asked.publication is None:
            write_publication(publication, REVIEWS)
        (Path(place) / "lab").mkdir()
        try:
            lab = Lab(Path(place) / "lab", publication, asked.edit)
            found = Counter(lab.attempt(wish) for wish in instants(asked.instants, asked.by, sign, asked.seed))
        except Broken as fault:
            print(f"broken: {fault}", file=sys.stderr)
            return 1
    for cold, (seconds, steps) in lab.usual.items():
        print(f"a {'cold' if cold else 'warm'} build has {steps} steps and takes {seconds:.2f} s")
    print(f"{asked.instants} builds ended by {sign.name}, seed {asked.seed}; then stood")
    print(f"{found['old']:6} the old site\n{found['new']:6} the new site")
    print(f"{found[ENDED]:6} the new site, the build having ended before")
    print(f"{found.total():6} next builds gave what a clean one gives and left nothing over")
    return 0


if __name__ == "__main__":
    sys.exit(main())
