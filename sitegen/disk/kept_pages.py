"""Files of the published folder that need not be made again: made from the same records, and untouched since."""

import os
from array import array
from collections.abc import Callable, Collection, Iterable, Iterator
from hashlib import blake2b
from itertools import accumulate, compress
from pathlib import Path
from struct import Struct

from sitegen.disk.memory import Memory, key_of
from sitegen.problems import Problem

PIECE = "piece"  # a use of a piece of the memory, such as a drawing: its key says all
Use = tuple[str, object]
Digest = Callable[[Use], str]
MOST_IDLE = 0.25  # of the uses in the table may be those of no file any more, until it is made anew
_STANDING = Struct("=qqQ")  # time, size and inode of a file: what changes when anybody writes to it
_NOWHERE = bytes(_STANDING.size)
_BETWEEN = "\0"
_SUM = 16
_OF_PIECE = bytes(_SUM)


class KeptPages:
    """The files of the last build into `target`, and those of this one.

    What was used stands once for all files, with its digest: so each is held against today's once, not for each file. Of each
    file there is one block of bytes: how it stands on the disk, then the numbers of its uses. Tuples of numbers took four times
    the room, and as long again to read.
    """

    def __init__(self, memory: Memory, target: Path, common: str, digest: Digest) -> None:
        """`common` is the digest of all that every page depends on; `digest` gives that of one record in use."""
        self._memory, self._target, self._common, self._digest = memory, target, common, digest
        self._key = key_of("pages", os.fspath(target))
        uses, kept, self._before, self._tidy = self._read()
        self._uses = {use: number for number, use in enumerate(uses)}
        self._digests = bytearray().join(map(self._of, uses))  # by number, each of the same length
        self._changed = _different(self._digests, kept)
        self._now: dict[str, bytes] = {}
        self._made: list[str] = []
        self._below: dict[str, list[str]] = {}

    @property
    def is_first(self) -> bool:
        """Whether nothing is known of a build before this one."""
        return not self._before

    def fresh(self, path: str) -> bool:
        """Whether the file at `path` can be taken over as it stands; else it must be made."""
        kept = self._before.get(path)
        if kept is None or not self._changed.isdisjoint(_uses_of(kept)):
            return False
        stood = kept[: _STANDING.size]
        if stood == _NOWHERE or stood != standing(f"{self._target}/{path}"):
            return False
        self._now[path] = kept
        return True

    def below(self, folder: str) -> tuple[str, ...]:
        """The files of the last build in a folder of the site."""
        if not self._below:
            for path in self._before:
                self._below.setdefault(path.rpartition("/")[0], []).append(path)
        return tuple(self._below.get(folder, ()))

    def made(self, path: str, uses: Iterable[Use], problems: Collection[Problem]) -> None:
        """Note a page that was made, with the records that it was made from.

        One of which something was said is made anew each time: the line it was said of may be another by then.
        """
        numbers = array("I")
        for use in sorted(map(text_of, uses)):
            number = self._uses.setdefault(use, len(self._uses))
            if number * _SUM == len(self._digests):
                self._digests += self._of(use)
            numbers.append(number)
        self._now[path] = _NOWHERE + numbers.tobytes()
        if not problems:
            self._made.append(path)

    def uses(self, names: Collection[str], every: bool) -> Iterator[tuple[str, str]]:
        """The files that were made (or `every` one), each with the text of a use of one of these names."""
        starts = tuple(name + _BETWEEN for name in names)
        wanted = {number: use for use, number in self._uses.items() if use.startswith(starts)}
        numbers = wanted.keys()
        for path in self._now if every else self._made:
            for number in numbers & _uses_of(self._now[path]):
                yield path, wanted[number]

    def save(self) -> None:
        """Keep all this for the next build, once the new folder is published."""
        for path in self._made:
            self._now[path] = standing(f"{self._target}/{path}") + self._now[path][_STANDING.size :]
        if len(self._uses) > self._tidy * (1 + MOST_IDLE):
            self._tidy_up()
        for use in self._uses:
            if use.startswith(PIECE + _BETWEEN):
                self._memory.use(str(use_of(use)[1]))
        self._memory.dump(self._key, (self._common, list(self._uses), bytes(self._digests), self._now, self._tidy))

    def _tidy_up(self) -> None:
        """Number the uses anew, without those that no file has any more."""
        wanted = bytearray(len(self._uses))
        for kept in self._now.values():
            for number in _uses_of(kept):
                wanted[number] = 1
        self._tidy = sum(wanted)
        if self._tidy == len(wanted):
            return
        place = array("I", accumulate(wanted))  # counted from 1
        for path, kept in self._now.items():
            numbers = array("I", (place[number] - 1 for number in _uses_of(kept)))
            self._now[path] = kept[: _STANDING.size] + numbers.tobytes()
        self._uses = {use: number for number, use in enumerate(compress(self._uses, wanted))}
        self._digests = bytearray().join(
            self._digests[number * _SUM : (number + 1) * _SUM] for number, one in enumerate(wanted) if one
        )

    def _of(self, use: str) -> bytes:
        """Today's digest of a use."""
        if use.startswith(PIECE + _BETWEEN):
            return _OF_PIECE
        return blake2b(self._digest(use_of(use)).encode(), digest_size=_SUM).digest()

    def _read(self) -> tuple[list[str], bytes, dict[str, bytes], int]:
        kept = self._memory.load(self._key)
        if not isinstance(kept, tuple) or kept[0] != self._common:  # none, or of another version
            return [], b"", {}, 0
        _, uses, digests, every, tidy = kept
        return uses, digests, every, tidy


def text_of(use: Use) -> str:
    """A use as text, which takes half the room. Keys are names, or several names."""
    name, key = use
    return _BETWEEN.join((name, *key) if isinstance(key, tuple) else (name, str(key)))


def use_of(text: str) -> Use:
    """The use of a text."""
    name, *key = text.split(_BETWEEN)
    return name, key[0] if len(key) == 1 else tuple(key)


def _uses_of(kept: bytes) -> "array[int]":
    return array("I", kept[_STANDING.size :])


def _different(one: bytes | bytearray, other: bytes | bytearray) -> set[int]:
    """The numbers of the digests that differ."""
    if one == other:
        return set()
    starts = range(0, len(one), _SUM)
    return {at // _SUM for at in starts if one[at : at + _SUM] != other[at : at + _SUM]}


def standing(path: str) -> bytes:
    """How a file stands on the disk; of none what no file has."""
    try:
        found = os.stat(path, follow_symlinks=False)
    except OSError:
        return _NOWHERE
    return _STANDING.pack(found.st_mtime_ns, found.st_size, found.st_ino)
