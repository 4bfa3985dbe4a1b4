"""Files of the published folder that need not be made again: made from the same records, and untouched since."""

import os
import pickle
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

from sitegen.disk.memory import Memory, key_of
from sitegen.problems import Problem

PIECE = "piece"  # a use of a piece of the memory, such as a drawing: its key says all
Use = tuple[str, object]
Digest = Callable[[Use], str]
Standing = tuple[int, int, int]


class KeptPage(NamedTuple):
    """What a file was made from (numbers of uses), what was said about it, and how it stands on the disk."""

    uses: tuple[int, ...]
    problems: tuple[Problem, ...]
    standing: Standing | None


class KeptPages:
    """The files of the last build into `target`, and those of this one.

    What was used stands once for all files, with its digest: so each is held against today's once, not for each file.
    """

    def __init__(self, memory: Memory, target: Path, common: str, digest: Digest) -> None:
        """`common` is the digest of all that every page depends on; `digest` gives that of one record in use."""
        self._memory, self._target, self._common, self._digest = memory, target, common, digest
        self._key = key_of("pages", os.fspath(target))
        uses, digests, self._before = self._read()
        self._uses = {use: number for number, use in enumerate(uses)}
        self._digests: dict[int, str] = {}
        self._changed = {
            number
            for number, (use, kept) in enumerate(zip(uses, digests, strict=True))
            if self._of(use, number) != kept
        }
        self._now: dict[str, KeptPage] = {}
        self._below: dict[str, list[str]] = {}

    def fresh(self, path: str) -> tuple[Problem, ...] | None:
        """What was said about the page at `path`, if its file can be taken over as it stands; None if it must be made.

        One of which something was said is made anew: the line it was said of may be another by now.
        """
        kept = self._before.get(path)
        if kept is None or kept.problems or not self._changed.isdisjoint(kept.uses):
            return None
        if kept.standing is None or kept.standing != standing(f"{self._target}/{path}"):
            return None
        self._now[path] = kept
        return kept.problems

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
        self._now[path] = KeptPage(tuple(numbers), tuple(problems), None)

    def save(self) -> None:
        """Keep all this for the next build, once the new folder is published."""
        every = {
            path: page if page.standing is not None else page._replace(standing=standing(f"{self._target}/{path}"))
            for path, page in self._now.items()
        }
        wanted = sorted({number for page in every.values() for number in page.uses})
        place = {number: at for at, number in enumerate(wanted)}
        names = {number: use for use, number in self._uses.items()}
        for number in wanted:
            if names[number][0] == PIECE:
                self._memory.use(str(names[number][1]))
        table = (
            self._common,
            [names[number] for number in wanted],
            [self._digests[number] for number in wanted],
            {path: (tuple(place[n] for n in page.uses), page.problems, page.standing) for path, page in every.items()},
        )
        self._memory.put(self._key, pickle.dumps(table, 5))

    def _of(self, use: Use, number: int) -> str:
        if number not in self._digests:
            self._digests[number] = str(use[1]) if use[0] == PIECE else self._digest(use)
        return self._digests[number]

    def _read(self) -> tuple[list[Use], list[str], dict[str, KeptPage]]:
        piece = self._memory.get(self._key)
        try:
            common, uses, digests, every = pickle.loads(piece or b"")
        except Exception:  # none, or of another version: whatever its records lack
            return [], [], {}
        if common != self._common:
            return [], [], {}
        return uses, digests, {path: KeptPage(*page) for path, page in every.items()}


def standing(path: str) -> Standing | None:
    """Time, size and inode of a file: what changes when anybody writes to it. None where there is none."""
    try:
        found = os.stat(path, follow_symlinks=False)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
