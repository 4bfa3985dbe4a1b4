"""Which entrants differ where some readings are only known by a bound.

A pair of which both have exact readings is judged as in `differences`: with the instrument's scatter, or each with its
own. A pair with a bound is judged by an exact permutation test of Gehan's scores (Biometrika 52 (1965) 203): how many of
the others each reading surely exceeds, less how many surely exceed it. So that a longer record isn't taken for a longer
time, both sides are cut at the lowest upper limit (highest lower limit) of the two. All pairs together by Holm's steps.
"""

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import combinations

from sitegen.findings.comparison.comparison import LEVEL, Comparison, Doubt, Method, Pair
from sitegen.findings.comparison.differences import Group, described, variances_of, welch
from sitegen.findings.photos.door import Number, not_negative
from sitegen.findings.statistics.censored import CensoredSummary
from sitegen.findings.statistics.family import step_counts, stepped
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.quantiles import t_below


def compare_censored(
    summaries: Mapping[str, CensoredSummary],
    *,
    resolution: Number = 0.0,
    pooled: Pooled | None = None,
    level: float = LEVEL,
) -> Comparison:
    """Every pair of entrants; those without a bound have no `above` and `below`. No interval is given.

    `resolution` and `pooled` as in `compare_ratio`. An entrant with one reading is compared where the instrument's
    scatter is known and both readings of the pair are numbers. Errors: ValueError for readings that aren't finite.

    >>> from sitegen.findings.statistics.censored import summarise_censored as read
    >>> five = [Decimal(x) for x in (12, 14, 15, 18)]
    >>> found = compare_censored({"a": read([], [Decimal(20)] * 5), "b": read(five, [Decimal(20)])})
    >>> round(found.pairs[0].p_adjusted, 4), found.pairs[0].distinct
    (0.0476, True)
    """
    floor = not_negative(resolution, "resolution") / math.sqrt(12)
    names = sorted(summaries)
    pairs = list(combinations(names, 2))
    raw = {pair: _p_of(summaries[pair[0]], summaries[pair[1]], pooled, floor) for pair in pairs}
    known = {pair: p for pair, p in raw.items() if p is not None}
    entrants = sorted({name for pair in known for name in pair})
    steps = stepped(list(known.values()), max(2, len(entrants)))
    adjusted = {pair: p for pair, (p, _) in zip(known, steps, strict=True)}
    centres = {name: _centre(summaries[name]) for name in names}
    hopeless = _is_hopeless(summaries, list(known), len(entrants), level)
    single = (Doubt.SINGLE_SPECIMEN,) if len(entrants) < len(names) else ()
    return Comparison(
        method=Method.WELCH_PERMUTATION if known else Method.NONE,
        pairs=tuple(_pair(pair, centres, adjusted.get(pair), level) for pair in pairs),
        reasons=(*single, *((Doubt.CANNOT_SHOW_A_DIFFERENCE,) if hopeless else ())),
        centres=tuple((name, centres[name]) for name in entrants),
        specimens_needed=_needed(len(pairs), level) if hopeless and pairs else None,
    )


def _pair(pair: tuple[str, str], centres: Mapping[str, float], p: float | None, level: float) -> Pair:
    a, b = pair
    distinct = p is not None and p <= level
    return Pair(a=a, b=b, difference=centres[a] - centres[b], low=None, high=None, p_adjusted=p, distinct=distinct)


def _is_hopeless(
    summaries: Mapping[str, CensoredSummary], judged: Sequence[tuple[str, str]], entrants: int, level: float
) -> bool:
    """Whether even the clearest outcome could show no difference between any two."""
    if not judged:
        return True
    least = min(_least_p(summaries[a], summaries[b]) for a, b in judged)
    return least * step_counts(max(2, entrants), len(judged))[0] > level


def _p_of(a: CensoredSummary, b: CensoredSummary, pooled: Pooled | None, floor: float) -> float | None:
    """The p of one pair by itself; None where nothing can be said."""
    if _is_exact(a) and _is_exact(b):
        return _p_of_numbers(a, b, pooled, floor)
    if a.n < 2 or b.n < 2:
        return None
    return gehan_p(a, b)


def _is_exact(one: CensoredSummary) -> bool:
    return not one.above and not one.below


def _p_of_numbers(a: CensoredSummary, b: CensoredSummary, pooled: Pooled | None, floor: float) -> float | None:
    groups: tuple[Group, ...] = described({"a": a.exact, "b": b.exact})
    if pooled is None and min(a.n, b.n) < 2:
        return None
    variances = variances_of(groups, pooled, floor)
    if not any(variances):
        return None
    if pooled is None:
        return float(welch(groups, variances)[3][0])
    error = math.sqrt(variances[0] * (1 / a.n + 1 / b.n))
    return 2 * t_below(-abs(groups[0].mean - groups[1].mean) / error, pooled.dof)


def gehan_p(a: CensoredSummary, b: CensoredSummary) -> float:
    """The exact two-sided p of Gehan's statistic over all ways to part the readings into the two entrants.

    Two-sided: the share of arrangements whose statistic is at least as far from its mean, which is 0.
    """
    top = min((*a.above, *b.above), default=None)
    bottom = max((*a.below, *b.below), default=None)
    scores = gehan_scores([*_cut(a, top, bottom), *_cut(b, top, bottom)])
    seen = abs(sum(scores[: a.n]))
    counts = _sums(scores, a.n)
    return sum(count for total, count in counts.items() if abs(total) >= seen) / math.comb(a.n + b.n, a.n)


def gehan_scores(readings: Sequence[tuple[float, float]]) -> list[int]:
    """For each reading, given as the span it may lie in, how many others it surely exceeds less how many surely exceed it.

    The end of an open span is the limit itself, so a reading above a limit exceeds one that stands at it.

    >>> gehan_scores([(1.0, 1.0), (2.0, math.inf), (3.0, 3.0)])
    [-2, 1, 1]
    """

    def exceeds(one: tuple[float, float], other: tuple[float, float]) -> bool:
        return one[0] > other[1] or (one[0] == other[1] and (math.isinf(one[1]) or math.isinf(other[0])))

    return [sum(exceeds(one, other) - exceeds(other, one) for other in readings) for one in readings]


def _cut(one: CensoredSummary, top: Decimal | None, bottom: Decimal | None) -> list[tuple[float, float]]:
    """Each reading as the span it may lie in, nothing of it finer than the common limits."""
    found = []
    for low, high in (
        *((float(value), float(value)) for value in one.exact),
        *((float(value), math.inf) for value in one.above),
        *((-math.inf, float(value)) for value in one.below),
    ):
        if top is not None and low >= float(top):
            found.append((float(top), math.inf))
        elif bottom is not None and high <= float(bottom):
            found.append((-math.inf, float(bottom)))
        else:
            found.append((low, high))
    return found


def _sums(scores: Sequence[int], size: int) -> dict[int, int]:
    """How many of the subsets of `size` scores have each sum."""
    counts: list[dict[int, int]] = [{0: 1}, *({} for _ in range(size))]
    for score in scores:
        for chosen in range(size, 0, -1):
            for total, count in counts[chosen - 1].items():
                counts[chosen][total + score] = counts[chosen].get(total + score, 0) + count
    return counts[size]


def _least_p(a: CensoredSummary, b: CensoredSummary) -> float:
    """The smallest p that so many readings can give."""
    return 0.0 if _is_exact(a) and _is_exact(b) else 2 / math.comb(a.n + b.n, a.n)


def _needed(pairs: int, level: float) -> int:
    """Readings of each entrant from which on the clearest outcome of `pairs` pairs can show a difference."""
    return next(n for n in range(2, 100) if pairs * 2 / math.comb(2 * n, n) <= level)


def _centre(one: CensoredSummary) -> float:
    """What an entrant is ordered by: the median, or the bound known of it."""
    found = next((x for x in (one.median, one.median_above, one.median_below) if x is not None), None)
    return float(found) if found is not None else 0.0
