"""Readings of which only a bound is known: a rig that ended at 10,000 mm, a lamp that outlasted the logger.

Such a reading is never a number (the limit in its place, or half of it, would be made up) and never thrown away. The
median stays known while enough exact readings lie on its side. Where readings end at different limits, the product-limit
estimate gives it: Kaplan & Meier, J. Amer. Statist. Assoc. 53 (1958) 457; its standard error by Greenwood; readings
below a limit are turned round (Helsel, Statistics for Censored Environmental Data, 2012; both from memory).
"""

import math
from collections.abc import Sequence
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import all_finite
from sitegen.findings.statistics.curve import RunTime


@dataclass(frozen=True, slots=True, kw_only=True)
class CensoredSummary:
    """What readings support of which at least one is only known by a bound; all in their unit, sorted.

    `exact`: the readings that are numbers; `above`: limits of those that lie above; `below`: of those that lie below.
    `median`: the middle reading or, between different limits, the product-limit estimate; None where only a bound of it
    is known: then `median_above` or `median_below` is that bound (both, where it lies between).
    """

    n: int
    exact: tuple[Decimal, ...]
    above: tuple[Decimal, ...]
    below: tuple[Decimal, ...]
    median: Decimal | None
    median_above: Decimal | None
    median_below: Decimal | None

    @property
    def lows(self) -> tuple[float, ...]:
        """The least that each reading may be, sorted; -inf where nothing is known."""
        return tuple(sorted([*map(float, (*self.exact, *self.above)), *[-math.inf] * len(self.below)]))

    @property
    def highs(self) -> tuple[float, ...]:
        """The most that each reading may be, sorted; inf where nothing is known."""
        return tuple(sorted([*map(float, (*self.exact, *self.below)), *[math.inf] * len(self.above)]))


def summarise_censored(
    exact: Sequence[Decimal], above: Sequence[Decimal], below: Sequence[Decimal] = ()
) -> CensoredSummary:
    """Readings of one entrant, of which some are only known to lie above or below a limit.

    Errors: ValueError when there are none, or one isn't finite. Source: the module's text.

    >>> found = summarise_censored([Decimal(57), Decimal(62)], [Decimal(300)])
    >>> str(found.median), found.median_above
    ('62', None)
    >>> found = summarise_censored([Decimal(57)], [Decimal(300), Decimal(300)])
    >>> found.median, str(found.median_above)
    (None, '300')
    """
    all_finite([*exact, *above, *below], "readings")
    low = _middle([*((value, False) for value in (*exact, *above)), *((value, True) for value in below)], least=True)
    high = _middle([*((value, False) for value in (*exact, *below)), *((value, True) for value in above)], least=False)
    median = low if low == high else None
    if median is None and above and not below:
        median = product_limit_median(exact, above)
    elif median is None and below and not above:
        turned = product_limit_median([-value for value in exact], [-value for value in below])
        median = -turned if turned is not None else None
    return CensoredSummary(
        n=len(exact) + len(above) + len(below),
        exact=tuple(sorted(exact)),
        above=tuple(sorted(above)),
        below=tuple(sorted(below)),
        median=median,
        median_above=low if median is None else None,
        median_below=high if median is None else None,
    )


def _middle(bounds: Sequence[tuple[Decimal, bool]], *, least: bool) -> Decimal | None:
    """The middle of bounds of which those marked are unlimited (downwards for `least`); None where it is unlimited."""
    free = sum(unlimited for _, unlimited in bounds)
    known = sorted(value for value, unlimited in bounds if not unlimited)
    # Ranks of the middle one or two among all, the unlimited standing below (least) or above all others.
    pair = {(len(bounds) - 1) // 2, len(bounds) // 2}
    ranks = [rank - free if least else rank for rank in pair]
    if any(not 0 <= rank < len(known) for rank in ranks):
        return None
    return sum((known[rank] for rank in ranks), Decimal(0)) / len(ranks)


def product_limit(exact: Sequence[Decimal], above: Sequence[Decimal]) -> tuple[tuple[Decimal, float, float], ...]:
    """The share that lies above each exact reading, with Greenwood's standard error; rising values.

    Readings that lie above a limit count among those at risk up to it, also at an equal exact reading. Errors: ValueError
    when there are none. Source: Kaplan & Meier 1958.

    >>> [(str(value), round(share, 3)) for value, share, _ in product_limit([Decimal(1), Decimal(3)], [Decimal(2)])]
    [('1', 0.667), ('3', 0.0)]
    """
    all_finite([*exact, *above], "readings")
    share, greenwood, found = 1.0, 0.0, []
    for value in sorted(set(exact)):
        at_risk = sum(other >= value for other in (*exact, *above))
        ended = sum(other == value for other in exact)
        share *= 1 - ended / at_risk
        greenwood += ended / (at_risk * (at_risk - ended)) if at_risk > ended else 0.0
        found.append((value, share, share * math.sqrt(greenwood)))
    return tuple(found)


def product_limit_median(exact: Sequence[Decimal], above: Sequence[Decimal]) -> Decimal | None:
    """The first reading at which no more than half lie above; None where it is never reached."""
    reached = (value for value, share, _ in product_limit(exact, above) if share <= 0.5 + 1e-12)
    return next(reached, None)


def censored_times(runs: Sequence[RunTime]) -> CensoredSummary:
    """Run times of several specimens, of which a record that ended first is a time above what was recorded."""
    return summarise_censored(
        [Decimal(repr(run.time)) for run in runs if run.time is not None],
        [Decimal(repr(run.longer_than)) for run in runs if run.time is None and run.longer_than is not None],
    )
