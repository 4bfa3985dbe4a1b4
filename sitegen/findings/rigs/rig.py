"""Was the rig in order that day? Each logged value against its tolerance; a control chart as a hint to look.

A day is out of order where a value lies outside its tolerance, and for no other reason: the tolerance is what the
method needs, while a chart only shows that a rig does something it usually doesn't.

Individuals and moving-range charts: centre x̄, limits x̄ ± 3·MR̄/d2 with d2 = 1.128, upper limit of the
moving range 3.267·MR̄ (NIST/SEMATECH e-Handbook 6.3.2.2). Limits come from the first 20 runs, and later runs
don't move them; with fewer runs they come from all and are provisional. Runs outside their tolerance never
set limits.

Moving ranges are too short where values come in coarse steps (most neighbours are equal) and where one day is like
the day before. So a rig's sigma is at least half a step of the logged values, by which one step from the centre is no
hint, and at least the standard deviation of the runs that set the limits (both common practice, no source). The
further run rules of e-Handbook 6.3.2 aren't used: together they give a false alarm once in 92 runs of a rig in order,
by that page, and far more often where days are alike. A hint is given once, when values leave the limits, and
again only after they came back within one sigma of the centre (common practice, no source): a slow drift is one hint.
What the weather decides (`ambient`) has a tolerance and no chart. `bench/rig_alarms.py` counts false alarms.
"""

import datetime
import itertools
import math
import statistics
from collections.abc import Mapping, Sequence
from enum import StrEnum

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, finite

D2 = 1.128  # mean range of two standard normal values
D4 = 3.267  # upper limit of the range of two, in mean ranges
SETTLED = 20  # runs that make limits more than provisional (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """What a check must lie between, ends included, in the check's unit; None leaves an end open.

    `ambient`: the weather decides it, so it has no control chart. `step`: the step in which its values are logged.
    """

    check: str
    low: float | None = None
    high: float | None = None
    ambient: bool = False
    step: float = 0.0

    def __post_init__(self) -> None:
        for end, value in (("low", self.low), ("high", self.high)):
            if value is not None:
                finite(value, f"{self.check} {end}")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"{self.check}: expected low up to high, found {self.low:g} and {self.high:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One value of a rig's log, in its check's unit."""

    date: datetime.date
    check: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A value held against its tolerance: `off_by` is how far outside, signed, in the unit; 0 within."""

    check: str
    value: float
    low: float | None
    high: float | None
    off_by: float

    @property
    def within(self) -> bool:
        """Inside its tolerance, ends included."""
        return self.off_by == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """Values left the limits of a chart: `run` is the index from 0 of the first run outside."""

    check: str
    run: int
    date: datetime.date
    high_side: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """Individuals and moving ranges of one check, in date order, all in its unit.

    `sigma` is MR̄/d2 or the least that was asked for; None, as are the limits, where it is 0.
    `baseline`: indices of the runs that set the limits. `provisional`: fewer than 20 of them.
    """

    check: str
    dates: tuple[datetime.date, ...]
    values: tuple[float, ...]
    moving_ranges: tuple[float, ...]
    baseline: tuple[int, ...]
    centre: float | None
    sigma: float | None
    lower: float | None
    upper: float | None
    range_upper: float | None
    provisional: bool


class Order(StrEnum):
    """The state of a rig on a day."""

    IN_ORDER = "in_order"
    OUT = "out"
    NOT_LOGGED = "not_logged"


@dataclass(frozen=True, slots=True, kw_only=True)
class RigDay:
    """A day of a rig: what put it out of order, hints worth a look, the checks nobody logged."""

    date: datetime.date
    order: Order
    out_of_tolerance: tuple[Held, ...] = ()
    hints: tuple[Hint, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RigState:
    """A rig's whole log: its days in order, a chart for each check by name (none for ambient ones), what was outside, all hints."""

    checks: tuple[str, ...]
    days: tuple[RigDay, ...]
    limits: tuple[ControlChart, ...]
    hints: tuple[Hint, ...]
    out_of_tolerance: tuple[tuple[datetime.date, Held], ...]


def judge_run(values: Mapping[str, Number], tolerances: Sequence[Tolerance]) -> tuple[Held, ...]:
    """One run: each logged value by check against its tolerance, in the order of `tolerances`.

    Checks that weren't logged are left out. Errors: ValueError for a value that isn't finite, a
    check without an entry in `tolerances`, or one with two.

    >>> flow = Tolerance(check="flow_time", low=25, high=30)
    >>> [(one.within, one.off_by) for one in judge_run({"flow_time": 31.5}, [flow])]
    [(False, 1.5)]
    """
    known = _by_check(tolerances)
    for check in values:
        if check not in known:
            raise ValueError(f"{check}: expected one of the checks {', '.join(known)}")
    return tuple(
        _held(finite(values[check], check), tolerance) for check, tolerance in known.items() if check in values
    )


def control_chart(
    check: str,
    dates: Sequence[datetime.date],
    values: Sequence[Number],
    usable: Sequence[bool] | None = None,
    least_sigma: float = 0.0,
) -> ControlChart:
    """The individuals and moving-range chart of values in run order; `usable`: which may set limits.

    `least_sigma`: a lower bound of sigma, in the unit of the values.

    Errors: ValueError for a value that isn't finite (check and index from 0) or lengths that differ.
    Source: NIST/SEMATECH e-Handbook 6.3.2.2.

    >>> rates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    >>> chart = control_chart("flow", [datetime.date(2026, 8, day) for day in range(1, 11)], rates)
    >>> round(chart.centre, 2), round(chart.lower, 4), round(chart.upper, 4), chart.provisional
    (50.81, 45.8159, 55.8041, True)
    """
    known = tuple(finite(value, f"{check}[{index}]") for index, value in enumerate(values))
    usable = [True] * len(known) if usable is None else usable
    if not len(dates) == len(known) == len(usable):
        raise ValueError(f"{check}: expected as many dates as values, found {len(dates)} and {len(known)}")
    baseline = tuple(index for index, fit in enumerate(usable) if fit)[:SETTLED]
    setting = [known[index] for index in baseline]
    ranges = [abs(b - a) for a, b in itertools.pairwise(setting)]
    mean_range = math.fsum(ranges) / len(ranges) if ranges else 0.0
    wide = max(mean_range / D2, least_sigma) if ranges else 0.0
    centre = math.fsum(setting) / len(setting) if setting else None
    sigma = wide if wide > 0 else None
    return ControlChart(
        check=check,
        dates=tuple(dates),
        values=known,
        moving_ranges=tuple(abs(b - a) for a, b in itertools.pairwise(known)),
        baseline=baseline,
        centre=centre,
        sigma=sigma,
        lower=centre - 3 * sigma if centre is not None and sigma is not None else None,
        upper=centre + 3 * sigma if centre is not None and sigma is not None else None,
        range_upper=D4 * D2 * sigma if sigma is not None else None,
        provisional=len(baseline) < SETTLED,
    )


def find_hints(chart: ControlChart) -> tuple[Hint, ...]:
    """Where values leave the limits, in run order; none where the chart has no limits.

    Values that stay outside give one hint; the next is given after a run within one sigma of the centre.
    """
    if chart.centre is None or chart.sigma is None:
        return ()
    found = []
    armed = True
    for run, (date, value) in enumerate(zip(chart.dates, chart.values, strict=True)):
        height = (value - chart.centre) / chart.sigma
        if armed and abs(height) > 3:
            found.append(Hint(check=chart.check, run=run, date=date, high_side=height > 0))
            armed = False
        elif abs(height) <= 1:
            armed = True
    return tuple(found)


def judge_rig(log: Sequence[Logged], tolerances: Sequence[Tolerance]) -> RigState:
    """The state of a rig from its log and the tolerances of its checks (an open one for a check without).

    The log may be in any order of days; several runs of one day keep theirs. Errors: ValueError naming date
    and check for a value that isn't finite or a check without an entry in `tolerances`.
    """
    known = _by_check(tolerances)
    for entry in log:
        finite(entry.value, f"{entry.date.isoformat()} {entry.check}")
        if entry.check not in known:
            raise ValueError(f"{entry.date.isoformat()} {entry.check}: expected one of the checks {', '.join(known)}")
    ordered = sorted(log, key=lambda entry: entry.date)
    held = [(entry.date, _held(float(entry.value), known[entry.check])) for entry in ordered]
    logged = sorted({one.check for _, one in held})
    charts = tuple(_chart_of(known[check], held) for check in logged if not known[check].ambient)
    hints = tuple(hint for chart in charts for hint in find_hints(chart))
    days: dict[datetime.date, list[Held]] = {}
    for day, one in held:
        days.setdefault(day, []).append(one)
    return RigState(
        checks=tuple(known),
        days=tuple(_day(day, tuple(known), values, hints) for day, values in days.items()),
        limits=charts,
        hints=hints,
        out_of_tolerance=tuple((day, one) for day, one in held if not one.within),
    )


def rig_on(state: RigState, date: datetime.date) -> RigDay:
    """The rig on one day: in order, out with what put it out, or not logged."""
    for day in state.days:
        if day.date == date:
            return day
    return RigDay(date=date, order=Order.NOT_LOGGED, missing=state.checks)


def _by_check(tolerances: Sequence[Tolerance]) -> dict[str, Tolerance]:
    known = {tolerance.check: tolerance for tolerance in tolerances}
    if len(known) < len(tolerances):
        twice = sorted(t.check for t in tolerances if sum(o.check == t.check for o in tolerances) > 1)
        raise ValueError(f"{twice[0]}: expected one tolerance, found more")
    return known


def _held(value: float, tolerance: Tolerance) -> Held:
    off_by = 0.0
    if tolerance.low is not None and value < tolerance.low:
        off_by = value - tolerance.low
    if tolerance.high is not None and value > tolerance.high:
        off_by = value - tolerance.high
    return Held(check=tolerance.check, value=value, low=tolerance.low, high=tolerance.high, off_by=off_by)


def _chart_of(tolerance: Tolerance, held: Sequence[tuple[datetime.date, Held]]) -> ControlChart:
    own = [(day, one) for day, one in held if one.check == tolerance.check]
    setting = [one.value for _, one in own if one.within][:SETTLED]
    spread = statistics.stdev(setting) if len(setting) > 1 else 0.0
    return control_chart(
        tolerance.check,
        [day for day, _ in own],
        [one.value for _, one in own],
        [one.within for _, one in own],
        least_sigma=max(tolerance.step / 2, spread),
    )


def _day(day: datetime.date, checks: tuple[str, ...], values: Sequence[Held], hints: Sequence[Hint]) -> RigDay:
    outside = tuple(one for one in values if not one.within)
    logged = {one.check for one in values}
    return RigDay(
        date=day,
        order=Order.OUT if outside else Order.IN_ORDER,
        out_of_tolerance=outside,
        hints=tuple(hint for hint in hints if hint.date == day),
        missing=tuple(check for check in checks if check not in logged),
    )
