"""Pages of the published folder that need not be made again: made from the same records, and untouched since."""

import os
import pickle
from collections.abc import Callable, Iterable
from pathlib import Path

from sitegen.datatypes import dataclass
from sitegen.disk.memory import Memory, key_of
from sitegen.problems import Problem

PIECE = "piece"  # a use of a piece of the memory, such as a drawing: its key says all
Use = tuple[str, object]
Digest = Callable[[Use], str]


@dataclass(frozen=True, slots=True)
class KeptPage:
    """What a page was made from, the digest of all that, what was said about it, and how its file stands on the disk."""

    uses: tuple[Use, ...]
    digest: str
    problems: tuple[Problem, ...]
    standing: tuple[int, int, int]


class KeptPages:
    """The pages of the last build into `target`, and those of this one."""

    def __init__(self, memory: Memory, target: Path, common: str, digest: Digest) -> None:
        """`common` is the digest of all that every page depends on; `digest` gives that of one record in use."""
        self._memory, self._target, self._common, self._digest = memory, target, common, digest
        self._key = key_of("pages", os.fspath(target))
        self._before = self._read()
        self._now: dict[str, tuple[tuple[Use, ...], tuple[Problem, ...]]] = {}
        self._digests: dict[Use, str] = {}

    def fresh(self, path: str) -> tuple[Problem, ...] | None:
        """What was said about the page at `path`, if its file can be taken over as it stands; None if it must be made."""
        kept = self._before.get(path)
        if kept is None or kept.digest != self._sum(kept.uses) or kept.standing != standing(f"{self._target}/{path}"):
            return None
        self._use_pieces(kept.uses)
        self._now[path] = (kept.uses, kept.problems)
        return kept.problems

    def made(self, path: str, uses: Iterable[Use], problems: Iterable[Problem]) -> None:
        """Note a page that was made, with the records that it was made from."""
        ordered = tuple(sorted(uses, key=repr))
        self._use_pieces(ordered)  # another process may have made the page
        self._now[path] = (ordered, tuple(problems))

    def save(self) -> None:
        """Keep all this for the next build, once the new folder is published."""
        every = {
            path: KeptPage(uses, self._sum(uses), problems, place)
            for path, (uses, problems) in self._now.items()
            if (place := standing(f"{self._target}/{path}")) is not None
        }
        self._memory.put(self._key, pickle.dumps((self._common, every), 5))

    def _use_pieces(self, uses: Iterable[Use]) -> None:
        for name, key in uses:
            if name == PIECE:
                self._memory.use(str(key))

    def _sum(self, uses: tuple[Use, ...]) -> str:
        return key_of(*map(self._of, uses))

    def _of(self, use: Use) -> str:
        if use not in self._digests:
            self._digests[use] = str(use[1]) if use[0] == PIECE else self._digest(use)
        return self._digests[use]

    def _read(self) -> dict[str, KeptPage]:
        piece = self._memory.get(self._key)
        if piece is None:
            return {}
        try:
            common, every = pickle.loads(piece)
        except Exception:  # of another version: whatever its records lack
            return {}
        return every if common == self._common else {}


def standing(path: str) -> tuple[int, int, int] | None:
    """Time, size and inode of a file: what changes when anybody writes to it. None where there is none."""
    try:
        found = os.stat(path, follow_symlinks=False)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
