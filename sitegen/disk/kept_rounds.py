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


class _Of(Mapping[str, V]):
    """A part of what was found of each round, for those that have it."""

    def __init__(self, found: "KeptRounds", part: Callable[[Found], V | None], every: bool = False) -> None:
        """`every` says that each round has the part, so that none is loaded to know."""
        self._found, self._part, self._every = found, part, every

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

    def __init__(self, loaders: Mapping[str, Callable[[], Found]]) -> None:
        self._loaders = loaders
        self._loaded: OrderedDict[str, Found] = OrderedDict()
        self.ids = loaders.keys()
        self.findings: Mapping[str, RoundFindings] = _Of(self, lambda found: found[0], every=True)
        self.orders: Mapping[str, RoundOrder] = _Of(self, lambda found: found[1][0] if found[1] else None)
        self.currencies: Mapping[str, str] = _Of(self, lambda found: found[1][1] if found[1] else None)

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
