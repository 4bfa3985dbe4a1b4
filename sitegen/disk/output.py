"""The finished folder: made beside the published one and swapped in when it is whole.

At every instant the published folder is the complete old site or the complete new one. Files that
did not change are linked from the old site, so that they are neither written again nor seem new.
"""

import ctypes
import errno
import os
import shutil
from pathlib import Path

_EXCHANGE = 2  # renameat2(2), RENAME_EXCHANGE: both names change places in one step
_HERE = -100  # AT_FDCWD


class NotOurs(Exception):
    """The folder to write to holds files that this tool did not make."""


MARK = "made-by-sitegen.txt"
MARK_TEXT = b"This folder is made anew by each build. Keep nothing of your own here.\n"


class Output:
    """Collects files for `target` in a folder beside it; `finish` publishes them, `discard` drops them."""

    def __init__(self, target: Path) -> None:
        self.target = target
        self._next = target.with_name(f".{target.name}.next-{os.getpid()}")
        self._written: set[str] = set()
        self.unchanged = 0
        self.changed = 0
        self._made: set[str] = set()
        self._had_site = target.is_dir()
        _check_ours(target)
        clear_leftovers(target)
        self._next.mkdir(parents=True)

    def put(self, path: str, data: bytes) -> None:
        """Add a file; one with the same bytes in the published folder is linked instead of written."""
        if path in self._written:
            raise ValueError(f"two files with the address {path}")
        self._written.add(path)
        place = self._place(path)
        if self._had_site and _same(self.target / path, data) and _link(f"{self.target}/{path}", place):
            self.unchanged += 1
            return
        _write(place, data)
        self.changed += 1

    def keep(self, path: str) -> bool:
        """Take over a file of the published folder as it stands there; False where that isn't possible."""
        if path in self._written:
            raise ValueError(f"two files with the address {path}")
        if not self._had_site or not _link(f"{self.target}/{path}", self._place(path)):
            return False
        self._written.add(path)
        self.unchanged += 1
        return True

    def _place(self, path: str) -> str:
        folder = path.rpartition("/")[0]
        if folder not in self._made:
            os.makedirs(f"{self._next}/{folder}", exist_ok=True)
            self._made.add(folder)
        return f"{self._next}/{path}"

    def finish(self) -> None:
        """Publish: from one instant to the next the target is the new site."""
        (self._next / MARK).write_bytes(MARK_TEXT)
        _sync(self._next)
        swap(self._next, self.target)
        shutil.rmtree(self._next, ignore_errors=True)

    def discard(self) -> None:
        """Leave the published folder as it was."""
        shutil.rmtree(self._next, ignore_errors=True)


def _check_ours(target: Path) -> None:
    """Refuse a folder with somebody's own files in it: they would be lost at the swap."""
    if target.is_dir() and any(target.iterdir()) and not (target / MARK).is_file():
        raise NotOurs(str(target))
    if target.exists() and not target.is_dir():
        raise NotOurs(str(target))


def clear_leftovers(target: Path) -> None:
    """Remove what builds that were ended by force left beside the target."""
    for folder in target.parent.glob(f".{target.name}.next-*"):
        owner = folder.name.rpartition("-")[2]
        if not (owner.isdigit() and _alive(int(owner))):
            shutil.rmtree(folder, ignore_errors=True)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return process != os.getpid()


def _write(path: str, data: bytes) -> None:
    """Plain calls of the system: a Path takes three times as long to open, write and close a file."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]
    finally:
        os.close(handle)


def _same(path: Path, data: bytes) -> bool:
    try:
        if path.stat().st_size != len(data):
            return False
        return path.read_bytes() == data
    except OSError:
        return False


def _link(old: str, new: str) -> bool:
    try:
        os.link(old, new)
    except OSError:
        return False
    return True


def swap(new: Path, target: Path) -> None:
    """Put `new` in the place of `target`, which ends up where `new` was; in one step where the system can."""
    if not target.exists():
        os.rename(new, target)
        return
    if _exchange(new, target):
        return
    aside = new.with_name(new.name + ".old")
    os.rename(target, aside)
    try:
        os.rename(new, target)
    except OSError:
        os.rename(aside, target)
        raise
    os.rename(aside, new)


def _exchange(one: Path, other: Path) -> bool:
    """renameat2 with RENAME_EXCHANGE (Linux 3.15); False where the system or file system lacks it."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0:
        return True
    if ctypes.get_errno() in {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP}:
        return False
    raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()), str(one))


def _sync(folder: Path) -> None:
    """Have the whole new site on the disk before it is published: one call for all files."""
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        ctypes.CDLL(None).sync() if os.environ.get("SITEGEN_SYNC") else None
    except OSError:
        return
