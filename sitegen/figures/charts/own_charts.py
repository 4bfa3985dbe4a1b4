"""Charts for the page of one entrant: its own readings, and where they lie among the others."""

from collections.abc import Iterable, Mapping

from sitegen.figures.answers.ranks import counted
from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.chart_tables import values_table
from sitegen.figures.charts.charts import (
    ChartFigure,
    Wording,
    axis_title,
    better_to_the_right,
    centre_of,
    chart_figure,
    grade_axis,
    order_cells,
    own_title,
)
from sitegen.figures.charts.protocol_charts import curves_figure, own_way, values_row
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.tables import Table
from sitegen.findings.found import CurveSummary, Measured, RoundFindings, by_protocol
from sitegen.records.measured.protocol import CURVE, ORDINAL, RATIO

OTHERS = "*"  # no id can be that


def own_charts(
    edition: Edition, findings: RoundFindings, product: str, claims: Mapping[tuple[str, str], float]
) -> tuple[ChartFigure, ...]:
    """A chart for each protocol in which something of the product was measured, in the round's order.

    `claims` are the maker's figures by (protocol, product) in the protocol's unit.
    """
    grouped = by_protocol(measured for measured in findings.measured if measured.cell(product).summary is not None)
    figures = (own_chart(edition, findings, entries, product, claims) for entries in grouped.values())
    return tuple(figure for figure in figures if figure is not None)


def own_chart(
    edition: Edition,
    findings: RoundFindings,
    entries: list[Measured],
    product: str,
    claims: Mapping[tuple[str, str], float],
) -> ChartFigure | None:
    """The chart of one protocol for one product; None where its kind of reading can't be drawn."""
    protocol = entries[0].protocol
    if protocol.scale == CURVE and isinstance(entries[0].cell(product).summary, CurveSummary):
        return curves_figure(edition, entries[0], product)
    if protocol.scale not in {RATIO, ORDINAL}:
        return None
    others = [c.product for c in order_cells(entries[-1]) if c.product != product and c.summary is not None]
    spec = (_stages if len(entries) > 1 else _values)(entries, product, others, claims)
    last = entries[-1]
    t = edition.lang
    names = {OTHERS: t.text("The {n} others", n=counted(edition, len(others))) if len(others) > 1 else ""}
    names |= {OTHERS: edition.product(others[0])} if len(others) == 1 else {}
    each = t.text("single reading; below, one other product each")
    wording = Wording(
        title=own_title(edition, findings, last, product),
        description=own_title(edition, findings, last, product),
        x_title=axis_title(edition, protocol),
        values={product: own_way(edition, entries, product)},
        stages={entry.measure.stage.text: edition.stage(entry.measure.stage) for entry in entries},
        entrants=names,
        keys={"reading": each, "specimen": each} if others else None,
    )
    table = own_table(edition, entries, product)
    return chart_figure(
        edition, f"chart-{protocol.id}", spec, wording, caption=edition.say(protocol.measures), table=table
    )


def own_table(edition: Edition, entries: list[Measured], product: str) -> Table:
    """The readings of the product alone."""
    return values_table(edition, entries, {}, only=product)


def _values(
    entries: list[Measured], product: str, others: Iterable[str], claims: Mapping[tuple[str, str], float]
) -> spec_of.ValuesChart:
    (measured,) = entries
    ordinal = measured.protocol.scale == ORDINAL
    claim = claims.get((measured.protocol.id, product)) if not ordinal else None
    rows = [values_row(measured.cell(product), claim)]
    centres = _centres(measured, others)
    rows += [spec_of.ValuesRow(entrant=OTHERS, centre=None, readings=centres)] if centres else []
    spec = spec_of.ValuesChart(
        rows=tuple(rows),
        centre="median" if ordinal else "mean",
        interval="range" if ordinal else "uncertainty",
        axis=grade_axis(measured.protocol) if ordinal else None,
    )
    return better_to_the_right(spec, measured.protocol)


def _stages(
    entries: list[Measured], product: str, others: Iterable[str], claims: Mapping[tuple[str, str], float]
) -> spec_of.StagesChart:
    ordinal = entries[0].protocol.scale == ORDINAL
    own = [entry.cell(product) for entry in entries]
    rows = [
        spec_of.StagesRow(
            entrant=product,
            centres=tuple(centre_of(cell) for cell in own),
            specimens=tuple(tuple(float(v) for _, v in cell.specimens) for cell in own),
        )
    ]
    centres = _centres(entries[-1], others)
    if centres:
        empty = tuple(() for _ in entries[1:])
        rows.append(
            spec_of.StagesRow(entrant=OTHERS, centres=tuple(None for _ in entries), specimens=(*empty, centres))
        )
    spec = spec_of.StagesChart(
        stages=tuple(entry.measure.stage.text for entry in entries),
        rows=tuple(rows),
        centre="median" if ordinal else "mean",
        axis=grade_axis(entries[0].protocol) if ordinal else None,
    )
    return better_to_the_right(spec, entries[0].protocol)


def _centres(measured: Measured, products: Iterable[str]) -> tuple[float, ...]:
    found = (centre_of(measured.cell(product)) for product in products)
    return tuple(centre for centre in found if centre is not None)
