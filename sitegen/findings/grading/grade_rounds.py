"""The scatter of grades of every graded measure of a round, pooled from its own and its other stages' cells."""

from collections.abc import Iterable
from dataclasses import replace

from sitegen.findings.comparison.grade_scatter import pool_grades, step_of
from sitegen.findings.found import Measured
from sitegen.records.measured.protocol import ORDINAL


def with_scatter(measured: Iterable[Measured]) -> tuple[Measured, ...]:
    """The measures, each graded one with the scatter of its grades."""
    every = tuple(measured)
    return tuple(_with_scatter(entry, every) if entry.protocol.scale == ORDINAL else entry for entry in every)


def _with_scatter(entry: Measured, every: tuple[Measured, ...]) -> Measured:
    others = (other for other in every if other.protocol.id == entry.protocol.id and other is not entry)
    step = step_of(tuple(entry.protocol.allowed_grades()))
    return replace(entry, scatter=pool_grades(_cells(entry), (c for o in others for c in _cells(o)), step))


def _cells(entry: Measured) -> list[list[float]]:
    return [[float(value) for _, value in cell.specimens] for cell in entry.cells if cell.specimens]
