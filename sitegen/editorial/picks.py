"""Which entrant for which use: one pick a use, how sure it is, and what would change it."""

from collections.abc import Iterable

from sitegen.datatypes import dataclass
from sitegen.findings.ranking.ordered import Beside, Change, RoundOrder, UseOrder
from sitegen.records.measured.round import Use


@dataclass(frozen=True, slots=True, kw_only=True)
class Tipping:
    """`product` would come first if `measure` counted for `tips_at` of all instead of `was`; shares of 1."""

    product: str
    measure: str
    was: float
    tips_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """The pick for one use. `first_share`: the share of simulated repeats in which it is first, 0 to 1.

    `level`: those it shows no clear difference from. `beside`: those without a place, because a measure was read
    only once of them; `missing`: measures of the use that somebody lacks. `tipping`: the
    smallest change of one weight that would put another first; None where none would, or where they are level already.
    """

    use: str
    product: str
    first_share: float
    level: tuple[str, ...]
    of: int
    beside: tuple[Beside, ...]
    missing: tuple[str, ...]
    tipping: Tipping | None


def picks(order: RoundOrder, uses: Iterable[Use]) -> tuple[Pick, ...]:
    """A pick for each use that has an order, in the round's order."""
    sums = {use.id.id: float(sum(weight for _, weight in use.weights)) for use in uses}
    return tuple(
        _pick(use, toppling.smallest, sums.get(use.use, 0.0))
        for use, toppling in zip(order.uses, order.topplings, strict=True)
    )


def _pick(order: UseOrder, change: Change | None, total: float) -> Pick:
    first = order.first
    told = change is not None and change.of_all > 0 and total > 0
    return Pick(
        use=order.use,
        product=first.product,
        first_share=first.first_share,
        level=first.level_with,
        of=len(order.places),
        beside=order.beside,
        missing=tuple(sorted({measure for place in order.places for measure in place.missing})),
        tipping=tipping(change, total) if change is not None and told else None,
    )


def tipping(change: Change, total: float) -> Tipping:
    """A change of one weight as shares of all weights, of which it is itself a part.

    `total`: the sum of the weights as written, above zero.

    >>> change = Change(product="halde", measure="mass", was=1.0, tips_at=3.5, of_all=0.25)
    >>> found = tipping(change, 10.0)
    >>> found.was, found.tips_at
    (0.1, 0.28)
    """
    return Tipping(
        product=change.product,
        measure=change.measure,
        was=change.was / total,
        tips_at=change.tips_at / (total - change.was + change.tips_at),
    )
