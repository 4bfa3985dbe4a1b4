"""Blind codes: what a grader sees instead of a product's name, and their key, `codes.csv` in a round's folder.

A bench sheet names specimens by code only. Filled in, it is read like any other table of readings, once
its codes are resolved by the key.
"""

from collections.abc import Mapping
from dataclasses import replace

from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.columns import take_columns
from sitegen.text.csv_rows import Cell, CsvTable, Row

KEY_FILE = "codes.csv"
KEY_COLUMNS = ("code", "product", "specimen", "seed")
Codes = Mapping[str, tuple[str, str]]


def take_codes(table: CsvTable, problems: Problems) -> dict[str, tuple[str, str]]:
    """The key: product and specimen by code. A code that stands twice is reported."""
    columns = take_columns(table, KEY_COLUMNS, KEY_COLUMNS[:3], problems)
    codes: dict[str, tuple[str, str]] = {}
    is_seeded = columns is not None and any(columns.text(row, "seed") for row in table.rows)
    for row in table.rows if columns else ():
        assert columns is not None
        code = columns.cell(row, "code")
        product, specimen = columns.text(row, "product"), columns.text(row, "specimen")
        if code is None or not product or not specimen:
            problems.error("code-row", row.place, "a row of the key needs a code, a product and a specimen")
        elif is_seeded and not columns.text(row, "seed"):
            problems.error("code-row", row.place, "this row of the key has no seed, others have one")
        elif code.text in codes:
            problems.error("code-double", code.place, f"the code {quoted(code.text)} is listed twice in the key")
        else:
            codes[code.text] = (product, specimen)
    return codes


def resolve_codes(table: CsvTable, codes: Codes, problems: Problems) -> CsvTable:
    """The table with product and specimen in the place of its column `code`; unchanged where it has none."""
    at = next((i for i, cell in enumerate(table.header) if cell.text.strip().lower() == "code"), None)
    if at is None:
        return table
    if not codes:
        message = "this table names specimens by code, but the round has no key"
        problems.error(
            "code-key",
            table.header[at].place,
            message,
            f"the key is {KEY_FILE} beside the table; sitegen sheet writes it",
        )
        named = tuple(Cell("product", cell.place) if i == at else cell for i, cell in enumerate(table.header))
        return replace(table, header=named, rows=())
    head = table.header[at]
    header = (*table.header[:at], Cell("product", head.place), Cell("specimen", head.place), *table.header[at + 1 :])
    rows = (_resolve(row, at, codes, problems) for row in table.rows)
    return replace(table, header=header, rows=tuple(row for row in rows if row is not None))


def _resolve(row: Row, at: int, codes: Codes, problems: Problems) -> Row | None:
    cell = row.cells[at]
    found = codes.get(cell.text.strip())
    if found is None:
        message = f"{quoted(cell.text)} is no code of this round" if cell.text.strip() else "this row has no code"
        problems.error(
            "code-unknown", cell.place, message, meant_or(cell.text, codes, f"the codes stand in {KEY_FILE}")
        )
        return None
    product, specimen = found
    return replace(
        row, cells=(*row.cells[:at], Cell(product, cell.place), Cell(specimen, cell.place), *row.cells[at + 1 :])
    )
