"""The drawing instruments: matplotlib artists drawing straight into its SVG renderer, without figure or axes.

Axes and their layout take most of the time of a chart and have nothing to do with its marks. Artists are
made once for each pen and given new coordinates for each chart; marks are drawn once and then only placed.
Text is written as <text> with a slot for the words, so no font is ever looked for.
"""

import io
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sitegen.datatypes import dataclass
from sitegen.figures.drawing.svg_tidy import PAINTS, Outline, tidy_mark, tidy_paths

if TYPE_CHECKING:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

CANVAS = 8192.0  # the renderer counts y from below; one height for all charts keeps one transform for all artists
WIDTH = 400.0
MANY_POINTS = 128

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Pen:
    """How something is drawn: colour of its line and its fill (roles), width, dashes in units, opacity."""

    stroke: str = ""
    fill: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()
    opacity: float = 1.0


class Sheet:
    """Collects the marks of one layer of one chart, then its texts above them."""

    def __init__(self) -> None:
        self._renderer, self._buffer, self._head = _paper()
        self._texts: dict[float, list[str]] = {}

    def lines(self, strokes: Iterable[Sequence[Point]], pen: Pen) -> None:
        """Draw open lines as one path; those of less than two points are left out."""
        corners: list[Point] = []
        codes: list[int] = []
        longest = 0
        for stroke in strokes:
            longest = max(longest, len(stroke))
            if len(stroke) > 1:
                corners.extend(stroke)
                codes.extend((MOVE, *(LINE,) * (len(stroke) - 1)))
        self._path(corners, codes, pen, simplify=longest >= MANY_POINTS)

    def boxes(self, boxes: Iterable[Box], pen: Pen) -> None:
        """Draw upright rectangles as one path."""
        corners: list[Point] = []
        codes: list[int] = []
        for left, top, right, bottom in boxes:
            corners.extend(((left, top), (right, top), (right, bottom), (left, bottom), (left, top)))
            codes.extend((MOVE, LINE, LINE, LINE, CLOSE))
        self._path(corners, codes, pen)

    def marks(self, points: Sequence[Point], shape: str, size: float, pen: Pen) -> None:
        """Draw the same mark at each point as one path; shapes are named as in matplotlib (o s D ^ v X P).

        One path and not a reference for each mark: a browser makes a tree of its own for each reference, and a
        page of many charts then takes a quarter longer to appear.
        """
        if not points:
            return
        outline, attributes = _mark(shape, size, pen)
        around = "".join([f"M{x + outline.x:.6g} {y + outline.y:.6g}{outline.onward}" for x, y in points])
        self._buffer.write(f'<g{attributes}><path d="{around}"/></g>')

    def text(self, slot: int, x: float, y: float, anchor: str = "start", size: float = 13) -> None:
        """Leave a place for a text: its anchor at (x, y), the baseline."""
        side = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._texts.setdefault(size, []).append(f'<text x="{x:.6g}" y="{y:.6g}"{side}>@t{slot}@</text>')

    def shapes_svg(self) -> str:
        """What was drawn, without the texts."""
        return tidy_paths(self._buffer.getvalue()[self._head :])

    def texts_svg(self) -> str:
        """The texts, on a rim of paper that keeps them clear of lines."""
        return "".join(
            f'<g class="c-text c-halo" font-size="{size:g}" stroke-width="3" stroke-linejoin="round" '
            f'paint-order="stroke">{"".join(texts)}</g>'
            for size, texts in self._texts.items()
        )

    def _path(self, corners: list[Point], codes: list[int], pen: Pen, simplify: bool = False) -> None:
        if corners:
            artist, path_type = _patch(pen)
            path = path_type(corners, codes)
            # Only the points of a long curve may be merged (within 1/9 unit); strokes keep their ends.
            path.should_simplify = simplify
            artist.set_path(path)
            artist.draw(self._renderer)


def _nothing(*_args: object, **_named: object) -> None:
    """Stand in for a group."""


MOVE, LINE, CLOSE = 1, 2, 79  # path codes of matplotlib.path.Path
NO_METADATA = dict.fromkeys(("Creator", "Date", "Format", "Type"))


def _paper() -> tuple[Any, io.StringIO, int]:
    """A renderer, what it writes to, and how much of that is its opening."""
    from matplotlib.backends import backend_svg

    _settle()
    backend: Any = backend_svg  # it says nothing of its types
    buffer = io.StringIO()
    renderer = backend.RendererSVG(WIDTH, CANVAS, buffer, image_dpi=72, metadata=NO_METADATA)
    renderer.open_group = renderer.close_group = _nothing  # a group around each artist would only add bytes and ids
    renderer.writer.flush()
    return renderer, buffer, buffer.tell()


@lru_cache(maxsize=1)
def _settle() -> None:
    import matplotlib

    settings = matplotlib.rcParams
    # What a user's own settings file could change about the bytes is set here, once for the process.
    settings.update({"svg.hashsalt": "chart", "svg.fonttype": "none", "svg.id": None})
    settings.update({"path.simplify": True, "path.simplify_threshold": 1 / 9, "path.snap": True})
    settings.update({"path.sketch": None, "path.effects": [], "lines.scale_dashes": True})
    settings.update({"lines.antialiased": True, "patch.antialiased": True, "markers.fillstyle": "full"})
    settings.update({"lines.solid_capstyle": "projecting", "lines.dash_capstyle": "butt"})


@lru_cache(maxsize=1)
def _upside_down() -> Any:
    from matplotlib.transforms import Affine2D

    return Affine2D().scale(1, -1).translate(0, CANVAS)


@lru_cache(maxsize=256)
def _patch(pen: Pen) -> "tuple[PathPatch, type[Path]]":
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    artist = PathPatch(
        Path([(0, 0)]),
        facecolor=(PAINTS[pen.fill], pen.opacity) if pen.fill else "none",
        edgecolor=PAINTS[pen.stroke] if pen.stroke else "none",
        linewidth=pen.width if pen.stroke else 0,
        linestyle=(0, tuple(part / pen.width for part in pen.dash)) if pen.dash else "-",
        alpha=None if pen.fill or pen.opacity == 1 else pen.opacity,
        capstyle="butt",
        joinstyle="round",
    )
    artist.set_transform(_upside_down())
    return artist, Path


@lru_cache(maxsize=256)
def _mark(shape: str, size: float, pen: Pen) -> tuple[Outline, str]:
    """Outline and attributes of a mark: drawn once, then only put in its places."""
    from matplotlib.lines import Line2D

    renderer, buffer, head = _paper()
    Line2D(
        [WIDTH / 2],
        [CANVAS / 2],
        linestyle="none",
        marker=shape,
        markersize=size,
        markeredgewidth=pen.width if pen.stroke else 0,
        markeredgecolor=PAINTS[pen.stroke] if pen.stroke else "none",
        markerfacecolor=PAINTS[pen.fill] if pen.fill else "none",
        transform=_upside_down(),
    ).draw(renderer)
    return tidy_mark(buffer.getvalue()[head:])
