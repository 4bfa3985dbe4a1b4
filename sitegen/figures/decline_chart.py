"""How grades fall with washing: one small panel an entrant, with the grade that should be kept."""

from sitegen.figures import chart_spec as spec_of
from sitegen.figures import numbers
from sitegen.figures.changes import change_sentences
from sitegen.figures.charts import ChartFigure, Wording, centre_of, grade_axis, values_table, word_slots
from sitegen.figures.edition import Edition
from sitegen.findings.measured import Measured
from sitegen.findings.rounds import RoundFindings
from sitegen.records.protocol import ORDINAL

FEWEST_STAGES = 3


def decline_figures(edition: Edition, findings: RoundFindings) -> tuple[ChartFigure, ...]:
    """A chart for each ordinal protocol that was graded at three stages of washing or more."""
    grouped: dict[str, list[Measured]] = {}
    for entry in findings.measured:
        stage = entry.measure.stage
        if entry.protocol.scale == ORDINAL and not stage.reproofed and not stage.heated:
            grouped.setdefault(entry.protocol.id, []).append(entry)
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
    kept = sum(wanted is not None and (row.grades[-1] or 0) >= wanted for row in rows)
    title = t.text("{name}: how the grade falls with washing", name=edition.protocol(protocol.id))
    if wanted is not None:
        title = t.plural(
            "{name}: {n} of {all} entrants is still at grade {grade} or above after the last wash",
            "{name}: {n} of {all} entrants are still at grade {grade} or above after the last wash",
            kept,
            name=edition.protocol(protocol.id),
            all=len(rows),
            grade=numbers.number(t, wanted, 0),
        )
    described = [sentence for change in findings.changes if change.after.protocol == protocol.id
                 for sentence in (f"{edition.product(change.product)}: {' '.join(change_sentences(edition, change))}",)]  # fmt: skip
    wording = Wording(title=title, description=" ".join(described) or title, x_title=t.text("Washes"), values={})
    caption = t.text(
        "Median grade of each entrant over the washes; the line is the grade that this round asks to be kept."
    )
    return ChartFigure(
        id=f"chart-decline-{protocol.id}",
        spec=spec,
        texts=word_slots(edition, spec, wording),
        title=title,
        caption=caption,
        table=values_table(
            edition, entries, {}, caption=t.text("Grades over the washes: {name}", name=edition.protocol(protocol.id))
        ),
    )
