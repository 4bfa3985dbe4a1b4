"""How far the graders of a measure agree, pair by pair; however many there are, nobody is left out."""

from collections.abc import Iterable, Iterator
from itertools import combinations

from sitegen.datatypes import dataclass
from sitegen.findings.found import Measured
from sitegen.findings.grading.graders import Agreement, compare_graders
from sitegen.records.measured.protocol import ORDINAL


@dataclass(frozen=True, slots=True, kw_only=True)
class PairOfGraders:
    """Two graders with their agreement over the specimens of all products that both graded.

    `first` stands before `second` in the measure's order of graders; names are as written in the tables.
    """

    first: str
    second: str
    agreement: Agreement


def grader_pairs(measured: Iterable[Measured]) -> Iterator[tuple[Measured, PairOfGraders]]:
    """Every two graders of each graded measure; of those who share no specimen, an agreement of none."""
    for entry in measured:
        if entry.protocol.scale != ORDINAL:
            continue
        scale = sorted(map(float, entry.protocol.allowed_grades()))
        for first, second in combinations(entry.graders, 2):
            agreement = compare_graders(_grades_by(entry, first), _grades_by(entry, second), scale)
            yield entry, PairOfGraders(first=first, second=second, agreement=agreement)


def _grades_by(entry: Measured, grader: str) -> dict[str, float]:
    """Grades by "product specimen" of one grader."""
    return {
        f"{cell.product} {specimen}": float(value)
        for cell in entry.cells
        for name, values in cell.gradings
        if name == grader
        for specimen, value in values
    }
