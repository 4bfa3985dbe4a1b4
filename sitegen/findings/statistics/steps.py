"""The steps of a curve that falls like a staircase, as the light of a regulated lamp does."""

import itertools
import math
from collections.abc import Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, positive
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.curve import check_curve

SHORTEST_STEP = 2  # points; one point alone is a stray reading, no step
SLOPE_BELOW = 5  # points a step on average; under it a staircase is only imitating a slope (no source)
PENALTY = 3  # times σ²·ln n, a step
MAD_TO_SIGMA = 1.4826  # of normal noise
MOST_POINTS = 600  # a logger's curve has thousands, and a slope takes the square of the points in time
ROUNDING = 1e-9  # relative slack, so that float dust never decides between two equal staircases


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Points `first` to `last` (indices from 0, inclusive) with their times and their mean `level`."""

    first: int
    last: int
    from_time: float
    to_time: float
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """The steps in order, the noise (standard deviation of a point, unit of the values), and reasons."""

    steps: tuple[Step, ...]
    noise: float
    reasons: tuple[Reason, ...]


def find_steps(times: Sequence[Number], values: Sequence[Number], resolution: Number) -> Steps:
    """The piecewise constant curve that explains the points best, each step at a price.

    PELT (Killick, Fearnhead & Eckley, J. Am. Stat. Assoc. 107 (2012) 1590): the least sum of squares plus
    penalty, exactly, where binary segmentation only comes near it. The penalty of a step is 3σ²·ln n, that
    of the modified BIC (Zhang & Siegmund, Biometrics 63 (2007) 22): the plain BIC's 2σ²·ln n sees steps in
    one of six records of 60 points of pure noise, this one in fewer than one of twenty. σ is estimated from
    the differences of neighbours (median absolute deviation / √2), which steps hardly touch and a steady
    slope not at all, and never finer than the resolution δ/√12. Of more than 600 points the
    middle values of neighbours are looked at: a step is then found to a 600th of the curve; its level is the mean of
    all its points.
    Errors: those of `check_curve`; ValueError for a resolution that isn't above zero.

    >>> found = find_steps(range(8), [400, 401, 399, 400, 100, 101, 100, 99], 1)
    >>> [(step.first, step.last, step.level) for step in found.steps]
    [(0, 3, 400.0), (4, 7, 100.0)]
    """
    from statistics import median_low  # who restores a curve's steps needs no statistics

    moments, heights = check_curve(times, values)
    finest = positive(resolution, "resolution") / math.sqrt(12)
    size = math.ceil(len(heights) / MOST_POINTS)
    # Not their mean: one that stands across a step would look like a step of its own.
    looked_at = [median_low(heights[n : n + size]) for n in range(0, len(heights), size)]
    penalty = PENALTY * _noise(looked_at, finest) ** 2 * math.log(len(looked_at))
    starts = [size * start for start in optimal_starts(looked_at, penalty)]
    ends = [*starts[1:], len(heights)]
    steps = tuple(
        Step(
            first=first,
            last=end - 1,
            from_time=moments[first],
            to_time=moments[end - 1],
            level=math.fsum(heights[first:end]) / (end - first),
        )
        for first, end in zip(starts, ends, strict=True)
    )
    sloping = len(steps) > 2 and len(looked_at) < SLOPE_BELOW * len(steps)
    return Steps(steps=steps, noise=_noise(heights, finest), reasons=(Reason.STEPS_FOLLOW_A_SLOPE,) if sloping else ())


def _noise(heights: Sequence[float], floor: float) -> float:
    from statistics import median

    differences = [b - a for a, b in itertools.pairwise(heights)]
    drift = median(differences)
    spread = median(abs(d - drift) for d in differences)
    return max(MAD_TO_SIGMA * spread / math.sqrt(2), floor)


def optimal_starts(values: Sequence[float], penalty: float) -> tuple[int, ...]:
    """Indices where the segments of least cost start: squares about each mean plus `penalty` a segment.

    Of equally good ones the one whose last segment is longest wins. Cost: about linear in the number of
    points when there are steps, quadratic when there are none.

    >>> optimal_starts([5.0, 5.0, 1.0, 1.0], 0.1)
    (0, 2)
    """
    cost = _SquaresAboutMean(values)
    best, before = {0: -penalty}, {0: 0}
    candidates = [0]
    dropped_from: dict[int, int] = {}
    for end in range(SHORTEST_STEP, len(values) + 1):
        joined = end - SHORTEST_STEP
        if joined >= SHORTEST_STEP:
            candidates.append(joined)  # a segment may start here only from now on: it needs its length
        totals = {start: best[start] + cost(start, end) for start in candidates}
        least = min(totals.values())
        slack = ROUNDING * max(1.0, abs(least))
        before[end] = next(start for start, total in totals.items() if total <= least + slack)
        best[end] = totals[before[end]] + penalty
        # PELT's pruning: a start that is worse by the penalty can't win once a segment starting at `end` is
        # possible, which is one shortest step later.
        for start in candidates:
            if totals[start] > best[end] + slack:
                dropped_from.setdefault(start, end + SHORTEST_STEP)
        candidates = [start for start in candidates if dropped_from.get(start, len(values) + 1) > end + 1]
    starts = []
    end = len(values)
    while end:
        end = before[end]
        starts.append(end)
    return tuple(reversed(starts))


class _SquaresAboutMean:
    """Sum of squares about the mean of any stretch, in constant time, from running sums."""

    def __init__(self, values: Sequence[float]) -> None:
        middle = math.fsum(values) / len(values)  # centred first, or the squares would eat the digits
        self._sums, self._squares = [0.0], [0.0]
        for value in values:
            self._sums.append(self._sums[-1] + (value - middle))
            self._squares.append(self._squares[-1] + (value - middle) ** 2)

    def __call__(self, start: int, end: int) -> float:
        total = self._sums[end] - self._sums[start]
        squares = self._squares[end] - self._squares[start]
        return max(0.0, squares - total * total / (end - start))
