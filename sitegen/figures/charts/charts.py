"""What every chart of findings has: the words for its places, its order, its title; its data stand in a table beside it."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from sitegen.datatypes import dataclass
from sitegen.editorial.standing import standing_of
from sitegen.figures.answers.ranks import counted, rank_text
from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.chart_axis import Axis
from sitegen.figures.charts.chart_text import Role, TextSlot, slots
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.cells import middle_of, time_of, word_cell
from sitegen.figures.wording.tables import Table
from sitegen.findings.found import Cell, CurveSummary, Measured, RoundFindings
from sitegen.findings.statistics.censored import CensoredSummary
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.records.measured.protocol import ORDINAL, Protocol

Scaled = TypeVar("Scaled", spec_of.ValuesChart, spec_of.StagesChart)
MOST_NAMED = 2  # of those who share an end of the field; more are counted


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
    entrants: Mapping[str, str] | None = None  # names of rows that are no product
    tick: Callable[[TextSlot], str] | None = None


def chart_figure(
    edition: Edition, id: str, spec: spec_of.ChartSpec, wording: Wording, *, caption: str, table: Table
) -> ChartFigure:
    """A chart with its words put in."""
    texts = tuple(_word(edition, slot, wording) for slot in slots(spec))
    return ChartFigure(id=id, spec=spec, texts=texts, title=wording.title, caption=caption, table=table)


def _word(edition: Edition, slot: TextSlot, wording: Wording) -> str:
    if slot.role is Role.ENTRANT:
        return (wording.entrants or {}).get(slot.name) or edition.product(slot.name)
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
    return t.text("lower is better") if protocol.better == "lower" else t.text("no better or worse")


def axis_title(edition: Edition, protocol: Protocol) -> str:
    """What runs along the axis: name, unit, and which direction is better."""
    t = edition.lang
    unit = protocol.unit
    name = edition.head(protocol.id) if protocol.scale != ORDINAL else t.text("Grade")
    with_unit = t.text("{name} in {unit}", name=name, unit=unit_symbol(edition, unit)) if unit else name
    return f"{with_unit} ({direction_text(edition, protocol)})"


def unit_symbol(edition: Edition, unit: str) -> str:
    """A unit as printed."""
    return numbers.unit_sign(edition.lang, unit)


def grade_axis(protocol: Protocol) -> Axis:
    """All grades of an ordinal protocol, the better ones to the right."""
    ticks = tuple(sorted(grade.grade for grade in protocol.grades))
    return Axis(ticks=ticks, turned=protocol.better == "lower")


def better_to_the_right(spec: Scaled, protocol: Protocol) -> Scaled:
    """The same chart with its scale turned where lower values are better."""
    return replace(spec, axis=replace(spec.x_axis, turned=protocol.better == "lower"))


def finding_title(edition: Edition, measured: Measured) -> str:
    """The finding that a chart of the round shows: both ends of the field, each with all who stand there."""
    cells = [cell for cell in order_cells(measured) if cell.summary is not None]
    name = edition.measure(measured.measure)
    plain = {cell.product: word_cell(edition, measured, cell).plain for cell in cells}
    best, worst = plain[cells[0].product], plain[cells[-1].product]
    if best == worst:
        return edition.lang.text("{name}: {value} throughout", name=name, value=best)
    return edition.lang.text(
        "{name}: from {best} ({best_product}) to {worst} ({worst_product})",
        name=name,
        best=best,
        best_product=_who(edition, [product for product, value in plain.items() if value == best]),
        worst=worst,
        worst_product=_who(edition, [product for product, value in plain.items() if value == worst]),
    )


def _who(edition: Edition, products: list[str]) -> str:
    if len(products) > MOST_NAMED:
        return edition.lang.text("{n} products", n=counted(edition, len(products)))
    return numbers.listing(edition.lang, [edition.product(product) for product in products])


def own_title(edition: Edition, findings: RoundFindings, measured: Measured, product: str) -> str:
    """The finding that a chart for one product shows: its value, and its rank or else what the others have."""
    t = edition.lang
    name, entry = edition.measure(measured.measure), findings.of(measured.measure)
    cells = [cell for cell in order_cells(measured) if cell.summary is not None]
    plain = {cell.product: word_cell(edition, measured, cell).plain for cell in cells}
    value = plain.pop(product)
    standing = standing_of(entry, product) if entry else None
    rank = rank_text(edition, measured.protocol, standing) if standing else ""
    if rank:
        return t.text("{name}: {value}, {rank}", name=name, value=value, rank=rank)
    if not plain:
        return t.text("{name}: {value}", name=name, value=value)
    best, *_, worst = (*plain.values(), *plain.values())
    if best == worst:
        return t.text("{name}: {value}, against {best}", name=name, value=value, best=best)
    return t.text("{name}: {value}; the others from {best} to {worst}", name=name, value=value, best=best, worst=worst)
