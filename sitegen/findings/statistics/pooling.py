"""One standard deviation for a whole measure, where its scatter is declared to be the instrument's.

Three weighings say little about their own spread: by GUM table E.1 the standard deviation of 3 readings is
itself uncertain by 52 %, of 5 by 36 %, of 10 by 24 %. What one instrument and one person scatter doesn't depend on
which product is measured, so that all entrants, and earlier rounds on the same instrument, lend one another their
degrees of freedom (GUM 4.2.4; repeatability in ISO 5725-2). Whose the scatter is, the protocol declares before
anything is measured. No test of the readings chooses: one that did would raise the false alarms of all that follows
(tests/findings/test_operating.py).

The readings may contradict the declaration; that is reported with the figure and changes nothing. Two tests look:
Bartlett's (NIST/SEMATECH e-Handbook 1.3.5.7) sees spreads that differ all over; the generalised Cochran test (ISO
5725-2 7.3.3 for equal groups; 't Lam, Anal. Chim. Acta 659 (2010) 75 for unequal ones) sees the one group that stands
out. Each at half of 5 %, so that together they object to at most 1 of 20 sound measures of normal readings.
"""

import math
from collections.abc import Mapping, Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, positive
from sitegen.findings.statistics.quantiles import chi_square_above, f_above
from sitegen.findings.statistics.uncertainty import mean_and_spread

OBJECTION = 0.05  # both tests together


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """A standard deviation `s` (unit of the readings) with `dof`, of which `earlier` come from earlier rounds."""

    s: float
    dof: int
    earlier: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Readings that contradict a common scatter: `entrant` scatters with `s`, the others together with `others`."""

    entrant: str
    s: float
    others: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooling:
    """The scatter of one measure whose protocol declares it the instrument's.

    `pooled` is None where nothing was repeated. `p_bartlett` and `p_largest` are None where fewer than two entrants have
    repeats; `disagreement` names the entrant farthest from the others where a test objects.
    """

    pooled: Pooled | None
    p_bartlett: float | None = None
    p_largest: float | None = None
    disagreement: Disagreement | None = None


def pool_spread(groups: Mapping[str, Sequence[Number]], resolution: Number, earlier: Pooled | None = None) -> Pooling:
    """The pooled standard deviation √(Σνs²/Σν) over the entrants with at least two readings, and `earlier`.

    `groups`: entrant to its readings of one protocol and stage, all in one unit; `resolution` in the same unit: for the
    tests no spread counts as finer than δ/√12, since equal readings on a coarse display aren't proof of a perfect bench.
    `earlier`: the scatter of earlier rounds on the same instrument. Errors: ValueError for readings or a resolution that
    aren't finite. Source: GUM 4.2.4, H.3.6 note; the tests as in the module's text.

    >>> pooling = pool_spread({"a": [412.0, 411.5, 412.0], "b": [388.0, 388.5, 388.5], "c": [401.0, 402.0, 401.5]}, 0.5)
    >>> round(pooling.pooled.s, 4), pooling.pooled.dof
    (0.3727, 6)
    """
    floor = positive(resolution, "resolution") / math.sqrt(12)
    spreads = {name: (len(g) - 1, mean_and_spread(g)[1] or 0.0) for name, g in groups.items() if len(g) > 1}
    pooled = join([Pooled(s=s, dof=dof) for dof, s in spreads.values()], earlier)
    if len(spreads) < 2:
        return Pooling(pooled=pooled)
    floored = {name: (dof, max(s, floor)) for name, (dof, s) in spreads.items()}
    p_bartlett, p_largest = bartlett_p(list(floored.values())), largest_spread_p(list(floored.values()))
    differ = min(p_bartlett, p_largest) < OBJECTION / 2
    return Pooling(
        pooled=pooled,
        p_bartlett=p_bartlett,
        p_largest=p_largest,
        disagreement=_farthest(floored) if differ else None,
    )


def join(spreads: Sequence[Pooled], earlier: Pooled | None = None) -> Pooled | None:
    """Several standard deviations of one scatter as one; None where there are none. Source: GUM H.3.6 note."""
    parts = [*spreads, *((earlier,) if earlier is not None else ())]
    dof = sum(part.dof for part in parts)
    if not dof:
        return None
    s = math.sqrt(math.fsum(part.dof * part.s**2 for part in parts) / dof)
    return Pooled(s=s, dof=dof, earlier=earlier.dof if earlier is not None else 0)


def _farthest(spreads: Mapping[str, tuple[int, float]]) -> Disagreement:
    """The entrant whose spread would come about least often, beside that of the others together."""

    def others(name: str) -> Pooled:
        joined = join([Pooled(s=s, dof=dof) for other, (dof, s) in spreads.items() if other != name])
        assert joined is not None
        return joined

    def tail(name: str) -> float:
        (dof, s), rest = spreads[name], others(name)
        ratio = (s / rest.s) ** 2
        return min(f_above(ratio, dof, rest.dof), f_above(1 / ratio, rest.dof, dof))

    name = min(sorted(spreads), key=tail)
    return Disagreement(entrant=name, s=spreads[name][1], others=others(name).s)


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
