"""The data of charts as tables, for readers who can't see a chart or want its numbers."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from sitegen.figures.charts.charts import order_cells, unit_symbol
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.cells import missing_note, time_text, word_cell
from sitegen.figures.wording.tables import Cell as TableCell
from sitegen.figures.wording.tables import Head, Table
from sitegen.findings.found import Cell, CurveSummary, Measured
from sitegen.findings.statistics.curve import RunTime


def values_table(
    edition: Edition, entries: list[Measured], letters: Mapping[str, str], caption: str = "", only: str = ""
) -> Table:
    """The data of a chart of values or stages: every specimen, and what they come to; of one entrant `only`, if named."""
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
        if only not in ("", cell.product):
            continue
        row = [TableCell(text=edition.product(cell.product), literal=True)]
        for entry in entries:
            row += _reading_cells(edition, entry, entry.cell(cell.product), letters)
        rows.append(tuple(row))
    caption = caption or t.text("Chart data: {name}", name=edition.protocol(protocol.id))
    note = t.text("Readings in {unit}", unit=unit_symbol(edition, protocol.unit)) if protocol.unit else ""
    return Table(caption=caption, heads=tuple(heads), rows=tuple(rows), note=note)


def _reading_cells(edition: Edition, entry: Measured, cell: Cell, letters: Mapping[str, str]) -> list[TableCell]:
    known = [numbers.number(edition.lang, _plain(value)) for _, value in cell.specimens]
    known += [f"{'>' if one.above else '<'}{numbers.number(edition.lang, one.limit)}" for _, one in cell.beyond]
    readings = "\u2002".join(known)
    worded = word_cell(edition, entry, cell)
    group = letters.get(f"{cell.product} {entry.measure.text}", "")
    note = missing_note(edition, cell)
    return [
        TableCell(text=readings or "\u2013", number=True, note=note),
        TableCell(
            text=worded.value,
            number=True,
            letters=group,
            note="; ".join(filter(None, (worded.spread, worded.mark))),
            sort=worded.sort,
        ),
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
