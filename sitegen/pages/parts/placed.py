"""What an author places in a text by a line of its own: a chart, a table or the photos of a measure."""

from sitegen.figures.answers.values import UnknownValue, Values
from sitegen.figures.charts.chart_tables import values_table
from sitegen.figures.charts.charts import ChartFigure
from sitegen.figures.charts.own_charts import own_chart
from sitegen.figures.charts.protocol_charts import protocol_charts
from sitegen.findings.found import Measured, RoundFindings
from sitegen.pages.parts.claimed import claimed_values
from sitegen.pages.parts.wetted import wetted_views
from sitegen.pages.site import Sheet
from sitegen.pages.views import Block
from sitegen.problems import Problems, quoted
from sitegen.text.markdown import Placement


def placed_block(sheet: Sheet, slot: Placement, number: int, values: Values, problems: Problems) -> Block | None:
    """The block of one placement, the `number`th of its text; None once a fault is reported."""
    try:
        findings, measured, product = values.finding(slot.subject)
        return _MAKERS[slot.kind](sheet, findings, measured, product, number)
    except UnknownValue as unknown:
        message = f"{quoted('{' + slot.kind + ': ' + slot.subject + '}')}: {unknown}"
        problems.error("value-unknown", slot.place, message, unknown.hint)
        return None


def _stages(findings: RoundFindings, measured: Measured, product: str) -> list[Measured]:
    """All stages of the measure's protocol in which something was measured, of the product if there is one."""
    return [
        entry
        for entry in findings.measured
        if entry.protocol.id == measured.protocol.id
        and any(cell.summary is not None for cell in entry.cells if product in ("", cell.product))
    ]


def _chart(sheet: Sheet, findings: RoundFindings, measured: Measured, product: str, number: int) -> Block:
    stages = _stages(findings, measured, product)
    figure: ChartFigure | None = None
    if stages and product:
        figure = own_chart(sheet.edition, findings, stages, product, claimed_values(findings))
    elif stages:
        drawn = protocol_charts(sheet.edition, stages, findings.letters(), claimed_values(findings))
        figure = drawn[0] if drawn else None
    if figure is None:
        raise UnknownValue(
            f"there is nothing to draw of {measured.protocol.id}", "delete the line, or name another measure"
        )
    return Block(chart=sheet.chart(figure, number))


def _table(sheet: Sheet, findings: RoundFindings, measured: Measured, product: str, number: int) -> Block:
    stages = _stages(findings, measured, "")
    if not stages or not any(cell.specimens for entry in stages for cell in entry.cells):
        raise UnknownValue(f"there are no readings of {measured.protocol.id} for a table", "delete the line")
    caption = sheet.edition.protocol(measured.protocol.id)
    return Block(table=values_table(sheet.edition, stages, findings.letters(), caption))


def _photos(sheet: Sheet, findings: RoundFindings, measured: Measured, product: str, number: int) -> Block:
    shown = wetted_views(sheet, findings.round.id, product, measured.measure.stage)
    pairs = findings.round.photo_pairs
    if not any(p.stage == measured.measure.stage and product in ("", p.product.id) for p in pairs):
        known = sorted({f"{p.stage.text} of {p.product.id}" for p in pairs})
        hint = f"photo_pairs of the round: {', '.join(known)}" if known else "the round has no photo_pairs"
        raise UnknownValue(f"there are no photos of {measured.measure.text}", hint)
    return Block(photos=shown)


_MAKERS = {"chart": _chart, "table": _table, "photos": _photos}
