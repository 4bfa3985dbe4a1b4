"""The finished folder: made beside the published one and swapped in when it is whole.

At every instant the published folder is the complete old site or the complete new one, however a build ends: the
new one is on the disk before it is exchanged for the old one in one step. Files that did not change are linked
from the old site, so that they are neither written again nor seem new. Where one file alone differs, as after most
edits of a text, that step is to rename the new file over the old one.
"""

import errno
import itertools
import os
import shutil
import stat
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path

from sitegen.disk.lock import hold, keep_from_children, let_go, too_late_to_stop

_EXCHANGE = 2  # renameat2(2), RENAME_EXCHANGE: both names change places in one step
_HERE = -100  # AT_FDCWD
_ASIDE = ".old"


class NotOurs(Exception):
    """The folder to write to holds files that this tool did not make."""


class CannotWrite(OSError):
    """The disk refuses. The text is for the author and names the folder."""


_SAID = {
    errno.ENOSPC: "no space is left on the disk of '{target}'",
    errno.EDQUOT: "no space is left for you on the disk of '{target}'",
    errno.EROFS: "the disk of '{target}' can only be read",
    errno.EACCES: "you may not write into '{parent}'",
    errno.EPERM: "you may not write into '{parent}'",
    errno.EBUSY: "'{target}' is where a disk is mounted and can't be exchanged; choose a folder inside it with --to",
    errno.EXDEV: "'{target}' can't be exchanged within its disk; choose another folder with --to",
}

MARK = "made-by-sitegen.txt"
MARK_TEXT = b"This folder is made anew by each build. Keep nothing of your own here.\n"


class Output:
    """Collects files for `target` in a folder beside it; `finish` publishes them, `discard` drops them.

    Each raises CannotWrite where the disk refuses; the published folder is then as it was.
    """

    def __init__(self, target: Path) -> None:
        """Raises NotOurs where `target` holds files of somebody else."""
        self.target = target = target.resolve()  # a link to the site stays a link
        self._written: set[str] = set()
        self._taken: list[str] = []  # of these, those that stand in the published folder as they are to be
        self.unchanged = 0
        self.changed = 0
        self._made: set[str] = set()
        put_back(target)
        self._had_site = target.is_dir()
        _check_ours(target)
        self._handle: int | None = None
        names = (target.with_name(f"{_beside(target)}{os.getpid()}-{number}") for number in itertools.count())
        self._next = next(names)
        try:
            _check_open(target)
            clear_leftovers(target)
            while not _is_new(self._next):
                self._next = next(names)
            # Opened before anything is written, so that the sync hears of every write that fails behind our back.
            self._handle = os.open(self._next, os.O_RDONLY)
            _claim(self._handle)
        except BaseException as fault:  # Ctrl-C too
            self.discard()
            if isinstance(fault, OSError):
                raise self._said(fault) from fault
            raise

    def put(self, path: str, data: bytes) -> None:
        """Add a file; one with the same bytes in the published folder is taken over instead of written."""
        if path in self._written:
            raise ValueError(f"two files with the address {path}")
        self._written.add(path)
        try:
            if self._add(path, data):
                self.unchanged += 1
            else:
                self.changed += 1
        except OSError as fault:
            raise self._said(fault) from fault

    def _add(self, path: str, data: bytes) -> bool:
        if self._had_site and _same(self.target / path, data):
            self._taken.append(path)
            return True
        _write(self._place(path), data)
        return False

    def has(self, path: str) -> bool:
        """Whether a file of this name was added or taken over."""
        return path in self._written

    def keep(self, path: str) -> bool:
        """Take over a file that was seen in the published folder, as it stands there; False where there is no such folder."""
        if path in self._written:
            raise ValueError(f"two files with the address {path}")
        if self._had_site:
            self._written.add(path)
            self._taken.append(path)
            self.unchanged += 1
        return self._had_site

    def _place(self, path: str) -> str:
        folder = path.rpartition("/")[0]
        if folder not in self._made:
            os.makedirs(f"{self._next}/{folder}", exist_ok=True)
            self._made.add(folder)
        return f"{self._next}/{path}"

    def finish(self, others: Callable[[], Iterable[str]] | None = None) -> None:
        """Publish: from one instant to the next the target is the new site, also after a power cut.

        `others` gives the files of the published folder where it was seen to hold all that the site has, apart from what
        was added here.
        """
        assert self._handle is not None
        try:
            if others is None:
                self._written.add(MARK)
                self._add(MARK, MARK_TEXT)
            new = self._written.difference(self._taken)
            single = self._had_site and len(new) < 2
            if single and (others is not None or self._written == _files_in(self.target)):
                self._replace(new)
            else:
                for path in set(others()) - self._written if others is not None else ():
                    self.keep(path)
                self._exchange()
        except OSError as fault:
            raise self._said(fault) from fault
        self.discard()  # where the new site was, the old one is now

    def _replace(self, new: set[str]) -> None:
        """Publish the one file that differs, if any. Linking and removing thousands took longer than making a page."""
        assert self._handle is not None
        for path in new:
            _sync(self._handle)
            too_late_to_stop()
            os.replace(f"{self._next}/{path}", f"{self.target}/{path}")
            _sync_names((self.target / path).parent)

    def _exchange(self) -> None:
        assert self._handle is not None
        for path in self._taken:
            _take_over(f"{self.target}/{path}", self._place(path))
        _sync(self._handle)
        too_late_to_stop()
        swap(self._next, self.target)
        _sync_names(self.target.parent)
        # The old site, of whose files most have these names: so it takes a third of the time.
        for path in self._written if self._had_site else ():
            with suppress(OSError):
                os.unlink(f"{self._next}/{path}")

    def discard(self) -> None:
        """Leave the published folder as it is."""
        shutil.rmtree(self._next, ignore_errors=True)
        if self._handle is not None:
            let_go(self._handle)
            self._handle = None

    def _said(self, fault: OSError) -> CannotWrite:
        """The fault in words for the author."""
        if isinstance(fault, CannotWrite):
            return fault
        where = f"'{fault.filename or self.target}'"
        text = _SAID.get(fault.errno or 0, f"{fault.strerror or fault}: {where}")
        said = CannotWrite(text.format(target=self.target, parent=self.target.parent))
        said.errno = fault.errno
        return said


def _check_ours(target: Path) -> None:
    """Refuse a folder with somebody's own files in it: they would be lost at the swap."""
    if target.is_dir() and any(target.iterdir()) and not (target / MARK).is_file():
        raise NotOurs(str(target))
    if target.exists() and not target.is_dir():
        raise NotOurs(str(target))


def _check_open(target: Path) -> None:
    """Refuse at once what the swap would fail at, and a folder that was closed to writing on purpose."""
    if target.is_dir() and not os.access(target, os.W_OK):
        if os.statvfs(target).f_flag & os.ST_RDONLY:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        raise CannotWrite(f"you may not write into '{target}'")
    if os.path.ismount(target):
        raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))


def _is_new(folder: Path) -> bool:
    """Make a folder; False where it is there already."""
    try:
        folder.mkdir(parents=True)
    except FileExistsError:
        if not folder.is_dir():
            raise
        return False
    return True


def _beside(target: Path) -> str:
    """How the names of folders in the making begin."""
    return f".{target.name}.next-"


def _claim(handle: int) -> None:
    try:
        hold(handle)
    except (ImportError, OSError):  # no such locks: whoever may build may clear up, see `alone`
        keep_from_children(handle)


def _siblings(target: Path) -> list[Path]:
    """Folders in the making beside `target`, of whatever build."""
    try:
        names = os.listdir(target.parent)
    except OSError:
        return []
    return [target.with_name(name) for name in sorted(names) if name.startswith(_beside(target))]


def clear_leftovers(target: Path) -> None:
    """Remove what builds that were ended by force left beside the target."""
    for folder in _siblings(target):
        if not _in_use(folder):
            shutil.rmtree(folder, ignore_errors=True)


def put_back(target: Path) -> None:
    """Where the system can't exchange two names, a build ended by force between two renames left the site aside."""
    if os.path.lexists(target):
        return
    for folder in _siblings(target):
        if folder.name.endswith(_ASIDE) and (folder / MARK).is_file() and not _in_use(folder):
            os.rename(folder, target)
            return


def _in_use(folder: Path) -> bool:
    """Whether the build that makes `folder` still runs: its lock on it lasts as long as its process, unlike a number."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return False
    try:
        return not hold(handle)
    except (ImportError, OSError):
        return False
    finally:
        let_go(handle)


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
        found = path.lstat()
        return stat.S_ISREG(found.st_mode) and found.st_size == len(data) and path.read_bytes() == data
    except OSError:
        return False


def _take_over(old: str, new: str) -> None:
    try:
        os.link(old, new)
    except FileNotFoundError:
        raise
    except OSError:  # a disk without links, or with no more for this file
        shutil.copyfile(old, new)


def _files_in(folder: Path) -> set[str] | None:
    """The names of all files in a folder; None where it holds anything else, or a folder without files."""
    found, waiting = set[str](), [""]
    while waiting:
        inside = waiting.pop()
        with os.scandir(f"{folder}/{inside}") as entries:
            every = list(entries)
        if not every:
            return None
        for entry in every:
            if entry.is_dir(follow_symlinks=False):
                waiting.append(f"{inside}{entry.name}/")
            elif entry.is_file(follow_symlinks=False):
                found.add(f"{inside}{entry.name}")
            else:
                return None
    return found


def swap(new: Path, target: Path) -> None:
    """Put `new` in the place of `target`, which ends up where `new` was; in one step where the system can."""
    if not target.exists():
        os.rename(new, target)
        return
    if _exchange(new, target):
        return
    aside = new.with_name(new.name + _ASIDE)
    os.rename(target, aside)
    try:
        os.rename(new, target)
    except BaseException:
        os.rename(aside, target)
        raise
    os.rename(aside, new)


def _exchange(one: Path, other: Path) -> bool:
    """renameat2 with RENAME_EXCHANGE (Linux 3.15); False where the system or file system lacks it."""
    import ctypes  # here and below: a build with nothing to exchange does without

    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0:
        return True
    if ctypes.get_errno() in {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP}:
        return False
    raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()), str(one))


def _sync(handle: int) -> None:
    """Have everything on the disk that holds the open folder: one call for all files, their names and folders.

    Also where nothing but links was made: some file systems would bring the exchange to the disk before them.
    """
    import ctypes

    try:
        sync = ctypes.CDLL(None, use_errno=True).syncfs  # syncfs(2), Linux
    except (OSError, AttributeError):
        os.sync()
        return
    if sync(handle) != 0:
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))


def _sync_names(folder: Path) -> None:
    """Have the exchange itself on the disk. If that fails the new site stands and is whole, so nobody is alarmed."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
