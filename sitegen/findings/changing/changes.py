"""What washing did: from the first to the last stage of a round at which each product was measured."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from sitegen.findings.changing.decline import Decline, StageGrades, washes_until_below
from sitegen.findings.changing.grade_changes import Stages, family_wise, judge_changes
from sitegen.findings.changing.stages import GradeChange, ShareKept, no_share, share_kept
from sitegen.findings.comparison.grade_scatter import step_of
from sitegen.findings.found import Changed, Measured, by_protocol
from sitegen.findings.reasons import Reason
from sitegen.records.measured.protocol import ORDINAL, RATIO


def changes(measured: Iterable[Measured], wanted: dict[str, Decimal]) -> tuple[Changed, ...]:
    """The changes of every protocol that was measured at several stages of washing, in the order of washing.

    `wanted`: by protocol, the grade that should be kept.
    """
    grouped = by_protocol(entry for entry in measured if entry.measure.stage.only_washed)
    found: list[Changed] = []
    for id, entries in grouped.items():
        entries.sort(key=lambda entry: entry.measure.stage)
        spans = [span for cell in entries[0].cells if (span := _span(entries, cell.product))]
        if entries[0].protocol.scale == RATIO:
            found += [_ratio(span) for span in spans]
        elif entries[0].protocol.scale == ORDINAL:
            found += _graded(entries, spans, wanted.get(id))
    return tuple(found)


def _span(entries: Sequence[Measured], product: str) -> tuple[Changed, Measured, Measured] | None:
    """The first and the last stage at which a product was measured; None where that is one stage at most."""
    present = [entry for entry in entries if entry.cell(product).specimens]
    if len(present) < 2:
        return None
    after_it = entries[entries.index(present[-1]) + 1 :]
    asked = next((e.measure for e in reversed(after_it) if any(cell.specimens for cell in e.cells)), None)
    changed = Changed(product=product, before=present[0].measure, after=present[-1].measure, missing=asked)
    return changed, present[0], present[-1]


def _ratio(span: tuple[Changed, Measured, Measured]) -> Changed:
    changed, first, last = span
    before, after = first.cell(changed.product), last.cell(changed.product)
    kept = _share(dict(before.specimens), dict(after.specimens), first.resolution, before.marked and after.marked)
    return replace(changed, share=kept, better=first.protocol.better)


def _share(
    before: dict[str, Decimal], after: dict[str, Decimal], resolution: Decimal | None, marked: bool
) -> ShareKept:
    if min(*before.values(), *after.values()) <= 0:
        return no_share(before, after, Reason.READING_OF_ZERO)
    kept = share_kept(before, after, resolution or Decimal(1), paired=marked)
    return kept if marked else replace(kept, reasons=(*kept.reasons, Reason.SPECIMENS_UNMARKED))


def _graded(
    entries: Sequence[Measured], spans: Sequence[tuple[Changed, Measured, Measured]], wanted: Decimal | None
) -> list[Changed]:
    """The products' changes in one graded protocol, judged together; those of one span by the scatter of its losses."""
    step = step_of(tuple(entries[0].protocol.allowed_grades()))
    judged: dict[str, GradeChange] = {}
    for first, last in dict.fromkeys((first.measure, last.measure) for _, first, last in spans):
        group = [span for span in spans if (span[1].measure, span[2].measure) == (first, last)]
        start, end = group[0][1], group[0][2]
        judged |= judge_changes(
            [_stages(start, end, changed.product) for changed, _, _ in group],
            between=_between(entries, (first, last)),
            step=step,
            scatters=(start.scatter, end.scatter),
        )
    judged = family_wise(judged)
    found = [replace(changed, grades=judged[changed.product]) for changed, _, _ in spans]
    if wanted is None:
        return found
    return [replace(changed, decline=_decline(entries, changed.product, wanted, step)) for changed in found]


def _stages(first: Measured, last: Measured, product: str) -> Stages:
    before, after = first.cell(product), last.cell(product)
    return Stages(
        product=product,
        before=dict(before.specimens),
        after=dict(after.specimens),
        marked=before.marked and after.marked,
    )


def _between(entries: Sequence[Measured], span: tuple[object, object]) -> list[tuple[Decimal, ...]]:
    """Losses between all other pairs of stages, a cell a product."""
    return [
        _stages(first, last, cell.product).lost
        for first, last in itertools.combinations(entries, 2)
        if (first.measure, last.measure) != span
        for cell in first.cells
    ]


def _decline(entries: Sequence[Measured], product: str, wanted: Decimal, step: float) -> Decline:
    stages = [
        StageGrades(
            washes=entry.measure.stage.washes, grades=tuple(value for _, value in cell.specimens), scatter=entry.scatter
        )
        for entry in entries
        if (cell := entry.cell(product)).specimens
    ]
    return washes_until_below(stages, wanted, step)
