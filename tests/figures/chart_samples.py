"""One chart of each kind with made-up numbers, words for its places, and ways to read its SVG."""

import math
import re
from decimal import Decimal
from itertools import accumulate

from lxml import etree

from sitegen.figures.charts.chart_axis import Axis
from sitegen.figures.charts.chart_layout import lay_out
from sitegen.figures.charts.chart_spec import (
    ChartSpec,
    ClaimsChart,
    ClaimsRow,
    ControlChart,
    Curve,
    CurvesChart,
    DeclineChart,
    DeclineRow,
    Run,
    SharesChart,
    SharesRow,
    StagesChart,
    StagesRow,
    TradeoffChart,
    TradePoint,
    ValuesChart,
    ValuesRow,
)
from sitegen.figures.charts.chart_text import Role, TextSlot, fitted, slots
from sitegen.figures.drawing.draw import Style, draw
from sitegen.figures.drawing.draw_frame import draw_frame
from sitegen.figures.drawing.svg_fill import fill

SVG = "{http://www.w3.org/2000/svg}"
NAMES = (
    "Fjellrinn 2",
    "Grashut Overtrousers Long Womens 2",
    "Ostrava Light",
    "Hochmoor Wanderhose Damen lang XL8",
    "Kvist",
    "Bruddal MMMM WWWW",
    "Siebenquell",
    "Ravnsund Shell",
)
GRADES = Axis(ticks=tuple(Decimal(grade) for grade in range(1, 6)))


def values_chart(count: int = 8) -> ValuesChart:
    """Masses of `count` entrants, five readings each, every second with a claim."""
    centres = [388.0 + 14.25 * k for k in range(count)]
    rows = (
        ValuesRow(
            entrant=NAMES[k],
            centre=centre,
            low=centre - 6,
            high=centre + 6,
            readings=(centre - 3, centre, centre, centre + 1.5, centre + 1.5),
            reference=centre - 9 if k % 2 else None,
        )
        for k, centre in enumerate(centres)
    )
    return ValuesChart(rows=tuple(rows))


def stages_chart(count: int = 8, stages: int = 3) -> StagesChart:
    """Grades of `count` entrants that fall from stage to stage; one entrant lacks a stage."""
    rows = []
    for k in range(count):
        centres = [max(1, 5 - k % 3 - stage) for stage in range(stages)]
        specimens = tuple((grade, grade, max(1, grade - 1)) for grade in centres)
        if k == 1:
            rows.append(StagesRow(entrant=NAMES[k], centres=(None, *centres[1:]), specimens=((), *specimens[1:])))
        else:
            rows.append(StagesRow(entrant=NAMES[k], centres=tuple(centres), specimens=specimens))
    names = ("new", "after 3 washes", "after 6 washes", "re-proofed")
    return StagesChart(stages=names[:stages], rows=tuple(rows), axis=GRADES)


def curves_chart(count: int = 8) -> CurvesChart:
    """Drying curves of `count` entrants with levels at half and a tenth of the start."""
    curves = (
        Curve(
            entrant=NAMES[k],
            points=tuple((t, round(100 * math.exp(-t / (60 + 22 * k)), 1)) for t in range(0, 181, 6)),
        )
        for k in range(count)
    )
    return CurvesChart(curves=tuple(curves), references=(50, 10))


def claims_chart(count: int = 8) -> ClaimsChart:
    """Measurements around the claims of `count` entrants; the third claims a minimum only."""
    rows = (
        ClaimsRow(
            entrant=NAMES[k],
            measured=97 + 1.7 * k,
            low=95 + 1.7 * k,
            high=99 + 1.7 * k,
            tolerance_low=97,
            tolerance_high=None if k == 2 else 103,
        )
        for k in range(count)
    )
    return ClaimsChart(rows=tuple(rows))


def shares_chart(count: int = 8) -> SharesChart:
    """How often each of `count` entrants took each rank."""
    rows = []
    for k in range(count):
        weights = [math.exp(-0.9 * abs(k - rank)) for rank in range(count)]
        rows.append(SharesRow(entrant=NAMES[k], shares=tuple(w / sum(weights) for w in weights)))
    return SharesChart(rows=tuple(rows))


def tradeoff_chart(count: int = 8) -> TradeoffChart:
    """Mass against grade; the lightest and the two that repel better at more mass are unbeaten."""
    places = [(388, 4.2), (401, 3.1), (412, 4.6), (440, 5), (421, 2.2), (466, 3.9), (489, 4.7), (415, 2.4)]
    points = (
        TradePoint(
            entrant=NAMES[k],
            x=x,
            y=y,
            x_low=x - 6,
            x_high=x + 6,
            y_low=y - 0.25,
            y_high=y + 0.25,
            unbeaten=k in (0, 2, 3),
        )
        for k, (x, y) in enumerate(places[:count])
    )
    return TradeoffChart(points=tuple(points), x_better="lower")


def control_chart() -> ControlChart:
    """Flow times of a spray rig, two of 26 out of the limits."""
    runs = []
    for k in range(26):
        value = {17: 30.4, 22: 25.2}.get(k, round(27.5 + 0.7 * math.sin(2.1 * k), 2))
        runs.append(Run(label=f"2026-03-{k + 1:02}", value=value, flagged=k in (17, 22)))
    return ControlChart(runs=tuple(runs), centre=27.5, lower=25.7, upper=29.3, range_upper=2.21)


def decline_chart(count: int = 8) -> DeclineChart:
    """Grades over washes, one count not graded, every entrant but one sold with a grade."""
    rows = (
        DeclineRow(
            entrant=NAMES[k],
            grades=(5, 5 - k % 2, None if k == 2 else 4, 3.5, 3 - k % 3),
            stated=None if k == 3 else 4,
        )
        for k in range(count)
    )
    return DeclineChart(washes=(0, 3, 6, 10, 20), rows=tuple(rows), axis=GRADES)


SAMPLES: dict[str, ChartSpec] = {
    "values": values_chart(),
    "stages": stages_chart(),
    "curves": curves_chart(),
    "claims": claims_chart(),
    "shares": shares_chart(),
    "tradeoff": tradeoff_chart(),
    "control": control_chart(),
    "decline": decline_chart(count=6),
}

LONGEST = {
    Role.X_TITLE: "Masse des Prüflings, konditioniert bei 20 °C, in g",
    Role.Y_TITLE: "verbliebenes Wasser, Anteil des Beginns, in %",
    Role.VALUE: "(412,5 ± 1,0) g ab",
    Role.KEY: "gemessen, mit erweiterter Messunsicherheit (k = 2)",
    Role.STAGE: "nach 3 Wäschen und Wärmebehandlung im Trockner",
    Role.REFERENCE: "50 %",
}


def wording(slot: TextSlot) -> str:
    """Words about as long as a German edition needs them."""
    if slot.role in LONGEST:
        return LONGEST[slot.role]
    if slot.role in (Role.ENTRANT, Role.RUN):
        return slot.name
    if slot.value is not None:
        return f"{slot.value:.{slot.decimals or 0}f}"
    return slot.role.value


def worded(spec: ChartSpec) -> tuple[str, ...]:
    """Texts for all places of a chart."""
    return fitted(spec, tuple(wording(slot) for slot in slots(spec)))


def drawn(spec: ChartSpec, direction: str = "ltr") -> etree._Element:
    """A filled chart, parsed; `data-frame` counts the groups of marks that its frame drew (those of the key)."""
    style = Style(direction="rtl" if direction == "rtl" else "ltr")
    root = etree.fromstring(fill(draw(spec, style), worded(spec), "c").encode())
    root.set("data-frame", str(draw_frame(lay_out(spec, style.direction)).before.count("<g ")))
    return root


def mark_groups(root: etree._Element, layer: str) -> list[str]:
    """The path of each group of marks in the order drawn; layer d is the data, f the frame."""
    paths = [group.find(SVG + "path") for group in root.iter(SVG + "g")]
    found = [path.get("d") or "" for path in paths if path is not None]
    first = int(root.get("data-frame") or 0)
    return found[:first] if layer == "f" else found[first:]


def placed(root: etree._Element, layer: str = "d") -> list[list[tuple[float, float]]]:
    """The places of the marks, group by group in the order drawn: the middle of each outline."""
    return [[middle(outline) for outline in re.findall(r"M[^M]+", path)] for path in mark_groups(root, layer)]


def middle(outline: str) -> tuple[float, float]:
    """The middle of the box around a mark's outline: a circle of two arcs, or a polygon written in steps."""
    start, letter, steps = re.fullmatch(r"M([-\d. ]+)([la])([^z]*)z", outline).groups()  # type: ignore[union-attr]
    x, y = map(float, start.split())
    numbers = [float(number) for number in re.findall(r"-?[\d.]+", steps)]
    if letter == "a":
        return x + numbers[5] / 2, y
    xs, ys = list(accumulate(numbers[::2], initial=x)), list(accumulate(numbers[1::2], initial=y))
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def corners(path: str) -> list[list[tuple[float, float]]]:
    """The corner points of a path of straight lines, stroke by stroke."""
    strokes: list[list[tuple[float, float]]] = []
    x = y = 0.0
    for letter, numbers in re.findall(r"([MLHVz])([-\d. ]*)", path):
        values = [float(number) for number in numbers.split()]
        if letter == "z":
            continue
        if letter in "HV":
            x, y = (values[0], y) if letter == "H" else (x, values[0])
        else:
            x, y = values
        if letter == "M":
            strokes.append([])
        strokes[-1].append((x, y))
    return strokes
