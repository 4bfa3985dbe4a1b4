"""Summary of ordinal grades: which middle, from where to where, how many of each; never a mean.

A grade says more or less, not how much more: the step from 5 to 4 need not equal the step from 2 to 1. So
nothing here adds or divides grades, and every figure reported is a grade that some specimen got.
"""

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import all_finite
from sitegen.findings.reasons import Reason

QUARTILES_FROM = 5  # specimens; with fewer the range says it all (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeSummary:
    """Grades of `n` specimens, in the protocol's grades.

    `median` holds one grade, or the two middle ones (lower first) when an even number of specimens leaves two
    that differ. `quartiles` (lower, upper) from five specimens on, else None. `counts` from the lowest grade.
    """

    n: int
    median: tuple[Decimal, ...]
    low: Decimal
    high: Decimal
    counts: tuple[tuple[Decimal, int], ...]
    values: tuple[Decimal, ...]
    quartiles: tuple[Decimal, Decimal] | None
    reasons: tuple[Reason, ...]


def summarise_grades(grades: Sequence[Decimal], scale: Sequence[Decimal] | None = None) -> GradeSummary:
    """Median, range, counts and, from five specimens on, quartiles.

    `grades`: one a specimen, any order; `values` keeps that order. `scale`: all grades of the protocol; then
    `counts` lists every one of them. The middle of an even number is reported as a pair when the two differ:
    their average would be a grade nobody gave. The quartiles are the ⌈n/4⌉-th grade from either end, observed
    grades too (the inverse of the distribution function, type 1 of Hyndman & Fan, The American Statistician
    50 (1996) 361, mirrored so that turning the scale round swaps them).
    Errors: ValueError when empty, not finite, or off the scale (names index and grade).

    >>> found = summarise_grades([Decimal(5), Decimal(3), Decimal(4), Decimal(4)])
    >>> [str(g) for g in found.median], str(found.low), str(found.high)
    (['4'], '3', '5')
    >>> [str(g) for g in summarise_grades([Decimal(5), Decimal(3)]).median]
    ['3', '5']
    """
    all_finite(grades, "grades")
    _refuse_off_scale(grades, scale)
    ranked = sorted(grades)
    n = len(ranked)
    median = median_of(ranked)
    few = (Reason.ONE_SPECIMEN,) if n == 1 else ()
    pair = (Reason.MEDIAN_IS_A_PAIR,) if len(median) == 2 else ()
    quarter = -(-n // 4)
    return GradeSummary(
        n=n,
        median=median,
        low=ranked[0],
        high=ranked[-1],
        counts=_count(ranked, scale),
        values=tuple(grades),
        quartiles=(ranked[quarter - 1], ranked[n - quarter]) if n >= QUARTILES_FROM else None,
        reasons=(*few, *pair),
    )


def median_of(grades: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """The middle grade, or the two middle ones when they differ; ValueError when empty.

    >>> median_of([Decimal(2), Decimal(5), Decimal(4)])
    (Decimal('4'),)
    """
    if not grades:
        raise ValueError("grades: expected at least 1 values, found 0")
    ranked = sorted(grades)
    lower, upper = ranked[(len(ranked) - 1) // 2], ranked[len(ranked) // 2]
    return (lower,) if lower == upper else (lower, upper)


def _refuse_off_scale(grades: Sequence[Decimal], scale: Sequence[Decimal] | None) -> None:
    for index, grade in enumerate(grades):
        if scale is not None and grade not in scale:
            known = ", ".join(str(g) for g in scale)
            raise ValueError(f"grades[{index}]: expected one of {known}, found {grade}")


def _count(ranked: Sequence[Decimal], scale: Sequence[Decimal] | None) -> tuple[tuple[Decimal, int], ...]:
    counted = Counter(ranked)
    listed = sorted(scale if scale is not None else counted)
    return tuple((grade, counted[grade]) for grade in listed)
