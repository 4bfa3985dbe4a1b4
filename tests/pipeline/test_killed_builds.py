"""However a build ends, the published folder is the whole old site or the whole new one, and the next build works.

The instants come from `python -m bench.killed`, which ends real builds and looks at every byte; here few of them, there
as many as wanted.
"""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from builders import write

from bench.killed import Instant, digest, instants
from sitegen.disk import lock, output
from sitegen.disk.cache_folder import cache_file
from sitegen.disk.lock import alone
from sitegen.disk.output import MARK, Output, put_back
from sitegen.pipeline import outputs, workers
from sitegen.pipeline.build import build

REPOSITORY = Path(__file__).resolve().parents[2]
OLD = {"index.html": b"old front", "de/a.html": b"same", "de/b.html": b"going"}
NEW = {"index.html": b"new front", "de/a.html": b"same", "en/c.html": b"coming"}


def lab(publication: Path, *words: str) -> str:
    """What `python -m bench.killed` says about instants in builds of a publication."""
    command = [sys.executable, "-m", "bench.killed", "--publication", str(publication), *words]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, timeout=900)
    assert done.returncode == 0, done.stderr
    return done.stdout


def told(text: str, what: str) -> int:
    """The number that stands before these words."""
    found = re.search(rf"^ *(\d+) {what}$", text, re.MULTILINE)
    assert found is not None, text
    return int(found[1])


@pytest.mark.slow
def test_killed_at_twelve_instants(small: Path) -> None:
    """SIGKILL at steps all over a build, to it alone or to its workers too, with a store and without: the folder holds
    the old site or the new one, the next build gives the bytes of a clean one, and nothing is left lying about."""
    text = lab(small, "--instants", "12", "--by", "step", "--seed", "4")
    old, new = told(text, "the old site"), told(text, "the new site")
    assert told(text, "next builds gave what a clean one gives and left nothing over") == 12
    assert old >= 1 and new >= 1, text  # both sides of the exchange were met


@pytest.mark.slow
def test_killed_at_twelve_instants_after_an_edit_within_a_text(small: Path) -> None:
    """The same where most builds make and publish the pages of one text alone."""
    text = lab(small, "--instants", "12", "--by", "step", "--seed", "5", "--edit", "text")
    old, new = told(text, "the old site"), told(text, "the new site")
    assert told(text, "next builds gave what a clean one gives and left nothing over") == 12
    assert old >= 1 and new >= 1, text


@pytest.mark.slow
def test_ctrl_c_at_eight_instants(small: Path) -> None:
    """Ctrl-C at steps all over a build: exit code 130, one sentence that is true, no traceback, nothing left over, and
    the old site stands; or it comes after the exchange, and the new site stands."""
    text = lab(small, "--instants", "8", "--by", "step", "--seed", "4", "--signal", "INT")
    assert told(text, "the old site") >= 1
    assert told(text, "next builds gave what a clean one gives and left nothing over") == 8


def test_the_instants_are_spread_and_the_same_each_time() -> None:
    """The same seed, the same instants: one in each part of the build, each way of ending it among them."""
    found = list(instants(60, "both", signal.SIGKILL, 1))
    assert found == list(instants(60, "both", signal.SIGKILL, 1)) != list(instants(60, "both", signal.SIGKILL, 2))
    assert sorted(int(one.part * 60) for one in found) == list(range(60))
    ways = {(one.alone, one.cold, one.by_step) for one in found}
    assert len(ways) == 8 and all(isinstance(one, Instant) for one in found)


def test_ctrl_c_from_the_shell(small: Path, tmp_path: Path) -> None:
    """The command as an author runs it, stopped while it waits for another build: 130, one sentence, no traceback."""
    command = [sys.executable, "-m", "sitegen", "build", str(small), "--to", str(tmp_path / "site")]
    with (
        alone(str(tmp_path / "site"), lambda: None),
        subprocess.Popen(command, cwd=REPOSITORY, stderr=subprocess.PIPE, text=True, start_new_session=True) as process,
    ):
        assert process.stderr is not None
        assert process.stderr.readline() == "another build of this site is running; waiting for it to end\n"
        os.killpg(process.pid, signal.SIGINT)
        assert process.stderr.read() == "\nstopped; the published site is as it was\n"
        assert process.wait(60) == 130
    assert sorted(path.name for path in tmp_path.iterdir()) == ["moorkamp"]


EVERY_STEP = """
import os, signal, sys
from pathlib import Path
from bench.killed import STEPS, digest
from sitegen.disk import output
if sys.argv[2] == "renames":
    output._exchange = lambda one, other: False
OLD, NEW = eval(sys.argv[3])

def pages(site):  # without the list, which follows where one page alone is renamed
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*.html")}

def publish(target, files, step):
    passed = 0
    def watch(event, _):
        nonlocal passed
        if event in STEPS:
            passed += 1
            if passed == step:
                os.kill(os.getpid(), signal.SIGKILL)
    if step:
        sys.addaudithook(watch)
    out = output.Output(target)
    for path, data in files.items():
        out.put(path, data)
    out.finish()

place, found, step = Path(sys.argv[1]), [], 0
publish(place / "new", NEW, 0)
new = digest(place / "new")
while True:
    step += 1
    home = place / str(step)
    home.mkdir()
    publish(home / "site", OLD, 0)
    old = digest(home / "site")
    assert pages(home / "site") == OLD
    child = os.fork()
    if child == 0:
        publish(home / "site", NEW, step)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if not (home / "site").exists():
        found.append("none")
        output.put_back(home / "site")
        assert digest(home / "site") == old
    else:
        found.append("old" if pages(home / "site") == OLD else "new" if pages(home / "site") == NEW else "neither")
    again = NEW if step % 2 else NEW | {"de/b.html": b"once more"}
    publish(home / "site", again, 0)
    publish(home / "site", NEW, 0)
    assert digest(home / "site") == new and os.listdir(home) == ["site"], os.listdir(home)
    if status == 0:
        break
print(*found)
"""


@pytest.mark.parametrize("way", ["exchange", "renames", "one file"])
def test_killed_at_every_single_step_of_publishing(way: str, tmp_path: Path) -> None:
    """Killed before each call that touches the disk, from the first folder to the last file removed: the old site up to
    one step, the new one from it on. Where the system can't exchange names there is one instant with none; there the
    next build first puts the old site back. A file that alone differs is renamed over the old one."""
    new = OLD | {"de/b.html": b"edited"} if way == "one file" else NEW
    words = [sys.executable, "-c", EVERY_STEP, str(tmp_path), way, repr((OLD, new))]
    done = subprocess.run(words, cwd=REPOSITORY, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    found = done.stdout.split()
    at = found.index("new")
    gap = ["none"] if way == "renames" else []
    assert found == ["old"] * (at - len(gap)) + gap + ["new"] * (len(found) - at)
    # Many steps before, and the clearing up after it.
    assert (at > 3 and len(found) > at + 1) if way == "one file" else (at > 10 and len(found) > at + 5)


def test_the_disk_has_the_new_site_before_it_is_exchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Power may fail at any time: everything is written, then synced, then exchanged, then the exchange is synced."""
    order: list[str] = []
    done: list[list[str]] = []

    def noting(name: str) -> None:
        real = getattr(output, name)
        monkeypatch.setattr(output, name, lambda *words: (order.append(name), real(*words))[1])

    for name in ("_write", "_sync", "_exchange", "_sync_names"):
        noting(name)
    real = os.replace
    monkeypatch.setattr(os, "replace", lambda *names: (order.append("replace"), real(*names))[1])
    edited = NEW | {"index.html": b"edited"}
    for files in (OLD, NEW, OLD, NEW, edited, edited):
        out = Output(tmp_path / "site")
        for path, data in files.items():
            out.put(path, data)
        order.append("finish")
        out.finish()
        rest = order[order.index("finish") + 1 :]
        done.append([name for name in rest if name != "_write"])
        assert not done[-1] or ("_write" not in rest[rest.index("_sync") :] and rest[-1] == "_sync_names")
        order.clear()
    first, *exchanged, one, none = done  # the first site has nothing to be exchanged for
    assert first == ["_sync", "_sync_names"] and exchanged == [["_sync", "_exchange", "_sync_names"]] * 3
    assert one == ["_sync", *["replace", "_sync_names"] * 2] and none == []  # the page, then the list


def test_a_write_that_fails_behind_our_back_stops_the_exchange(tmp_path: Path) -> None:
    """The sync is a real call whose failure is told: of a handle that isn't one it says so (EBADF), and of a folder nothing."""
    with pytest.raises(OSError, match="Bad file descriptor"):
        output._sync(-1)
    handle = os.open(tmp_path, os.O_RDONLY)
    output._sync(handle)
    os.close(handle)


def test_no_environment_variable_switches_the_sync_off() -> None:
    """What makes a site safe isn't a setting."""
    for module in (output, lock):
        assert module.__file__ is not None
        assert "environ" not in Path(module.__file__).read_text("utf-8")


def test_a_site_left_aside_is_put_back_only_where_none_stands(tmp_path: Path) -> None:
    """The old site aside comes back if nothing stands in its place; else it is a leftover. What isn't a whole site stays out."""
    aside = tmp_path / ".site.next-1-0.old"
    write(aside, {MARK: "x", "index.html": "old"}, base={})
    write(tmp_path / ".site.next-0-0.old", {"index.html": "half"}, base={})
    write(tmp_path / "site", {"index.html": "mine"}, base={})
    put_back(tmp_path / "site")
    assert aside.exists() and (tmp_path / "site/index.html").read_text() == "mine"
    (tmp_path / "site/index.html").unlink()
    (tmp_path / "site").rmdir()
    put_back(tmp_path / "site")
    assert not aside.exists() and (tmp_path / "site/index.html").read_text() == "old"


def test_a_worker_that_is_killed_takes_nothing_with_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system may kill every other process for want of memory: what they had in hand is made here, to the byte."""
    folder = write(tmp_path / "pub")
    assert build(folder, tmp_path / "clean", None).published
    main, real = os.getpid(), outputs.render_sheet

    def die(*words: Any) -> bytes:
        if os.getpid() != main:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*words)

    monkeypatch.setattr(outputs, "render_sheet", die)
    monkeypatch.setattr("sitegen.pipeline.build.PAGES", workers.Cost(2, 1))
    hands = workers.Workers(2)
    assert build(folder, tmp_path / "site", None, workers=hands).published
    assert set(hands.lost) == {workers.ENDED}
    assert digest(tmp_path / "site") == digest(tmp_path / "clean")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["clean", "pub", "site"]


ORPHANS = """
import os, sys, time
from sitegen.disk.lock import alone
with alone(sys.argv[1], lambda: None):
    child = os.fork()
    if child == 0:
        print(os.getpid(), flush=True)
        time.sleep(600)
    os.waitpid(child, 0)
"""


def test_workers_of_a_killed_build_hold_nothing_and_end(tmp_path: Path) -> None:
    """A build is killed by its own number alone: its workers neither keep the site locked nor stay behind."""
    with subprocess.Popen(
        [sys.executable, "-c", ORPHANS, str(tmp_path / "site")], cwd=REPOSITORY, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        worker = int(process.stdout.readline())
        process.kill()
        assert process.stdout.read() == ""  # comes to an end when the last of them has
    waited: list[int] = []
    with alone(str(tmp_path / "site"), lambda: waited.append(worker)):
        pass
    assert not waited


def test_a_lock_removed_while_waiting_is_no_way_in(tmp_path: Path) -> None:
    """Who waits for a lock whose file is removed meanwhile takes the new one: two builds never run at once for that."""
    import threading

    target, order = str(tmp_path / "site"), []
    waiting = threading.Event()

    def second() -> None:
        with alone(target, waiting.set):
            order.append("second")
            with pytest.raises(BlockingIOError):
                _try(target)

    with alone(target, lambda: None):
        thread = threading.Thread(target=second)
        thread.start()
        assert waiting.wait(60)
        os.unlink(_lock(target))
        order.append("first")
    thread.join(60)
    assert order == ["first", "second"]


def _lock(target: str) -> str:
    found = cache_file("lock", target)
    assert found is not None
    return found


def _try(target: str) -> None:
    import fcntl

    with open(_lock(target), "rb") as file:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_two_builds_at_once_take_turns(small: Path, tmp_path: Path) -> None:
    """Started together, both end well, one says that it waits, and the site is that of a clean build."""
    command = [sys.executable, "-m", "sitegen", "build", str(small), "--to", str(tmp_path / "site")]
    with alone(str(tmp_path / "site"), lambda: None):
        both = [
            subprocess.Popen(command, cwd=REPOSITORY, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            for _ in range(2)
        ]
        for one in both:  # each meets a site that is held; then they are let in, one after the other
            assert one.stderr is not None
            assert one.stderr.readline() == "another build of this site is running; waiting for it to end\n"
    said = [one.communicate(timeout=300) for one in both]
    assert [one.returncode for one in both] == [0, 0], said
    assert build(small, tmp_path / "clean", None).published
    assert digest(tmp_path / "site") == digest(tmp_path / "clean")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["clean", "moorkamp", "site"]
