"""Do two graders agree? Quadratically weighted kappa over a class list fixed beforehand.

kappa_w = 1 - Σ v·p / Σ v·pe, v the weight of a disagreement (Cohen, Psychol. Bull. 70 (1968) 213). The
weights are squares of distances in the class list: three classes off is nine times one class off.

The interval is that of Fleiss, Cohen & Everitt (Psychol. Bull. 72 (1969) 323), the large-sample variance of
kappa_w. A bootstrap was weighed up and left out: with the 10 to 30 specimens of a bench it isn't better
(resamples lose classes, and where all agree both give a width of nothing), it needs a seed, and the formula
can be checked by hand. So the interval comes with a reason below 2·k² specimens for k classes in use
(Cicchetti, 1981; from memory), is left out where all agree, and the share of agreement has an exact interval
(Clopper-Pearson).
"""

import math
from collections.abc import Mapping, Sequence
from enum import StrEnum

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, finite
from sitegen.findings.statistics.quantiles import beta_quantile

NORMAL_95 = 1.959963984540054  # half width of 95 % of a normal distribution, in standard deviations
TAIL = 0.025


class GraderDoubt(StrEnum):
    """Why an agreement has no kappa or a weak interval."""

    NO_COMMON_SPECIMENS = "no_common_specimens"
    ONE_CLASS = "one_class"  # a grader used a single class: kappa is 0 or undefined, whatever they saw
    ALL_AGREE = "all_agree"  # kappa is 1, and its variance says nothing about how sure that is
    FEW_FOR_INTERVAL = "few_for_interval"  # fewer than 2·k² specimens


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A specimen with two grades, and how many classes of the list lie between them (1: neighbours)."""

    specimen: str
    first: float
    second: float
    classes_apart: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How far two graders agree over `n` specimens that both graded.

    `kappa` and its 95 % interval `low`, `high`, and `share` of equal grades with `share_low`, `share_high`
    are pure numbers; None where there is none, with the reason. `disagreements`: widest first, then by
    specimen. `left_out`: specimens that only one of them graded.
    """

    n: int
    kappa: float | None
    low: float | None
    high: float | None
    share: float | None
    share_low: float | None
    share_high: float | None
    disagreements: tuple[Disagreement, ...]
    left_out: tuple[str, ...]
    reasons: tuple[GraderDoubt, ...]


def compare_graders(first: Mapping[str, Number], second: Mapping[str, Number], classes: Sequence[Number]) -> Agreement:
    """Agreement of two graders: specimen to grade from each, and every class of the scale in rank order.

    The list holds classes that nobody used as well, and half grades where the protocol allows them: the
    weights depend on it. Errors: ValueError for a grade off the list or not finite (names specimen), fewer
    than two classes, classes out of order or twice. Source: the module's text.

    >>> found = compare_graders({"s1": 5, "s2": 4, "s3": 2}, {"s1": 5, "s2": 3, "s3": 2}, [0, 1, 2, 3, 4, 5])
    >>> round(found.kappa, 3), found.disagreements[0].specimen
    (0.897, 's2')
    """
    listed = _class_list(classes)
    places = [
        {specimen: _class_of(grade, specimen, listed) for specimen, grade in grades.items()}
        for grades in (first, second)
    ]
    common = sorted(places[0].keys() & places[1].keys())
    table = [[0.0] * len(listed) for _ in listed]
    for specimen in common:
        table[places[0][specimen]][places[1][specimen]] += 1
    return _agreement(
        table,
        disagreements=_disagreements(common, places[0], places[1], listed),
        left_out=tuple(sorted(places[0].keys() ^ places[1].keys())),
    )


def weighted_kappa(table: Sequence[Sequence[Number]], weights: Sequence[Sequence[Number]]) -> tuple[float, float]:
    """Kappa and its standard error (both pure numbers) of a square table of counts, rows the first grader.

    `weights`: of disagreement, same shape, 0 on the diagonal and nowhere negative. The error is the
    large-sample one of Fleiss, Cohen & Everitt for Σ table specimens. Errors: ValueError for shapes that
    don't fit, negative counts or weights, an empty table, or no disagreement expected by chance (one class
    only).

    >>> kappa, error = weighted_kappa([[106, 10, 4], [22, 28, 10], [2, 12, 6]], squared_distances(3))
    >>> round(kappa, 4), round(error, 3)
    (0.5667, 0.056)
    """
    counts, costs = _square(table, "table", len(table)), _square(weights, "weights", len(table))
    n = math.fsum(map(math.fsum, counts))
    if n == 0:
        raise ValueError("table: expected at least one specimen")
    k = range(len(counts))
    p = [[counts[i][j] / n for j in k] for i in k]
    rows, columns = [math.fsum(p[i]) for i in k], [math.fsum(p[i][j] for i in k) for j in k]
    seen = math.fsum(p[i][j] * costs[i][j] for i in k for j in k)
    chance = math.fsum(rows[i] * columns[j] * costs[i][j] for i in k for j in k)
    if chance == 0:
        raise ValueError("table: expected more than one class in use")
    ratio = seen / chance  # 1 - kappa
    by_row = [math.fsum(columns[j] * costs[i][j] for j in k) for i in k]
    by_column = [math.fsum(rows[i] * costs[i][j] for i in k) for j in k]
    spread = math.fsum(p[i][j] * (costs[i][j] - (by_row[i] + by_column[j]) * ratio) ** 2 for i in k for j in k)
    variance = (spread - (chance * ratio) ** 2) / (n * chance**2)
    return 1 - ratio, math.sqrt(max(0.0, variance))


def squared_distances(classes: int) -> tuple[tuple[float, ...], ...]:
    """The weights of quadratic kappa: (i - j)².

    >>> squared_distances(3)[0]
    (0.0, 1.0, 4.0)
    """
    return tuple(tuple(float((i - j) ** 2) for j in range(classes)) for i in range(classes))


def _class_list(classes: Sequence[Number]) -> tuple[float, ...]:
    listed = tuple(finite(grade, f"classes[{index}]") for index, grade in enumerate(classes))
    if len(listed) < 2:
        raise ValueError(f"classes: expected two or more, found {len(listed)}")
    if len(set(listed)) < len(listed):
        raise ValueError("classes: expected each class once")
    if listed not in (tuple(sorted(listed)), tuple(sorted(listed, reverse=True))):
        raise ValueError("classes: expected rank order, best or worst first")
    return listed


def _class_of(grade: Number, specimen: str, listed: Sequence[float]) -> int:
    known = finite(grade, specimen)
    if known not in listed:
        raise ValueError(
            f"{specimen}: expected one of the classes {', '.join(f'{c:g}' for c in listed)}, found {known:g}"
        )
    return listed.index(known)


def _disagreements(
    common: Sequence[str], first: Mapping[str, int], second: Mapping[str, int], listed: Sequence[float]
) -> tuple[Disagreement, ...]:
    found = (
        Disagreement(
            specimen=specimen,
            first=listed[first[specimen]],
            second=listed[second[specimen]],
            classes_apart=abs(first[specimen] - second[specimen]),
        )
        for specimen in common
        if first[specimen] != second[specimen]
    )
    return tuple(sorted(found, key=lambda one: (-one.classes_apart, one.specimen)))


def _agreement(
    table: Sequence[Sequence[float]], *, disagreements: tuple[Disagreement, ...], left_out: tuple[str, ...]
) -> Agreement:
    n = int(math.fsum(map(math.fsum, table)))
    kappa, low, high, reasons = _kappa_with_interval(table, n, agree=not disagreements)
    share, share_low, share_high = _exact_share(n - len(disagreements), n)
    return Agreement(
        n=n,
        kappa=kappa,
        low=low,
        high=high,
        share=share,
        share_low=share_low,
        share_high=share_high,
        disagreements=disagreements,
        left_out=left_out,
        reasons=reasons,
    )


def _kappa_with_interval(
    table: Sequence[Sequence[float]], n: int, *, agree: bool
) -> tuple[float | None, float | None, float | None, tuple[GraderDoubt, ...]]:
    if n == 0:
        return None, None, None, (GraderDoubt.NO_COMMON_SPECIMENS,)
    by_first, by_second = (sum(1 for line in lines if any(line)) for lines in (table, tuple(zip(*table, strict=True))))
    if min(by_first, by_second) == 1:
        return None, None, None, (GraderDoubt.ONE_CLASS,)
    if agree:
        return 1.0, None, None, (GraderDoubt.ALL_AGREE,)
    kappa, error = weighted_kappa(table, squared_distances(len(table)))
    used = sum(1 for row, column in zip(table, zip(*table, strict=True), strict=True) if any(row) or any(column))
    reasons = (GraderDoubt.FEW_FOR_INTERVAL,) if n < 2 * used**2 else ()
    return kappa, max(-1.0, kappa - NORMAL_95 * error), min(1.0, kappa + NORMAL_95 * error), reasons


def _exact_share(agreed: int, n: int) -> tuple[float | None, float | None, float | None]:
    """Clopper & Pearson, Biometrika 26 (1934) 404: beta quantiles."""
    if n == 0:
        return None, None, None
    low = 0.0 if agreed == 0 else beta_quantile(TAIL, agreed, n - agreed + 1)
    high = 1.0 if agreed == n else beta_quantile(1 - TAIL, agreed + 1, n - agreed)
    return agreed / n, low, high


def _square(table: Sequence[Sequence[Number]], name: str, size: int) -> list[list[float]]:
    if size < 2 or len(table) != size or any(len(row) != size for row in table):
        raise ValueError(f"{name}: expected {max(size, 2)} rows of {max(size, 2)}")
    numbers = [[finite(x, f"{name}[{i}][{j}]") for j, x in enumerate(row)] for i, row in enumerate(table)]
    if any(x < 0 for row in numbers for x in row):
        raise ValueError(f"{name}: expected no negative number")
    return numbers
