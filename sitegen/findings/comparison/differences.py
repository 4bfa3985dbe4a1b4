"""Which entrants differ on a ratio scale: every pair at once, at a family-wise level of 5 %.

Where the scatter is the instrument's, one standard deviation holds for all: Tukey-Kramer, with the degrees of freedom
of all that was repeated. Where it is the specimen's, each entrant has its own: Welch's test for each pair, made
family-wise by Holm's steps. Which of the two is declared by the protocol; no test of the readings chooses, since with
three specimens that raises false alarms to 9-13 % (tests/findings/test_operating.py).
Sources: NIST/SEMATECH e-Handbook 7.4.7.1 (Tukey); Kramer, Biometrics 12 (1956) 307 (unequal n); Welch, Biometrika 34
(1947) 28; steps as in `family`. Grades go to `grade_differences.compare_ordinal`, readings beyond a limit to
`censored_differences.compare_censored`.

An entrant with a single value has no spread of its own: it is compared where the instrument's is known.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.comparison import LEVEL, Comparison, Doubt, Method, Pair, checked_groups
from sitegen.findings.photos.door import Number, not_negative, positive, share
from sitegen.findings.statistics.family import stepped
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.specimens import specimens_for_difference
from sitegen.findings.statistics.studentized import studentized_range

LARGEST = 1e150  # squares of greater readings leave the range of a float
ALMOST_WHOLE = 1e-9  # so that rounding takes no whole degree of freedom away
FLOAT_NOISE = 1e-14  # a spread below this share of the readings is what rounding leaves of equal ones

Array = Any


@dataclass(frozen=True, slots=True)
class Group:
    """An entrant's readings with their mean and variance (of one reading; 0 for a single one)."""

    name: str
    values: tuple[float, ...]
    mean: float
    variance: float

    @property
    def n(self) -> int:
        """How many readings."""
        return len(self.values)


def compare_ratio(
    groups: Mapping[str, Sequence[Number]],
    *,
    resolution: Number = 0.0,
    pooled: Pooled | None = None,
    worth_showing: Number | None = None,
    level: float = LEVEL,
) -> Comparison:
    """Every pair of entrants: difference of means, interval, family-wise p, distinct or not.

    `groups`: entrant to its readings, one a specimen, in one unit; `resolution` δ of the instrument in that
    unit: no spread counts as finer than δ/√12 (GUM F.2.2.1). `pooled`: the instrument's scatter, where it is that;
    without it each entrant has its own. `worth_showing`: a difference in that unit for which `specimens_needed` is
    wanted. Without any spread and resolution there is no finding.
    Errors: ValueError for readings that aren't finite or exceed 1e150, entrants without readings, a
    negative resolution, a `worth_showing` not above 0. Source: the module's text.

    >>> masses = {"fjell": [412.0, 411.5, 412.5], "tarn": [398.5, 399.0, 398.0], "vik": [411.0, 412.5, 412.0]}
    >>> found = compare_ratio(masses, resolution=0.5)
    >>> found.method.value, found.distinct_pairs
    ('welch_holm', (('fjell', 'tarn'), ('tarn', 'vik')))
    >>> found = compare_ratio(masses, resolution=0.5, pooled=Pooled(s=0.6, dof=30))
    >>> found.method.value, [round(x, 2) for x in (found.pairs[0].difference, found.pairs[0].low, found.pairs[0].high)]
    ('tukey_kramer', [13.5, 12.29, 14.71])
    """
    share(level, "level")
    floor = not_negative(resolution, "resolution") / math.sqrt(12)
    wanted = None if worth_showing is None else positive(worth_showing, "worth_showing")
    every = described(groups)
    judged = [group for group in every if group.n > 1 or pooled is not None]
    if len(judged) < 2:
        return _not_compared(every)
    raised = variances_of(judged, pooled, floor)
    single = (Doubt.SINGLE_SPECIMEN,) if len(judged) < len(every) else ()
    if not any(raised):
        return _without_yardstick(every, judged, single)
    floored = any(now > (pooled.s**2 if pooled else group.variance) for now, group in zip(raised, judged, strict=True))
    needed, beyond = _planned(len(every), _mean_variance(judged, raised), wanted, level)
    tested = tukey_kramer(judged, raised[0], float(pooled.dof), level) if pooled else _welch_holm(judged, raised, level)
    return Comparison(
        method=Method.TUKEY_KRAMER if pooled else Method.WELCH_HOLM,
        pairs=_with_singles(every, tested),
        reasons=(*single, *((Doubt.RESOLUTION_FLOOR,) if floored else ()), *beyond),
        centres=tuple((group.name, group.mean) for group in every if group in judged),
        specimens_needed=needed,
    )


def variances_of(judged: Sequence[Group], pooled: Pooled | None, floor: float) -> list[float]:
    """The variance of one reading of each entrant, the instrument's or its own, none finer than the display's."""
    return [max(pooled.s**2 if pooled else group.variance, floor**2) for group in judged]


def _planned(
    entrants: int, variance: float, wanted: float | None, level: float
) -> tuple[int | None, tuple[Doubt, ...]]:
    """Specimens for the difference worth showing, with the round's mean variance."""
    if wanted is None:
        return None, ()
    needed = specimens_for_difference(entrants, math.sqrt(variance), wanted, level=level)
    return needed, (Doubt.BEYOND_PLANNING,) if needed is None else ()


def described(groups: Mapping[str, Sequence[Number]]) -> tuple[Group, ...]:
    """Each entrant with mean and variance, in the alphabet of ids. Errors: as in `compare_ratio`."""
    return tuple(_described(name, values) for name, values in checked_groups(groups).items())


def _described(name: str, values: tuple[float, ...]) -> Group:
    largest = max(abs(value) for value in values)
    if largest > LARGEST:
        raise ValueError(f"{name}: expected readings up to {LARGEST:g}, found {largest:g}")
    if min(values) == max(values):
        return Group(name, values, values[0], 0.0)
    mean = math.fsum(values) / len(values)
    variance = math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1)
    return Group(name, values, mean, variance if variance > (FLOAT_NOISE * largest) ** 2 else 0.0)


def _not_compared(every: Sequence[Group]) -> Comparison:
    """Fewer than two entrants, or fewer than two of them with a spread."""
    few = len(every) < 2
    return Comparison(
        method=Method.NONE,
        pairs=_with_singles(every, ()),
        reasons=(Doubt.TOO_FEW_ENTRANTS,) if few else (Doubt.SINGLE_SPECIMEN, Doubt.CANNOT_SHOW_A_DIFFERENCE),
        centres=tuple((group.name, group.mean) for group in every),
        specimens_needed=None if few else 2,
    )


def _without_yardstick(every: Sequence[Group], judged: Sequence[Group], reasons: tuple[Doubt, ...]) -> Comparison:
    """No entrant shows any spread and no resolution was given: what a difference means can't be told."""
    same = all(group.mean == judged[0].mean for group in every)
    return Comparison(
        method=Method.NONE,
        pairs=_with_singles(every, ()),
        reasons=(*reasons, Doubt.NO_SPREAD, *((Doubt.ALL_EQUAL,) if same else ())),
        centres=tuple((group.name, group.mean) for group in every),
    )


def _mean_variance(judged: Sequence[Group], variances: Sequence[float]) -> float:
    """That of the entrants together, each by its degrees of freedom."""
    freedom = sum(max(1, group.n - 1) for group in judged)
    return math.fsum(max(1, g.n - 1) * v for g, v in zip(judged, variances, strict=True)) / freedom


def tukey_kramer(judged: Sequence[Group], variance: float, dof: float, level: float) -> tuple[Pair, ...]:
    """All pairs with one variance of `dof` degrees of freedom, by the studentized range."""
    import numpy as np

    first, second = np.triu_indices(len(judged), 1)
    means, counts = np.array([g.mean for g in judged]), np.array([g.n for g in judged])
    error = np.sqrt(variance / 2 * (1 / counts[first] + 1 / counts[second]))
    reference = studentized_range(len(judged))
    differences = means[first] - means[second]
    p = reference.above(np.abs(differences) / error, np.full(len(first), dof))
    widths = reference.critical(level, np.array([dof])) * error
    return _pairs(judged, differences, widths, p, np.abs(differences) >= widths)


def _welch_holm(judged: Sequence[Group], variances: Sequence[float], level: float) -> tuple[Pair, ...]:
    """All pairs with each entrant's own variance; a pair of which neither has any spread stays unjudged."""
    import numpy as np
    from scipy import special  # type: ignore[import-untyped,unused-ignore]

    differences, error, dof, p = welch(judged, variances)
    known = ~np.isnan(p)
    steps = stepped(p[known].tolist(), len(judged))
    adjusted, counts = np.full(len(p), np.nan), np.ones(len(p))
    adjusted[known], counts[known] = [value for value, _ in steps], [count for _, count in steps]
    # Pairs that the steps don't reach have the interval of the step at which they stopped.
    counts = np.where(adjusted > level, counts[adjusted > level].max(initial=1), counts)
    widths = special.stdtrit(dof, 1 - level / counts / 2) * error
    return _pairs(judged, differences, widths, adjusted, adjusted <= level)


def welch(judged: Sequence[Group], variances: Sequence[float]) -> tuple[Array, Array, Array, Array]:
    """Differences, standard errors, degrees of freedom and two-sided p of all pairs, in the order of `triu_indices`.

    Degrees of freedom go down to the next whole number, as for intervals (GUM G.4.1): with three readings and spreads of
    1 to 5, broken ones would tell equal entrants apart in 5.9 of 100 rounds, whole ones do in 4.6. Entrants with unequal
    numbers of readings get those of the smaller, which is never too bold (Mickey & Brown, Ann. Math. Statist. 37 (1966)
    639; from memory): beside six steady readings, two wide ones that happen to agree would look sure. p is NaN where
    neither entrant has any spread. Source: Welch, Biometrika 34 (1947) 28.
    """
    import numpy as np
    from scipy import special

    first, second = np.triu_indices(len(judged), 1)
    means, counts = np.array([g.mean for g in judged]), np.array([g.n for g in judged])
    shares = np.array(variances) / counts
    both = shares[first] + shares[second]
    known = both > 0
    safe = np.where(known, both, 1.0)
    parts = (shares / safe.max()) ** 2 / np.maximum(counts - 1, 1)
    dof = np.where(known, (safe / safe.max()) ** 2 / np.maximum(parts[first] + parts[second], 1e-300), 1.0)
    fewest = np.minimum(counts[first], counts[second]) - 1
    dof = np.where(counts[first] == counts[second], np.maximum(np.floor(dof + ALMOST_WHOLE), fewest), fewest)
    differences, error = means[first] - means[second], np.sqrt(safe)
    p = np.where(known, 2 * special.stdtr(dof, -np.abs(differences) / error), np.nan)
    return differences, error, dof, p


def _pairs(judged: Sequence[Group], differences: Array, widths: Array, p: Array, distinct: Array) -> tuple[Pair, ...]:
    names = [group.name for group in judged]
    pairs = ((a, b) for index, a in enumerate(names) for b in names[index + 1 :])
    rows = zip(pairs, differences.tolist(), widths.tolist(), p.tolist(), distinct.tolist(), strict=True)
    return tuple(
        unjudged(a, b, difference)
        if math.isnan(chance)
        else Pair(
            a=a,
            b=b,
            difference=difference,
            low=difference - width,
            high=difference + width,
            p_adjusted=chance,
            distinct=apart,
        )
        for (a, b), difference, width, chance, apart in rows
    )


def unjudged(a: str, b: str, difference: float) -> Pair:
    """A pair of which nothing but the difference is known."""
    return Pair(a=a, b=b, difference=difference, low=None, high=None, p_adjusted=None, distinct=False)


def _with_singles(every: Sequence[Group], pairs: tuple[Pair, ...]) -> tuple[Pair, ...]:
    """All pairs in order: those judged, and those that couldn't be with their bare difference."""
    if len(pairs) == len(every) * (len(every) - 1) // 2:
        return pairs
    judged = {(pair.a, pair.b): pair for pair in pairs}
    return tuple(
        judged.get((one.name, other.name)) or unjudged(one.name, other.name, one.mean - other.mean)
        for index, one in enumerate(every)
        for other in every[index + 1 :]
    )
