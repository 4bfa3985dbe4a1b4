"""The author's folder is read, never written: watched from inside the interpreter, and with a folder that can't be written.

Only `editions --record` and `--import`, `addresses --record`, and `sheet` once (the key of the codes) write there.
"""

import ctypes
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from rich_publication import DAY, write_rich

ROOT = Path(__file__).parents[1]
KEY = "rounds/trousers/codes.csv"

# Runs commands one after another and notes every call by which something below `root` could change, as the interpreter
# reports them (PEP 578; the table of audit events in Python's documentation). Workers are forked, so they are watched too.
WATCHED = """
import json, os, sys
root, log, commands = os.path.realpath(sys.argv[1]), sys.argv[2], json.loads(sys.argv[3])
noted, command = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND), ""
# Which of the arguments are paths that a call changes, and which are handles of folders that these are relative to.
CHANGING = {
    "os.remove": ((0,), (1,)), "os.rmdir": ((0,), (1,)), "os.mkdir": ((0,), (2,)), "os.chmod": ((0,), (2,)), "os.chown": ((0,), (3,)),
    "os.utime": ((0,), (3,)), "os.truncate": ((0,), ()), "os.chflags": ((0,), ()), "os.setxattr": ((0,), ()), "os.removexattr": ((0,), ()),
    "os.rename": ((0, 1), (2, 3)), "os.link": ((0, 1), (2, 3)), "os.symlink": ((1,), (2,)),
    "shutil.rmtree": ((0,), (1,)), "shutil.move": ((0, 1), ()),
}
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND

def where(path, folder):
    if isinstance(path, int):
        return os.path.realpath(f"/proc/self/fd/{path}")
    base = f"/proc/self/fd/{folder}" if isinstance(folder, int) and folder >= 0 else "."
    path = os.path.join(os.path.realpath(base), os.fsdecode(path))
    return os.path.join(os.path.realpath(os.path.dirname(path)), os.path.basename(path))

def watch(event, given):
    if event == "open":
        found = [(given[0], None)] if given[2] & WRITES and given[0] is not None else []
    elif event in CHANGING:
        paths, handles = CHANGING[event]
        folders = [given[n] for n in handles if n < len(given)] or [None] * len(paths)
        found = [(given[n], folder) for n, folder in zip(paths, folders)]
    else:
        return
    for path, folder in found:
        path = where(path, folder)
        if path == root or path.startswith(root + os.sep):
            os.write(noted, f"{command}: {event} {os.path.relpath(path, root)}\\n".encode())

sys.addaudithook(watch)
WORK
"""
COMMANDS = """
from sitegen.__main__ import main
for words in commands:
    command = " ".join(words[:1] + [word for word in words if word.startswith("--")])
    sys.argv = ["sitegen", *words]
    os.write(noted, f"{command}: ended in {main()}\\n".encode())
"""


def commands(pub: Path, out: Path) -> list[list[str]]:
    """Every way to look at a publication or to make something of it."""
    pub_, day = str(pub), ["--date", DAY]
    site = ["--to", str(out / "site")]
    return [
        ["check", pub_],
        ["build", pub_, *site, *day, "--workers", "1"],
        ["build", pub_, *site, "--date", "2027-01-02", "--workers", "2"],
        ["build", pub_, *site, "--date", "2027-01-02", "--quiet"],
        ["findings", "--in", pub_],
        ["findings", "trousers", "--in", pub_, "--json"],
        ["editions", pub_],
        ["editions", pub_, "--json"],
        ["editions", pub_, "--terms"],
        ["editions", pub_, "--export", str(out / "sheets")],
        ["editions", pub_, "--memory", str(out / "memory.tmx")],
        ["addresses", pub_, *day],
    ]


def sheet(pub: Path, out: Path) -> list[str]:
    return ["sheet", "trousers", "--in", str(pub), "--to", str(out / "bench")]


class Watched(NamedTuple):
    """How commands ended, what they changed or tried to, what they told."""

    codes: list[int]
    changes: list[str]
    told: str


def watch(
    work: str,
    pub: Path,
    log: Path,
    wanted: Sequence[Sequence[str]] = (),
    before: Sequence[str] = (),
    *,
    bound: bool = False,
) -> Watched:
    """Does `work` with a watch on the publication; `before` is put before the command, `bound` binds root to modes."""
    command = [*before, sys.executable, "-c", WATCHED.replace("WORK", work), str(pub), str(log), json.dumps(wanted)]
    log.unlink(missing_ok=True)
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=300, preexec_fn=_give_up_override if bound else None
    )
    assert done.returncode == 0, done.stderr
    lines = log.read_text().splitlines()
    ended = [line.partition(": ended in ")[2] for line in lines]
    return Watched([int(end) for end in ended if end], [x for x, end in zip(lines, ended) if not end], done.stderr)


def standing(folder: Path) -> dict[str, tuple[object, ...]]:
    """Bytes, mode, owner, size, inode and times (but that of the last look) of a folder and all that is in it."""
    found = {}
    for path in (folder, *folder.rglob("*")):
        s = path.lstat()
        data = path.read_bytes() if path.is_file() else b""
        found[str(path)] = (data, s.st_mode, s.st_uid, s.st_nlink, s.st_size, s.st_ino, s.st_mtime_ns, s.st_ctime_ns)
    return found


@pytest.fixture
def pub(tmp_path: Path) -> Path:
    """The rich publication in a folder of its own."""
    return write_rich(tmp_path / "moorkamp")


def test_nothing_below_the_publication_is_written(pub: Path, tmp_path: Path) -> None:
    """No command that only looks or makes opens a file there for writing, or renames, removes, makes or changes one; bytes,
    modes, inodes and times are the same afterwards. Not one path in it is excepted."""
    before, wanted = standing(pub), commands(pub, tmp_path / "out")
    done = watch(COMMANDS, pub, tmp_path / "log", wanted)
    assert done.changes == [] and done.codes == [0] * len(wanted), done.told
    assert standing(pub) == before
    assert (tmp_path / "out" / "site" / "index.html").is_file() and (tmp_path / "out" / "memory.tmx").is_file()


def test_a_sheet_writes_the_key_and_nothing_else(pub: Path, tmp_path: Path) -> None:
    """Once, beside its name and then under it; said again, it touches nothing at all."""
    before, (folder, name) = standing(pub), KEY.rsplit("/", 1)
    done = watch(COMMANDS, pub, tmp_path / "log", [sheet(pub, tmp_path / "out")])
    assert done.codes == [0] and done.changes
    touched = {line.rpartition(" ")[2] for line in done.changes} - {folder, KEY}
    assert all(path.startswith(f"{folder}/.{name}.") for path in touched) and len(touched) == 1
    after = standing(pub)
    changed = {path for path in before | after if before.get(path) != after.get(path)}
    assert changed == {str(pub / folder), str(pub / KEY)}
    again = watch(COMMANDS, pub, tmp_path / "log", [sheet(pub, tmp_path / "out")])
    assert again.codes == [0] and again.changes == [] and standing(pub) == after


WAYS: dict[str, tuple[Callable[[str], object], str]] = {
    "open": (lambda root: open(f"{root}/new", "w").close(), "open new"),
    "append": (lambda root: os.close(os.open(f"{root}/a", os.O_RDWR)), "open a"),
    "remove": (lambda root: os.remove(f"{root}/a"), "os.remove a"),
    "rename away": (lambda root: os.rename(f"{root}/a", f"{root}/../away"), "os.rename a"),
    "rename into": (lambda root: os.rename(f"{root}/../other", f"{root}/b"), "os.rename b"),
    "link": (lambda root: os.link(f"{root}/../other", f"{root}/b"), "os.link b"),
    "chmod": (lambda root: os.chmod(f"{root}/a", 0o600), "os.chmod a"),
    "times": (lambda root: os.utime(f"{root}/a"), "os.utime a"),
    "truncate": (lambda root: os.truncate(f"{root}/a", 0), "os.truncate a"),
    "folder": (lambda root: os.mkdir(f"{root}/c"), "os.mkdir c"),
    "by a handle": (lambda root: os.remove("a", dir_fd=os.open(root, os.O_RDONLY)), "os.remove a"),
    "by a forked process": (lambda root: os.waitpid(os.fork() or _child(root), 0), "os.remove a"),
}  # fmt: skip


def _child(root: str) -> int:
    os.remove(f"{root}/a")
    os._exit(0)


@pytest.mark.parametrize("way", WAYS)
def test_the_watch_sees_each_way_of_writing(way: str, tmp_path: Path) -> None:
    """What the laws above rest on: whatever would change the folder is noted, and reading isn't."""
    root = tmp_path / "root"
    root.mkdir()
    for path in (root / "a", tmp_path / "other"):
        path.write_text("x")
    read = "open(f'{root}/a').close()\nos.listdir(root)\n"
    way_ = f"sys.path[:0] = {sys.path!r}\nimport test_sources_untouched\ntest_sources_untouched.WAYS[{way!r}][0](root)"
    assert watch(read + way_, root, tmp_path / "log").changes == [f": {WAYS[way][1]}"]


def _give_up_override() -> None:
    """Root without the right to pass over modes (capabilities(7): CAP_DAC_OVERRIDE is 1; prctl(2): PR_CAPBSET_DROP is 24)."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(24, 1, 0, 0, 0)


IN_VAIN = """
try:
    open(root + "/x", "w")
except OSError:
    os.write(noted, b": ended in 1\\n")
else:
    os.write(noted, b": ended in 0\\n")
"""


def all_commands(pub: Path, out: Path, before: Sequence[str] = (), *, bound: bool = False) -> None:
    """All end as with any other folder; those that would write there say in a sentence that they can't."""
    log, wanted = out.with_name("log"), commands(pub, out)
    done = watch(COMMANDS, pub, log, wanted, before, bound=bound)
    assert done.codes == [0] * len(wanted) and done.changes == [], done.told
    for words in (sheet(pub, out), ["addresses", str(pub), "--record"], ["editions", str(pub), "--record"]):
        done = watch(COMMANDS, pub, log, [words], before, bound=bound)
        assert done.codes == [1] and len(done.told.splitlines()) == 1, done.told
        assert done.told.startswith("sitegen: "), done.told


def pages(site: Path) -> dict[str, bytes]:
    return {str(path.relative_to(site)): path.read_bytes() for path in site.rglob("*") if path.is_file()}


def test_a_publication_that_may_only_be_read(pub: Path, tmp_path: Path) -> None:
    """All files and folders without the right to write: everything that only looks or makes works, and gives the same site."""
    free = watch(COMMANDS, pub, tmp_path / "log", commands(pub, tmp_path / "free")[:3])
    assert free.codes == [0, 0, 0]
    for path in (*pub.rglob("*"), pub):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        if watch(IN_VAIN, pub, tmp_path / "log", bound=True).codes == [0]:
            pytest.skip(
                "this user can't be refused anything: root, and the right to pass over modes can't be given up here"
            )
        before = standing(pub)
        all_commands(pub, tmp_path / "out", bound=True)
        assert standing(pub) == before
        assert pages(tmp_path / "out" / "site") == pages(tmp_path / "free" / "site")
    finally:
        for path in (pub, *pub.rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)


def test_a_publication_on_a_disk_that_can_only_be_read(pub: Path, tmp_path: Path) -> None:
    """The system itself refuses every write, also those that no interpreter reports: a bind mount, read only, seen by these
    processes alone (mount(8), unshare(1))."""
    mount = ["sh", "-c", 'mount --bind "$0" "$0" && mount -o remount,bind,ro "$0" && exec "$@"', str(pub)]
    before = ["unshare", "-m", *mount]
    if shutil.which("unshare") is None or subprocess.run([*before, "true"], capture_output=True).returncode:
        pytest.skip("this user may not mount a folder to be read only (that takes root and the right to mount)")
    assert watch(IN_VAIN, pub, tmp_path / "log", before=before).codes == [1]
    found = standing(pub)
    all_commands(pub, tmp_path / "out", before)
    assert standing(pub) == found and (tmp_path / "out" / "site" / "index.html").is_file()
