"""The marks of one chart's values, drawn onto a sheet at the places that its layout gives."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import singledispatch
from itertools import accumulate, pairwise

from sitegen.figures.charts.chart_axis import Axis, Number
from sitegen.figures.charts.chart_layout import EDGE, Layout, PanelsLayout, RowsLayout, Side, spread
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
from sitegen.figures.charts.chart_text import share_fits
from sitegen.figures.drawing.draw_frame import FINE, Slots, mirrored, side_anchor
from sitegen.figures.drawing.draw_pens import Box, Pen, Point, Sheet
from sitegen.figures.drawing.draw_samples import (
    ABOVE_SHAPE,
    BAND,
    BAND_EDGE,
    BAR,
    BEATEN_MARK,
    BELOW_SHAPE,
    CENTRE,
    CENTRE_SHAPE,
    CENTRE_SIZE,
    CROSS,
    FLAG_RING,
    FLAG_SIZE,
    GRADE_MARK,
    INTERVAL,
    JOIN,
    LEVEL,
    MEDIAN,
    READING,
    READING_SHAPE,
    READING_SIZE,
    REFERENCE,
    RUN_MARK,
    STATED,
    STEP,
    UNBEATEN_MARK,
    capped,
    claim_box,
    curve_pen,
    rank_pen,
    stage_mark,
)

READINGS_BELOW = 10.5  # readings stand this far below the lane of their row
STACK_ROOM = 6.4  # equal readings are stacked within this height
STACK_STEP = 3.2
SPECIMEN_SIZE = 3.0
LIMIT_PEN = Pen("second", width=1.0, dash=(7, 3, 1.5, 3))
CENTRE_LINE = Pen("ink", width=0.8)
LABEL_GAP = 13.0  # between the baselines of labels that would stand on each other
SHARE_TEXT = 11.5
BESIDE: tuple[tuple[float, float, Side], ...] = (  # of a mark: how far off its number stands, and which side of it
    (9, -6, "left"),
    (-9, -6, "right"),
    (9, 15, "left"),
    (-9, 15, "right"),
    (0, -12, "middle"),
    (0, 21, "middle"),
)


@singledispatch
def draw_marks(spec: ChartSpec, layout: Layout, sheet: Sheet, slots: Slots) -> None:
    """Draw the values of a chart; TypeError for what isn't one."""
    raise TypeError(f"{type(spec).__name__} is no chart")


@draw_marks.register
def _values(spec: ValuesChart, layout: RowsLayout, sheet: Sheet, slots: Slots) -> None:
    x = _scale(spec.x_axis, layout)
    intervals, centres, readings, references = [], [], [], []
    above: list[Point] = []
    below: list[Point] = []
    for index, row in enumerate(spec.rows):
        lane = layout.lane(index)
        if row.low is not None and row.high is not None:
            intervals += capped(x(row.low), x(row.high), lane)
        if row.centre is not None:
            centres.append((x(row.centre), lane))
        if row.reference is not None:
            references.append(claim_box(x(row.reference), lane))
        readings += _stacked([x(reading) for reading in row.readings], lane + READINGS_BELOW)
        above += _stacked([x(limit) for limit in row.above], lane + READINGS_BELOW)
        below += _stacked([x(limit) for limit in row.below], lane + READINGS_BELOW)
    sheet.boxes(references, REFERENCE)
    sheet.lines(intervals, INTERVAL)
    sheet.marks(centres, CENTRE_SHAPE, CENTRE_SIZE, CENTRE if spec.centre == "mean" else MEDIAN)
    sheet.marks(readings, READING_SHAPE, READING_SIZE, READING)
    sheet.marks(above, ABOVE_SHAPE, READING_SIZE, READING)
    sheet.marks(below, BELOW_SHAPE, READING_SIZE, READING)


@draw_marks.register
def _stages(spec: StagesChart, layout: RowsLayout, sheet: Sheet, slots: Slots) -> None:
    x = _scale(spec.x_axis, layout)
    count = len(spec.stages)
    joins: list[list[Point]] = []
    marks: list[list[Point]] = [[] for _ in spec.stages]
    specimens: list[Point] = []
    for index, row in enumerate(spec.rows):
        at = [(x(c), layout.lane(index, n)) if c is not None else None for n, c in enumerate(row.centres)]
        joins.append([point for point in at if point])
        for stage, point in enumerate(at):
            if point:
                marks[stage].append(point)
        for stage, numbers in enumerate(row.specimens):
            specimens += _stacked([x(number) for number in numbers], layout.lane(index, stage) + 7.5)
    sheet.lines(joins, JOIN)
    sheet.marks(specimens, READING_SHAPE, SPECIMEN_SIZE, READING)
    for stage, points in enumerate(marks):
        sheet.marks(points, *stage_mark(stage, count))


@draw_marks.register
def _claims(spec: ClaimsChart, layout: RowsLayout, sheet: Sheet, slots: Slots) -> None:
    x = _scale(spec.x_axis, layout)
    bands, edges, intervals, marks, claims = [], [], [], [], []
    for index, row in enumerate(spec.rows):
        lane = layout.lane(index)
        low = x(row.tolerance_low) if row.tolerance_low is not None else layout.x(0)
        high = x(row.tolerance_high) if row.tolerance_high is not None else layout.x(1)
        if row.tolerance_low is not None or row.tolerance_high is not None:
            bands.append((low, lane - 8, high, lane + 8))
        ends = ((low, row.tolerance_low), (high, row.tolerance_high))
        edges += [((end, lane - 8), (end, lane + 8)) for end, bound in ends if bound is not None]
        claims.append(claim_box(x(100), lane))
        if row.low is not None and row.high is not None:
            intervals += capped(x(row.low), x(row.high), lane)
        if row.measured is not None:
            marks.append((x(row.measured), lane))
    sheet.boxes(bands, BAND)
    sheet.lines(edges, BAND_EDGE)
    sheet.boxes(claims, REFERENCE)
    sheet.lines(intervals, INTERVAL)
    sheet.marks(marks, CENTRE_SHAPE, CENTRE_SIZE, CENTRE)


@draw_marks.register
def _shares(spec: SharesChart, layout: RowsLayout, sheet: Sheet, slots: Slots) -> None:
    by_rank: dict[int, list[Box]] = defaultdict(list)
    bars: list[Box] = []
    for index, row in enumerate(spec.rows):
        top, foot = layout.lane(index) + 4 - BAR, layout.lane(index) + 4 + BAR
        ends = [layout.x(end) for end in _running(row.shares)]
        bars.append((ends[0], top, ends[-1], foot))
        for rank, (share, left, right) in enumerate(zip(row.shares, ends, ends[1:], strict=False)):
            if right > left:
                by_rank[rank].append((left, top, right, foot))
            if share_fits(share):
                anchor = side_anchor("middle", layout.direction)
                sheet.text(slots.take(), round((left + right) / 2, 2), foot - 4.5, anchor, SHARE_TEXT)
    sheet.boxes(bars, Pen("", "paper"))
    for rank in sorted(by_rank):
        sheet.boxes(by_rank[rank], rank_pen(rank))


@draw_marks.register
def _curves(spec: CurvesChart, layout: PanelsLayout, sheet: Sheet, slots: Slots) -> None:
    left_anchor = side_anchor("left", layout.direction)
    lines = [_places(curve.points, spec.x_axis, spec.y_axis, layout) for curve in spec.curves]
    levels = [layout.y(0, spec.y_axis.fraction(level)) for level in spec.references]
    sheet.lines([((layout.left, y), (layout.right, y)) for y in levels], LEVEL)
    for index, line in enumerate(lines):
        sheet.lines([line], curve_pen(index))
    foot = layout.y(0, 0)
    heights = spread([line[-1][1] + 4.5 for line in lines], LABEL_GAP, layout.y(0, 1), foot + 2)
    for line, height in zip(lines, heights, strict=False):
        sheet.text(slots.take(), line[-1][0] + 5, round(height, 2), left_anchor)
    for y in levels:
        # Curves that fall from the start or rise from nothing leave the left end of a level free.
        sheet.text(slots.take(), layout.left + 3, round(y - 3.5, 2), left_anchor, FINE)


@draw_marks.register
def _tradeoff(spec: TradeoffChart, layout: PanelsLayout, sheet: Sheet, slots: Slots) -> None:
    points = [(point.x, point.y) for point in spec.points]
    at = _places(points, spec.x_axis, spec.y_axis, layout)
    crosses: list[list[Point]] = []
    for point, (x, y) in zip(spec.points, at, strict=False):
        if point.x_low is not None and point.x_high is not None:
            crosses.append([(layout.x(spec.x_axis.fraction(end)), y) for end in (point.x_low, point.x_high)])
        if point.y_low is not None and point.y_high is not None:
            crosses.append([(x, layout.y(0, spec.y_axis.fraction(end))) for end in (point.y_low, point.y_high)])
    best = [place for point, place in zip(spec.points, at, strict=False) if point.unbeaten]
    sheet.lines([_staircase(best, level_first=spec.x_better == "lower")], STEP)
    sheet.lines(crosses, CROSS)
    sheet.marks([place for point, place in zip(spec.points, at, strict=False) if not point.unbeaten], *BEATEN_MARK)
    sheet.marks(best, *UNBEATEN_MARK)
    for (x, y), (dx, dy, side) in zip(at, _free_sides(at, layout), strict=False):
        sheet.text(slots.take(), x + dx, y + dy, side_anchor(side, layout.direction))


@draw_marks.register
def _control(spec: ControlChart, layout: PanelsLayout, sheet: Sheet, slots: Slots) -> None:
    last = len(spec.runs) - 1
    xs = [layout.x(index / last) for index in range(last + 1)]
    upper, centre, lower = (layout.y(0, spec.y_axis.fraction(v)) for v in (spec.upper, spec.centre, spec.lower))
    range_upper = layout.y(1, spec.range_axis.fraction(spec.range_upper))
    sheet.lines([((layout.left, y), (layout.right, y)) for y in (upper, lower, range_upper)], LIMIT_PEN)
    sheet.lines([((layout.left, centre), (layout.right, centre))], CENTRE_LINE)
    runs = [(x, layout.y(0, spec.y_axis.fraction(run.value))) for x, run in zip(xs, spec.runs, strict=False)]
    ranges = [(x, layout.y(1, spec.range_axis.fraction(r))) for x, r in zip(xs[1:], spec.moving_ranges, strict=False)]
    sheet.lines([runs, ranges], JOIN)
    sheet.marks([*runs, *ranges], *RUN_MARK)
    flagged = [place for place, run in zip(runs, spec.runs, strict=False) if run.flagged]
    sheet.marks(flagged, "o", FLAG_SIZE, FLAG_RING)
    edge = mirrored(EDGE, layout.direction)
    labels = spread([upper + 4, centre + 4, lower + 4], LABEL_GAP, layout.y(0, 1), layout.y(0, 0) + 4)
    for height in (*labels, range_upper + 4):
        sheet.text(slots.take(), edge, round(height, 2), "start", FINE)
    for (x, y), (dx, dy, side) in zip(flagged, _free_sides(flagged, layout), strict=False):
        sheet.text(slots.take(), x + dx, y + dy, side_anchor(side, layout.direction), FINE)


@draw_marks.register
def _decline(spec: DeclineChart, layout: PanelsLayout, sheet: Sheet, slots: Slots) -> None:
    marks: list[Point] = []
    joins: list[list[Point]] = []
    stated: list[list[Point]] = []
    for panel, row in enumerate(spec.rows):
        points = [(wash, grade) for wash, grade in zip(spec.washes, row.grades, strict=False) if grade is not None]
        at = _places(points, spec.x_axis, spec.axis, layout, panel)
        joins.append(at)
        marks += at
        if row.stated is not None:
            y = layout.y(panel, spec.axis.fraction(row.stated))
            stated.append([(x, y) for x in layout.sides(panel)])
    sheet.lines(stated, STATED)
    sheet.lines(joins, JOIN)
    sheet.marks(marks, *GRADE_MARK)


def _scale(axis: Axis, layout: RowsLayout) -> Callable[[Number], float]:
    return lambda value: layout.x(axis.fraction(value))


def _places(
    points: Sequence[tuple[Number, Number]], x: Axis, y: Axis, layout: PanelsLayout, panel: int = 0
) -> list[Point]:
    across = (layout.x(fraction, panel) for fraction in x.fractions([point[0] for point in points]))
    down = (layout.y(panel, fraction) for fraction in y.fractions([point[1] for point in points]))
    return list(zip(across, down, strict=False))


def _running(shares: Sequence[Number]) -> list[float]:
    """The ends of the segments, as fractions of the bar: rounded shares still fill it."""
    sums = [0.0, *accumulate(map(float, shares))]
    return [part / sums[-1] for part in sums]


def _stacked(xs: Sequence[float], y: float) -> list[Point]:
    # Readings that agree stand below each other: moving them sideways would show values nobody read.
    groups: dict[float, int] = defaultdict(int)
    for x in xs:
        groups[x] += 1
    return [
        (x, round(y + level * min(STACK_STEP, STACK_ROOM / max(1, count - 1)), 2))
        for x, count in sorted(groups.items())
        for level in range(count)
    ]


def _staircase(points: Sequence[Point], level_first: bool) -> list[Point]:
    """The edge of what the points beat: level to the next and then up or down, or the other way round."""
    ordered = sorted(points)
    steps = ordered[:1]
    for (x, y), (next_x, next_y) in pairwise(ordered):
        steps += [(next_x, y) if level_first else (x, next_y), (next_x, next_y)]
    return steps


def _free_sides(points: Sequence[Point], layout: PanelsLayout) -> list[tuple[float, float, Side]]:
    """For each mark the side where its number has most room, tried in a fixed order."""
    taken = list(points)
    chosen = []
    for x, y in points:
        inside = [side for side in BESIDE if layout.left - 8 < x + 1.6 * side[0] < layout.right + 8]
        best = max(inside or BESIDE, key=lambda side: _room((x + 1.4 * side[0], y + side[1] - 4.5), taken, (x, y)))
        taken.append((x + 1.4 * best[0], y + best[1] - 4.5))
        chosen.append(best)
    return chosen


def _room(place: Point, taken: Sequence[Point], own: Point) -> float:
    # Beyond 22 units more room makes no difference, so that the first side of the fixed order is kept.
    return min((22.0, *(abs(place[0] - x) + abs(place[1] - y) for x, y in taken if (x, y) != own)))
