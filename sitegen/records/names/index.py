"""What belongs to what in a publication: looked up by product, gathered when first asked."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import TypeVar

from sitegen.records.ledger import Sample
from sitegen.records.measured.round import Round

K = TypeVar("K")
V = TypeVar("V")
Named = tuple[tuple[str, str], ...]
"""Names with their ids, the longest name first."""
_WORD = re.compile(r"\w+|\W")


def beginning(name: str) -> str:
    """The first word of a name, or its first character where that is no letter or digit: by it the name is found in a text."""
    found = _WORD.match(name)
    return found[0] if found else ""


class Index:
    """The samples, rounds and reviews of each product, and products by how their names begin.

    Each is gathered for all at once: a look through all records for each page costs time with the square of the publication.
    """

    def __init__(
        self,
        samples: Iterable[Sample],
        rounds: Mapping[str, Round],
        reviewed: Mapping[str, tuple[str, str]],
        names: Mapping[str, str],
        measured: Mapping[str, tuple[str, ...]],
    ) -> None:
        """`reviewed` holds the product and the round of each review, `measured` the products of which each round has a value."""
        self._samples, self._rounds, self._reviewed, self._names = samples, rounds, reviewed, names
        self._measured = measured

    @cached_property
    def samples(self) -> Mapping[str, tuple[Sample, ...]]:
        """The samples of each product, in the ledger's order."""
        return _gathered((sample.product.id, sample) for sample in self._samples if sample.product is not None)

    @cached_property
    def rounds(self) -> Mapping[str, tuple[str, ...]]:
        """The rounds in which each product was an entrant, by id."""
        return _gathered(
            (product, id)
            for id in sorted(self._rounds)
            for product in dict.fromkeys(entrant.product.id for entrant in self._rounds[id].entrants)
        )

    @cached_property
    def latest(self) -> Mapping[str, str]:
        """The round by which each product is known: of those that measured it, the one with the latest days; where these
        can't tell, the one that its reviews name. Empty where they don't either, see `doubtful`.
        """
        return {product: self._latest(product, rounds) for product, rounds in self.rounds.items()}

    def doubtful(self, product: str) -> tuple[str, ...]:
        """The rounds of which any may be the latest that measured a product; none where one is known to be."""
        found = self._candidates(self.rounds.get(product, ()), product)
        return () if len(found) < 2 or self.latest[product] else found

    def _candidates(self, rounds: Iterable[str], product: str) -> tuple[str, ...]:
        measured = [id for id in rounds if product in self._measured.get(id, ())]
        days = {id: self._rounds[id].end or self._rounds[id].start for id in measured}
        last = max((day for day in days.values() if day is not None), default=dt.date.min)
        return tuple(id for id, day in days.items() if day is None or day == last)

    def _latest(self, product: str, rounds: Iterable[str]) -> str:
        found = self._candidates(rounds, product)
        if len(found) > 1:
            named = {round for of, round in self._reviewed.values() if of == product}
            found = tuple(id for id in found if id in named)
        return found[0] if len(found) == 1 else ""

    @cached_property
    def reviews(self) -> Mapping[str, tuple[str, ...]]:
        """The reviews of each product, in the publication's order."""
        return _gathered((product, id) for id, (product, _) in self._reviewed.items() if product)

    @cached_property
    def named(self) -> Mapping[str, Named]:
        """The names of products with their ids, by the beginning of the name. Of two products of one name the later id counts."""
        single = {name: id for id, name in self._names.items()}
        found = _gathered((beginning(name), (name, id)) for name, id in single.items())
        return {key: tuple(sorted(group, key=lambda pair: (-len(pair[0]), pair))) for key, group in found.items()}


def _gathered(pairs: Iterable[tuple[K, V]]) -> dict[K, tuple[V, ...]]:
    found: dict[K, list[V]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
    return {key: tuple(group) for key, group in found.items()}
