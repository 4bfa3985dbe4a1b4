"""What every chart of findings has: the words for its places, its order, its title; its data stand in a table beside it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.figures import chart_spec as spec_of
from sitegen.figures import numbers
from sitegen.figures.cells import middle_of, time_of, word_cell
from sitegen.figures.chart_axis import Axis
from sitegen.figures.chart_text import Role, TextSlot, slots
from sitegen.figures.edition import Edition
from sitegen.figures.tables import Table
from sitegen.findings.censored import CensoredSummary
from sitegen.findings.found import Cell, CurveSummary, Measured
from sitegen.findings.ordinal import GradeSummary
from sitegen.findings.ratio import RatioSummary
from sitegen.records.protocol import CURVE, ORDINAL, Protocol

MOST_NAMED = 3  # products at one end of a title
MARK = "\u2192\u00a0"  # an arrow before the entrant that the page is about; a shape, so that no colour is needed


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartFigure:
    """A chart ready to be drawn: its spec (free of language), the texts for its places, title, caption, table."""

    id: str
    spec: spec_of.ChartSpec
    texts: tuple[str, ...]
    title: str
    caption: str
    table: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """What the places of one chart say, beyond what every chart says in the same way."""

    title: str
    description: str
    x_title: str = ""
    y_title: Mapping[str, str] | str = ""
    values: Mapping[str, str]
    unit: str = ""
    keys: Mapping[str, str] | None = None
    stages: Mapping[str, str] | None = None
    references: Callable[[Decimal], str] | None = None
    runs: Mapping[str, str] | None = None
    tick: Callable[[TextSlot], str] | None = None


def chart_figure(
    edition: Edition, id: str, spec: spec_of.ChartSpec, wording: Wording, *, caption: str, table: Table
) -> ChartFigure:
    """A chart with its words put in."""
    texts = tuple(_word(edition, slot, wording) for slot in slots(spec))
    return ChartFigure(id=id, spec=spec, texts=texts, title=wording.title, caption=caption, table=table)


def _word(edition: Edition, slot: TextSlot, wording: Wording) -> str:
    if slot.role is Role.ENTRANT:
        return edition.product(slot.name)
    if slot.role is Role.VALUE:
        return wording.values.get(slot.name, "")
    if slot.role in _PLAIN:
        return _PLAIN[slot.role](wording, slot)
    if slot.role is Role.KEY:
        return (wording.keys or {}).get(slot.name) or key_text(edition, slot.name)
    if slot.role is Role.TICK and wording.tick:
        return wording.tick(slot)
    value = slot.value if slot.value is not None else Decimal(0)
    if slot.role is Role.REFERENCE:
        return wording.references(value) if wording.references else numbers.number(edition.lang, value)
    if slot.role is Role.LIMIT:
        return numbers.number(edition.lang, value, 1 if abs(value) >= 1 else 2)
    return numbers.number(edition.lang, value, slot.decimals)


def _y_title(wording: Wording, slot: TextSlot) -> str:
    return wording.y_title if isinstance(wording.y_title, str) else wording.y_title.get(slot.name, "")


_PLAIN: dict[Role, Callable[[Wording, TextSlot], str]] = {
    Role.TITLE: lambda wording, slot: wording.title,
    Role.DESCRIPTION: lambda wording, slot: wording.description,
    Role.X_TITLE: lambda wording, slot: wording.x_title,
    Role.Y_TITLE: _y_title,
    Role.STAGE: lambda wording, slot: (wording.stages or {}).get(slot.name, slot.name),
    Role.RUN: lambda wording, slot: (wording.runs or {}).get(slot.name, slot.name),
}


def key_text(edition: Edition, name: str) -> str:
    """What a mark of a chart stands for."""
    t = edition.lang
    if name.startswith("rank_"):
        return t.text("place {n}", n=name.removeprefix("rank_"))
    words = {
        "mean": t.text("mean"), "median": t.text("median"),
        "uncertainty": t.text("expanded uncertainty ({level})", level=numbers.percent(t, 95)), "range": t.text("lowest to highest"),
        "reading": t.text("single reading"), "reference": t.text("claimed by the maker"),
        "above": t.text("a reading above this"), "below": t.text("a reading below this"),
        "specimen": t.text("single specimen"), "claim": t.text("the claim ({level})", level=numbers.percent(t, 100)),
        "tolerance": t.text("what the claim allows"), "measured": t.text("measured, with expanded uncertainty"),
        "unbeaten": t.text("no other entrant is better in both"), "beaten": t.text("another entrant is better in both"),
        "flagged": t.text("signal: outside the limits or against a run rule"),
        "grade": t.text("median grade"), "stated": t.text("the grade to be kept"),
    }  # fmt: skip
    return words.get(name, name)


def mark(
    edition: Edition, figures: Iterable[ChartFigure], measured: Iterable[Measured], product: str
) -> tuple[ChartFigure, ...]:
    """The charts of a round as the page of one entrant shows them: its name marked, the title about it.

    The charts are made once for all pages of the round; only these two words differ.
    """
    every = tuple(measured)
    return tuple(_marked(edition, figure, every, product) for figure in figures)


def _marked(edition: Edition, figure: ChartFigure, measured: tuple[Measured, ...], product: str) -> ChartFigure:
    places: tuple[TextSlot, ...] = edition.once("slots", figure.spec, lambda: slots(figure.spec))
    entries = [m for m in measured if f"chart-{m.protocol.id}" == figure.id and any(cell.summary for cell in m.cells)]
    title = finding_title(edition, entries[0 if entries[0].protocol.scale == CURVE else -1], product)
    texts = list(figure.texts)
    for index, place in enumerate(places):
        if place.role is Role.TITLE:
            texts[index] = title
        elif place.role is Role.ENTRANT and place.name == product:
            texts[index] = MARK + texts[index]
    return replace(figure, texts=tuple(texts), title=title)


def order_cells(measured: Measured) -> list[Cell]:
    """Cells from best to worst, where there is a better; entrants without a finding last."""

    def key(cell: Cell) -> tuple[bool, float]:
        centre = centre_of(cell)
        return (centre is None, (centre or 0.0) * (1 if measured.protocol.better == "lower" else -1))

    return sorted(measured.cells, key=key)


def centre_of(cell: Cell) -> float | None:
    """Mean, middle grade or time: by what an entrant is placed in a chart. None where nothing was measured."""
    summary = cell.summary
    if isinstance(summary, RatioSummary):
        return summary.mean
    if isinstance(summary, CensoredSummary):
        return middle_of(summary)
    if isinstance(summary, GradeSummary):
        return float(sum(summary.median) / len(summary.median))
    if isinstance(summary, CurveSummary):
        return time_of(summary.times[0].runs) if summary.times else None
    return None


def direction_text(edition: Edition, protocol: Protocol) -> str:
    """Which direction is better, in words."""
    t = edition.lang
    if protocol.better == "higher":
        return t.text("higher is better")
    return t.text("lower is better") if protocol.better == "lower" else t.text("neither direction is better")


def axis_title(edition: Edition, protocol: Protocol) -> str:
    """What runs along the axis: name, unit, and which direction is better."""
    t = edition.lang
    unit = protocol.unit
    name = edition.head(protocol.id) if protocol.scale != ORDINAL else t.text("Grade")
    with_unit = t.text("{name} in {unit}", name=name, unit=unit_symbol(edition, unit)) if unit else name
    return f"{with_unit} ({direction_text(edition, protocol)})"


def unit_symbol(edition: Edition, unit: str) -> str:
    """A unit as printed."""
    from sitegen.figures.unit_names import symbol

    return symbol(unit, edition.tag)


def grade_axis(protocol: Protocol) -> Axis:
    """All grades of an ordinal protocol."""
    return Axis(ticks=tuple(sorted(grade.grade for grade in protocol.grades)))


def _ends_title(edition: Edition, measured: Measured, name: str) -> str:
    """The finding of a chart in one line: from whose value to whose."""
    cells = [cell for cell in order_cells(measured) if cell.summary is not None]
    values = [word_cell(edition, measured, cell).value for cell in cells]
    if values[0] == values[-1]:
        return edition.lang.text("{name}: {value} throughout", name=name, value=values[0])

    def named(value: str) -> str:
        """All that share an end; a crowd is not listed in a title."""
        ids = [cell.product for cell, other in zip(cells, values, strict=True) if other == value]
        if len(ids) > MOST_NAMED:
            return edition.lang.text("{n} products", n=len(ids))
        return numbers.listing(edition.lang, [edition.product(id) for id in ids])

    return edition.lang.text(
        "{name}: from {best} ({best_product}) to {worst} ({worst_product})",
        name=name,
        best=values[0],
        best_product=named(values[0]),
        worst=values[-1],
        worst_product=named(values[-1]),
    )


def finding_title(edition: Edition, measured: Measured, product: str = "") -> str:
    """The finding that a chart shows: that of the page's own product first, or both ends of the field."""
    cells = [cell for cell in measured.cells if cell.summary is not None]
    name = edition.measure(measured.measure)
    own = next((cell for cell in cells if cell.product == product), None)
    if own is None or len(cells) < 2:
        if len(cells) > 1:
            return _ends_title(edition, measured, name)
        return f"{name}: {word_cell(edition, measured, cells[0]).value}"
    others = [cell for cell in order_cells(measured) if cell.summary is not None and cell.product != product]
    value = word_cell(edition, measured, own).value
    best, worst = (word_cell(edition, measured, others[end]).value for end in (0, -1))
    if best == worst:
        return edition.lang.text("{name}: {value}, against {best}", name=name, value=value, best=best)
    return edition.lang.text(
        "{name}: {value}; the others from {best} to {worst}", name=name, value=value, best=best, worst=worst
    )
