"""What was found of each text beside the readings and the other editions, kept with all that it was held against.

These checks look into every text of a publication. Nearly all give what they gave at the last build, so only those
are made again whose text, products or rounds changed.
"""

from collections.abc import Callable, Mapping

from sitegen.datatypes import dataclass
from sitegen.disk.memory import key_of
from sitegen.editions.freshness import Behind
from sitegen.problems import Problem


@dataclass(frozen=True, slots=True)
class Checked:
    """What was found of one text: of its editions, of its figures, and which translations lag (by language).

    `asked` are the products whose data its figures were held against.
    """

    editions: tuple[Problem, ...]
    figures: tuple[Problem, ...]
    behind: Mapping[str, Behind]
    asked: tuple[str, ...]


Kept = tuple[bytes, Checked]
"""The digest of all that a text was held against, and what was found."""


class KeptChecks:
    """The checks of the last build, and those of this one."""

    def __init__(self, before: Mapping[str, Kept], common: str, data_of: Callable[[str], str]) -> None:
        """`common` is the digest of what every check depends on; `data_of` gives that of all data of a product."""
        self._before, self._common, self._data_of = before, common, data_of
        self._same: dict[tuple[str, ...], Checked] = {}  # of most texts nothing is found: one record for all of these
        self.now: dict[str, Kept] = {}

    def of_text(self, name: str, digest: str, check: Callable[[], Checked]) -> Checked:
        """What `check` finds of the text of this name, whose files have this digest."""
        kept = self._before.get(name)
        if kept is None or kept[0] != self._key(digest, kept[1]):
            found = check()
            if not (found.editions or found.figures or found.behind):
                found = self._same.setdefault(found.asked, found)
            kept = (self._key(digest, found), found)
        self.now[name] = kept
        return kept[1]

    def _key(self, digest: str, checked: Checked) -> bytes:
        return bytes.fromhex(key_of(self._common, digest, *map(self._data_of, checked.asked)))
