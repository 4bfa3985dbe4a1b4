"""Marks stand where the numbers say: the data are read back off the SVG, and matplotlib's own axes agree."""

import io
import math
import re
from decimal import Decimal

import pytest
from chart_samples import (
    GRADES,
    SVG,
    control_chart,
    corners,
    curves_chart,
    drawn,
    placed,
    tradeoff_chart,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.figures.charts.chart_layout import PanelsLayout, RowsLayout, lay_out
from sitegen.figures.charts.chart_spec import (
    ChartSpec,
    ClaimsChart,
    ClaimsRow,
    Curve,
    CurvesChart,
    DeclineChart,
    DeclineRow,
    SharesChart,
    SharesRow,
    StagesChart,
    StagesRow,
    TradeoffChart,
    TradePoint,
    ValuesChart,
    ValuesRow,
)

UNITS = 0.011  # coordinates are rounded to a hundredth of a unit
FEW = settings(max_examples=40, deadline=None)
VALUES = st.floats(-1e6, 1e6, allow_nan=False)
DIRECTIONS = st.sampled_from(["ltr", "rtl"])


def rows_of(spec: ChartSpec) -> RowsLayout:
    """The layout of a chart of rows."""
    layout = lay_out(spec, "ltr")
    assert isinstance(layout, RowsLayout)
    return layout


def panels_of(spec: ChartSpec, direction: str = "ltr") -> PanelsLayout:
    """The layout of a chart of panels."""
    layout = lay_out(spec, "rtl" if direction == "rtl" else "ltr")
    assert isinstance(layout, PanelsLayout)
    return layout


def read_off(x: float, left: float, right: float, first: float, last: float) -> float:
    """A value by the rule of three between two ticks: independent of the code that draws."""
    return first + (x - left) / (right - left) * (last - first)


def near(found: float, wanted: float, span: float, length: float) -> bool:
    """Whether two values differ by no more than the rounding of coordinates."""
    return abs(found - wanted) <= UNITS * abs(span) / length + 1e-9 * abs(wanted)


@FEW
@given(st.lists(st.tuples(VALUES, st.lists(VALUES, max_size=4)), min_size=1, max_size=8), DIRECTIONS)
def test_values_are_read_back(data: list[tuple[float, list[float]]], direction: str) -> None:
    """Centres and readings of random charts are recovered from the marks by the first and last tick alone."""
    rows = (ValuesRow(entrant=f"e{n}", centre=c, readings=tuple(r)) for n, (c, r) in enumerate(data))
    spec = ValuesChart(rows=tuple(rows))
    first, last = float(spec.x_axis.ticks[0]), float(spec.x_axis.ticks[-1])
    centres, *readings = placed(drawn(spec, direction))
    found = [read_off(x, 14, 386, first, last) for x, _ in centres]
    assert all(near(f, c, last - first, 372) for f, (c, _) in zip(found, data, strict=True))
    assert [y for _, y in centres] == sorted({y for _, y in centres})  # one row below the other
    layout = rows_of(spec)
    for index, (_, wanted) in enumerate(data):
        top, foot = layout.top(index), layout.top(index + 1)
        here = sorted(x for group in readings for x, y in group if top < y < foot)
        assert len(here) == len(wanted)
        pairs = zip([read_off(x, 14, 386, first, last) for x in here], sorted(wanted))
        assert all(near(f, w, last - first, 372) for f, w in pairs)


@FEW
@given(st.lists(st.tuples(VALUES, VALUES, VALUES), min_size=1, max_size=8))
def test_intervals_are_read_back(data: list[tuple[float, float, float]]) -> None:
    """The line of each interval runs from its low to its high end, with a cap at both."""
    ordered = [sorted(values) for values in data]
    rows = (ValuesRow(entrant=f"e{n}", centre=m, low=a, high=b) for n, (a, m, b) in enumerate(ordered))
    spec = ValuesChart(rows=tuple(rows))
    first, last = float(spec.x_axis.ticks[0]), float(spec.x_axis.ticks[-1])
    paths = [p for p in drawn(spec).findall(SVG + "path") if p.get("stroke-width") == "1.6"]
    strokes = corners(paths[-1].get("d") or "")  # the first such path is the sample of the key
    assert len(strokes) == 3 * len(data)
    for (low, _, high), (line, left_cap, right_cap) in zip(ordered, zip(*[iter(strokes)] * 3), strict=True):
        ends = [read_off(x, 14, 386, first, last) for x, _ in line]
        assert near(ends[0], low, last - first, 372) and near(ends[1], high, last - first, 372)
        assert {x for x, _ in left_cap} == {line[0][0]} and {x for x, _ in right_cap} == {line[1][0]}


@FEW
@given(
    st.lists(
        st.lists(st.none() | st.sampled_from([1, 1.5, 2, 3, 4, 5]), min_size=3, max_size=3),
        min_size=1,
        max_size=8,
    )
)
def test_stages_are_read_back(data: list[list[float | None]]) -> None:
    """Each stage has one mark for every entrant measured then, at its grade, and none for the others."""
    rows = (StagesRow(entrant=f"e{n}", centres=tuple(c)) for n, c in enumerate(data))
    spec = StagesChart(stages=("a", "b", "c"), rows=tuple(rows), axis=GRADES)
    groups = iter(placed(drawn(spec)))
    for stage in range(3):
        wanted = [row[stage] for row in data if row[stage] is not None]
        if wanted:
            assert [read_off(x, 14, 386, 1, 5) for x, _ in next(groups)] == pytest.approx(wanted, abs=0.001)
    assert next(groups, None) is None


@FEW
@given(st.lists(st.tuples(VALUES, VALUES), min_size=1, max_size=8), DIRECTIONS)
def test_trade_offs_are_read_back(data: list[tuple[float, float]], direction: str) -> None:
    """Both coordinates of every point are recovered from its mark."""
    points = (TradePoint(entrant=f"e{n}", x=x, y=y) for n, (x, y) in enumerate(data))
    spec = TradeoffChart(points=tuple(points), x_better="lower")
    layout = panels_of(spec, direction)
    (marks,) = placed(drawn(spec, direction))
    xs, ys = spec.x_axis.ticks, spec.y_axis.ticks
    for (x, y), (mark_x, mark_y) in zip(data, marks, strict=True):
        found = read_off(mark_x, layout.left, layout.right, float(xs[0]), float(xs[-1]))
        assert near(found, x, float(xs[-1] - xs[0]), layout.right - layout.left)
        found = read_off(mark_y, layout.axis_y, layout.tops[0], float(ys[0]), float(ys[-1]))
        assert near(found, y, float(ys[-1] - ys[0]), 250)


@FEW
@given(st.lists(st.integers(1, 50), min_size=2, max_size=8))
def test_shares_are_read_back(weights: list[int]) -> None:
    """The segments of a bar are as long as the shares, in the order of the ranks, and fill it."""
    shares = tuple(weight / sum(weights) for weight in weights)
    spec = SharesChart(rows=(SharesRow(entrant="e", shares=shares),))
    paths = drawn(spec).findall(SVG + "path")[-len(shares) :]  # one for each rank
    segments = [corners(path.get("d") or "")[0] for path in paths]
    ends = [(min(x for x, _ in box), max(x for x, _ in box)) for box in segments]
    assert [(b - a) / 372 for a, b in ends] == pytest.approx(shares, abs=0.0001)
    assert ends[0][0] == 14 and ends[-1][1] == 386
    assert all(before[1] == after[0] for before, after in zip(ends, ends[1:]))


@FEW
@given(st.lists(st.floats(70, 130), min_size=1, max_size=8))
def test_claims_are_read_back(measured: list[float]) -> None:
    """Measurements stand at their share of the claim and every claim at 100 %."""
    rows = (ClaimsRow(entrant=f"e{n}", measured=m, tolerance_low=95) for n, m in enumerate(measured))
    spec = ClaimsChart(rows=tuple(rows))
    first, last = float(spec.x_axis.ticks[0]), float(spec.x_axis.ticks[-1])
    root = drawn(spec)
    (marks,) = placed(root)
    assert [read_off(x, 14, 386, first, last) for x, _ in marks] == pytest.approx(
        measured, abs=UNITS * (last - first) / 372
    )
    claims = [p for p in root.findall(SVG + "path") if p.get("class") == "c-second c-paper"][-1]
    middles = [(min(x for x, _ in box) + max(x for x, _ in box)) / 2 for box in corners(claims.get("d") or "")]
    assert [read_off(x, 14, 386, first, last) for x in middles] == pytest.approx([100] * len(measured), abs=0.01)


def test_curves_and_levels_are_read_back() -> None:
    """The corners of each line are the points of its curve; the levels run level at their values."""
    spec = curves_chart()
    layout = panels_of(spec)
    paths = drawn(spec).findall(SVG + "path")
    lines = [corners(p.get("d") or "")[0] for p in paths]
    long_lines = [line for line in lines if len(line) > 10]
    for curve, line in zip(spec.curves, long_lines, strict=True):
        for (x, y), (line_x, line_y) in zip(curve.points, line, strict=True):
            assert near(read_off(line_x, layout.left, layout.right, 0, 200), float(x), 200, 324)
            assert near(read_off(line_y, layout.axis_y, layout.tops[0], 0, 100), float(y), 100, 190)
    level = next(p for p in paths if p.get("stroke-dasharray") == "7,3,1.5,3")
    heights = [stroke[0][1] for stroke in corners(level.get("d") or "")]
    assert [read_off(y, layout.axis_y, layout.tops[0], 0, 100) for y in heights] == pytest.approx([50, 10], abs=0.01)


def test_control_points_and_rings_are_read_back() -> None:
    """Individuals and moving ranges stand at their values, the rings around the flagged runs only."""
    spec = control_chart()
    layout = panels_of(spec)
    points, rings = placed(drawn(spec))
    ticks, steps = spec.y_axis.ticks, spec.range_axis.ticks
    foot = layout.tops[0] + 132
    found = [read_off(y, foot, layout.tops[0], float(ticks[0]), float(ticks[-1])) for _, y in points[:26]]
    assert found == pytest.approx([float(run.value) for run in spec.runs], abs=0.001)
    found = [read_off(y, layout.axis_y, layout.tops[1], 0, float(steps[-1])) for _, y in points[26:]]
    assert found == pytest.approx(spec.moving_ranges, abs=0.001)
    assert rings == [points[17], points[22]]


def test_grades_decline_in_their_own_panels() -> None:
    """Each entrant's grades stand in its panel over their counts of washes; a missing grade has no mark."""
    rows = (DeclineRow(entrant="a", grades=(5, 4, 2)), DeclineRow(entrant="b", grades=(4, None, 3), stated=3))
    spec = DeclineChart(washes=(0, 5, 20), rows=tuple(rows), axis=GRADES)
    layout = panels_of(spec)
    (marks,) = placed(drawn(spec))
    panels = [[m for m in marks if top - 1 <= m[1] <= top + 89] for top in layout.tops]
    read = [
        [
            (
                round(read_off(x, layout.left, layout.right, 0, 20), 2),
                round(read_off(y, top + 88, top, 1, 5), 2),
            )
            for x, y in panel
        ]
        for panel, top in zip(panels, layout.tops)
    ]
    assert read == [[(0, 5), (5, 4), (20, 2)], [(0, 4), (20, 3)]]


def test_three_panels_or_more_stand_in_two_columns() -> None:
    """Each entrant's grades are read off between the sides and edges of its own panel; the scale stands under both columns."""
    grades = [(5, 4, 2), (4, None, 3), (1, 2, 5)]
    rows = tuple(DeclineRow(entrant=name, grades=given) for name, given in zip("abc", grades, strict=True))
    spec = DeclineChart(washes=(0, 5, 20), rows=rows, axis=GRADES)
    layout = panels_of(spec)
    marks = placed(drawn(spec))[0]
    read = []
    for panel, top in enumerate(layout.tops):
        left, right = layout.sides(panel)
        here = [(x, y) for x, y in marks if left - 1 <= x <= right + 1 and top - 1 <= y <= top + 89]
        read.append(
            [(round(read_off(x, left, right, 0, 20)), round(read_off(y, top + 88, top, 1, 5), 2)) for x, y in here]
        )
    assert read == [[(0, 5), (5, 4), (20, 2)], [(0, 4), (20, 3)], [(0, 1), (5, 2), (20, 5)]]
    scales = [
        text for text in drawn(spec).iter(SVG + "text") if text.text in ("0", "5", "20") and text.get("y") != "20"
    ]
    below = {top + 88 + 18 for top in layout.tops[1:]}
    assert {float(text.get("y") or 0) for text in scales} >= below


def reference_places(
    xs: list[float],
    ys: list[float],
    area: tuple[float, float, float, float],
    height: float,
    x_ends: tuple[float, float],
    y_ends: tuple[float, float],
    scale: str,
) -> list[tuple[float, float]]:
    """Where matplotlib's own figure and axes put the points; `area` is left, top, right, bottom."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(400 / 72, height / 72), dpi=72)
    left, top, right, bottom = area
    axes = figure.add_axes((left / 400, 1 - bottom / height, (right - left) / 400, (bottom - top) / height))
    axes.set_xscale(scale)
    axes.set_xlim(*x_ends)
    axes.set_ylim(*y_ends)
    axes.plot(xs, ys, linestyle="none", marker="D", gid="points", clip_on=False)
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg")
    group = buffer.getvalue().split('id="points"')[1].split("</g>")[0]
    return [(float(x), float(y)) for x, y in re.findall(r'<use [^>]*x="([-\d.]+)" y="([-\d.]+)"', group)]


def test_matplotlib_axes_agree_on_a_trade_off() -> None:
    """Matplotlib's own axes, of the same area and limits, put the same points in the same places."""
    spec = tradeoff_chart()
    layout = panels_of(spec)
    others, best = placed(drawn(spec))
    ordered = [p for p in spec.points if not p.unbeaten] + [p for p in spec.points if p.unbeaten]
    xs, ys = spec.x_axis.ticks, spec.y_axis.ticks
    expected = reference_places(
        [float(p.x) for p in ordered], [float(p.y) for p in ordered],
        (layout.left, layout.tops[0], layout.right, layout.axis_y), layout.height,
        (float(xs[0]), float(xs[-1])), (float(ys[0]), float(ys[-1])), "linear",
    )  # fmt: skip
    for found, wanted in zip([*others, *best], expected, strict=True):
        assert found == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize("scale", ["linear", "log"])
def test_matplotlib_axes_agree_on_values(scale: str) -> None:
    """Matplotlib's own linear and logarithmic axes put the centres of rows in the same places."""
    centres = (3.0, 25.5, 160.0, 900.0)
    rows = tuple(ValuesRow(entrant=f"e{n}", centre=c) for n, c in enumerate(centres))
    spec = ValuesChart(rows=rows, scale="log" if scale == "log" else "linear")
    layout = rows_of(spec)
    ticks = spec.x_axis.ticks
    (marks,) = placed(drawn(spec))
    expected = reference_places(
        list(centres), [layout.axis_y - y for _, y in marks], (14, 0, 386, layout.axis_y), layout.height,
        (float(ticks[0]), float(ticks[-1])), (0, layout.axis_y), scale,
    )  # fmt: skip
    for found, wanted in zip(marks, expected, strict=True):
        assert found == pytest.approx(wanted, abs=0.01)


@given(st.lists(st.integers(0, 3), min_size=1, max_size=9))
def test_equal_readings_are_all_seen(picks: list[int]) -> None:
    """Readings that agree stand below each other: none is hidden, moved sideways or out of its row."""
    from sitegen.figures.drawing.draw_marks import _stacked

    marks = _stacked([50.0 * pick for pick in picks], 10.0)
    assert len(set(marks)) == len(picks)
    assert sorted(x for x, _ in marks) == sorted(50.0 * pick for pick in picks)
    assert all(10 <= y <= 16.41 for _, y in marks)


@pytest.mark.parametrize(
    ("better", "expected"),
    [
        ("lower", [(1, 1), (2, 1), (2, 2), (4, 2), (4, 3)]),
        ("higher", [(1, 1), (1, 2), (2, 2), (2, 3), (4, 3)]),
    ],
)
def test_the_stepped_line_bounds_what_is_beaten(better: str, expected: list[tuple[float, float]]) -> None:
    """Between two unbeaten points it runs level first where less of x is better, else up or down first."""
    from sitegen.figures.drawing.draw_marks import _staircase

    assert _staircase([(4, 3), (1, 1), (2, 2)], level_first=better == "lower") == expected


def test_long_curves_stay_true_to_their_points() -> None:
    """A logger's thousands of points may be merged, by a ninth of a unit at most, and the ends are kept."""
    points = tuple((n / 10, Decimal(repr(round(50 + 40 * math.cos(n / 400), 3)))) for n in range(3000))
    spec = CurvesChart(curves=(Curve(entrant="e", points=points),))
    layout = panels_of(spec)
    lines = [corners(p.get("d") or "")[0] for p in drawn(spec).findall(SVG + "path")]
    line = max(lines, key=len)
    assert 30 < len(line) < 1500
    xs, ys = spec.x_axis, spec.y_axis
    assert line[-1] == pytest.approx(
        (layout.x(xs.fraction(points[-1][0])), layout.y(0, ys.fraction(points[-1][1]))), abs=0.2
    )
    for x, y in line:
        time = xs.value((x - layout.left) / (layout.right - layout.left))
        wanted = layout.y(0, ys.fraction(50 + 40 * math.cos(time * 10 / 400)))
        assert abs(y - wanted) < 0.25
