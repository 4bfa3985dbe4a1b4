"""The finished folder: made beside the published one and swapped in when it is whole.

At every instant the published folder is the complete old site or the complete new one, however a build ends: the
new one is on the disk before it is exchanged for the old one in one step. Files that did not change are linked
from the old site, so that they are neither written again nor seem new. Where one file alone differs, as after most
edits of a text, that step is to rename the new file over the old one.

What the last build did not write is never removed: it stays where its name is among those to be left beside the site,
else nothing is published and it is named.
"""

import errno
import itertools
import os
import re
import shutil
import stat
from collections.abc import Callable, Collection, Iterable
from contextlib import suppress
from pathlib import Path

from sitegen.disk.lock import hold, keep_from_children, let_go, too_late_to_stop
from sitegen.disk.site_mark import MARK as MARK
from sitegen.disk.site_mark import clear_old, digest_in, digest_of, listed_in, look_through, mark_bytes
from sitegen.text.source import read_inside

_ODD = re.compile("[\\\\\x00-\x1f\x7f]")  # in an address; no page of ours has any
_EXCHANGE = 2  # renameat2(2), RENAME_EXCHANGE: both names change places in one step
_HERE = -100  # AT_FDCWD
_ASIDE = ".old"


class NotOurs(Exception):
    """The folder to write to holds files that no build wrote there; `names` are theirs, none where it has no list at all."""

    def __init__(self, target: Path, names: Iterable[str] = ()) -> None:
        self.names = tuple(sorted(names))
        shown = ", ".join(f"'{name}'" for name in self.names[:_NAMED])
        more = f" and {len(self.names) - _NAMED} more" if len(self.names) > _NAMED else ""
        what = f"files that the last build did not write, or not as they are now: {shown}{more}"
        super().__init__(f"'{target}' holds {what if self.names else 'files that this tool did not make'}")


class CameMeanwhile(Exception):
    """Somebody put files into the site while it was exchanged: the new one is published, and they stand in this folder."""


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

_NAMED = 10  # files of others that a message names
_MAKING = (
    ".in-the-making"  # in a folder that isn't published yet: its name and number, so that no copy of it is taken for it
)


class Output:
    """Collects files for `target` in a folder beside it; `finish` publishes them, `discard` drops them.

    Each raises CannotWrite where the disk refuses; the published folder is then as it was.
    """

    def __init__(self, target: Path, beside: Iterable[str] = ()) -> None:
        """`beside` are names at the top of `target` that stay as they are. Raises NotOurs where it has files and no list."""
        self.target = target = Path(os.path.realpath(target))  # a link to the site stays a link
        self._beside = frozenset(beside)
        self._digests: dict[str, str] = {}  # of all that was written or taken over
        self._published = False
        self._written: set[str] = set()
        self._taken: list[str] = []  # of these, those that stand in the published folder as they are to be
        self.unchanged = 0
        self.changed = 0
        self._made: set[str] = set()
        put_back(target)
        self._had_site = target.is_dir()
        _check_ours(target, self._beside)
        self._handle: int | None = None
        names = (target.with_name(f"{_beside(target)}{os.getpid()}-{number}") for number in itertools.count())
        self._next = next(names)
        try:
            _check_open(target)
            complete_list(target)
            self._listed = listed_in(target)
            clear_leftovers(target)
            while not _is_new(self._next):
                self._next = next(names)
            # Opened before anything is written, so that the sync hears of every write that fails behind our back.
            self._handle = os.open(self._next, os.O_RDONLY)
            _claim(self._handle)
            _write(f"{self._next}/{_MAKING}", _making(self._next))
        except BaseException as fault:  # Ctrl-C too
            self.discard()
            if isinstance(fault, OSError):
                raise self._said(fault) from fault
            raise

    def put(self, path: str, data: bytes) -> None:
        """Add a file; one with the same bytes in the published folder is taken over instead of written."""
        self._take(path)
        self._digests[path] = digest_of(data)
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
        self._refuse_address(path)
        if self._had_site:
            self._take(path)
            self._digests[path] = self._digest_before(path)
            self._taken.append(path)
            self.unchanged += 1
        return self._had_site

    def _take(self, path: str) -> None:
        self._refuse_address(path)
        self._written.add(path)

    def _refuse_address(self, path: str) -> None:
        """Whoever made a file, on whatever machine: it stands within the site. Raises ValueError."""
        if path in self._written:
            raise ValueError(f"two files with the address {path}")
        if not is_address(path):
            raise ValueError(f"no file can have the address {path!r}")

    def _digest_before(self, path: str) -> str:
        """The digest of a file of the published folder, by its list where that names it."""
        return self._listed.get(path) or digest_in(self.target, path)

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
            new = self._written.difference(self._taken)
            single = len(new) < 2 and (self._is_rest_same(new) if others is None else bool(self._listed))
            if others is None:
                self._refuse_lost()
            else:
                self._refuse_foreign(path for path in new if os.path.lexists(self.target / path))
                self._take_over_rest(others, single)
            if not self._add(MARK, mark_bytes(self._digests)):
                new.add(MARK)
            self._replace(new) if single else self._exchange()
        except OSError as fault:
            raise self._said(fault) from fault
        self.discard()

    def _is_rest_same(self, new: set[str]) -> bool:
        """Whether the published folder holds the very files of the new site and nothing else."""
        if not self._had_site:
            return False
        seen = look_through(self.target, self._beside)
        return not seen.others and not seen.has_empty and seen.files - {MARK} == self._written

    def _refuse_lost(self) -> None:
        """Raise NotOurs where something would go that the last build didn't write."""
        if self._had_site:
            seen = look_through(self.target, self._beside)
            self._refuse_foreign(seen.files - set(self._taken), seen.others)

    def _take_over_rest(self, others: Callable[[], Iterable[str]], single: bool) -> None:
        if single:  # nothing is touched, so all is listed as it was
            self._digests = self._listed | self._digests
            return
        for path in set(others()) - self._written - {MARK}:
            if path.split("/")[0] not in self._beside:
                self.keep(path)

    def _refuse_foreign(self, lost: Iterable[str], others: Iterable[str] = ()) -> None:
        """Raise NotOurs where one of the files that would go isn't as the last build wrote it, or is no plain file."""
        foreign = [path for path in lost if path != MARK and not self._is_ours(path)]
        if foreign or others:
            raise NotOurs(self.target, (*foreign, *others))

    def _is_ours(self, path: str) -> bool:
        known = self._listed.get(path)
        return known is not None and digest_in(self.target, path) == known

    def _replace(self, new: set[str]) -> None:
        """Publish the one file that differs, if any. Linking and removing thousands took longer than making a page.

        The list follows it. One who is stopped between the two leaves the list of the new site in the folder beside, where
        the next build finds it.
        """
        assert self._handle is not None
        if not new:
            return
        _sync(self._handle)
        too_late_to_stop()
        for path in sorted(new, key=lambda path: path == MARK):
            os.replace(f"{self._next}/{path}", f"{self.target}/{path}")
            _sync_names((self.target / path).parent)

    def _exchange(self) -> None:
        assert self._handle is not None
        for path in self._taken:
            _take_over(f"{self.target}/{path}", self._place(path))
        for name in sorted(self._beside) if self._had_site else ():
            _take_over_whole(f"{self.target}/{name}", f"{self._next}/{name}")
        os.unlink(f"{self._next}/{_MAKING}")
        _sync(self._handle)
        too_late_to_stop()
        swap(self._next, self.target)
        self._published = True
        _sync_names(self.target.parent)

    def discard(self) -> None:
        """Leave the published folder as it is, and nothing beside it. Raises CameMeanwhile for what came into the old site last."""
        whole = True
        if not self._published:
            shutil.rmtree(self._next, ignore_errors=True)
        elif os.path.lexists(self._next):  # where the new site was, the old one is now
            with suppress(OSError):  # the next build tries again
                whole = clear_old(self._next, self._listed, self.target)
        if self._handle is not None:
            let_go(self._handle)
            self._handle = None
            if not whole:
                raise CameMeanwhile(str(self._next))

    def _said(self, fault: OSError) -> CannotWrite:
        """The fault in words for the author."""
        if isinstance(fault, CannotWrite):
            return fault
        where = f"'{fault.filename or self.target}'"
        text = _SAID.get(fault.errno or 0, f"{fault.strerror or fault}: {where}")
        said = CannotWrite(text.format(target=self.target, parent=self.target.parent))
        said.errno = fault.errno
        return said


def is_address(path: str) -> bool:
    """Whether a file of the site can have this address: it stays within the site, and is none of what builds note there."""
    plain = all(part not in ("", ".", "..") for part in path.split("/")) and not _ODD.search(path)
    return plain and path not in (MARK, _MAKING)


def _check_ours(target: Path, beside: Collection[str]) -> None:
    """Refuse a folder with somebody's own files in it, and no list of what a build wrote there."""
    if target.is_dir() and not (target / MARK).is_file() and set(os.listdir(target)) - set(beside):
        raise NotOurs(target)
    if target.exists() and not target.is_dir():
        raise NotOurs(target)


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
    """Remove what builds that were ended by force left beside the target, and nothing else that is called so."""
    for folder in _siblings(target):
        if folder.is_symlink() or not folder.is_dir() or _in_use(folder):
            continue
        if _is_half_made(folder):
            shutil.rmtree(folder, ignore_errors=True)
        else:
            with suppress(OSError):
                clear_old(folder, listed_in(folder), target)


def _making(folder: Path) -> bytes:
    return f"{folder.name} {folder.stat().st_ino}\n".encode("utf-8", "surrogateescape")


def _is_half_made(folder: Path) -> bool:
    try:
        return read_inside(folder, _MAKING, 1000) == _making(folder)
    except OSError:
        return False


def complete_list(target: Path) -> None:
    """Where a build was ended between a page and the list, see `Output._replace`, put the list in its place."""
    before = listed_in(target)
    for folder in _siblings(target):
        if not folder.is_symlink() and not _in_use(folder) and _is_half_made(folder):
            after = listed_in(folder)
            changed = [path for path in after if before.get(path) != after[path]]
            if changed and after.keys() == before.keys() and all(digest_in(target, p) == after[p] for p in changed):
                os.replace(folder / MARK, target / MARK)
                return


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


def _take_over_whole(old: str, new: str) -> None:
    """A file, a link or a folder with all that is in it, under a second name; nothing where there is none."""
    if not os.path.lexists(old):
        return
    if os.path.lexists(new):
        raise CannotWrite(
            f"'{os.path.basename(old)}' is to be kept beside the site, which has a file or folder of that name"
        )
    if not os.path.isdir(old) or os.path.islink(old):
        _second_name(old, new)
        return
    os.mkdir(new)
    for name in os.listdir(old):
        _take_over_whole(f"{old}/{name}", f"{new}/{name}")
    shutil.copystat(old, new)


def _second_name(old: str, new: str) -> None:
    try:
        os.link(old, new, follow_symlinks=False)
    except OSError:  # as above
        shutil.copy2(old, new, follow_symlinks=False)


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
