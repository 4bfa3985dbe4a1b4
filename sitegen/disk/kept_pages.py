"""Files of the published folder that need not be made again: made from the same records, and untouched since."""

import os
import pickle
from collections.abc import Callable, Iterable
from pathlib import Path

from sitegen.disk.memory import Memory, key_of
from sitegen.problems import Problem

PIECE = "piece"  # a use of a piece of the memory, such as a drawing: its key says all
Use = tuple[str, object]
Digest = Callable[[Use], str]
Standing = tuple[int, int, int]


KeptPage = tuple[tuple[int, ...], tuple[Problem, ...], Standing | None]
"""What a file was made from (numbers of uses), what was said about it, and how it stands on the disk. A plain tuple: thousands
are read and written for each edit."""
MOST_IDLE = 0.25  # of the uses in the table may be those of no file any more, until it is made anew


class KeptPages:
    """The files of the last build into `target`, and those of this one.

    What was used stands once for all files, with its digest: so each is held against today's once, not for each file.
    """

    def __init__(self, memory: Memory, target: Path, common: str, digest: Digest) -> None:
        """`common` is the digest of all that every page depends on; `digest` gives that of one record in use."""
        self._memory, self._target, self._common, self._digest = memory, target, common, digest
        self._key = key_of("pages", os.fspath(target))
        uses, digests, self._before, self._tidy = self._read()
        self._uses = {use: number for number, use in enumerate(uses)}
        self._digests: dict[int, str] = {}
        self._changed = {
            number
            for number, (use, kept) in enumerate(zip(uses, digests, strict=True))
            if self._of(use, number) != kept
        }
        self._now: dict[str, KeptPage] = {}
        self._made: list[str] = []
        self._below: dict[str, list[str]] = {}

    def fresh(self, path: str) -> tuple[Problem, ...] | None:
        """What was said about the page at `path`, if its file can be taken over as it stands; None if it must be made.

        One of which something was said is made anew: the line it was said of may be another by now.
        """
        kept = self._before.get(path)
        if kept is None:
            return None
        uses, problems, stood = kept
        if problems or stood is None or not self._changed.isdisjoint(uses):
            return None
        if stood != standing(f"{self._target}/{path}"):
            return None
        self._now[path] = kept
        return problems

    def below(self, folder: str) -> tuple[str, ...]:
        """The files of the last build in a folder of the site."""
        if not self._below:
            for path in self._before:
                self._below.setdefault(path.rpartition("/")[0], []).append(path)
        return tuple(self._below.get(folder, ()))

    def made(self, path: str, uses: Iterable[Use], problems: Iterable[Problem]) -> None:
        """Note a page that was made, with the records that it was made from."""
        numbers = []
        for use in sorted(uses, key=repr):
            number = self._uses.setdefault(use, len(self._uses))
            self._of(use, number)
            numbers.append(number)
        self._now[path] = tuple(numbers), tuple(problems), None
        self._made.append(path)

    def shown_by(self, names: Iterable[str]) -> dict[Use, tuple[str, ...]]:
        """The files of this build that were made from uses of these names, by use."""
        every, wanted = list(self._uses), frozenset(names)
        numbers = frozenset(number for use, number in self._uses.items() if use[0] in wanted)
        found: dict[Use, list[str]] = {}
        for path, (uses, *_) in self._now.items():
            for number in numbers.intersection(uses):
                found.setdefault(every[number], []).append(path)
        return {use: tuple(paths) for use, paths in found.items()}

    def save(self) -> None:
        """Keep all this for the next build, once the new folder is published."""
        every, uses = self._now, list(self._uses)
        for path in self._made:
            every[path] = *every[path][:2], standing(f"{self._target}/{path}")
        if len(uses) > self._tidy * (1 + MOST_IDLE):
            every, uses = self._tidied(uses)
        for name, key in uses:
            if name == PIECE:
                self._memory.use(str(key))
        digests = [self._digests[self._uses[use]] for use in uses]
        self._memory.put(self._key, pickle.dumps((self._common, uses, digests, every, self._tidy), 5))

    def _tidied(self, uses: list[Use]) -> tuple[dict[str, KeptPage], list[Use]]:
        """The files with their uses numbered anew, without those that none has any more."""
        wanted = sorted({number for page in self._now.values() for number in page[0]})
        place = {number: at for at, number in enumerate(wanted)}
        every = {path: (tuple(place[n] for n in page[0]), *page[1:]) for path, page in self._now.items()}
        self._tidy = len(wanted)
        return every, [uses[number] for number in wanted]

    def _of(self, use: Use, number: int) -> str:
        if number not in self._digests:
            self._digests[number] = str(use[1]) if use[0] == PIECE else self._digest(use)
        return self._digests[number]

    def _read(self) -> tuple[list[Use], list[str], dict[str, KeptPage], int]:
        piece = self._memory.get(self._key)
        try:
            common, uses, digests, every, tidy = pickle.loads(piece or b"")
        except Exception:  # none, or of another version: whatever its records lack
            return [], [], {}, 0
        return (uses, digests, every, tidy) if common == self._common else ([], [], {}, 0)


def standing(path: str) -> Standing | None:
    """Time, size and inode of a file: what changes when anybody writes to it. None where there is none."""
    try:
        found = os.stat(path, follow_symlinks=False)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
