"""One chart for each protocol of a round: its readings, its stages or its curves."""

from collections.abc import Iterable, Mapping

from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.chart_tables import curves_table, values_table
from sitegen.figures.charts.charts import (
    ChartFigure,
    Wording,
    axis_title,
    better_to_the_right,
    centre_of,
    chart_figure,
    finding_title,
    grade_axis,
    order_cells,
    unit_symbol,
)
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.cells import word_cell
from sitegen.figures.wording.tables import Table
from sitegen.findings.found import Cell, Curve, CurveSummary, Measured, by_protocol
from sitegen.findings.statistics.censored import CensoredSummary
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.records.measured.protocol import CURVE, ORDINAL, RATIO, Protocol


def protocol_charts(
    edition: Edition,
    measured: Iterable[Measured],
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
) -> tuple[ChartFigure, ...]:
    """One chart for each protocol whose findings can be drawn, in the round's order.

    `letters` are letter groups by "product measure"; `claims` the maker's figures by (protocol, product) in
    the protocol's unit.
    """
    figures = []
    for entries in by_protocol(measured).values():
        figure = _protocol_chart(edition, entries, letters, claims)
        if figure is not None:
            figures.append(figure)
    return tuple(figures)


def _protocol_chart(
    edition: Edition,
    entries: list[Measured],
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
) -> ChartFigure | None:
    protocol = entries[0].protocol
    # A stage may wait for its readings.
    entries = [entry for entry in entries if any(cell.summary for cell in entry.cells)]
    if not entries:
        return None
    if len(entries) > 1 and protocol.scale in {RATIO, ORDINAL}:
        return stages_figure(edition, entries, letters)
    if protocol.scale in {RATIO, ORDINAL}:
        return values_figure(edition, entries[0], letters, claims)
    if protocol.scale == CURVE:
        return curves_figure(edition, entries[0])
    return None


def _label(edition: Edition, measured: Measured, cell: Cell, letters: Mapping[str, str]) -> str:
    """The value beside an entrant's name, with its letter group."""
    value = word_cell(edition, measured, cell).plain if cell.summary else edition.lang.text("missing")
    group = letters.get(f"{cell.product} {measured.measure.text}", "")
    return f"{value}  {group}".rstrip()


def values_figure(
    edition: Edition,
    measured: Measured,
    letters: Mapping[str, str],
    claims: Mapping[tuple[str, str], float],
) -> ChartFigure:
    """Every entrant's readings, mean or median, and interval."""
    protocol = measured.protocol
    ordinal = protocol.scale == ORDINAL
    rows = tuple(
        values_row(cell, claims.get((protocol.id, cell.product)) if not ordinal else None)
        for cell in order_cells(measured)
    )
    spec = spec_of.ValuesChart(
        rows=rows,
        centre="median" if ordinal else "mean",
        interval="range" if ordinal else "uncertainty",
        axis=grade_axis(protocol) if ordinal else None,
    )
    spec = better_to_the_right(spec, protocol)
    table = values_table(edition, [measured], letters)
    wording = Wording(
        title=finding_title(edition, measured),
        description=_describe(edition, measured),
        x_title=axis_title(edition, protocol),
        values={cell.product: _label(edition, measured, cell, letters) for cell in measured.cells},
    )
    return _figure(edition, spec, wording, protocol, table)


def values_row(cell: Cell, claim: float | None) -> spec_of.ValuesRow:
    """The row of one entrant; `claim` in the unit of its readings."""
    summary = cell.summary
    readings = tuple(float(value) for _, value in cell.specimens)
    if isinstance(summary, RatioSummary):
        wide = summary.expanded
        low, high = (summary.mean - wide, summary.mean + wide) if wide is not None else (None, None)
        return spec_of.ValuesRow(
            entrant=cell.product, centre=summary.mean, low=low, high=high, readings=readings, reference=claim
        )
    if isinstance(summary, CensoredSummary):
        return spec_of.ValuesRow(
            entrant=cell.product,
            centre=None,  # a median would look like the others' mean
            readings=readings,
            above=tuple(map(float, summary.above)),
            below=tuple(map(float, summary.below)),
            reference=claim,
        )
    if isinstance(summary, GradeSummary):
        return spec_of.ValuesRow(
            entrant=cell.product, centre=centre_of(cell), low=summary.low, high=summary.high, readings=readings
        )
    return spec_of.ValuesRow(entrant=cell.product, centre=None, reference=claim)


def stages_figure(edition: Edition, entries: list[Measured], letters: Mapping[str, str]) -> ChartFigure:
    """Each entrant's way through the stages."""
    protocol = entries[0].protocol
    ordinal = protocol.scale == ORDINAL
    last = entries[-1]
    order = [cell.product for cell in order_cells(last)]
    rows = tuple(
        spec_of.StagesRow(
            entrant=product,
            centres=tuple(_known_centre(entry.cell(product)) for entry in entries),
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
    spec = better_to_the_right(spec, protocol)
    wording = Wording(
        title=finding_title(edition, last),
        description=_describe(edition, last),
        x_title=axis_title(edition, protocol),
        values={product: _stages_label(edition, entries, product, letters) for product in order},
        stages={entry.measure.stage.text: edition.stage(entry.measure.stage) for entry in entries},
    )
    return _figure(edition, spec, wording, protocol, values_table(edition, entries, letters))


def _known_centre(cell: Cell) -> float | None:
    """The mean or middle grade; None where only a bound of it is known."""
    return None if isinstance(cell.summary, CensoredSummary) else centre_of(cell)


def _stages_label(edition: Edition, entries: list[Measured], product: str, letters: Mapping[str, str]) -> str:
    """The values of all stages in a row, with the letter group of the last, such as `5 → 4 → 3  b`."""
    group = letters.get(f"{product} {entries[-1].measure.text}", "")
    return f"{own_way(edition, entries, product)}  {group}".rstrip()


def own_way(edition: Edition, entries: list[Measured], product: str) -> str:
    """The values of all stages in a row, such as `5 → 4 → 3`; of one stage the plain value."""
    if len(entries) == 1:
        return word_cell(edition, entries[0], entries[0].cell(product)).plain
    parts = []
    for entry in entries:
        summary = entry.cell(product).summary
        if isinstance(summary, GradeSummary):
            parts.append(edition.grade(summary.median))
        elif isinstance(summary, RatioSummary):
            parts.append(numbers.number(edition.lang, summary.shown))
        elif isinstance(summary, CensoredSummary):
            parts.append(word_cell(edition, entry, entry.cell(product)).value)
        else:
            parts.append("\u2013")
    return " \u2192 ".join(parts)


def curves_figure(edition: Edition, measured: Measured, product: str = "") -> ChartFigure:
    """The curves of all entrants over one axis, or of one on the same axes."""
    protocol = measured.protocol
    assert protocol.along is not None
    drawn = [cell for cell in order_cells(measured) if isinstance(cell.summary, CurveSummary)]
    drawn = [*(c for c in drawn if c.product == product), *(c for c in drawn if c.product != product)]
    drawn = drawn[: spec_of.MOST_CURVES]
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
    if product:
        own = tuple(curve for curve in curves if curve.entrant == product)
        spec = spec_of.CurvesChart(curves=own, x=spec.x_axis, y=spec.y_axis)
    unit = "h" if hours else protocol.along.unit
    t = edition.lang
    along = t.text("{name} in {unit}", name=edition.say(protocol.along.name), unit=unit_symbol(edition, unit))
    value = t.text("{name} in {unit}", name=edition.head(protocol.id), unit=unit_symbol(edition, protocol.unit))
    wording = Wording(
        title=_own_curve_title(edition, measured, product) if product else finding_title(edition, measured),
        description=_describe(edition, measured),
        x_title=along,
        y_title=value,
        values={cell.product: word_cell(edition, measured, cell).plain for cell in drawn},
    )
    return _figure(edition, spec, wording, protocol, curves_table(edition, measured))


def _own_curve_title(edition: Edition, measured: Measured, product: str) -> str:
    value = word_cell(edition, measured, measured.cell(product)).plain
    return edition.lang.text("{name}: {value}", name=edition.measure(measured.measure), value=value)


def _curves(cell: Cell) -> tuple[Curve, ...]:
    return cell.summary.curves if isinstance(cell.summary, CurveSummary) else ()


def _figure(
    edition: Edition, spec: spec_of.ChartSpec, wording: Wording, protocol: Protocol, table: Table
) -> ChartFigure:
    return chart_figure(
        edition, f"chart-{protocol.id}", spec, wording, caption=edition.say(protocol.measures), table=table
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
