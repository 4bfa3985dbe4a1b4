"""Two builds of one site at once: one waits and says so."""

import subprocess
import sys
import time
from pathlib import Path

from sitegen.disk.lock import alone

REPOSITORY = Path(__file__).resolve().parents[2]
HOLD = """
import sys, time
from sitegen.disk.lock import alone
with alone(sys.argv[1], lambda: print("waiting", flush=True)):
    print("mine", flush=True)
    time.sleep(float(sys.argv[2]))
"""


def start(target: Path, seconds: float) -> "subprocess.Popen[str]":
    """A process that holds the site for a while."""
    return subprocess.Popen(
        [sys.executable, "-c", HOLD, str(target), str(seconds)], cwd=REPOSITORY, stdout=subprocess.PIPE, text=True
    )


def test_the_second_waits_and_says_so(tmp_path: Path) -> None:
    """A build that finds another at work waits until that one is done."""
    first = start(tmp_path / "site", 0.8)
    assert first.stdout is not None and first.stdout.readline() == "mine\n"
    told: list[float] = []
    with alone(str(tmp_path / "site"), lambda: told.append(time.monotonic())):
        assert len(told) == 1
        assert first.wait(10) == 0
    first.stdout.close()


def test_one_that_was_killed_holds_nothing(tmp_path: Path) -> None:
    """However a build ends, it leaves no lock behind."""
    first = start(tmp_path / "site", 60)
    assert first.stdout is not None and first.stdout.readline() == "mine\n"
    first.kill()
    first.wait(10)
    first.stdout.close()
    told: list[int] = []
    with alone(str(tmp_path / "site"), lambda: told.append(1)):
        pass
    assert not told


def test_other_sites_are_free(tmp_path: Path) -> None:
    """Only builds of the same site wait for one another."""
    told: list[int] = []
    with alone(str(tmp_path / "one"), lambda: told.append(1)), alone(str(tmp_path / "two"), lambda: told.append(2)):
        pass
    assert not told
