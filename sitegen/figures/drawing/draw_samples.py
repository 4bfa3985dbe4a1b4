"""The pens and shapes of each thing that a chart shows, and a sample of each for its explanation.

Nothing is told by colour alone (WCAG 2.2, success criterion 1.4.1): stages differ in shape, curves in dashes
and number, ranks in lightness, pattern and order, what is flagged has a ring and a number.
"""

from sitegen.figures.drawing.draw_pens import Pen, Sheet

INTERVAL = Pen("ink", width=1.6)
CENTRE = Pen("accent", "accent", width=0.8)
MEDIAN = Pen("accent", "paper", width=2.0)
READING = Pen("ink", "paper", width=0.9)
REFERENCE = Pen("second", "paper", width=1.1)
BAND = Pen("", "second", opacity=0.16)
BAND_EDGE = Pen("second", width=0.9, dash=(3, 2))
JOIN = Pen("ink", width=0.8)
FLAG_RING = Pen("accent", width=1.6)
STEP = Pen("accent", width=1.3, dash=(6, 3))
CROSS = Pen("ink", width=1.0)
LEVEL = Pen("second", width=1.0, dash=(7, 3, 1.5, 3))
STATED = Pen("second", width=1.4, dash=(5, 3))

CENTRE_SHAPE, CENTRE_SIZE = "D", 7.0
READING_SHAPE, READING_SIZE = "o", 4.4
ABOVE_SHAPE, BELOW_SHAPE = ">", "<"  # they point to where the reading lies
STAGES = (  # shape, size: sizes differ so that the areas look alike; the last stage is drawn solid
    ("o", 8.6),
    ("s", 7.8),
    ("^", 9.2),
    ("D", 7.2),
)
CURVES = (  # colour, dashes, width
    ("ink", (), 1.7),
    ("accent", (7, 3), 1.8),
    ("second", (2, 2.4), 1.9),
    ("third", (10, 3, 2, 3), 1.7),
    ("ink", (4, 2), 1.1),
    ("accent", (1.4, 3.4), 2.1),
    ("second", (12, 4), 1.2),
    ("third", (5, 2, 1.4, 2, 1.4, 2), 1.4),
)
RANKS = (  # fill, opacity: from dark to light, each with an outline
    ("accent", 1.0),
    ("hatch", 1.0),
    ("accent", 0.38),
    ("dots", 1.0),
    ("accent", 0.2),
    ("rules", 1.0),
    ("accent", 0.08),
    ("paper", 1.0),
)
BAR = 8.5  # half the height of a bar of shares


def curve_pen(index: int) -> Pen:
    """The pen of the curve at this place in the order."""
    colour, dash, width = CURVES[index]
    return Pen(colour, width=width, dash=dash)


def stage_mark(index: int, count: int) -> tuple[str, float, Pen]:
    """Shape, size and pen of a stage."""
    shape, size = STAGES[index]
    last = index == count - 1
    return shape, size, Pen("accent" if last else "ink", "accent" if last else "paper", width=1.3)


def rank_pen(index: int) -> Pen:
    """Filling and outline of a segment for rank index + 1."""
    fill, opacity = RANKS[index]
    return Pen("accent", fill, width=0.9, opacity=opacity)


def capped(low: float, high: float, y: float, cap: float = 3.2) -> list[list[tuple[float, float]]]:
    """The strokes of a lying interval with its end caps."""
    return [[(low, y), (high, y)], [(low, y - cap), (low, y + cap)], [(high, y - cap), (high, y + cap)]]


def claim_box(x: float, y: float, half: float = 9.0) -> tuple[float, float, float, float]:
    """The open tick of a claim or another reference."""
    return (round(x - 1.6, 2), y - half, round(x + 1.6, 2), y + half)


def draw_sample(sheet: Sheet, name: str, x: float, y: float) -> None:
    """Draw the mark that `name` explains, around (x, y)."""
    if name.startswith("stage_"):
        _, index, _, count = name.split("_")
        shape, size, pen = stage_mark(int(index), int(count))
        sheet.marks([(x, y)], shape, size, pen)
    elif name.startswith("rank_"):
        box = (x - 14, y - 6, x + 14, y + 6)
        sheet.boxes([box], rank_pen(int(name.removeprefix("rank_")) - 1))
    else:
        SAMPLES[name](sheet, x, y)


def _interval(sheet: Sheet, x: float, y: float) -> None:
    sheet.lines(capped(x - 14, x + 14, y), INTERVAL)


def _mean(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], CENTRE_SHAPE, CENTRE_SIZE, CENTRE)


def _median(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], CENTRE_SHAPE, CENTRE_SIZE, MEDIAN)


def _reading(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], READING_SHAPE, READING_SIZE, READING)


def _above(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], ABOVE_SHAPE, READING_SIZE, READING)


def _below(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], BELOW_SHAPE, READING_SIZE, READING)


def _reference(sheet: Sheet, x: float, y: float) -> None:
    sheet.boxes([claim_box(x, y, 7)], REFERENCE)


def _tolerance(sheet: Sheet, x: float, y: float) -> None:
    sheet.boxes([(x - 14, y - 6, x + 14, y + 6)], BAND)
    sheet.lines([[(x - 14, y - 6), (x - 14, y + 6)], [(x + 14, y - 6), (x + 14, y + 6)]], BAND_EDGE)


def _measured(sheet: Sheet, x: float, y: float) -> None:
    _interval(sheet, x, y)
    _mean(sheet, x, y)


def _unbeaten(sheet: Sheet, x: float, y: float) -> None:
    sheet.lines([[(x - 14, y), (x + 14, y)]], STEP)
    sheet.marks([(x, y)], *UNBEATEN_MARK)


def _beaten(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], *BEATEN_MARK)


def _flagged(sheet: Sheet, x: float, y: float) -> None:
    sheet.marks([(x, y)], *RUN_MARK)
    sheet.marks([(x, y)], "o", FLAG_SIZE, FLAG_RING)


def _grade(sheet: Sheet, x: float, y: float) -> None:
    sheet.lines([[(x - 14, y), (x + 14, y)]], JOIN)
    sheet.marks([(x, y)], *GRADE_MARK)


def _stated(sheet: Sheet, x: float, y: float) -> None:
    sheet.lines([[(x - 14, y), (x + 14, y)]], STATED)


UNBEATEN_MARK = ("s", 7.5, Pen("accent", "accent", width=1.2))
BEATEN_MARK = ("o", 7.5, Pen("ink", "paper", width=1.3))
RUN_MARK = ("o", 3.6, Pen("ink", "ink", width=0.6))
GRADE_MARK = ("s", 7.0, Pen("accent", "paper", width=1.6))
FLAG_SIZE = 11.0
SAMPLES = {
    "mean": _mean,
    "median": _median,
    "uncertainty": _interval,
    "range": _interval,
    "reading": _reading,
    "above": _above,
    "below": _below,
    "reference": _reference,
    "specimen": _reading,
    "claim": _reference,
    "tolerance": _tolerance,
    "measured": _measured,
    "unbeaten": _unbeaten,
    "beaten": _beaten,
    "flagged": _flagged,
    "grade": _grade,
    "stated": _stated,
}
