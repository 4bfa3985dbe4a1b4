"""What a curve over time supports: run time to a share of the start, the area, the steps it falls in.

Times and values are parallel sequences; times in one unit (the protocol's `along`), values in another.
"""

from collections.abc import Sequence
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.findings.photos import door
from sitegen.findings.photos.door import Number, all_finite
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.ratio import RatioSummary, summarise_ratio


class TimeGoesBack(ValueError):
    """Times must increase from point to point; `index` (from 0) is the first point that isn't later."""

    def __init__(self, index: int, earlier: float, later: float) -> None:
        super().__init__(f"times[{index}]: expected a time after {earlier:g}, found {later:g}")
        self.index = index
        self.earlier = earlier
        self.later = later

    def __reduce__(self) -> tuple[type["TimeGoesBack"], tuple[int, float, float]]:
        return type(self), (self.index, self.earlier, self.later)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTime:
    """How long a curve stayed above a share of its start; every time in the unit of the curve, from its first point.

    `time` is None when the record ended first; then `longer_than` is how
    long was recorded. `bracket` is the gap between the two points that `time` lies between. `last_time`:
    where the curve rose again later, the last time it fell through the threshold.
    """

    share: float
    start_value: float
    threshold: float
    time: float | None
    longer_than: float | None
    bracket: float
    last_time: float | None
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A fall through a threshold: its time, the index of the first point at or below, is it confirmed."""

    time: float
    index: int
    bracket: float
    confirmed: bool


def check_curve(times: Sequence[Number], values: Sequence[Number]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Both as floats. Errors: ValueError for unequal lengths, fewer than two points, a number that isn't
    finite; TimeGoesBack, with the index, when a time isn't later than the one before.

    >>> check_curve([0, 5, 4], [10, 9, 8])
    Traceback (most recent call last):
    sitegen.findings.statistics.curve.TimeGoesBack: times[2]: expected a time after 5, found 4
    """
    if len(times) != len(values):
        raise ValueError(f"curve: expected as many values as times, found {len(values)} and {len(times)}")
    moments, heights = all_finite(times, "times", 2), all_finite(values, "values", 2)
    for index in range(1, len(moments)):
        if moments[index] <= moments[index - 1]:
            raise TimeGoesBack(index, moments[index - 1], moments[index])
    return moments, heights


def run_time(times: Sequence[Number], values: Sequence[Number], share: Number) -> RunTime:
    """The time from the first point until the value has fallen to `share` (0 to 1) of the value there.

    ANSI/PLATO FL 1: run time is counted from 30 s after switching on, until 10 % of the value then; a curve begins
    at that point (`Along.start` in the records).

    Between points the fall is taken as straight. The end is the first point at or below the threshold whose
    successor is there too: the first fall decides, as in FL 1, since a lamp that fades and wakes again has
    left its owner in the dark; but a single low point between two high ones is noise of the bench and doesn't
    (common practice, no source). The last point counts without a successor, with a reason. A later rise is
    reported.
    Errors: those of `check_curve`; ValueError for a share outside 0..1 or a start at or below zero.

    >>> found = run_time([0, 60, 120, 180], [380, 200, 36, 30], 0.1)
    >>> round(found.start_value), round(found.time, 2), found.longer_than
    (380, 119.27, None)
    >>> run_time([0, 60], [400, 390], 0.5).longer_than
    60.0
    """
    wanted = door.share(share, "share")
    moments, heights = check_curve(times, values)
    if heights[0] <= 0:
        raise ValueError(f"values[0]: expected a start above zero, found {heights[0]:g}")
    return _run_time(wanted, wanted * heights[0], moments, heights)


def _run_time(
    share: float,
    threshold: float,
    moments: Sequence[float],
    heights: Sequence[float],
) -> RunTime:
    falls = crossings(moments, heights, threshold)
    end = next((fall for fall in falls if fall.confirmed), falls[-1] if falls else None)
    if end is not None and not end.confirmed and end.index != len(moments) - 1:
        end = None  # only single dips: the curve came back each time
    dips = [fall for fall in falls if end is None or fall.index < end.index]
    rose = end is not None and any(h > threshold for h in heights[end.index + 1 :])
    said = [Reason.DIPPED_BEFORE] if dips else []
    said += [Reason.NOT_CONFIRMED] if end is not None and not end.confirmed else []
    said += [Reason.ROSE_AGAIN] if rose else []
    said += [Reason.ENDS_ABOVE] if end is None else []
    return RunTime(
        share=share,
        start_value=heights[0],
        threshold=threshold,
        time=end.time - moments[0] if end else None,
        longer_than=None if end else moments[-1] - moments[0],
        bracket=end.bracket if end else moments[-1] - moments[-2],
        last_time=falls[-1].time - moments[0] if rose and falls[-1] is not end else None,
        reasons=tuple(said),
    )


def crossings(times: Sequence[float], values: Sequence[float], threshold: float) -> tuple[Crossing, ...]:
    """Every fall from above `threshold` to at or below it, by straight lines between the points, in order.

    >>> [c.time for c in crossings([0, 1, 2, 3], [4, 0, 4, 0], 2)]
    [0.5, 2.5]
    """
    found = []
    for index in range(1, len(times)):
        before, after = values[index - 1], values[index]
        if before > threshold >= after:
            gap = times[index] - times[index - 1]
            time = times[index - 1] + gap * ((before - threshold) / (before - after))
            followed = index + 1 < len(times) and values[index + 1] <= threshold
            found.append(Crossing(time=time, index=index, bracket=gap, confirmed=followed))
    return tuple(found)


def summarise_run_times(runs: Sequence[RunTime], pooled: Pooled | None = None) -> RatioSummary | None:
    """Run times of several specimens as one summary, in the curve's unit of time; None when a record ended
    first.

    The moment of the fall is known to within two neighbouring points, so the widest of these gaps counts as
    the resolution of the clock. Errors: ValueError when empty.
    """
    if not runs:
        raise ValueError("runs: expected at least 1 values, found 0")
    times = [run.time for run in runs]
    if any(time is None for time in times):
        return None
    widest = max(run.bracket for run in runs)
    exact = tuple(Decimal(repr(time)) for time in times)
    return summarise_ratio(exact, Decimal(repr(widest)), pooled=pooled)


def area_under(times: Sequence[Number], values: Sequence[Number]) -> float:
    """The area between curve and zero by the trapezium rule, in unit of value times unit of time.

    Errors: those of `check_curve`.

    >>> area_under([0, 1, 3], [2, 4, 4])
    11.0
    """
    moments, heights = check_curve(times, values)
    return sum((moments[i] - moments[i - 1]) * (heights[i] + heights[i - 1]) / 2 for i in range(1, len(moments)))
