"""What a publication's files are at the moment: their names and the digests of their bytes. The only inputs but the day.

A file is read only if it doesn't stand as it stood (times of content and of the entry, size, inode), and once for
digest and content. Whoever reads a file through `sitegen.text.source` is heard, so that what a value was made from is
known without a list kept by hand.
"""

import datetime as dt
import os
import stat
import struct
import time
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sitegen.disk.store import DIGEST, digest_of
from sitegen.pipeline.demand import Input, Session, node
from sitegen.text.source import heard_by, open_inside, walk_sources

RACY = 2_000_000_000  # ns: a file changed so shortly before it was read may change again with the same times (FAT: 2 s)
_STATE = struct.Struct("<qqqq")  # times of content and entry in ns, size, inode
FILE, NAMES, EXISTS, DAY = "file", "names", "exists", "day"


class SourcesChanged(Exception):
    """A file was changed while values were made from it: what came of it would be half old, half new."""


class Sources:
    """The files below a folder, seen once; `known` are states and digests of earlier sessions, `now` those of this one."""

    def __init__(self, folder: Path, known: dict[str, bytes], day: dt.date) -> None:
        self.folder, self.day = folder, day
        self._known, self.now = known, dict[str, bytes]()
        self._digests: dict[str, bytes] = {}
        self.names = walk_sources(folder)
        self._among = frozenset(self.names)

    def inputs(self) -> dict[str, Input]:
        """What a session asks for digests."""
        return {FILE: self.digest, NAMES: self._digest_of_names, EXISTS: self._digest_of_existence, DAY: self._day}

    def below(self, folder: str) -> tuple[str, ...]:
        """The names of the files in a folder, in order; of all files for an empty name."""
        if not folder:
            return self.names
        start = f"{folder}/"
        return self.names[bisect_left(self.names, start) : bisect_left(self.names, f"{folder}0")]

    def has(self, name: str) -> bool:
        """Whether there is a file of this name."""
        return name in self._among

    def heard(self, name: str, data: bytes) -> None:
        """Take up that a file was read. Raises SourcesChanged if it was another when it was read before."""
        digest = digest_of(data)
        if self._digests.setdefault(name, digest) != digest:
            raise SourcesChanged(name)
        self._remember(name, digest)

    def digest(self, name: str) -> bytes:
        """The digest of a file's bytes; of one that can't be read, of none."""
        found = self._digests.get(name)
        if found is None:
            found = self._digests[name] = self._known_digest(name) or self._read(name)
        return found

    def _state(self, name: str) -> bytes | None:
        try:
            found = os.lstat(f"{self.folder}/{name}")
        except (OSError, ValueError):
            return None
        if not stat.S_ISREG(found.st_mode):
            return None
        return _STATE.pack(found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino & (2**63 - 1))

    def _known_digest(self, name: str) -> bytes | None:
        known, state = self._known.get(name), self._state(name)
        if known is None or state is None or not known.startswith(state):
            return None
        self.now[name] = known
        return known[_STATE.size :]

    def _read(self, name: str) -> bytes:
        try:
            with open_inside(self.folder, name) as opened:
                digest = digest_of(opened.read())
        except (OSError, ValueError):
            return bytes(DIGEST)
        self._remember(name, digest)
        return digest

    def _remember(self, name: str, digest: bytes) -> None:
        """Note how a file stands whose digest is known, if it can't change again without that being seen."""
        state = self._state(name)
        if state is not None and name not in self.now:
            times = _STATE.unpack(state)[:2]
            if max(times) < time.time_ns() - RACY:
                self.now[name] = state + digest

    def _digest_of_names(self, folder: str) -> bytes:
        return digest_of("\0".join(self.below(folder)).encode("utf-8", "surrogateescape"))

    def _digest_of_existence(self, name: str) -> bytes:
        return digest_of(b"here" if self.has(name) else b"")

    def _day(self) -> bytes:
        return digest_of(self.day.isoformat().encode())


@contextmanager
def noting_reads(session: Session, sources: Sources) -> Iterator[None]:
    """Have every file of the publication that is read noted as looked up."""

    def hear(root: Path, name: str, data: bytes | None) -> None:
        if root == sources.folder:
            if data is not None:
                sources.heard(name, data)
            session.note(node(FILE, name))

    with heard_by(hear):
        yield
