"""The findings of rounds, loaded when somebody asks: after one edit most builds ask for those of a round or two."""

from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from sitegen.findings.found import RoundFindings
from sitegen.findings.ordered import RoundOrder

AT_HAND = 6  # rounds in memory: pages are made round by round
V = TypeVar("V")
Found = tuple[RoundFindings, tuple[RoundOrder, str] | None]
"""The findings of a round; of one with several entrants also its order, and the currency in which prices are given."""


class OfRounds(Mapping[str, V]):
    """A part of what was found of each round, for those that have it."""

    def __init__(self, found: "KeptRounds", part: Callable[[Found], V | None], every: bool = False) -> None:
        """`every` says that each round has the part, so that none is loaded to know."""
        self.rounds = self._found = found
        self._part, self._every = part, every

    def __getitem__(self, id: str) -> V:
        part = self._part(self._found.of(id))
        if part is None:
            raise KeyError(id)
        return part

    def __contains__(self, id: object) -> bool:
        return id in self._found.ids if self._every else super().__contains__(id)

    def __iter__(self) -> Iterator[str]:
        return (id for id in self._found.ids if id in self)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class KeptRounds:
    """What was found of all rounds."""

    def __init__(self, loaders: Mapping[str, Callable[[], Found]], keys: Mapping[str, str] | None = None) -> None:
        """`keys` are those under which the findings are kept, where they are."""
        self._loaders, self.keys = loaders, keys or {}
        self._loaded: OrderedDict[str, Found] = OrderedDict()
        self.ids = loaders.keys()
        self.findings: Mapping[str, RoundFindings] = OfRounds(self, lambda found: found[0], every=True)
        self.orders: Mapping[str, RoundOrder] = OfRounds(self, lambda found: found[1][0] if found[1] else None)
        self.currencies: Mapping[str, str] = OfRounds(self, lambda found: found[1][1] if found[1] else None)

    def of(self, id: str) -> Found:
        """What was found of one round. Raises KeyError."""
        found = self._loaded.get(id)
        if found is None:
            found = self._loaded[id] = self._loaders[id]()
            if len(self._loaded) > AT_HAND:
                self._loaded.popitem(last=False)
        else:
            self._loaded.move_to_end(id)
        return found
