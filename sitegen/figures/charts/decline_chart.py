"""How grades fall with washing: one small panel an entrant, with the grade that should be kept."""

from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.chart_tables import values_table
from sitegen.figures.charts.charts import ChartFigure, Wording, centre_of, chart_figure, grade_axis
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.changes import change_sentences
from sitegen.findings.found import Measured, RoundFindings, by_protocol
from sitegen.records.measured.protocol import ORDINAL

FEWEST_STAGES = 3


def decline_figures(edition: Edition, findings: RoundFindings) -> tuple[ChartFigure, ...]:
    """A chart for each ordinal protocol that was graded at three stages of washing or more."""
    graded = (entry for entry in findings.measured if entry.protocol.scale == ORDINAL)
    grouped = by_protocol(entry for entry in graded if entry.measure.stage.only_washed)
    return tuple(_figure(edition, findings, entries) for entries in grouped.values() if len(entries) >= FEWEST_STAGES)


def _figure(edition: Edition, findings: RoundFindings, entries: list[Measured]) -> ChartFigure:
    t = edition.lang
    protocol = entries[0].protocol
    wanted = next((float(grade) for ref, grade in findings.round.wanted if ref.id == protocol.id), None)
    rows = tuple(
        spec_of.DeclineRow(
            entrant=cell.product, grades=tuple(centre_of(entry.cell(cell.product)) for entry in entries), stated=wanted
        )
        for cell in entries[0].cells
    )
    spec = spec_of.DeclineChart(
        washes=tuple(entry.measure.stage.washes for entry in entries), rows=rows, axis=grade_axis(protocol)
    )
    name = edition.protocol(protocol.id)
    title = _title(edition, findings, name, protocol.id)
    described = _describe(edition, findings, protocol.id) or title
    wording = Wording(title=title, description=described, x_title=t.text("Washes"), values={})
    caption = t.text(
        "Median grade of each entrant over the washes; the line is the grade that this round asks to be kept."
    )
    table = values_table(edition, entries, {}, caption=t.text("Grades over the washes: {name}", name=name))
    return chart_figure(edition, f"chart-decline-{protocol.id}", spec, wording, caption=caption, table=table)


def _title(edition: Edition, findings: RoundFindings, name: str, protocol: str) -> str:
    """How many kept the grade that the round asks for, as the sentences say it; that it falls, where it asks for none."""
    changes = [c for c in findings.changes if c.after.protocol == protocol]
    declines = [c.decline for c in changes if c.decline is not None]
    if not declines:
        return edition.lang.text("{name}: how the grade falls with washing", name=name)
    last = max(decline.last_stage for decline in declines)
    kept = sum(decline.kept and decline.last_stage == last for decline in declines)
    return edition.lang.plural(
        "{name}: {n} of {all} kept grade {grade} or better in every specimen",
        "{name}: {n} of {all} kept grade {grade} or better in every specimen",
        kept,
        name=name,
        all=len(declines),
        grade=numbers.ordinal_grade(edition.lang, declines[0].grade),
    )


def _describe(edition: Edition, findings: RoundFindings, protocol: str) -> str:
    changes = (change for change in findings.changes if change.after.protocol == protocol)
    return " ".join(f"{edition.product(c.product)}: {' '.join(change_sentences(edition, c))}" for c in changes)
