"""Charts drawn once for all languages and builds, under the digest of their numbers."""

from functools import lru_cache
from typing import TYPE_CHECKING

from sitegen.figures.charts.charts import ChartFigure
from sitegen.figures.drawing.draw import Style, drawing_key
from sitegen.figures.drawing.draw import draw as draw_chart
from sitegen.pipeline.demand import derived_bytes

if TYPE_CHECKING:
    from sitegen.figures.charts.chart_spec import ChartSpec

AT_HAND = 64  # drawings as text, some 20 kB each
_wanted: "dict[str, tuple[ChartSpec, Style]]" = {}  # what the drawing being looked up is to show
_keys: "dict[tuple[int, str], tuple[ChartSpec, str]]" = {}  # by identity: pages of a round show the very same charts


@derived_bytes
def drawing(key: str) -> bytes:
    """The template of a chart. Its key is a digest of all that it shows, so it looks nothing up."""
    return draw_chart(*_wanted[key]).encode()


def draw(figure: ChartFigure, direction: str) -> str:
    """The template of a chart for one direction of writing."""
    spec, style = figure.spec, Style(direction="rtl" if direction == "rtl" else "ltr")
    found = _keys.get((id(spec), direction))
    if found is None or found[0] is not spec:
        if len(_keys) >= AT_HAND:
            _keys.clear()
        found = _keys[id(spec), direction] = (spec, drawing_key(spec, style))
    key = found[1]
    _wanted.clear()
    _wanted[key] = spec, style
    return _text(drawing(key))


@lru_cache(maxsize=AT_HAND)
def _text(data: bytes) -> str:
    return data.decode()
