"""How many washes until a grade falls below a stated one.

Grades are ordinal, so the fit is not made to their mean but to the share of specimens still at or above the
stated grade. That share can only fall with washing; Ayer, Brunk, Ewing, Reid & Silverman (Ann. Math. Stat. 26
(1955) 641) fit such a share by pooling neighbours that run the wrong way. The wash at which it falls below
one half is when the middle specimen falls below the grade; between two stages it is taken to fall straight
(common practice).

How sure that is: where the round knows how much grades scatter (`grade_scatter`), each stage is asked by Student's t
whether its grades lie surely above or below the boundary, half a step under the stated grade. There half of the
specimens would be below, and such a cell scatters by half a step at least, so that no less is reckoned with. Where
the round has too little to pool, the exact binomial asks instead.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.grade_scatter import GradeScatter, centre_of_grades
from sitegen.findings.photos.door import Number, all_finite, finite
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.quantiles import t_quantile
from sitegen.findings.statistics.uncertainty import COVERAGE

FEWEST_STAGES = 3
HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class StageGrades:
    """Grades of the specimens after `washes` washes (0 = new); order is of no account.

    `scatter`: how much grades scatter at this stage, None where the round has too little to pool.
    """

    washes: int
    grades: tuple[Decimal, ...]
    scatter: GradeScatter | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decline:
    """Washes until half of the specimens are below `grade`.

    `washes` is the estimate; `low` and `high` hold it with `confidence`; None for `high`: not within the
    washes done as far as one can be sure; None for `washes`: a reason says why. `shares`: fitted share at or
    above, by stage. `below`: how many specimens were below the grade at each stage, of `sizes` graded.
    """

    grade: Decimal
    washes: float | None
    low: int | None
    high: int | None
    confidence: float | None
    last_stage: int
    stages: tuple[int, ...]
    shares: tuple[float, ...]
    reasons: tuple[Reason, ...]
    below: tuple[int, ...] = ()
    sizes: tuple[int, ...] = ()

    @property
    def kept(self) -> bool:
        """Whether no specimen was below the grade at any stage."""
        return not any(self.below)

    @property
    def first_below(self) -> tuple[int, int, int] | None:
        """The first stage with a specimen below the grade: washes, how many below, of how many; None where none was."""
        found = zip(self.stages, self.below, self.sizes, strict=True)
        return next(((washes, below, n) for washes, below, n in found if below), None)


def washes_until_below(stages: Sequence[StageGrades], grade: Decimal, step: float = 1.0) -> Decline:
    """The wash at which the middle specimen falls below `grade`, with an exact interval.

    Needs three stages at least; with fewer the shares are given and a reason. `step`: the smallest of the scale.
    The interval asks of each stage, by the round's scatter or else by the binomial (sign) test, whether the
    middle specimen is surely still above or surely below:
    `low` is the last stage, counted from the first without a gap, where it is surely above, `high` the first,
    counted back from the last, where it is surely below. Testing in this fixed order keeps the confidence,
    for separate specimens at each stage as for the same ones throughout (then it is the interval between
    order statistics; Conover, Practical Nonparametric Statistics, on quantiles). A bootstrap over three
    specimens would promise 95 % and not keep it. By the binomial alone six specimens a stage give 95 %; with n
    fewer the best is 1 - 2·0.5^n, which is what is then used and said.
    Errors: ValueError for no stages, washes that don't increase or are below zero (with index), a stage
    without grades, or anything that isn't finite.

    >>> stages = [StageGrades(washes=w, grades=tuple(map(Decimal, g)))
    ...           for w, g in ((0, (5, 5, 4)), (3, (4, 4, 3)), (6, (3, 2, 2)))]
    >>> found = washes_until_below(stages, Decimal(4))
    >>> round(found.washes, 2), found.low, found.high, found.confidence
    (3.75, 0, 6, 0.75)
    """
    finite(grade, "grade")
    _check(stages)
    above = [sum(g >= grade for g in stage.grades) for stage in stages]
    sizes = [len(stage.grades) for stage in stages]
    shares = monotone_fall([Fraction(k, n) for k, n in zip(above, sizes, strict=True)], sizes)
    washes = [stage.washes for stage in stages]
    found = Decline(
        grade=grade, washes=None, low=None, high=None, confidence=None, last_stage=washes[-1], stages=tuple(washes),
        shares=shares, reasons=(Reason.TOO_FEW_STAGES,), below=tuple(n - k for k, n in zip(above, sizes, strict=True)),
        sizes=tuple(sizes),
    )  # fmt: skip
    if len(stages) < FEWEST_STAGES:
        return found
    fall = fall_below(washes, shares, HALF)
    sure, confidence = _pooled_signs(stages, grade, step) or _exact_signs(above, sizes)
    low, high = _interval(washes, sure)
    reasons = (
        *((Reason.NEVER_FELL,) if fall is None else ()),
        *((Reason.BELOW_FROM_THE_START,) if shares[0] < HALF else ()),
        *((Reason.LEVEL_BELOW_95,) if confidence < COVERAGE else ()),
    )
    return replace(found, washes=fall, low=low, high=high, confidence=confidence, reasons=reasons)


def monotone_fall(values: Sequence[Number], weights: Sequence[Number]) -> tuple[float, ...]:
    """The never rising sequence nearest to `values` by weighted squares: pool adjacent violators.

    Errors: ValueError for unequal lengths, an empty sequence, numbers that aren't finite, weights not above
    zero.

    >>> monotone_fall([1.0, 0.5, 0.75, 0.0], [1, 1, 1, 1])
    (1.0, 0.625, 0.625, 0.0)
    """
    heights, loads = all_finite(values, "values"), all_finite(weights, "weights")
    if len(heights) != len(loads) or min(loads) <= 0:
        raise ValueError("weights: expected one above zero for each value")
    blocks: list[tuple[Fraction, Fraction, int]] = []  # mean, weight, length; exact, so that one half is one half
    for height, load in zip(values, weights, strict=True):
        block = (Fraction(height), Fraction(load), 1)
        while blocks and blocks[-1][0] < block[0]:
            mean, weight, length = blocks.pop()
            joined = weight + block[1]
            block = ((mean * weight + block[0] * block[1]) / joined, joined, length + block[2])
        blocks.append(block)
    return tuple(float(mean) for mean, _, length in blocks for _ in range(length))


def fall_below(places: Sequence[Number], shares: Sequence[float], threshold: float) -> float | None:
    """Where a never rising line through the points goes below `threshold`; None if it never does.

    On a stretch that lies exactly at the threshold it is the end of the stretch: not yet below. The first
    place when it starts below.

    >>> fall_below([0, 3, 6], [1.0, 0.5, 0.0], 0.5), fall_below([0, 3], [1.0, 0.5], 0.5)
    (3.0, None)
    """
    spots = all_finite(places, "places")
    below = next((i for i, share in enumerate(shares) if share < threshold), None)
    if below is None or below == 0:
        return None if below is None else spots[0]
    before, after = shares[below - 1], shares[below]
    return spots[below - 1] + (spots[below] - spots[below - 1]) * ((before - threshold) / (before - after))


def _check(stages: Sequence[StageGrades]) -> None:
    if not stages:
        raise ValueError("stages: expected at least 1 values, found 0")
    for index, stage in enumerate(stages):
        all_finite(stage.grades, f"grades after {stage.washes} washes")
        earlier = stages[index - 1].washes if index else -1
        if stage.washes <= earlier:
            raise ValueError(f"stages[{index}]: expected more than {earlier} washes, found {stage.washes}")


def _at_most(k: int, n: int) -> float:
    """Chance of at most k of n when each falls either way with one half, in whole numbers until the end."""
    return sum(math.comb(n, i) for i in range(k + 1)) / (1 << n)


def _exact_signs(above: Sequence[int], sizes: Sequence[int]) -> tuple[list[int], float]:
    """By stage 1 for surely above, -1 for surely below, else 0, by the binomial; and the confidence that it has."""
    tail = max((1 - COVERAGE) / 2, HALF ** min(sizes))
    signs = [(_at_most(n - k, n) <= tail) - (_at_most(k, n) <= tail) for k, n in zip(above, sizes, strict=True)]
    return signs, COVERAGE if tail <= (1 - COVERAGE) / 2 else max(1 - 2 * tail, 0.0)


def _pooled_signs(stages: Sequence[StageGrades], grade: Decimal, step: float) -> tuple[list[int], float] | None:
    """As `_exact_signs`, by the round's scatter; None where a stage has none."""
    signs = []
    for stage in stages:
        if stage.scatter is None:
            return None
        centre = centre_of_grades(stage.grades, stage.scatter, least=step / 2)
        distance = (centre.mean - (float(grade) - step / 2)) / centre.error
        beyond = abs(distance) > t_quantile((1 + COVERAGE) / 2, centre.dof)
        signs.append((distance > 0) - (distance < 0) if beyond else 0)
    return signs, COVERAGE


def _interval(washes: Sequence[int], sure: Sequence[int]) -> tuple[int, int | None]:
    """The last stage of those surely above from the first on, and the first of those surely below to the last."""
    low, high = 0, None
    for wash, _ in itertools.takewhile(lambda pair: pair[1] > 0, zip(washes, sure, strict=True)):
        low = wash
    backwards = zip(reversed(washes), reversed(sure), strict=True)
    for wash, _ in itertools.takewhile(lambda pair: pair[1] < 0, backwards):
        high = wash
    return low, high
