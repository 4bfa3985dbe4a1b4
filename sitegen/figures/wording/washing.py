"""What washing did, as one table for each protocol that was repeated after it."""

from collections.abc import Iterator, Sequence

from sitegen.figures.charts.charts import order_cells
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.cells import cell_text
from sitegen.figures.wording.tables import Cell, Head, Table
from sitegen.findings.changing.stages import GradeChange
from sitegen.findings.found import Changed, Measured, RoundFindings, by_protocol
from sitegen.findings.reasons import Reason


def washing_tables(edition: Edition, findings: RoundFindings) -> tuple[Table, ...]:
    """A row an entrant, the best at the last stage first: the value at each stage, then how many specimens lost."""
    grouped = by_protocol(findings.measured).values()
    return tuple(_table(edition, findings, stages) for stages in grouped if len(stages) > 1)


def _table(edition: Edition, findings: RoundFindings, stages: list[Measured]) -> Table:
    t = edition.lang
    changes = {c.product: c for c in findings.changes if c.after == stages[-1].measure}
    graded = any(c.grades is not None and c.grades.n for c in changes.values())
    heads = [Head(text=t.text("Product"))]
    heads += [Head(text=edition.stage(stage.measure.stage), number=True) for stage in stages]
    heads += [Head(text=t.text("Specimens that lost"), number=True)] if graded else []
    rows = tuple(
        tuple(_row(edition, stages, cell.product, changes.get(cell.product), graded))
        for cell in order_cells(stages[-1])
    )
    return Table(
        caption=edition.head(stages[0].protocol.id),
        heads=tuple(heads),
        rows=rows,
        note=_how_sure(edition, [(c.product, c.grades) for c in changes.values() if c.grades is not None]),
    )


def _how_sure(edition: Edition, changes: Sequence[tuple[str, GradeChange]]) -> str:
    """Which falls chance would hardly explain; or that so few specimens could not tell."""
    t = edition.lang
    real = [product for product, change in changes if change.real and change.fell > change.rose]
    if real:
        names = numbers.listing(t, [edition.product(product) for product in real])
        return t.text("A real fall: {products}. Any other may be chance.", products=names)
    if any(change.scatter is not None for _, change in changes):
        return t.text("Any fall here may be chance.") if any(change.fell for _, change in changes) else ""
    weak = any(Reason.CANNOT_REACH_5_PERCENT in change.reasons for _, change in changes)
    return t.text("Seen on these specimens; so few could not prove a change, however clear.") if weak else ""


def _row(
    edition: Edition, stages: list[Measured], product: str, changed: Changed | None, graded: bool
) -> Iterator[Cell]:
    yield Cell(text=edition.product(product), literal=True)
    for stage in stages:
        yield Cell(text=cell_text(edition, stage, stage.cell(product)), number=True)
    if graded:
        grades = changed.grades if changed else None
        text = (
            edition.lang.text("{yes} of {n}", yes=grades.fell, n=grades.n) if grades and grades.n else numbers.EN_DASH
        )
        yield Cell(text=text, number=True)
