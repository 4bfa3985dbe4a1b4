"""What washing did: from the first to the last stage of a round, entrant by entrant."""

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

from sitegen.findings.decline import Decline, StageGrades, washes_until_below
from sitegen.findings.found import Cell, Changed, Measured
from sitegen.findings.stages import grades_lost, share_kept
from sitegen.records.protocol import ORDINAL, RATIO


def changes(measured: Iterable[Measured], wanted: dict[str, Decimal]) -> tuple[Changed, ...]:
    """The changes of every protocol that was measured at several stages of washing.

    `wanted`: by protocol, the grade that should be kept.
    """
    grouped: dict[str, list[Measured]] = {}
    for entry in measured:
        stage = entry.measure.stage
        if not stage.reproofed and not stage.heated:  # heat and a new finish are another series than washing
            grouped.setdefault(entry.protocol.id, []).append(entry)
    found = []
    for id, entries in grouped.items():
        if len(entries) > 1 and entries[0].protocol.scale in {ORDINAL, RATIO}:
            found += [change for cell in entries[0].cells if (change := _change(entries, cell, wanted.get(id)))]
    return tuple(found)


def _change(entries: list[Measured], first: Cell, wanted: Decimal | None) -> Changed | None:
    cells = [entry.cell(first.product) for entry in entries]
    before, after = dict(cells[0].specimens), dict(cells[-1].specimens)
    if not before or not after:
        return None
    base = Changed(product=first.product, before=entries[0].measure, after=entries[-1].measure)
    if entries[0].protocol.scale == ORDINAL:
        decline = _decline(entries, cells, wanted) if wanted is not None else None
        return replace(base, grades=grades_lost(before, after), decline=decline)
    if min(*before.values(), *after.values()) <= 0:
        return None
    return replace(base, share=share_kept(before, after, entries[0].resolution or Decimal(1)))


def _decline(entries: list[Measured], cells: list[Cell], wanted: Decimal) -> Decline:
    stages = [
        StageGrades(washes=entry.measure.stage.washes, grades=tuple(value for _, value in cell.specimens))
        for entry, cell in zip(entries, cells, strict=True)
        if cell.specimens
    ]
    return washes_until_below(stages, wanted)
