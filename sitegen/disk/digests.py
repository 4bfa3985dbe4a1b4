"""Digests of the files of a publication and of the tool, by which is known what has changed."""

import os
import stat
import time
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from hashlib import blake2b, file_digest
from pathlib import Path
from struct import Struct

from sitegen.disk.memory import key_of
from sitegen.disk.unchanged import tool
from sitegen.text.source import open_inside

RACY = (
    2_000_000_000  # ns: a file written so shortly before it was read may be written again in the same tick of its clock
)
_STANDING = Struct("=qqqQ")  # times of writing and of change, size, inode
_AT_HAND = 4096  # groups whose digests are in memory: what shows the same things is made one after another


class FileDigests:
    """Digests of the files of a folder. One that stands as it stood when it was last read isn't read again.

    Of each file there is one block of bytes: how it stands, then its digest. As numbers and text they took six times the room.
    """

    def __init__(self, folder: Path, before: Mapping[str, bytes] | None = None) -> None:
        """`before` is what the last build had in `now`."""
        self._folder = os.fspath(folder)
        self._before = before or {}
        self._others: dict[str, tuple[str, bool]] = {}  # not for the next build, with whether each is a plain file
        self.now: dict[str, bytes] = {}  # for the next build

    def file(self, name: str) -> str:
        """The digest of a file's bytes; of one that can't be read, a word."""
        return self._of(name)[0]

    def sure(self, name: str) -> str:
        """The digest of a plain file within the folder; empty for anything else, of which the bytes don't tell all."""
        digest, plain = self._of(name)
        return digest if plain else ""

    def _of(self, name: str) -> tuple[str, bool]:
        kept = self.now.get(name)
        if kept is not None:
            return kept[_STANDING.size :].hex(), True
        found = self._others.get(name) or self._read(name)
        if name not in self.now:
            self._others[name] = found
        return found

    def _read(self, name: str) -> tuple[str, bool]:
        path = f"{self._folder}/{name}"
        try:
            found = os.lstat(path)
            standing = _STANDING.pack(found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino)
            plain = stat.S_ISREG(found.st_mode)
            kept = self._before.get(name)
            if plain and kept is not None and kept.startswith(standing):
                self.now[name] = kept
                return kept[_STANDING.size :].hex(), True
            looked = time.time_ns()
            with open_inside(Path(self._folder), name) as opened:
                digest = file_digest(opened, lambda: blake2b(digest_size=20)).digest()
        except OSError:
            return "can't be read", False
        if plain and max(found.st_mtime_ns, found.st_ctime_ns) < looked - RACY:
            self.now[name] = standing + digest
        return digest.hex(), plain


class Digests:
    """Digests of files and groups of files."""

    def __init__(self, files: FileDigests, names: Iterable[str]) -> None:
        self._files, self._names = files, sorted(names)
        self._group = lru_cache(_AT_HAND)(self._look)

    def group(self, name: str) -> str:
        """The digest of all files of a group: a top folder or file (`theme`), or one in it without its ending (`reviews/halde`)."""
        return self._group(name)

    def _look(self, group: str) -> str:
        parts = [part for name in self._members(group) for part in (name, self._files.file(name))]
        return key_of("\0".join(parts))

    def _members(self, group: str) -> Iterator[str]:
        """Searched for among the sorted names, so that no table of groups is needed.

        Behind a group's own name comes nothing, '.' or '/', which follow each other in ASCII.
        """
        for start, end in ((group, group + "\0"), (group + ".", group + "0")):
            for name in self._names[bisect_left(self._names, start) : bisect_left(self._names, end)]:
                if group in _groups_of(name):
                    yield name

    def file(self, name: str) -> str:
        """The digest of a file; of one that can't be read, a word."""
        return self._files.file(name)


def _groups_of(name: str) -> tuple[str, str]:
    first, _, rest = name.partition("/")
    within = rest.partition("/")[0]
    return first, f"{first}/{within.rpartition('.')[0] or within}"


def tool_digest() -> str:
    """The digest of the tool, its libraries and the interpreter; empty where it isn't known."""
    found = tool()
    return key_of(found) if found else ""
