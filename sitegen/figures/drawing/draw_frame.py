"""The part of a chart that doesn't depend on its values: paper, scales, places of names, key to the marks."""

from collections.abc import Sequence

from sitegen.datatypes import dataclass
from sitegen.figures.charts.chart_layout import (
    EDGE,
    LIST_PITCH,
    NAME_LINE,
    WIDTH,
    Direction,
    Layout,
    PanelsLayout,
    RowsLayout,
    Side,
    squares,
)
from sitegen.figures.drawing.draw_pens import Box, Pen, Sheet
from sitegen.figures.drawing.draw_samples import CURVES, curve_pen, draw_sample

HAIR = 0.4
PAPER = Pen("quiet", width=HAIR, opacity=0.7)
SCALE = Pen("quiet", width=0.9)
AXIS = Pen("ink", width=0.9)
TICK_LENGTH = 4.0
LIST_SAMPLE, LIST_NAME = 22.0, 58.0  # distances from the side where lines of text begin
KEY_NAME = 44.0
FINE, SMALL = 12.0, 12.5


_TILE = '<pattern id="@id@{}" width="{}" height="5" patternUnits="userSpaceOnUse"{}><path class="c-accent" d="{}"'
PATTERN_DEFINITIONS = (  # of the fillings that tell ranks apart beside their lightness
    "<defs>"
    + _TILE.format("hatch", 5, ' patternTransform="rotate(45)"', "M0 0V5")
    + ' stroke="currentColor" stroke-width="2.6"/></pattern>'
    + _TILE.format("dots", 5, "", "M1 1h1.4v1.4h-1.4z")
    + ' fill="currentColor"/></pattern>'
    + _TILE.format("rules", 9, "", "M0 2.5H9")
    + ' stroke="currentColor" stroke-width="0.9"/></pattern></defs>'
)


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame in two pieces, between which the marks of one chart go; `texts` counts its slots."""

    before: str
    after: str
    texts: int


class Slots:
    """Hands out the numbers of the places for texts, in order."""

    def __init__(self, first: int = 0) -> None:
        self.next = first

    def take(self) -> int:
        """The next number."""
        self.next += 1
        return self.next - 1


def draw_frame(layout: Layout) -> Frame:
    """Draw the frame of a layout; slots are numbered in the order of `chart_text.slots`."""
    sheet, slots = Sheet(), Slots(3)  # 0 title, 1 description, 2 title of x
    if isinstance(layout, RowsLayout):
        _rows(sheet, slots, layout)
    else:
        _panels(sheet, slots, layout)
    _key(sheet, slots, layout)
    before = _head(layout) + sheet.shapes_svg()
    return Frame(before, sheet.texts_svg() + "</svg>", slots.next)


def side_anchor(side: Side, direction: Direction) -> str:
    """The text-anchor that puts that side of a text at its x: right-to-left text starts on the right."""
    if side == "middle":
        return "middle"
    return "start" if (side == "left") == (direction == "ltr") else "end"


def mirrored(x: float, direction: Direction) -> float:
    """A distance from the side where lines of text begin, as x."""
    return x if direction == "ltr" else WIDTH - x


def _head(layout: Layout) -> str:
    patterns = PATTERN_DEFINITIONS if layout.kind == "SharesChart" else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {WIDTH:g} {layout.height:g}" '
        f'role="img" aria-labelledby="@id@t @id@d" direction="{layout.direction}" stroke-linejoin="round">'
        f'<title id="@id@t">@t0@</title><desc id="@id@d">@t1@</desc>{patterns}'
    )


def _rows(sheet: Sheet, slots: Slots, layout: RowsLayout) -> None:
    foot, left, right = layout.axis_y, layout.x(0), layout.x(1)
    _rule_across(sheet, layout, (left, 0.0, right, foot), layout.square)
    _rule_down(sheet, (left, 0.0, right, foot), layout.square)
    sheet.lines([((layout.x(f), 0.0), (layout.x(f), foot)) for f in layout.ticks], SCALE)
    sheet.lines([((left, layout.top(row)), (right, layout.top(row))) for row in range(1, layout.rows)], SCALE)
    _x_title(sheet, layout)
    _x_scale(sheet, slots, layout.direction, foot, [layout.x(f) for f in layout.ticks], (left, right))
    for row in range(layout.rows):
        _named(sheet, slots, layout.direction, layout.top(row) + NAME_LINE)


def _panels(sheet: Sheet, slots: Slots, layout: PanelsLayout) -> None:
    for index in range(len(layout.panels)):
        _panel_paper(sheet, layout, index)
    _x_title(sheet, layout)
    for index in layout.lowest:
        places = [layout.x(f, index) for f in layout.ticks]
        _x_scale(sheet, slots, layout.direction, layout.y(index, 0), places, layout.sides(index))
    for index, panel in enumerate(layout.panels):
        line = layout.tops[index] - 18
        if panel.named:
            _start(sheet, slots, layout.direction, layout.heading_at(index), line, 13)
        else:
            _start(sheet, slots, layout.direction, EDGE, line, FINE)
        if panel.labelled:
            for fraction in panel.ticks:
                _start(sheet, slots, layout.direction, EDGE, layout.y(index, fraction) - 3, FINE)
    for row in range(layout.listed):
        _listed(sheet, slots, layout, row)


def _rule_across(sheet: Sheet, layout: Layout, area: Box, pitch: float) -> None:
    """Fine upright lines: the dashes of one line as wide as the paper is high, or one by one if uneven."""
    left, top, right, foot = area
    if layout.rulings:
        sheet.lines([((layout.x(f), top), (layout.x(f), foot)) for f in layout.rulings], PAPER)
    else:
        middle = (top + foot) / 2
        dashes = Pen("quiet", width=foot - top, dash=(HAIR, pitch - HAIR), opacity=0.7)
        sheet.lines([((left - HAIR / 2, middle), (right + HAIR / 2, middle))], dashes)


def _rule_down(sheet: Sheet, area: Box, pitch: float) -> None:
    """Fine level lines, counted from the axis upwards."""
    left, top, right, foot = area
    middle = (left + right) / 2
    dashes = Pen("quiet", width=right - left, dash=(HAIR, pitch - HAIR), opacity=0.7)
    sheet.lines([((middle, foot + HAIR / 2), (middle, max(top - HAIR / 2, 0)))], dashes)


def _panel_paper(sheet: Sheet, layout: PanelsLayout, index: int) -> None:
    panel = layout.panels[index]
    top, foot = layout.y(index, 1), layout.y(index, 0)
    left, right = layout.sides(index)
    _rule_across(sheet, layout, (left, top, right, foot), (right - left) / squares(layout.ticks, right - left))
    _rule_down(sheet, (left, top, right, foot), panel.height / squares(panel.ticks, panel.height))
    sheet.lines([((layout.x(f, index), top), (layout.x(f, index), foot)) for f in layout.ticks], SCALE)
    ends = (left, right)
    if panel.labelled:
        # The line runs under its label into the gutter, so label and line read as one.
        ends = (EDGE, right) if layout.direction == "ltr" else (left, WIDTH - EDGE)
    if panel.labelled or panel.named:
        sheet.lines([((ends[0], layout.y(index, f)), (ends[1], layout.y(index, f))) for f in panel.ticks], SCALE)
    sheet.lines([((left, foot), (right, foot))], AXIS)


def _x_title(sheet: Sheet, layout: Layout) -> None:
    _start(sheet, Slots(2), layout.direction, EDGE, layout.axis_y + 34, FINE)


def _x_scale(
    sheet: Sheet, slots: Slots, direction: Direction, foot: float, ticks: Sequence[float], ends: tuple[float, float]
) -> None:
    sheet.lines([((ends[0], foot), (ends[1], foot))], AXIS)
    sheet.lines([((x, foot), (x, foot + TICK_LENGTH)) for x in ticks], AXIS)
    first, last = min(ticks), max(ticks)
    for x in ticks:
        side: Side = "left" if x == first else "right" if x == last else "middle"
        nudge = {"left": -4.0, "middle": 0.0, "right": 4.0}[side]
        sheet.text(slots.take(), x + nudge, foot + 18, side_anchor(side, direction), FINE)


def _named(sheet: Sheet, slots: Slots, direction: Direction, line: float) -> None:
    _start(sheet, slots, direction, EDGE, line, 13)
    sheet.text(slots.take(), mirrored(WIDTH - EDGE, direction), line, "end", 13)


def _start(sheet: Sheet, slots: Slots, direction: Direction, x: float, line: float, size: float) -> None:
    sheet.text(slots.take(), mirrored(x, direction), line, "start", size)


def _listed(sheet: Sheet, slots: Slots, layout: PanelsLayout, row: int) -> None:
    line = layout.list_top + row * LIST_PITCH + 13
    _start(sheet, slots, layout.direction, EDGE, line, SMALL)
    name_at = 28.0
    if layout.kind == "CurvesChart":
        a, b = (mirrored(x, layout.direction) for x in (LIST_SAMPLE, LIST_SAMPLE + 30))
        sheet.lines([((min(a, b), line - 4), (max(a, b), line - 4))], curve_pen(row % len(CURVES)))
        name_at = LIST_NAME
    _start(sheet, slots, layout.direction, name_at, line, SMALL)
    sheet.text(slots.take(), mirrored(WIDTH - EDGE, layout.direction), line, "end", SMALL)


def _key(sheet: Sheet, slots: Slots, layout: Layout) -> None:
    for row, name in enumerate(layout.key):
        line = layout.key_top + row * LIST_PITCH + 13
        draw_sample(sheet, name, mirrored(EDGE + 15, layout.direction), line - 4.5)
        sheet.text(slots.take(), mirrored(KEY_NAME, layout.direction), line, "start", FINE)
