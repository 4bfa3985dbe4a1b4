"""Where things stand on a chart: plain geometry, no drawing. Units are those of the viewBox, y downwards.

A layout holds only what the frame (paper, ticks, places of texts) depends on, so that it is the key under
which a frame is kept: charts with as many rows and ticks share one. Right-to-left editions mirror the places
of names and values; a scale of numbers runs from left to right in every edition.
"""

import math
from collections.abc import Iterable, Sequence
from functools import cached_property
from itertools import accumulate
from typing import Literal, assert_never

from sitegen.datatypes import dataclass
from sitegen.figures.charts.chart_axis import Axis
from sitegen.figures.charts.chart_spec import (
    ChartSpec,
    ClaimsChart,
    ControlChart,
    CurvesChart,
    DeclineChart,
    SharesChart,
    StagesChart,
    TradeoffChart,
    ValuesChart,
)
from sitegen.figures.charts.chart_text import key_names, run_labels

Direction = Literal["ltr", "rtl"]
Side = Literal["left", "middle", "right"]

WIDTH = 400.0
EDGE = 6.0  # texts keep this far from the edge of the picture
ROW_LEFT, ROW_RIGHT = 14.0, 386.0  # the scale of charts of rows: marks at its ends stay inside
GUTTER = 52.0  # room for the labels of a y axis
NAME_LINE = 15.0  # baseline of an entrant's name below the top of its row
LANE = 27.0  # where the first marks of a row stand
STAGE_PITCH = 17.0
LIST_PITCH = 18.0
SQUARE = 11.0  # wished width of a square of the paper
HEADING = 32.0  # above each panel: a line of text, then the label of its topmost tick
PANEL_GAP = 6.0
COLUMN_GAP = 26.0  # the labels of two scales side by side don't run together
MOST_RULINGS = 40  # more runs than these share upright lines
MOST_SQUARES = 60  # along a scale: finer paper would be grey
OFF_LINE = 1e-3  # of a square, between a tick and the line that it is said to stand on
SUBDIVISIONS = (1, 2, 4, 5, 10, 20)


@dataclass(frozen=True, kw_only=True)
class RowsLayout:
    """Rows below each other on one scale: a name line each, with lanes of marks below it."""

    kind: str
    rows: int
    needed: float  # height of a row at least; it grows to whole squares
    ticks: tuple[float, ...]
    rulings: tuple[float, ...]
    key: tuple[str, ...]
    direction: Direction

    def x(self, fraction: float) -> float:
        """Where a fraction of the scale stands."""
        return round(ROW_LEFT + fraction * (ROW_RIGHT - ROW_LEFT), 2)

    @cached_property
    def square(self) -> float:
        """The pitch of the paper; rows are whole multiples of it."""
        length = ROW_RIGHT - ROW_LEFT
        return SQUARE if self.rulings else length / squares(self.ticks, length)

    @cached_property
    def row_height(self) -> float:
        """The height of each row."""
        return math.ceil(self.needed / self.square - 0.15) * self.square

    def top(self, row: int) -> float:
        """The upper edge of a row."""
        return round(row * self.row_height, 2)

    def lane(self, row: int, lane: int = 0) -> float:
        """Where the marks of a row stand; charts of stages have a lane for each."""
        return round(row * self.row_height + LANE + lane * STAGE_PITCH, 2)

    @property
    def axis_y(self) -> float:
        """Where the scale is drawn."""
        return self.top(self.rows)

    @property
    def key_top(self) -> float:
        """Where the explanation of the marks begins."""
        return self.axis_y + 40

    @property
    def height(self) -> float:
        """The height of the picture."""
        return math.ceil(self.key_top + len(self.key) * LIST_PITCH + 4)


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One plotting area: its height, its y ticks and whether these have labels and an entrant's heading."""

    height: float
    ticks: tuple[float, ...]
    labelled: bool = True
    named: bool = False


@dataclass(frozen=True, kw_only=True)
class PanelsLayout:
    """One or more plotting areas on a common x scale, with a numbered list below."""

    kind: str
    panels: tuple[Panel, ...]
    ticks: tuple[float, ...]
    rulings: tuple[float, ...]
    listed: int
    key: tuple[str, ...]
    end_room: float  # beside the end of the scale, for the numbers of curves
    direction: Direction
    columns: int = 1  # panels stand beside each other in the order of reading

    @cached_property
    def left(self) -> float:
        """Where the x scale begins; the labels of y stand on the side where lines of text begin."""
        return GUTTER if self.direction == "ltr" else ROW_LEFT

    @cached_property
    def right(self) -> float:
        """Where the x scale ends."""
        return (ROW_RIGHT if self.direction == "ltr" else WIDTH - GUTTER) - self.end_room

    def sides(self, panel: int) -> tuple[float, float]:
        """The left and the right edge of a plotting area."""
        width = (self.right - self.left - COLUMN_GAP * (self.columns - 1)) / self.columns
        column = panel % self.columns
        before = column if self.direction == "ltr" else self.columns - 1 - column
        left = self.left + before * (width + COLUMN_GAP)
        return round(left, 2), round(left + width, 2)

    def heading_at(self, panel: int) -> float:
        """Where a panel's heading begins, from the side where lines of text begin."""
        left, right = self.sides(panel)
        begin = left if self.direction == "ltr" else WIDTH - right
        return EDGE if panel % self.columns == 0 else round(begin, 2)

    def x(self, fraction: float, panel: int = 0) -> float:
        """Where a fraction of a panel's x scale stands."""
        left, right = self.sides(panel)
        return round(left + fraction * (right - left), 2)

    @cached_property
    def tops(self) -> tuple[float, ...]:
        """The upper edges of the plotting areas."""
        rows = self.panels[:: self.columns]
        edges = tuple(accumulate((p.height + HEADING + PANEL_GAP for p in rows[:-1]), initial=HEADING))
        return tuple(edges[panel // self.columns] for panel in range(len(self.panels)))

    @property
    def lowest(self) -> tuple[int, ...]:
        """The last panel of each column, under which the x scale stands."""
        last = len(self.panels)
        return tuple(max(range(column, last, self.columns)) for column in range(min(self.columns, last)))

    def y(self, panel: int, fraction: float) -> float:
        """Where a fraction of a panel's y scale stands."""
        return round(self.tops[panel] + (1 - fraction) * self.panels[panel].height, 2)

    @property
    def axis_y(self) -> float:
        """Where the x scale is drawn."""
        return self.y(len(self.panels) - 1, 0)

    @property
    def list_top(self) -> float:
        """Where the numbered list begins."""
        return self.axis_y + 42

    @property
    def key_top(self) -> float:
        """Where the explanation of the marks begins."""
        return self.list_top + self.listed * LIST_PITCH + (4 if self.listed else 0)

    @property
    def height(self) -> float:
        """The height of the picture."""
        return math.ceil(self.key_top + len(self.key) * LIST_PITCH + 4)


Layout = RowsLayout | PanelsLayout


def lay_out(spec: ChartSpec, direction: Direction) -> Layout:
    """The layout of a chart."""
    match spec:
        case ValuesChart():
            return _rows(spec, spec.x_axis, len(spec.rows), LANE + 18, direction)
        case StagesChart():
            return _rows(spec, spec.x_axis, len(spec.rows), LANE + STAGE_PITCH * len(spec.stages) - 2, direction)
        case ClaimsChart():
            return _rows(spec, spec.x_axis, len(spec.rows), LANE + 14, direction)
        case SharesChart():
            return _rows(spec, spec.x_axis, len(spec.rows), LANE + 18, direction)
        case CurvesChart():
            panel = Panel(height=190, ticks=spec.y_axis.tick_fractions)
            return _panels(spec, (panel,), spec.x_axis, len(spec.curves), direction, end_room=14)
        case TradeoffChart():
            panel = Panel(height=250, ticks=spec.y_axis.tick_fractions)
            return _panels(spec, (panel,), spec.x_axis, len(spec.points), direction)
        case ControlChart():
            return _control(spec, direction)
        case DeclineChart():
            height = 22 * (len(spec.axis.ticks) - 1)
            panels = tuple(
                Panel(height=height, ticks=spec.axis.tick_fractions, labelled=spec.labelled(row), named=True)
                for row in range(len(spec.rows))
            )
            return _panels(spec, panels, spec.x_axis, 0, direction, columns=spec.columns)
    assert_never(spec)


def _rows(spec: ChartSpec, axis: Axis, rows: int, needed: float, direction: Direction) -> RowsLayout:
    return RowsLayout(
        kind=type(spec).__name__,
        rows=rows,
        needed=needed,
        ticks=axis.tick_fractions,
        rulings=axis.rulings,
        key=drawn_key(spec),
        direction=direction,
    )


def _panels(
    spec: ChartSpec,
    panels: tuple[Panel, ...],
    axis: Axis,
    listed: int,
    direction: Direction,
    end_room: float = 0,
    columns: int = 1,
) -> PanelsLayout:
    return PanelsLayout(
        kind=type(spec).__name__,
        panels=panels,
        ticks=axis.tick_fractions,
        rulings=axis.rulings,
        listed=listed,
        key=drawn_key(spec),
        end_room=end_room,
        direction=direction,
        columns=columns,
    )


def _control(spec: ControlChart, direction: Direction) -> PanelsLayout:
    last = len(spec.runs) - 1
    return PanelsLayout(
        kind="ControlChart",
        panels=(
            Panel(height=132, ticks=spec.y_axis.tick_fractions, labelled=False),
            Panel(height=66, ticks=spec.range_axis.tick_fractions, labelled=False),
        ),
        ticks=tuple(round(index / last, 6) for index in run_labels(spec)),
        rulings=tuple(round(index / last, 6) for index in range(0, last + 1, 1 + last // MOST_RULINGS)),
        listed=0,
        key=drawn_key(spec),
        end_room=0,
        direction=direction,
    )


def drawn_key(spec: ChartSpec) -> tuple[str, ...]:
    """The marks to explain, by shape instead of by the caller's ids, so that frames are shared."""
    names = key_names(spec)
    if isinstance(spec, StagesChart):
        count = len(spec.stages)
        return tuple(f"stage_{n}_of_{count}" if n < count else name for n, name in enumerate(names))
    return names


def squares(ticks: Sequence[float], length: float) -> int:
    """How many squares of paper lie along a scale: of about the wished width, with lines at the ticks.

    `ticks` are fractions of the scale; where no fine enough even division meets them all, the paper goes its
    own way, as it does in a notebook.
    """
    wished = length / SQUARE
    for count in range(len(ticks) - 1, MOST_SQUARES + 1):
        if all(abs(tick * count - round(tick * count)) < OFF_LINE for tick in ticks):
            choices = [count * parts for parts in SUBDIVISIONS]
            choices += [count // parts for parts in range(2, count) if count % parts == 0 and count > wished * 2]
            return min(choices, key=lambda n: abs(length / n - SQUARE))
    return round(wished)


def spread(wished: Iterable[float], gap: float, low: float, high: float) -> list[float]:
    """Move labels at least `gap` apart, in their order, between `low` and `high` where there is room."""
    wishes = list(wished)
    order = sorted(range(len(wishes)), key=lambda i: (wishes[i], i))
    placed = list(wishes)
    floor = low
    for index in order:
        placed[index] = floor = max(wishes[index], floor)
        floor += gap
    ceiling = high
    for index in reversed(order):
        placed[index] = ceiling = min(placed[index], ceiling)
        ceiling -= gap
    return placed
