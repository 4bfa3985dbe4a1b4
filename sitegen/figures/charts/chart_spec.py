"""What a chart shows, in numbers and ids alone: no words, no language, no coordinates.

Every kind is a frozen record that checks itself and raises ValueError for what can't be drawn: no entrants,
a number that isn't finite, a value off a given axis. An axis left out ends on round ticks around the data.
`None` among the numbers means that there is no such reading. Rows stand in the order given.
"""

import itertools
from collections.abc import Iterable
from decimal import Decimal
from functools import cached_property
from typing import Literal

from sitegen.datatypes import dataclass
from sitegen.figures.charts.chart_axis import Axis, Number, Scale, require_finite, round_axis

Better = Literal["higher", "lower"]
MOST_STAGES = 4  # as many shapes as a reader keeps apart
MOST_CURVES = 8
MOST_RANKS = 8
LABEL_ROOM = 0.07  # of the width of a chart, for the label of a count
WHOLE = 1.0  # the shares of one entrant add up to this
SHARE_SLACK = 0.005  # shares are counted from draws and may have been rounded to a tenth of a percent each


@dataclass(frozen=True, kw_only=True)
class ValuesRow:
    """One entrant: readings, their mean or median, its interval, and a reference such as the claim.

    `above` and `below` are limits that a reading went beyond.
    """

    entrant: str
    centre: Number | None
    low: Number | None = None
    high: Number | None = None
    readings: tuple[Number, ...] = ()
    above: tuple[Number, ...] = ()
    below: tuple[Number, ...] = ()
    reference: Number | None = None

    def __post_init__(self) -> None:
        _require_interval(self.entrant, self.low, self.high)
        require_finite(f"a value of {self.entrant}", self.numbers)

    @property
    def numbers(self) -> tuple[Number | None, ...]:
        """Everything that needs a place on the axis."""
        return (self.centre, self.low, self.high, self.reference, *self.readings, *self.above, *self.below)


@dataclass(frozen=True, kw_only=True)
class ValuesChart:
    """One row per entrant: what was read, what it comes to and how sure that is."""

    rows: tuple[ValuesRow, ...]
    centre: Literal["mean", "median"] = "mean"
    interval: Literal["uncertainty", "range"] = "uncertainty"
    axis: Axis | None = None
    scale: Scale = "linear"

    def __post_init__(self) -> None:
        _require_entrants(self.rows)
        _require_on_axis(self.x_axis, self._numbers())

    def _numbers(self) -> list[Number | None]:
        return [number for row in self.rows for number in row.numbers]

    @cached_property
    def x_axis(self) -> Axis:
        """The axis given, or a round one around the data."""
        return self.axis or round_axis(self._numbers(), scale=self.scale)


@dataclass(frozen=True, kw_only=True)
class StagesRow:
    """One entrant: a centre per stage (None: not measured then) and the specimens behind each."""

    entrant: str
    centres: tuple[Number | None, ...]
    specimens: tuple[tuple[Number, ...], ...] = ()

    def __post_init__(self) -> None:
        require_finite(f"a value of {self.entrant}", self.numbers)
        if self.specimens and len(self.specimens) != len(self.centres):
            raise ValueError(f"{self.entrant} has specimens for {len(self.specimens)} stages of {len(self.centres)}")

    @property
    def numbers(self) -> tuple[Number | None, ...]:
        """Everything that needs a place on the axis."""
        return (*self.centres, *(number for stage in self.specimens for number in stage))


@dataclass(frozen=True, kw_only=True)
class StagesChart:
    """One row per entrant, in it one differently shaped mark per stage; for grades give an axis of grades."""

    stages: tuple[str, ...]
    rows: tuple[StagesRow, ...]
    centre: Literal["mean", "median"] = "median"
    axis: Axis | None = None

    def __post_init__(self) -> None:
        _require_entrants(self.rows)
        if not 2 <= len(self.stages) <= MOST_STAGES:
            raise ValueError(f"a chart of stages shows 2 to {MOST_STAGES} of them, not {len(self.stages)}")
        for row in self.rows:
            if len(row.centres) != len(self.stages):
                raise ValueError(f"{row.entrant} has {len(row.centres)} values for {len(self.stages)} stages")
        _require_on_axis(self.x_axis, self._numbers())

    def _numbers(self) -> list[Number | None]:
        return [number for row in self.rows for number in row.numbers]

    @cached_property
    def x_axis(self) -> Axis:
        """The axis given, or a round one around the data."""
        return self.axis or round_axis(self._numbers())


@dataclass(frozen=True, kw_only=True)
class Curve:
    """One line: points (x, y) in rising order of x."""

    entrant: str
    points: tuple[tuple[Number, Number], ...]

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError(f"the curve of {self.entrant} needs two points at least")
        require_finite(f"a point of {self.entrant}", (number for point in self.points for number in point))
        if any(b[0] < a[0] for a, b in zip(self.points, self.points[1:], strict=False)):
            raise ValueError(f"the points of {self.entrant} must stand in the order of x")


@dataclass(frozen=True, kw_only=True)
class CurvesChart:
    """Up to eight lines over a continuous x; `references` are levels of y such as half of the start."""

    curves: tuple[Curve, ...]
    references: tuple[Number, ...] = ()
    x: Axis | None = None
    y: Axis | None = None
    x_scale: Scale = "linear"

    def __post_init__(self) -> None:
        _require_entrants(self.curves)
        if len(self.curves) > MOST_CURVES:
            raise ValueError(f"a chart shows up to {MOST_CURVES} curves, not {len(self.curves)}")
        require_finite("a reference", self.references)
        _require_on_axis(self.x_axis, self._along(0))
        _require_on_axis(self.y_axis, (*self._along(1), *self.references))

    def _along(self, part: int) -> list[Number]:
        return [point[part] for curve in self.curves for point in curve.points]

    @cached_property
    def x_axis(self) -> Axis:
        """The axis given, or a round one around the data."""
        return self.x or round_axis(self._along(0), scale=self.x_scale)

    @cached_property
    def y_axis(self) -> Axis:
        """The axis given, or a round one around the data and the references."""
        return self.y or round_axis([*self._along(1), *self.references])


@dataclass(frozen=True, kw_only=True)
class ClaimsRow:
    """One entrant in % of its claim: the measurement with its interval, and the band that the claim allows.

    A bound that is None leaves the band open on that side ("at least", "at most").
    """

    entrant: str
    measured: Number | None
    low: Number | None = None
    high: Number | None = None
    tolerance_low: Number | None = None
    tolerance_high: Number | None = None

    def __post_init__(self) -> None:
        _require_interval(self.entrant, self.low, self.high)
        require_finite(f"a value of {self.entrant}", self.numbers)
        low, high = self.tolerance_low, self.tolerance_high
        if (low is not None and low > 100) or (high is not None and high < 100):
            raise ValueError(f"the tolerance of {self.entrant} leaves out the claim itself (100 %)")

    @property
    def numbers(self) -> tuple[Number | None, ...]:
        """Everything that needs a place on the axis."""
        return (self.measured, self.low, self.high, self.tolerance_low, self.tolerance_high)


@dataclass(frozen=True, kw_only=True)
class ClaimsChart:
    """Claims against measurements, each entrant in % of its own claim."""

    rows: tuple[ClaimsRow, ...]
    axis: Axis | None = None

    def __post_init__(self) -> None:
        _require_entrants(self.rows)
        _require_on_axis(self.x_axis, self._numbers())

    def _numbers(self) -> list[Number | None]:
        return [100.0, *(number for row in self.rows for number in row.numbers)]

    @cached_property
    def x_axis(self) -> Axis:
        """The axis given, or a round one around the data and the claim."""
        return self.axis or round_axis(self._numbers())


@dataclass(frozen=True, kw_only=True)
class SharesRow:
    """One entrant: the share of the draws (0 to 1) in which it came 1st, 2nd, 3rd …"""

    entrant: str
    shares: tuple[Number, ...]

    def __post_init__(self) -> None:
        require_finite(f"a share of {self.entrant}", self.shares)
        if any(share < 0 for share in self.shares):
            raise ValueError(f"a share of {self.entrant} is below zero")
        if abs(sum(map(float, self.shares)) - WHOLE) > SHARE_SLACK:
            raise ValueError(f"the shares of {self.entrant} add up to {sum(map(float, self.shares)):g}, not to 1")


@dataclass(frozen=True, kw_only=True)
class SharesChart:
    """How often each entrant took each rank."""

    rows: tuple[SharesRow, ...]

    def __post_init__(self) -> None:
        _require_entrants(self.rows)
        if not 1 <= self.ranks <= MOST_RANKS:
            raise ValueError(f"a chart of shares shows 1 to {MOST_RANKS} ranks, not {self.ranks}")
        if any(len(row.shares) != self.ranks for row in self.rows):
            raise ValueError("every entrant needs a share for each rank")

    @property
    def ranks(self) -> int:
        """How many ranks are told apart."""
        return len(self.rows[0].shares)

    @property
    def x_axis(self) -> Axis:
        """Percent of the draws."""
        return Axis(ticks=tuple(Decimal(n) for n in (0, 25, 50, 75, 100)))


@dataclass(frozen=True, kw_only=True)
class TradePoint:
    """One entrant at (x, y) with the intervals of both; `unbeaten` if none is better in both."""

    entrant: str
    x: Number
    y: Number
    x_low: Number | None = None
    x_high: Number | None = None
    y_low: Number | None = None
    y_high: Number | None = None
    unbeaten: bool = False

    def __post_init__(self) -> None:
        _require_interval(self.entrant, self.x_low, self.x_high)
        _require_interval(self.entrant, self.y_low, self.y_high)
        require_finite(f"a value of {self.entrant}", (*self.xs, *self.ys))

    @property
    def xs(self) -> tuple[Number | None, ...]:
        """Everything that needs a place on the x axis."""
        return (self.x, self.x_low, self.x_high)

    @property
    def ys(self) -> tuple[Number | None, ...]:
        """Everything that needs a place on the y axis."""
        return (self.y, self.y_low, self.y_high)


@dataclass(frozen=True, kw_only=True)
class TradeoffChart:
    """One measure against another; a stepped line joins the entrants that none beats in both."""

    points: tuple[TradePoint, ...]
    x_better: Better
    x: Axis | None = None
    y: Axis | None = None

    def __post_init__(self) -> None:
        _require_entrants(self.points)
        _require_on_axis(self.x_axis, [number for point in self.points for number in point.xs])
        _require_on_axis(self.y_axis, [number for point in self.points for number in point.ys])

    @cached_property
    def x_axis(self) -> Axis:
        """The axis given, or a round one around the data."""
        return self.x or round_axis([number for point in self.points for number in point.xs])

    @cached_property
    def y_axis(self) -> Axis:
        """The axis given, or a round one around the data."""
        return self.y or round_axis([number for point in self.points for number in point.ys])


@dataclass(frozen=True, kw_only=True)
class Run:
    """One check of a rig: its label (a date), the value, and whether it is out of the limits."""

    label: str
    value: Number
    flagged: bool = False

    def __post_init__(self) -> None:
        require_finite(f"the value of {self.label}", (self.value,))


@dataclass(frozen=True, kw_only=True)
class ControlChart:
    """Individuals and moving ranges of a rig's checks with their control limits, in order of time."""

    runs: tuple[Run, ...]
    centre: Number
    lower: Number
    upper: Number
    range_upper: Number

    def __post_init__(self) -> None:
        if len(self.runs) < 2:
            raise ValueError("a control chart needs two runs at least")
        require_finite("a control limit", (self.centre, self.lower, self.upper, self.range_upper))
        if not self.lower <= self.centre <= self.upper:
            raise ValueError(f"the centre line {self.centre} isn't between {self.lower} and {self.upper}")

    @cached_property
    def moving_ranges(self) -> tuple[float, ...]:
        """The step from each run to the next, without its sign."""
        values = [float(run.value) for run in self.runs]
        return tuple(abs(b - a) for a, b in itertools.pairwise(values))

    @cached_property
    def y_axis(self) -> Axis:
        """Around the individuals and their limits."""
        return round_axis([*(run.value for run in self.runs), self.centre, self.lower, self.upper])

    @cached_property
    def range_axis(self) -> Axis:
        """From zero to the largest moving range or its limit."""
        return round_axis([0.0, *self.moving_ranges, self.range_upper], target=4)


@dataclass(frozen=True, kw_only=True)
class DeclineRow:
    """One entrant's grade at each count of washes (None: not graded then), and the grade it is sold with."""

    entrant: str
    grades: tuple[Number | None, ...]
    stated: Number | None = None

    def __post_init__(self) -> None:
        require_finite(f"a grade of {self.entrant}", (*self.grades, self.stated))


@dataclass(frozen=True, kw_only=True)
class DeclineChart:
    """How a grade falls with washing: one small panel per entrant, all on the same axes."""

    washes: tuple[int, ...]
    rows: tuple[DeclineRow, ...]
    axis: Axis

    def __post_init__(self) -> None:
        _require_entrants(self.rows)
        if len(self.washes) < 2 or any(b <= a for a, b in zip(self.washes, self.washes[1:], strict=False)):
            raise ValueError("the counts of washes must rise, two at least")
        if any(len(row.grades) != len(self.washes) for row in self.rows):
            raise ValueError("every entrant needs a grade, or None, for each count of washes")
        _require_on_axis(self.axis, [grade for row in self.rows for grade in (*row.grades, row.stated)])

    @property
    def columns(self) -> int:
        """How many panels stand beside each other: compared at a glance, and within a telephone's height."""
        return 1 if len(self.rows) < 3 else 2

    def labelled(self, row: int) -> bool:
        """Whether the panel of an entrant has the labels of the grades: those beside it share its."""
        return row % self.columns == 0

    @cached_property
    def x_axis(self) -> Axis:
        """Counts of washes: those at which was graded, or round ones where these stand too close."""
        graded = Axis(ticks=tuple(map(Decimal, self.washes)))
        places = graded.tick_fractions
        roomy = all(b - a >= LABEL_ROOM for a, b in itertools.pairwise(places))
        return graded if roomy else round_axis(map(float, self.washes))


ChartSpec = (
    ValuesChart | StagesChart | CurvesChart | ClaimsChart | SharesChart | TradeoffChart | ControlChart | DeclineChart
)


def _require_entrants(rows: tuple[object, ...]) -> None:
    if not rows:
        raise ValueError("a chart without entrants can't be drawn")


def _require_interval(entrant: str, low: Number | None, high: Number | None) -> None:
    if (low is None) != (high is None):
        raise ValueError(f"the interval of {entrant} has one end only")
    if low is not None and high is not None and low > high:
        raise ValueError(f"the interval of {entrant} runs from {low} down to {high}")


def _require_on_axis(axis: Axis, numbers: Iterable[Number | None]) -> None:
    for number in numbers:
        if number is not None and not axis.covers(number):
            raise ValueError(f"{number} is off the axis from {axis.ticks[0]} to {axis.ticks[-1]}")
