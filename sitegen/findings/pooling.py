"""One standard deviation for a whole round, where the round justifies it.

Three weighings say little about their own spread: by GUM table E.1 the standard deviation of 3 readings is
itself uncertain by 52 %, of 5 by 36 %, of 10 by 24 %. Groups measured the same way on the same bench may
lend one another their degrees of freedom (GUM 4.2.4), if their spreads don't visibly differ.

The tests: Bartlett's (NIST/SEMATECH e-Handbook 1.3.5.7) sees spreads that differ all over; the generalised
Cochran test (ISO 5725-2 7.3.3 for equal groups; 't Lam, Anal. Chim. Acta 659 (2010) 75 for unequal ones) sees
the one group that stands out. Each at half of 5 %, so that together they cry wolf in at most 1 of 20 rounds
of normal readings. The robust alternative, deviations from medians (Brown-Forsythe), can't be used here:
with three readings a group it doesn't see even a threefold spread (tests/findings/test_pooling.py counts),
so it would justify everything. Heavier tails make the chosen tests object too often, which only costs width.
"""

import math
from collections.abc import Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.door import Number, positive
from sitegen.findings.quantiles import chi_square_above, f_above
from sitegen.findings.reasons import Reason
from sitegen.findings.uncertainty import mean_and_spread

OBJECTION = 0.05  # both tests together
POOL_BELOW = 10  # from here on a group's own s is good to a quarter (GUM table E.1) and is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """A standard deviation `s` (unit of the readings), `dof` from `groups` groups, p of both tests."""

    s: float
    dof: int
    groups: int
    p_bartlett: float
    p_largest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooling:
    """`pooled` when it is justified, else None and the reason; p is None where no test was possible."""

    pooled: Pooled | None
    reasons: tuple[Reason, ...]
    p_bartlett: float | None = None
    p_largest: float | None = None


def pool_spread(groups: Sequence[Sequence[Number]], resolution: Number) -> Pooling:
    """The pooled standard deviation of a round: √(Σνs²/Σν) over groups of at least two readings.

    `groups`: readings of one protocol and stage, one group an entrant, all in one unit; `resolution` in the
    same unit: for the tests no spread counts as finer than δ/√12, since equal readings on a coarse display
    aren't proof of a perfect bench. Errors: ValueError for readings or a resolution that aren't finite.
    Source: GUM 4.2.4, H.3.6 note; the tests as in the module's text.

    >>> pooling = pool_spread([[412.0, 411.5, 412.0], [388.0, 388.5, 388.5], [401.0, 402.0, 401.5]], 0.5)
    >>> round(pooling.pooled.s, 4), pooling.pooled.dof
    (0.3727, 6)
    """
    floor = positive(resolution, "resolution") / math.sqrt(12)
    repeated = [(len(g) - 1, s) for g in groups if g and (s := mean_and_spread(g)[1]) is not None]
    if len(repeated) < 2:
        return Pooling(pooled=None, reasons=(Reason.ONE_GROUP if repeated else Reason.NO_REPEATS,))
    floored = [(dof, max(s, floor)) for dof, s in repeated]
    p_bartlett, p_largest = bartlett_p(floored), largest_spread_p(floored)
    objections = tuple(
        reason
        for p, reason in ((p_largest, Reason.ONE_SPREAD_STANDS_OUT), (p_bartlett, Reason.SPREADS_DIFFER))
        if p < OBJECTION / 2
    )
    dof = sum(d for d, _ in repeated)
    s = math.sqrt(sum(d * s * s for d, s in repeated) / dof)
    found = Pooled(s=s, dof=dof, groups=len(repeated), p_bartlett=p_bartlett, p_largest=p_largest)
    pooled = None if objections else found
    return Pooling(pooled=pooled, reasons=objections, p_bartlett=p_bartlett, p_largest=p_largest)


def bartlett_p(spreads: Sequence[tuple[int, float]]) -> float:
    """p of Bartlett's test on (dof, s) pairs with every s above zero (NIST/SEMATECH e-Handbook 1.3.5.7).

    >>> bartlett_p([(2, 1.0), (2, 1.0)])
    1.0
    """
    dof = sum(d for d, _ in spreads)
    pooled = sum(d * s * s for d, s in spreads) / dof
    others = len(spreads) - 1
    statistic = dof * math.log(pooled) - sum(d * math.log(s * s) for d, s in spreads)
    correction = 1 + (sum(1 / d for d, _ in spreads) - 1 / dof) / (3 * others)
    return chi_square_above(max(statistic, 0.0) / correction, others)


def largest_spread_p(spreads: Sequence[tuple[int, float]]) -> float:
    """p that some group's variance stands so far above the pooled rest: generalised Cochran, (dof, s) pairs.

    Each group against the others by F, times the number of groups (Bonferroni): for groups of one size this
    is Cochran's C with its tabled critical values (ISO 5725-2 annex), which are the same bound.
    """
    dof = sum(d for d, _ in spreads)
    total = sum(d * s * s for d, s in spreads)
    tails = [f_above(s * s * (dof - d) / (total - d * s * s), d, dof - d) for d, s in spreads]
    return min(1.0, len(spreads) * min(tails))
