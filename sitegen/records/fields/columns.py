"""The columns of an author's table by name, whatever their order; faults that repeat down a table are told once."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from sitegen.datatypes import dataclass
from sitegen.problems import Problem, Problems, nearest, quoted
from sitegen.records.fields.kinds import LANGUAGE_TAG
from sitegen.records.fields.words import LEAD, Words
from sitegen.text.csv_rows import Cell, CsvTable, Row


@dataclass(frozen=True, slots=True)
class Columns:
    """Which cell of a row holds what."""

    at: Mapping[str, int]

    def cell(self, row: Row, name: str) -> Cell | None:
        """The cell under a column, None where the file has no such column or the cell is blank."""
        index = self.at.get(name)
        if index is None or index >= len(row.cells) or not row.cells[index].text.strip():
            return None
        cell = row.cells[index]
        return cell if cell.text == cell.text.strip() else Cell(cell.text.strip(), cell.place)

    def words(self, row: Row, name: str) -> Words | None:
        """The text under a column and under its further languages (`note`, `note.en`), None where all are blank."""
        found = []
        for column in self.at:
            base, _, tag = column.partition(".")
            if base == name and (text := self.text(row, column)):
                found.append((tag or LEAD, text))
        return Words(tuple(found)) if found else None

    def text(self, row: Row, name: str) -> str:
        """The text under a column, empty where there is none."""
        cell = self.cell(row, name)
        return cell.text if cell else ""


def take_columns(table: CsvTable, known: Iterable[str], needed: Iterable[str], problems: Problems) -> Columns | None:
    """The columns of a table by name; None once an unknown or a missing one is reported."""
    known = tuple(known)
    at: dict[str, int] = {}
    meant: set[str | None] = set()
    for index, cell in enumerate(table.header):
        name = cell.text.strip().lower()
        if name not in known and not (name.startswith("note.") and LANGUAGE_TAG.fullmatch(cell.text.strip()[5:])):
            near = nearest(name, known)
            hint = f"did you mean `{near}`?" if near else f"known columns: {', '.join(known)}"
            problems.error("column-unknown", cell.place, f"there is no column {quoted(cell.text)}", hint)
            meant.add(near)
        at[name if name in known else cell.text.strip()] = index
    missing = [name for name in needed if name not in at]
    for name in missing:
        if name not in meant:
            message = f"this table needs a column `{name}`"
            problems.error("column-missing", table.header[0].place, message, f"columns: {', '.join(known)}")
    return None if meant or missing else Columns(at)


def tell_once(found: Problems, problems: Problems) -> None:
    """Pass on the faults of a table; what is wrong in the same words in many rows is told once, with their number."""
    same: dict[tuple[str, str, str], list[Problem]] = {}
    for problem in found:
        same.setdefault((problem.code, problem.message, problem.hint), []).append(problem)
    for first, *others in same.values():
        rows = f" (and in {len(others)} more row{'' if len(others) == 1 else 's'})" if others else ""
        problems.extend([replace(first, message=first.message + rows)])
