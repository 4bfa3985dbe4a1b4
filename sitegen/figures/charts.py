"""Charts of findings: which spec shows them, in which words, with which table beside it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from sitegen.figures import chart_spec as spec_of
from sitegen.figures import numbers
from sitegen.figures.cells import missing_note, time_text, word_cell
from sitegen.figures.chart_axis import Axis
from sitegen.figures.chart_text import Role, TextSlot, slots
from sitegen.figures.edition import Edition
from sitegen.figures.tables import Cell as TableCell
from sitegen.figures.tables import Head, Table
from sitegen.findings.curve import RunTime
from sitegen.findings.measured import Cell, Curve, CurveSummary, Measured
from sitegen.findings.ordinal import GradeSummary
from sitegen.findings.ratio import RatioSummary
from sitegen.records.protocol import CURVE, ORDINAL, RATIO, Protocol

MARK = "\u2192\u00a0"  # an arrow before the entrant that the page is about; a shape, so that no colour is needed
_BARE = str.maketrans("", "", "()")  # the room beside a name is small


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
    marked: str = ""
    keys: Mapping[str, str] | None = None
    stages: Mapping[str, str] | None = None
    references: Callable[[Decimal], str] | None = None
    runs: Mapping[str, str] | None = None
    tick: Callable[[TextSlot], str] | None = None


def word_slots(edition: Edition, spec: spec_of.ChartSpec, wording: Wording) -> tuple[str, ...]:
    """The texts for all places of a chart, in the order of the places."""
    return tuple(_word(edition, slot, wording) for slot in slots(spec))


def _word(edition: Edition, slot: TextSlot, wording: Wording) -> str:
    if slot.role is Role.ENTRANT:
        name = edition.product(slot.name)
        return MARK + name if slot.name == wording.marked else name
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
        "specimen": t.text("single specimen"), "claim": t.text("the claim ({level})", level=numbers.percent(t, 100)),
        "tolerance": t.text("what the claim allows"), "measured": t.text("measured, with expanded uncertainty"),
        "unbeaten": t.text("no other entrant is better in both"), "beaten": t.text("another entrant is better in both"),
        "flagged": t.text("signal: outside the limits or against a run rule"),
        "grade": t.text("median grade"), "stated": t.text("the grade to be kept"),
    }  # fmt: skip
    return words.get(name, name)


def protocol_charts(
    edition: Edition,
    measured: Iterable[Measured],
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
    marked: str = "",
) -> tuple[ChartFigure, ...]:
    """One chart for each protocol whose findings can be drawn, in the round's order.

    `letters` are letter groups by "product measure"; `claims` the maker's figures by (protocol, product) in
    the protocol's unit; `marked` the product that the page is about.
    """
    grouped: dict[str, list[Measured]] = {}
    for entry in measured:
        grouped.setdefault(entry.protocol.id, []).append(entry)
    figures = []
    for entries in grouped.values():
        figure = _protocol_chart(edition, entries, letters, claims, marked)
        if figure is not None:
            figures.append(figure)
    return tuple(figures)


def mark(
    edition: Edition, figures: Iterable[ChartFigure], measured: Iterable[Measured], product: str
) -> tuple[ChartFigure, ...]:
    """The charts of a round as the page of one entrant shows them: its name marked, the title about it.

    The same as `protocol_charts` with `marked`, from charts that are made once for all pages of the round.
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


def _protocol_chart(
    edition: Edition,
    entries: list[Measured],
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
    marked: str,
) -> ChartFigure | None:
    protocol = entries[0].protocol
    entries = [
        entry for entry in entries if any(cell.summary for cell in entry.cells)
    ]  # a stage may wait for its readings
    if not entries:
        return None
    if len(entries) > 1 and protocol.scale in {RATIO, ORDINAL}:
        return stages_figure(edition, entries, letters, marked)
    if protocol.scale in {RATIO, ORDINAL}:
        return values_figure(edition, entries[0], letters, claims, marked)
    if protocol.scale == CURVE:
        return curves_figure(edition, entries[0], marked)
    return None


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
    if isinstance(summary, GradeSummary):
        return float(sum(summary.median) / len(summary.median))
    if isinstance(summary, CurveSummary):
        times = [run.time for run in summary.times[0].runs if run.time is not None] if summary.times else []
        return sum(times) / len(times) if times else None
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
    best, worst = cells[0], cells[-1]
    return edition.lang.text(
        "{name}: from {best} ({best_product}) to {worst} ({worst_product})",
        name=name,
        best=word_cell(edition, measured, best).value,
        best_product=edition.product(best.product),
        worst=word_cell(edition, measured, worst).value,
        worst_product=edition.product(worst.product),
    )


def finding_title(edition: Edition, measured: Measured, marked: str) -> str:
    """The finding that a chart shows: the page's own product first, or both ends of the field."""
    cells = [cell for cell in measured.cells if cell.summary is not None]
    name = edition.measure(measured.measure)
    own = next((cell for cell in cells if cell.product == marked), None)
    if own is None or len(cells) < 2:
        if len(cells) > 1:
            return _ends_title(edition, measured, name)
        return f"{name}: {word_cell(edition, measured, cells[0]).value}"
    others = [cell for cell in order_cells(measured) if cell.summary is not None and cell.product != marked]
    value = word_cell(edition, measured, own).value
    best, worst = (word_cell(edition, measured, others[end]).value for end in (0, -1))
    if best == worst:
        return edition.lang.text("{name}: {value}, against {best}", name=name, value=value, best=best)
    return edition.lang.text(
        "{name}: {value}; the others from {best} to {worst}", name=name, value=value, best=best, worst=worst
    )


def _label(edition: Edition, measured: Measured, cell: Cell, letters: Mapping[str, str]) -> str:
    """The value beside an entrant's name, with its letter group."""
    value = word_cell(edition, measured, cell).value.translate(_BARE) if cell.summary else edition.lang.text("missing")
    group = letters.get(f"{cell.product} {measured.measure.text}", "")
    return f"{value}  {group}".rstrip()


def values_figure(
    edition: Edition,
    measured: Measured,
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
    marked: str = "",
) -> ChartFigure:
    """Every entrant's readings, mean or median, and interval."""
    protocol = measured.protocol
    ordinal = protocol.scale == ORDINAL
    rows = tuple(
        _values_row(cell, claims.get((protocol.id, cell.product)) if not ordinal else None)
        for cell in order_cells(measured)
    )
    spec = spec_of.ValuesChart(
        rows=rows,
        centre="median" if ordinal else "mean",
        interval="range" if ordinal else "uncertainty",
        axis=grade_axis(protocol) if ordinal else None,
    )
    title = finding_title(edition, measured, marked)
    table = values_table(edition, [measured], letters)
    wording = Wording(
        title=title,
        description=_describe(edition, measured),
        x_title=axis_title(edition, protocol),
        values={cell.product: _label(edition, measured, cell, letters) for cell in measured.cells},
        marked=marked,
    )
    return _figure(edition, f"chart-{protocol.id}", spec, wording, protocol, table)


def _values_row(cell: Cell, claim: float | None) -> spec_of.ValuesRow:
    summary = cell.summary
    readings = tuple(float(value) for _, value in cell.specimens)
    if isinstance(summary, RatioSummary):
        wide = summary.expanded
        low, high = (summary.mean - wide, summary.mean + wide) if wide is not None else (None, None)
        return spec_of.ValuesRow(
            entrant=cell.product, centre=summary.mean, low=low, high=high, readings=readings, reference=claim
        )
    if isinstance(summary, GradeSummary):
        return spec_of.ValuesRow(
            entrant=cell.product, centre=centre_of(cell), low=summary.low, high=summary.high, readings=readings
        )
    return spec_of.ValuesRow(entrant=cell.product, centre=None, reference=claim)


def stages_figure(
    edition: Edition, entries: list[Measured], letters: Mapping[str, str], marked: str = ""
) -> ChartFigure:
    """Each entrant's way through the stages."""
    protocol = entries[0].protocol
    ordinal = protocol.scale == ORDINAL
    last = entries[-1]
    order = [cell.product for cell in order_cells(last)]
    rows = tuple(
        spec_of.StagesRow(
            entrant=product,
            centres=tuple(centre_of(entry.cell(product)) for entry in entries),
            specimens=tuple(tuple(float(v) for _, v in entry.cell(product).specimens) for entry in entries),
        )
        for product in order
    )
    spec = spec_of.StagesChart(
        stages=tuple(entry.measure.stage.text for entry in entries),
        rows=rows,
        centre="median" if ordinal else "mean",
        axis=grade_axis(protocol) if ordinal else None,
    )
    wording = Wording(
        title=finding_title(edition, last, marked),
        description=_describe(edition, last),
        x_title=axis_title(edition, protocol),
        marked=marked,
        values={product: _stages_label(edition, entries, product, letters) for product in order},
        stages={entry.measure.stage.text: edition.stage(entry.measure.stage) for entry in entries},
    )
    return _figure(edition, f"chart-{protocol.id}", spec, wording, protocol, values_table(edition, entries, letters))


def _stages_label(edition: Edition, entries: list[Measured], product: str, letters: Mapping[str, str]) -> str:
    """The values of all stages in a row, such as `5 → 4 → 3  b`."""
    parts = []
    for entry in entries:
        summary = entry.cell(product).summary
        if isinstance(summary, GradeSummary):
            parts.append(edition.grade(summary.median))
        elif isinstance(summary, RatioSummary):
            parts.append(numbers.number(edition.lang, summary.shown))
        else:
            parts.append("\u2013")
    group = letters.get(f"{product} {entries[-1].measure.text}", "")
    way = " \u2192 ".join(parts)
    return f"{way}  {group}".rstrip()


def curves_figure(edition: Edition, measured: Measured, marked: str = "") -> ChartFigure:
    """The curves of all entrants over one axis."""
    protocol = measured.protocol
    assert protocol.along is not None
    drawn = [cell for cell in order_cells(measured) if isinstance(cell.summary, CurveSummary)][: spec_of.MOST_CURVES]
    longest = max(c.times[-1] for cell in drawn for c in _curves(cell))
    hours = protocol.along.unit == "min" and longest > 300
    scale = 60.0 if hours else 1.0
    curves = tuple(
        spec_of.Curve(
            entrant=cell.product, points=tuple((t / scale, v) for t, v in zip(c.times, c.values, strict=True))
        )
        for cell in drawn
        for c in _curves(cell)[:1]
    )
    spec = spec_of.CurvesChart(curves=curves)
    unit = "h" if hours else protocol.along.unit
    t = edition.lang
    along = t.text("{name} in {unit}", name=edition.say(protocol.along.name), unit=unit_symbol(edition, unit))
    value = t.text("{name} in {unit}", name=edition.head(protocol.id), unit=unit_symbol(edition, protocol.unit))
    wording = Wording(
        title=finding_title(edition, measured, marked),
        description=_describe(edition, measured),
        x_title=along,
        y_title=value if "{" not in value else "",
        marked=marked,
        values={cell.product: word_cell(edition, measured, cell).value for cell in drawn},
    )
    return _figure(edition, f"chart-{protocol.id}", spec, wording, protocol, curves_table(edition, measured))


def _curves(cell: Cell) -> tuple[Curve, ...]:
    return cell.summary.curves if isinstance(cell.summary, CurveSummary) else ()


def _figure(
    edition: Edition, id: str, spec: spec_of.ChartSpec, wording: Wording, protocol: Protocol, table: Table
) -> ChartFigure:
    return ChartFigure(
        id=id,
        spec=spec,
        texts=word_slots(edition, spec, wording),
        title=wording.title,
        caption=edition.say(protocol.measures),
        table=table,
    )


def _describe(edition: Edition, measured: Measured) -> str:
    """The text alternative: every entrant with its finding, from best to worst."""
    parts = [
        edition.lang.text(
            "{product}: {value}", product=edition.product(cell.product), value=word_cell(edition, measured, cell).value
        )
        for cell in order_cells(measured)
    ]
    return "; ".join(parts)


def values_table(edition: Edition, entries: list[Measured], letters: Mapping[str, str], caption: str = "") -> Table:
    """The data of a chart of values or stages: every specimen, and what they come to."""
    t = edition.lang
    protocol = entries[0].protocol
    heads = [Head(text=t.text("Product"))]
    for entry in entries:
        stage = edition.stage(entry.measure.stage) if len(entries) > 1 else edition.head(protocol.id)
        heads += [
            Head(text=t.text("Readings, {stage}", stage=stage)),
            Head(text=t.text("Finding, {stage}", stage=stage)),
        ]
    rows = []
    for cell in order_cells(entries[-1]):
        row = [TableCell(text=edition.product(cell.product), literal=True)]
        for entry in entries:
            row += _reading_cells(edition, entry, entry.cell(cell.product), letters)
        rows.append(tuple(row))
    caption = caption or t.text("Chart data: {name}", name=edition.protocol(protocol.id))
    note = t.text("Readings in {unit}", unit=unit_symbol(edition, protocol.unit)) if protocol.unit else ""
    return Table(caption=caption, heads=tuple(heads), rows=tuple(rows), note=note)


def _reading_cells(edition: Edition, entry: Measured, cell: Cell, letters: Mapping[str, str]) -> list[TableCell]:
    readings = "\u2002".join(numbers.number(edition.lang, _plain(value)) for _, value in cell.specimens)
    worded = word_cell(edition, entry, cell)
    group = letters.get(f"{cell.product} {entry.measure.text}", "")
    note = missing_note(edition, cell)
    return [
        TableCell(text=readings or "\u2013", number=True, note=note),
        TableCell(text=worded.value, number=True, letters=group, note=worded.spread, sort=worded.sort),
    ]


def _plain(value: Decimal) -> Decimal:
    """A whole grade without the decimals of its arithmetic."""
    return (
        value.quantize(Decimal(1)) if value == value.to_integral_value() and value.as_tuple().exponent == 0 else value
    )


def curves_table(edition: Edition, measured: Measured) -> Table:
    """The data of a chart of curves: the start and the times at which each share was reached."""
    t = edition.lang
    protocol = measured.protocol
    assert protocol.along is not None
    shares = protocol.along.shares
    heads = [Head(text=t.text("Product")), Head(text=t.text("At the start"), number=True)]
    heads += [
        Head(text=t.text("Time to {share} of the start", share=numbers.percent(t, int(share))), number=True)
        for share in shares
    ]
    rows = []
    for cell in order_cells(measured):
        row = [TableCell(text=edition.product(cell.product), literal=True)]
        summary = cell.summary
        if isinstance(summary, CurveSummary) and summary.times:
            start = summary.times[0].runs[0].start_value
            row.append(
                TableCell(
                    text=numbers.quantity(t, numbers.round_to(start, 0), protocol.unit),
                    number=True,
                    sort=f"{start:.6g}",
                )
            )
            row += [_time_cell(edition, entry.runs, protocol.along.unit) for entry in summary.times]
        else:
            row += [TableCell(text=t.text("missing"))] * (1 + len(shares))
        rows.append(tuple(row))
    return Table(
        caption=t.text("Chart data: {name}", name=edition.protocol(protocol.id)), heads=tuple(heads), rows=tuple(rows)
    )


def _time_cell(edition: Edition, runs: Iterable[RunTime], unit: str) -> TableCell:
    texts, sort = [], ""
    for run in runs:
        if run.time is not None:
            texts.append(time_text(edition, run.time, unit))
            sort = sort or f"{run.time:.6g}"
        else:
            longer = run.longer_than or 0.0
            texts.append(edition.lang.text("longer than {time}", time=time_text(edition, longer, unit)))
            sort = sort or f"{longer:.6g}"
    return TableCell(text="; ".join(texts), number=True, sort=sort)
