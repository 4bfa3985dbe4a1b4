"""The drawing: always the same bytes, safe in a page, readable without colour, mirrored when asked."""

import os
import pickle
import re
import subprocess
import sys
from pathlib import Path
from xml.sax.saxutils import unescape

import pytest
from chart_samples import (
    NAMES,
    SAMPLES,
    SVG,
    corners,
    curves_chart,
    drawn,
    mark_groups,
    placed,
    shares_chart,
    stages_chart,
    tradeoff_chart,
    values_chart,
    worded,
)
from lxml import etree

from sitegen.figures.charts.chart_layout import Layout, PanelsLayout, lay_out, spread
from sitegen.figures.charts.chart_spec import ChartSpec, ValuesChart, ValuesRow
from sitegen.figures.drawing.draw import draw
from sitegen.figures.drawing.draw_frame import Frame
from sitegen.figures.drawing.draw_samples import CURVES, STAGES
from sitegen.figures.drawing.svg_fill import DARK, LIGHT, Palette, fill, standalone

HERE = Path(__file__).parent
EVERY = pytest.mark.parametrize("spec", SAMPLES.values(), ids=SAMPLES)
CLASSES = {"chart", "c-ink", "c-quiet", "c-accent", "c-second", "c-third", "c-paper", "c-text", "c-halo"}
ALLOWED = {  # element: attributes (SVG 2 presentation attributes, SVG 2 and WAI-ARIA 1.2 names)
    "svg": {"class", "viewBox", "role", "aria-labelledby", "direction", "stroke-linejoin"},
    "title": {"id"},
    "desc": {"id"},
    "defs": set(),
    "pattern": {"id", "width", "height", "patternUnits", "patternTransform"},
    "g": {
        "class",
        "fill",
        "fill-opacity",
        "stroke",
        "stroke-width",
        "font-size",
        "stroke-linejoin",
        "paint-order",
    },
    "path": {
        "id",
        "d",
        "class",
        "fill",
        "stroke",
        "stroke-width",
        "stroke-dasharray",
        "opacity",
        "fill-opacity",
    },
    "text": {"x", "y", "text-anchor"},
}


@EVERY
def test_same_bytes_twice(spec: ChartSpec) -> None:
    """Drawing again, with a fresh frame or a kept one, gives the same bytes."""
    frames: dict[Layout, Frame] = {}
    first = draw(spec, frames=frames)
    assert draw(spec, frames=frames) == first == draw(spec, frames={}) == draw(spec)
    kept = pickle.loads(pickle.dumps(frames))
    assert draw(spec, frames=kept) == first and len(kept) == 1


SCRIPT = """
import sys; sys.path[:0] = {paths!r}
from chart_samples import SAMPLES
from sitegen.figures.drawing.draw import draw
order = sorted(SAMPLES, reverse={reverse})
drawn = {{name: draw(SAMPLES[name]) for name in order}}
assert "matplotlib.pyplot" not in sys.modules
sys.stdout.write("".join(drawn[name] for name in sorted(drawn)))
"""


def test_same_bytes_in_another_process(tmp_path: Path) -> None:
    """Neither the hash seed, nor the order of drawing, nor a user's own matplotlib settings change a byte."""
    (tmp_path / "matplotlibrc").write_text("svg.hashsalt: other\npath.simplify: False\nlines.antialiased: False\n")
    outputs = []
    for seed, reverse, settings in (("1", False, None), ("77", True, str(tmp_path))):
        script = SCRIPT.format(paths=[str(HERE), str(HERE.parents[1])], reverse=reverse)
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            **({"MATPLOTLIBRC": settings} if settings else {}),
        }
        run = subprocess.run([sys.executable, "-c", script], capture_output=True, env=environment, check=True)
        outputs.append(run.stdout.decode())
    here = "".join(draw(SAMPLES[name]) for name in sorted(SAMPLES))
    assert outputs == [here, here]


def test_filling_needs_no_matplotlib() -> None:
    """A kept drawing is filled, and its module imported, without loading matplotlib or numpy."""
    code = (
        "import sys; from sitegen.figures.drawing.svg_fill import fill; "
        "assert fill('<svg id=\"@id@a\">@t0@</svg>', ('b',), 'c') == '<svg id=\"c-a\">b</svg>'; "
        "assert not {'matplotlib', 'numpy'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=HERE.parents[1])


@EVERY
@pytest.mark.parametrize("direction", ["ltr", "rtl"])
def test_only_what_a_strict_page_allows(spec: ChartSpec, direction: str) -> None:
    """Well-formed, with nothing that Content Security Policy Level 3 drops without 'unsafe-inline'."""
    for element in drawn(spec, direction).iter():
        name = str(element.tag).removeprefix(SVG)
        assert name in ALLOWED, name
        assert set(element.attrib) - {"data-frame"} <= ALLOWED[name], (name, dict(element.attrib))
        assert set((element.get("class") or "chart").split()) <= CLASSES
        assert {element.get("fill"), element.get("stroke")} <= {
            *(None, "none", "currentColor"),
            *("url(#c-hatch)", "url(#c-dots)", "url(#c-rules)"),
        }
        assert (element.get("href") or "#").startswith("#")


@EVERY
def test_every_colour_comes_from_a_class(spec: ChartSpec) -> None:
    """What is painted in currentColor has a class that sets the colour, or stands in a group that has."""
    for element in drawn(spec).iter():
        if "currentColor" in (element.get("fill"), element.get("stroke")):
            assert (element.get("class") or "").startswith("c-")


@EVERY
def test_references_lead_somewhere_and_ids_are_unique(spec: ChartSpec) -> None:
    """Each id stands once and each reference has its target, so that charts can share a page."""
    svg = fill(draw(spec), worded(spec), "c")
    ids = re.findall(r' id="([^"]*)"', svg)
    used = re.findall(r'href="#([^"]*)"|url\(#([^)]*)\)', svg)
    assert len(ids) == len(set(ids)) and all(name.startswith("c-") for name in ids)
    assert {a or b for a, b in used} | set((re.search(r'labelledby="([^"]*)"', svg) or [""] * 2)[1].split()) <= set(ids)


@EVERY
def test_texts_are_texts(spec: ChartSpec) -> None:
    """Every word is in title, desc or text (none is drawn as outlines), in the order of the places."""
    root = drawn(spec)
    found = sorted(element.text or "" for name in ("title", "desc", "text") for element in root.iter(SVG + name))
    assert found == sorted(worded(spec))
    assert root.get("role") == "img"
    title, description = (root.get("aria-labelledby") or "").split()
    assert [root[0].get("id"), root[1].get("id")] == [title, description]


@EVERY
def test_a_chart_is_small(spec: ChartSpec) -> None:
    """A chart of eight entrants (six panels for a decline) takes at most 9 kB."""
    assert len(draw(spec).encode()) <= 9000


@EVERY
@pytest.mark.parametrize("direction", ["ltr", "rtl"])
def test_everything_drawn_is_inside_the_picture(spec: ChartSpec, direction: str) -> None:
    """No corner of a line or box and no mark with its size stands outside the viewBox."""
    root = drawn(spec, direction)
    height = float((root.get("viewBox") or "").split()[3])
    places = [place for layer in "df" for group in placed(root, layer) for place in group]
    for x, y in places:
        assert 6 <= x <= 394 and 6 <= y <= height - 6
    for path in root.findall(SVG + "path"):
        for stroke in corners(path.get("d") or ""):
            assert all(0 <= x <= 400 and 0 <= y <= height for x, y in stroke)


def shapes(root: etree._Element, layer: str) -> list[str]:
    """The outlines of the marks without their places, in the order of their first use."""
    outlines = [outline for path in mark_groups(root, layer) for outline in re.findall(r"[la][^M]+", path)]
    return list(dict.fromkeys(outlines))


@pytest.mark.parametrize("stages", [2, 3, 4])
def test_stages_differ_in_shape(stages: int) -> None:
    """WCAG 2.2, 1.4.1 Use of Color: each stage has a shape of its own, the same in the chart and its key."""
    root = drawn(stages_chart(stages=stages))
    assert len(shapes(root, "f")) == stages + 1  # and that of the specimens
    assert set(shapes(root, "f")[:stages]) < set(shapes(root, "d"))
    assert len({shape for shape, _ in STAGES}) == len(STAGES)


def test_curves_differ_in_dashes_and_number() -> None:
    """WCAG 2.2, 1.4.1: no two curves have the same dashes; each has its number at its end and in the list."""
    root = drawn(curves_chart())
    lines = [p for p in root.findall(SVG + "path") if len(corners(p.get("d") or "")[0]) > 10]
    assert len({line.get("stroke-dasharray") for line in lines}) == len(lines) == 8
    assert len({dash for _, dash, _ in CURVES}) == len(CURVES)
    for number in range(1, 9):
        assert sum(text.text == str(number) for text in root.iter(SVG + "text")) == 2


def test_ranks_differ_in_filling_and_order() -> None:
    """WCAG 2.2, 1.4.1: each rank has a pattern or lightness of its own, the same in the chart and its key."""
    root = drawn(shares_chart())
    filled = [(p.get("fill"), p.get("fill-opacity"), p.get("class")) for p in root.findall(SVG + "path")]
    ranks = [look for look in filled if look[2] != "c-paper" and look[0] != "none"]
    assert len(ranks) == 16 and ranks[:8] == ranks[8:]
    assert len(set(ranks)) == 8


def luminance(colour: str) -> float:
    """Relative luminance by the formula of WCAG 2.2."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio by the formula of WCAG 2.2."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_palettes_have_contrast(palette: Palette) -> None:
    """WCAG 2.2: text 4.5 to 1 (1.4.3), marks 3 to 1 (1.4.11); the paper's lines are decoration."""
    assert contrast(palette.ink, palette.paper) >= 7
    for colour in (palette.accent, palette.second, palette.third):
        assert contrast(colour, palette.paper) >= 4.5


def test_contrast_formula() -> None:
    """Black on white is 21 to 1, the largest ratio that WCAG 2.2 names."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("name", ["values", "stages", "claims", "shares"])
def test_a_mirrored_chart_is_the_mirror(name: str) -> None:
    """Right-to-left: names and values change sides, the key too; scale and data stay as they are."""
    left, right = drawn(SAMPLES[name], "ltr"), drawn(SAMPLES[name], "rtl")
    assert placed(left) == placed(right)
    assert [p.get("d") for p in left.findall(SVG + "path")][:4] == [p.get("d") for p in right.findall(SVG + "path")][:4]
    there = {t.text: t for t in right.iter(SVG + "text")}
    for text in left.iter(SVG + "text"):
        if text.text in NAMES:
            twin = there[text.text]
            assert float(text.get("x") or 0) + float(twin.get("x") or 0) == 400
            assert text.get("text-anchor") == twin.get("text-anchor")  # the start is the right side there
            assert text.get("y") == twin.get("y")
    assert right.get("direction") == "rtl"
    for here, mirror in zip(placed(left, "f"), placed(right, "f")):
        assert [400 - x for x, _ in here] == pytest.approx([x for x, _ in mirror])


@pytest.mark.parametrize("name", ["curves", "tradeoff", "control"])
def test_mirrored_panels_keep_their_scale(name: str) -> None:
    """Right-to-left: the labels of y change sides, so the data move over, but each as far as the others."""
    left, right = drawn(SAMPLES[name], "ltr"), drawn(SAMPLES[name], "rtl")
    moved = {round(a[0] - b[0], 2) for g, h in zip(placed(left), placed(right)) for a, b in zip(g, h)}
    assert moved <= {38.0}
    assert [[y for _, y in group] for group in placed(left)] == [[y for _, y in group] for group in placed(right)]


def test_mirrored_columns_change_places() -> None:
    """Right-to-left: the first panel of a line stands on the right; in each, the washes still run from left to right."""
    layout = lay_out(SAMPLES["decline"], "ltr")
    assert isinstance(layout, PanelsLayout)
    assert layout.columns == 2
    left, right = drawn(SAMPLES["decline"], "ltr"), drawn(SAMPLES["decline"], "rtl")
    moved = {round(a[0] - b[0], 2) for g, h in zip(placed(left), placed(right)) for a, b in zip(g, h)}
    assert moved == {round(sum(layout.sides(panel)) - 400, 2) for panel in (0, 1)}
    assert [[y for _, y in group] for group in placed(left)] == [[y for _, y in group] for group in placed(right)]


def test_texts_are_escaped_and_never_taken_for_slots() -> None:
    """A name with markup, a slot's look or characters that XML forbids comes out whole, less the latter."""
    spec = values_chart(2)
    nasty = "<b>\"&amp;'</b> @t5@ @id@\x00\x0b\ud800]]>"
    svg = fill(draw(spec), (nasty,) * len(worded(spec)), "c")
    texts = {element.text for element in etree.fromstring(svg.encode()).iter(SVG + "text")}
    assert texts == {"<b>\"&amp;'</b> @t5@ @id@]]>"}
    assert unescape("&lt;") == "<"


@pytest.mark.parametrize("prefix", ["", "1a", "a b", 'a"', "a\n"])
def test_prefixes_that_make_no_id_are_refused(prefix: str) -> None:
    """The prefix of ids must be a name, or it could break out of its attribute."""
    with pytest.raises(ValueError, match="ids can't begin"):
        fill(draw(values_chart(1)), worded(values_chart(1)), prefix)


def test_the_number_of_texts_must_fit() -> None:
    """Too few or too many texts are a mistake of the caller and not silently dropped."""
    with pytest.raises(ValueError, match="places for texts, not 1"):
        fill(draw(values_chart(1)), ("one",), "c")


@EVERY
@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_standalone_charts_have_their_colours(spec: ChartSpec, palette: Palette) -> None:
    """Outside a page each class has its literal colour beside it, on a ground of paper, with a text face."""
    root = etree.fromstring(standalone(fill(draw(spec), worded(spec), "c"), palette, 'Noto "Sans"').encode())
    for element in root.iter():
        for name in (element.get("class") or "").split():
            wanted = {"c-paper": "fill", "c-text": "fill", "c-halo": "stroke", "chart": ""}.get(name, "color")
            role = {"c-text": "ink", "c-halo": "paper", "chart": "ink"}.get(name, name.removeprefix("c-"))
            assert not wanted or element.get(wanted) == getattr(palette, role)
    ground = root.find(SVG + "rect")
    assert ground is not None and ground.get("fill") == palette.paper
    assert root.get("font-family") == 'Noto "Sans"'


def test_frames_are_shared_by_charts_of_one_shape() -> None:
    """Charts with as many rows and ticks and the same kinds of marks have one frame for all values."""
    frames: dict[Layout, Frame] = {}
    light = values_chart(4)
    heavy = ValuesChart(
        rows=tuple(
            ValuesRow(entrant=f"e{n}", centre=1900, low=1850, high=2350, readings=(1900,), reference=1950)
            for n in range(4)
        )
    )
    assert len(light.x_axis.ticks) == len(heavy.x_axis.ticks)
    draw(light, frames=frames)
    draw(heavy, frames=frames)
    assert list(frames) == [lay_out(heavy, "ltr")]
    draw(tradeoff_chart(), frames=frames)
    assert len(frames) == 2


def test_labels_are_spread_in_their_order() -> None:
    """Labels keep their order, stand the gap apart and stay between the ends where these leave room."""
    placed_at = spread([50, 50, 12, 49], 13, 0, 60)
    assert placed_at[2] < placed_at[3] < placed_at[0] < placed_at[1] <= 60
    ordered = sorted(placed_at)
    assert all(b - a >= 13 - 1e-9 for a, b in zip(ordered, ordered[1:]))
    assert spread([], 13, 0, 60) == [] and spread([30], 13, 0, 60) == [30]
