"""Draw a chart as an SVG template that any language can fill, cheaply and always with the same bytes.

    template = draw(spec)                        # once for all languages; keep it under drawing_key(spec)
    svg = svg_fill.fill(template, fitted(spec, texts), id_prefix="c1")  # texts in the order of chart_text.slots(spec)
    file = svg_fill.standalone(svg, LIGHT)       # with literal colours, where no page gives them

The SVG has no style attribute, no style element, no script and no reference to the outside. It is as wide as
its place (viewBox only); it shows nothing by colour alone. The page gives colours by these classes:

    c-ink, c-quiet, c-accent, c-second, c-third   set `color`: lines and solid marks are painted in it
        c-ink     main lines and marks, the axis      c-quiet   paper and scale lines (faint)
        c-accent  what the chart is about             c-second, c-third   references, further curves
    c-paper   sets `fill` to the paper: the inside of open marks
    c-text    sets `fill` of texts (font family is inherited)
    c-halo    sets `stroke` to the paper: the rim that keeps texts clear of lines
    chart     the svg element itself

Matplotlib is imported by draw_pens.py alone, and only when something is drawn: filling needs none of it.
"""

import hashlib
from collections.abc import MutableMapping
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.figures.drawing.drawn_numbers import numbers_of

if TYPE_CHECKING:
    from sitegen.figures.charts.chart_layout import Direction, Layout
    from sitegen.figures.charts.chart_spec import ChartSpec
    from sitegen.figures.drawing.draw_frame import Frame

_FRAMES: "dict[Layout, Frame]" = {}  # of this process; a frame is the same whoever draws it


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """What may differ between two drawings of the same numbers: the direction of the edition's text."""

    direction: "Direction" = "ltr"


def draw(spec: "ChartSpec", style: Style = Style(), frames: "MutableMapping[Layout, Frame] | None" = None) -> str:
    """The template of a chart, its texts being `@tN@` and the prefix of its ids `@id@`.

    Frames are taken from and added to `frames` (else the process's own).
    """
    # All that draws is loaded here (3 ms): most builds find every drawing stored.
    from sitegen.figures.charts.chart_layout import lay_out
    from sitegen.figures.drawing.draw_frame import Slots, draw_frame
    from sitegen.figures.drawing.draw_marks import draw_marks
    from sitegen.figures.drawing.draw_pens import Sheet

    frames = _FRAMES if frames is None else frames
    layout = lay_out(spec, style.direction)
    frame = frames.get(layout)
    if frame is None:
        frame = frames[layout] = draw_frame(layout)
    sheet = Sheet()
    draw_marks(spec, layout, sheet, Slots(frame.texts))
    return frame.before + sheet.shapes_svg() + sheet.texts_svg() + frame.after


def drawing_key(spec: "ChartSpec", style: Style = Style()) -> str:
    """The digest under which a template can be kept: names don't count, as they are filled in later."""
    content = f"{style.direction} {numbers_of(spec)}"
    return hashlib.blake2b(content.encode(), digest_size=16).hexdigest()
