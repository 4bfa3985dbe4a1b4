"""Tables of readings as rows of cells with places (RFC 4180, and what spreadsheets make of it)."""

import re
from collections.abc import Iterator
from dataclasses import field, replace
from typing import Any, cast

from sitegen.datatypes import dataclass
from sitegen.place import Place, quick_place
from sitegen.problems import Problems, quoted
from sitegen.text.source import Source

MOST_COLUMNS = 200  # a sheet of readings has 9; a table with thousands of columns is lying on its side
# Of one table: two days of a logger at 1 Hz have 172,800 rows with four cells each. A cell with its place takes 150 bytes,
# and what is found of a row takes 0.1 ms.
MOST_ROWS, MOST_CELLS = 200_000, 1_000_000
MOST_FAULTS = 20  # of one kind in one file: one wrong setting in a spreadsheet spoils every row alike

_SEPARATORS = (";", "\t", ",")  # in this order when a header has as many of each
_NAMES = {";": "semicolons", "\t": "tabs", ",": "commas"}
_SEP_LINE = re.compile(r'"?sep=([;,\t])"?[;,\t]*', re.IGNORECASE)
_SIGNED = "[-+\u2212]?"
_NUMBER = re.compile(f"{_SIGNED}[0-9]+(?:[.,][0-9]+)?(?:[eE][-+\u2212]?[0-9]+)?")
_GROUPED = re.compile(f"{_SIGNED}[0-9]{{1,3}}(?:(?:\\.[0-9]{{3}})+,[0-9]+|(?:,[0-9]{{3}})+\\.[0-9]+)")
_POINT_GROUPS = re.compile(f"{_SIGNED}[0-9]{{1,3}}(?:\\.[0-9]{{3}})+")
_QUOTED = re.compile(
    '[^"]*+(?:""[^"]*+)*+'
)  # possessive: a line may hold millions of quotes, and nothing is tried again
_PLAIN = str.maketrans({"\u2212": "-", ",": "."})


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell's text; a decimal comma of a file without comma separators has become a dot.

    Blanks around an unquoted text are gone. A cell that is a number has a hyphen for a minus.
    `place` spans the cell as written, with its quotes, up to the end of its first line.
    """

    text: str
    place: Place = field(compare=False)


@dataclass(frozen=True, slots=True)
class Row:
    """One record of the table, as many cells as the header has."""

    cells: tuple[Cell, ...]
    place: Place = field(compare=False)


@dataclass(frozen=True, slots=True)
class CsvTable:
    """A header and the rows below it; `decimal_comma` says that numbers were written with a comma."""

    header: tuple[Cell, ...]
    rows: tuple[Row, ...]
    decimal_comma: bool


_new: Any = object.__new__  # for the same reason as quick_place
_set_text, _set_place = (Cell.__dict__[name].__set__ for name in ("text", "place"))


class _Refused(Exception):
    """Stops the reading after its problem was noted."""


def parse_csv(source: Source, problems: Problems) -> CsvTable | None:
    """The table of a source; None after a problem with its header or its quotes was noted. Never raises.

    Rows of the wrong length are reported and left out; blank rows and blank cells at a row's end are passed
    over. The separator is the one that the header line has most of, or what a first line `sep=;` says.
    """
    try:
        _refuse_lines(source, problems)
        separator, first = _separator(source)
        records = _records(source, separator, first, problems)
        header = _header(next(records, []), source, problems)
        rows = [Row(cells, cells[0].place) for cells in _fitted(records, header, separator, problems)]
    except _Refused:
        return None
    if separator == ",":
        return CsvTable(header, tuple(_with_plain_numbers(rows, False, problems)), False)
    comma = any("," in cell.text and _NUMBER.fullmatch(cell.text) for row in rows for cell in row.cells)
    return CsvTable(header, tuple(_with_plain_numbers(rows, comma, problems)), comma)


def _refuse_lines(source: Source, problems: Problems) -> None:
    """Counted before anything is made of them, so that a file of line ends alone costs nothing."""
    if source.text.count("\n") > MOST_ROWS:
        _refuse_size(Place(source.name, MOST_ROWS + 1, 1), f"{MOST_ROWS:,} rows", problems)


def _refuse_size(place: Place, limit: str, problems: Problems) -> None:
    problems.error(
        "csv-size",
        place,
        f"expected a table of at most {limit}, found a larger one",
        "split it, or keep every tenth reading of a logger",
    )
    raise _Refused


def _separator(source: Source) -> tuple[str, int]:
    """The separator, and the line number on which the header is looked for."""
    line = source.line(1)
    said = _SEP_LINE.fullmatch(line.strip(" "))
    if said:
        return said[1], 2
    first = 1
    while not line.strip() and first <= 50:  # blank lines above a header
        first += 1
        line = source.line(first)
    outside = re.sub('"[^"]*"', "", line)
    return max(_SEPARATORS[::-1], key=lambda mark: (outside.count(mark), _SEPARATORS[::-1].index(mark))), first


def _records(source: Source, separator: str, first: int, problems: Problems) -> Iterator[list[Cell]]:
    """The records that aren't blank, each with at least one cell."""
    lines = source.text.split("\n")
    number = first - 1
    while number < len(lines):
        if '"' in lines[number]:
            cells, number = _quoted_record(lines, number, separator, source.name, problems)
        else:
            cells = _plain_record(lines[number], number + 1, separator, source.name)
            number += 1
        if any(cell.text for cell in cells):
            if len(cells) > MOST_COLUMNS:
                _refuse_columns(cells, problems)
            yield cells


def _plain_record(line: str, number: int, separator: str, name: str) -> list[Cell]:
    """A line without quotes: by far the commonest, so it is split at one go."""
    cells = []
    column = 1
    for piece in line.split(separator, MOST_COLUMNS + 1):
        text = piece.strip()
        lead = len(piece) - len(piece.lstrip()) if text else 0
        cell: Cell = _new(Cell)
        _set_text(cell, text)
        _set_place(cell, quick_place(name, number, column + lead, len(text) or 1))
        cells.append(cell)
        column += len(piece) + 1
    return cells


def _quoted_record(
    lines: list[str], number: int, separator: str, name: str, problems: Problems
) -> tuple[list[Cell], int]:
    """A record with quotes, which may run over several lines; also the index of the line after it."""
    cells: list[Cell] = []
    column = 0
    while len(cells) <= MOST_COLUMNS:
        line = lines[number]
        start = column
        while start < len(line) and line[start] in " \t" and line[start] != separator:
            start += 1
        if line[start : start + 1] == '"':
            place = Place(name, number + 1, start + 1)
            text, number, end = _quoted_text(lines, number, start + 1, place, problems)
            line = lines[number]
            stop = line.find(separator, end)
            stop = len(line) if stop < 0 else stop
            if line[end:stop].strip():
                _refuse_after_quote(line[end:stop], Place(name, number + 1, end + 1), problems)
            width = (end if number + 1 == place.line else len(lines[place.line - 1])) - start
            cells.append(Cell(text, replace(place, width=max(1, width))))
        else:
            stop = line.find(separator, column)
            stop = len(line) if stop < 0 else stop
            text = line[column:stop].strip()
            at = start if text else column
            cells.append(Cell(text, Place(name, number + 1, at + 1, len(text) or 1)))
        if stop >= len(line):
            break
        column = stop + 1
    return cells, number + 1


def _quoted_text(lines: list[str], number: int, start: int, place: Place, problems: Problems) -> tuple[str, int, int]:
    """The text after an opening quote, the index of its last line, the column after its closing quote."""
    parts: list[str] = []
    while True:
        line = lines[number]
        end = cast(re.Match[str], _QUOTED.match(line, start)).end()
        parts.append(line[start:end])
        if end < len(line):
            return "\n".join(parts).replace('""', '"'), number, end + 1
        number, start = number + 1, 0
        if number == len(lines):
            problems.error(
                "csv-quote",
                place,
                "the quote that opens here is never closed",
                'close the cell with "; a quote inside a quoted cell is written twice: ""',
            )
            raise _Refused


def _refuse_after_quote(after: str, place: Place, problems: Problems) -> None:
    text = after.strip()
    lead = len(after) - len(after.lstrip())
    problems.error(
        "csv-quote",
        Place(place.file, place.line, place.column + lead, len(text)),
        f"the cell ended at its closing quote, but {quoted(text)} follows",
        'a quote inside a quoted cell is written twice: ""',
    )
    raise _Refused


def _refuse_columns(cells: list[Cell], problems: Problems) -> None:
    problems.error(
        "csv-columns",
        cells[MOST_COLUMNS].place,
        f"expected at most {MOST_COLUMNS} columns, found more",
        "write one reading a row, with its value in the column value",
    )
    raise _Refused


def _header(cells: list[Cell], source: Source, problems: Problems) -> tuple[Cell, ...]:
    while cells and not cells[-1].text:
        cells.pop()
    before = len(problems)
    if not cells:
        problems.error(
            "csv-header",
            Place(source.name, 1, 1),
            "expected a first line with the names of the columns, found an empty file",
            "write for example: product,specimen,value",
        )
    seen: dict[str, Cell] = {}
    for number, cell in enumerate(cells, 1):
        if not cell.text.strip():
            problems.error(
                "csv-header", cell.place, f"column {number} has no name", "write its name into the first row"
            )
        elif cell.text in seen:
            problems.error(
                "csv-header",
                cell.place,
                f"the column {quoted(cell.text)} is given twice; the first stands at {seen[cell.text].place}",
                "rename or delete one of the two",
            )
        seen.setdefault(cell.text, cell)
    if len(problems) > before:
        raise _Refused
    return tuple(cells)


def _fitted(
    records: Iterator[list[Cell]], header: tuple[Cell, ...], separator: str, problems: Problems
) -> Iterator[tuple[Cell, ...]]:
    """The records that have as many cells as the header."""
    wanted, taken, faults = len(header), 0, 0
    for cells in records:
        while len(cells) > wanted and not cells[-1].text:
            cells.pop()
        if len(cells) == wanted:
            taken += wanted
            if taken > MOST_CELLS:
                _refuse_size(cells[0].place, f"{MOST_CELLS:,} cells", problems)
            yield tuple(cells)
            continue
        faults += 1
        _report_ragged(cells, header, separator, faults, problems)
        if faults == MOST_FAULTS:
            return


def _report_ragged(
    cells: list[Cell], header: tuple[Cell, ...], separator: str, faults: int, problems: Problems
) -> None:
    wanted = len(header)
    rest = "; the rows below were not looked at" if faults == MOST_FAULTS else ""
    found = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
    message = f"expected {wanted} cells as in the first row, found {found}{rest}"
    if len(cells) > wanted:
        hint = (
            "a decimal comma divides a number in two here: write a dot, or separate the cells by semicolons"
            if separator == ","
            else "put a text that holds a separator in double quotes"
        )
        problems.error("csv-cells", cells[wanted].place, message, hint)
        return
    last = cells[-1]
    other = next((mark for mark in _SEPARATORS if mark != separator and mark in last.text), None)
    if len(cells) == 1 and other:
        hint = f"the first row is separated by {_NAMES[separator]}, this one by {_NAMES[other]}: use the same"
    else:
        hint = f"write the missing {header[len(cells)].text}, or leave it blank but keep its separator"
    problems.error("csv-cells", last.place, message, hint)


def _with_plain_numbers(rows: list[Row], decimal_comma: bool, problems: Problems) -> Iterator[Row]:
    """The rows with each cell that is entirely a number in the form -1234.5; other texts untouched."""
    faults = 0
    for row in rows:
        cells = list(row.cells)
        for number, cell in enumerate(cells):
            text = cell.text
            if text.isascii() and "," not in text and not decimal_comma:  # nearly every cell
                continue
            if _GROUPED.fullmatch(text) or (decimal_comma and _POINT_GROUPS.fullmatch(text)):
                faults += 1
                if faults <= MOST_FAULTS:
                    _report_grouped(cell, problems)
            elif _needs_plain_digits(text, decimal_comma):
                cells[number] = Cell(text.translate(_PLAIN), cell.place)
        yield Row(tuple(cells), row.place)


def _needs_plain_digits(text: str, decimal_comma: bool) -> bool:
    """A number with a decimal comma or a typographic minus."""
    if "," in text:
        return decimal_comma and bool(_NUMBER.fullmatch(text))
    return not text.isascii() and bool(_NUMBER.fullmatch(text))


def _report_grouped(cell: Cell, problems: Problems) -> None:
    digits = cell.text.translate(_PLAIN)
    mark = max(cell.text.rfind("."), cell.text.rfind(","))
    whole = re.sub("[.,]", "", cell.text[:mark])
    if "," in cell.text:
        hint = f"write {whole}{cell.text[mark]}{cell.text[mark + 1 :]}, without marks between the thousands"
    else:
        hint = f"write {digits.replace('.', '')} for the whole number, or use a comma for the decimals"
    problems.error(
        "csv-number",
        cell.place,
        f"expected a number, found {quoted(cell.text)}, where a mark may stand for thousands or decimals",
        hint,
    )
