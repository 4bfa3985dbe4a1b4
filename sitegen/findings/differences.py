"""Which entrants differ on a ratio scale: every pair at once, at a family-wise level of 5 %.

Tukey-Kramer with one pooled spread where the spreads may be called equal; Games-Howell, with each pair's own
spreads and Welch's degrees of freedom, where they may not.
Sources: NIST/SEMATECH e-Handbook 7.4.7.1 (Tukey); Kramer, Biometrics 12 (1956) 307 (unequal n);
Games & Howell, J. Educ. Statist. 1 (1976) 113. Grades go to `grade_differences.compare_ordinal`.

Which of the two: Brown-Forsythe's test (e-Handbook 1.3.5.10 with medians) at 5 % when every entrant has five
values or more. Below that it is blind (two entrants with three values each: F is never above 4, and 7.7 would
be needed), so Bartlett's test (1.3.5.7) stands in, which sees a gross difference at any n but leans on normal
readings. An entrant with a single value has no spread and is told apart from nobody.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.findings.comparison import LEVEL, Comparison, Doubt, Method, Pair, checked_groups
from sitegen.findings.door import Number, not_negative, positive, share
from sitegen.findings.pooling import bartlett_p
from sitegen.findings.quantiles import f_above
from sitegen.findings.specimens import specimens_for_difference
from sitegen.findings.studentized import studentized_range

OBJECTION = 0.05  # of the test of spreads
TESTABLE = 5  # values an entrant needs before deviations from its median say anything
LARGEST = 1e150  # squares of greater readings leave the range of a float
FLOAT_NOISE = 1e-14  # a spread below this share of the readings is what rounding leaves of equal ones

Array = Any


@dataclass(frozen=True, slots=True)
class _Group:
    name: str
    values: tuple[float, ...]
    mean: float
    variance: float

    @property
    def n(self) -> int:
        return len(self.values)


def compare_ratio(
    groups: Mapping[str, Sequence[Number]],
    *,
    resolution: Number = 0.0,
    worth_showing: Number | None = None,
    level: float = LEVEL,
) -> Comparison:
    """Every pair of entrants: difference of means, simultaneous interval, adjusted p, distinct or not.

    `groups`: entrant to its readings, one a specimen, in one unit; `resolution` δ of the instrument in that
    unit: no entrant's spread counts as finer than δ/√12 (GUM F.2.2.1). `worth_showing`: a difference in
    that unit for which `specimens_needed` is wanted. Without any spread and resolution there is no finding.
    Errors: ValueError for readings that aren't finite or exceed 1e150, entrants without readings, a
    negative resolution, a `worth_showing` not above 0. Source: the module's text.

    >>> masses = {"fjell": [412.0, 411.5, 412.5], "tarn": [398.5, 399.0, 398.0], "vik": [411.0, 412.5, 412.0]}
    >>> found = compare_ratio(masses, resolution=0.5)
    >>> found.method.value, found.distinct_pairs
    ('tukey_kramer', (('fjell', 'tarn'), ('tarn', 'vik')))
    >>> [round(x, 2) for x in (found.pairs[0].difference, found.pairs[0].low, found.pairs[0].high)]
    [13.5, 11.99, 15.01]
    """
    share(level, "level")
    floor = not_negative(resolution, "resolution") / math.sqrt(12)
    wanted = None if worth_showing is None else positive(worth_showing, "worth_showing")
    every = tuple(_described(name, values) for name, values in checked_groups(groups).items())
    judged = [group for group in every if group.n > 1]
    if len(judged) < 2:
        return _not_compared(every)
    raised = [max(group.variance, floor**2) for group in judged]
    reasons = _first_reasons(every, judged, raised)
    if not any(raised):
        return _without_yardstick(every, judged, reasons)
    p_spreads, hardly = _test_spreads(judged, raised, float(resolution))
    differ = p_spreads < OBJECTION
    reasons += (Doubt.SPREADS_HARDLY_TESTABLE,) if hardly else ()
    reasons += (Doubt.SPREADS_DIFFER if differ else Doubt.SPREADS_ALIKE,)
    needed, beyond = _planned(len(every), _pooled(judged, raised), wanted, level)
    judge = _games_howell if differ else _tukey_kramer
    return Comparison(
        method=Method.GAMES_HOWELL if differ else Method.TUKEY_KRAMER,
        pairs=_with_singles(every, _pairs(judged, *judge(judged, raised, level))),
        reasons=reasons + beyond,
        centres=tuple((group.name, group.mean) for group in every),
        p_spreads=p_spreads,
        specimens_needed=needed,
    )


def _first_reasons(every: Sequence[_Group], judged: Sequence[_Group], raised: Sequence[float]) -> tuple[Doubt, ...]:
    floored = any(now > group.variance for now, group in zip(raised, judged, strict=True))
    single = (Doubt.SINGLE_SPECIMEN,) if len(judged) < len(every) else ()
    return single + ((Doubt.RESOLUTION_FLOOR,) if floored else ())


def _planned(
    entrants: int, variance: float, wanted: float | None, level: float
) -> tuple[int | None, tuple[Doubt, ...]]:
    """Specimens for the difference worth showing, with the round's pooled spread."""
    if wanted is None:
        return None, ()
    needed = specimens_for_difference(entrants, math.sqrt(variance), wanted, level=level)
    return needed, () if needed else (Doubt.BEYOND_PLANNING,)


def _described(name: str, values: tuple[float, ...]) -> _Group:
    largest = max(abs(value) for value in values)
    if largest > LARGEST:
        raise ValueError(f"{name}: expected readings up to {LARGEST:g}, found {largest:g}")
    if min(values) == max(values):
        return _Group(name, values, values[0], 0.0)
    mean = math.fsum(values) / len(values)
    variance = math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1)
    return _Group(name, values, mean, variance if variance > (FLOAT_NOISE * largest) ** 2 else 0.0)


def _not_compared(every: Sequence[_Group]) -> Comparison:
    """Fewer than two entrants, or fewer than two of them with a spread."""
    few = len(every) < 2
    return Comparison(
        method=Method.NONE,
        pairs=_with_singles(every, ()),
        reasons=(Doubt.TOO_FEW_ENTRANTS,) if few else (Doubt.SINGLE_SPECIMEN, Doubt.CANNOT_SHOW_A_DIFFERENCE),
        centres=tuple((group.name, group.mean) for group in every),
        specimens_needed=None if few else 2,
    )


def _without_yardstick(every: Sequence[_Group], judged: Sequence[_Group], reasons: tuple[Doubt, ...]) -> Comparison:
    """No entrant shows any spread and no resolution was given: what a difference means can't be told."""
    same = all(group.mean == judged[0].mean for group in every)
    return Comparison(
        method=Method.NONE,
        pairs=_with_singles(every, ()),
        reasons=(*reasons, Doubt.NO_SPREAD, *((Doubt.ALL_EQUAL,) if same else ())),
        centres=tuple((group.name, group.mean) for group in every),
    )


def _test_spreads(judged: Sequence[_Group], variances: Sequence[float], resolution: float) -> tuple[float, bool]:
    """p of the test that the spreads are equal, and whether Bartlett's had to stand in."""
    if min(group.n for group in judged) >= TESTABLE:
        return _brown_forsythe(judged, resolution), False
    if min(variances) == 0:  # no spread at all beside one that is: no test is needed
        return 0.0, True
    return bartlett_p([(g.n - 1, math.sqrt(v)) for g, v in zip(judged, variances, strict=True)]), True


def _brown_forsythe(judged: Sequence[_Group], resolution: float) -> float:
    """One-way analysis of variance of the distances from each entrant's median (e-Handbook 1.3.5.10).

    No distance counts as less than δ/4, the mean one within a step of the display: equal readings on a coarse
    display are no proof of a spread of nothing.
    """
    distances = [
        [max(abs(value - _median(group.values)), resolution / 4) for value in group.values] for group in judged
    ]
    total, means = sum(map(len, distances)), [math.fsum(row) / len(row) for row in distances]
    overall = math.fsum(map(math.fsum, distances)) / total
    between = math.fsum(len(row) * (mean - overall) ** 2 for row, mean in zip(distances, means, strict=True))
    within = math.fsum((distance - mean) ** 2 for row, mean in zip(distances, means, strict=True) for distance in row)
    above, below = len(judged) - 1, total - len(judged)
    nothing = FLOAT_NOISE * overall**2 * total
    if within <= nothing:  # every distance is its entrant's mean distance
        return 1.0 if between <= nothing else 0.0
    return f_above(between / above / (within / below), above, below)


def _median(values: Sequence[float]) -> float:
    ordered, half = sorted(values), len(values) // 2
    return ordered[half] if len(values) % 2 else ordered[half - 1] / 2 + ordered[half] / 2


def _pooled(judged: Sequence[_Group], variances: Sequence[float]) -> float:
    weighted = ((group.n - 1) * variance for group, variance in zip(judged, variances, strict=True))
    return math.fsum(weighted) / sum(group.n - 1 for group in judged)


def _tukey_kramer(judged: Sequence[_Group], variances: Sequence[float], level: float) -> tuple[Array, ...]:
    """Differences, half widths and p of all pairs, in the order of `numpy.triu_indices`."""
    import numpy as np

    first, second = np.triu_indices(len(judged), 1)
    means, counts = np.array([g.mean for g in judged]), np.array([g.n for g in judged])
    dof = float(counts.sum() - len(judged))
    error = np.sqrt(_pooled(judged, variances) / 2 * (1 / counts[first] + 1 / counts[second]))
    reference = studentized_range(len(judged))
    differences = means[first] - means[second]
    p = reference.above(np.abs(differences) / error, np.full(len(first), dof))
    return differences, reference.critical(level, np.array([dof])) * error, p


def _games_howell(judged: Sequence[_Group], variances: Sequence[float], level: float) -> tuple[Array, ...]:
    """As `_tukey_kramer`, each pair with its own error; p is NaN where neither entrant has any spread."""
    import numpy as np

    first, second = np.triu_indices(len(judged), 1)
    means, counts = np.array([g.mean for g in judged]), np.array([g.n for g in judged])
    shares = np.array(variances) / counts
    both = shares[first] + shares[second]
    known = both > 0
    safe = np.where(known, both, 1.0)
    parts = (shares / safe.max()) ** 2 / (counts - 1)
    dof = np.where(known, (safe / safe.max()) ** 2 / np.maximum(parts[first] + parts[second], 1e-300), 1.0)
    dof = np.maximum(dof, np.minimum(counts[first], counts[second]) - 1)  # it can't be less, but for rounding
    reference = studentized_range(len(judged))
    differences = means[first] - means[second]
    error = np.sqrt(safe / 2)
    p = np.where(known, reference.above(np.abs(differences) / error, dof), np.nan)
    return differences, reference.critical(level, dof) * error, p


def _pairs(judged: Sequence[_Group], differences: Array, widths: Array, p: Array) -> tuple[Pair, ...]:
    names = [group.name for group in judged]
    pairs = ((a, b) for index, a in enumerate(names) for b in names[index + 1 :])
    return tuple(
        _unjudged(a, b, difference)
        if math.isnan(chance)
        else Pair(
            a=a,
            b=b,
            difference=difference,
            low=difference - width,
            high=difference + width,
            p_adjusted=chance,
            distinct=abs(difference) >= width,
        )
        for (a, b), difference, width, chance in zip(
            pairs, differences.tolist(), widths.tolist(), p.tolist(), strict=True
        )
    )


def _unjudged(a: str, b: str, difference: float) -> Pair:
    return Pair(a=a, b=b, difference=difference, low=None, high=None, p_adjusted=None, distinct=False)


def _with_singles(every: Sequence[_Group], pairs: tuple[Pair, ...]) -> tuple[Pair, ...]:
    """All pairs in order: those judged, and those that couldn't be with their bare difference."""
    if len(pairs) == len(every) * (len(every) - 1) // 2:
        return pairs
    judged = {(pair.a, pair.b): pair for pair in pairs}
    return tuple(
        judged.get((one.name, other.name)) or _unjudged(one.name, other.name, one.mean - other.mean)
        for index, one in enumerate(every)
        for other in every[index + 1 :]
    )
