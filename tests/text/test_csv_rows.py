"""Tables come in as spreadsheets of half of Europe write them, or with a problem at the right cell."""

import csv
import io
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.text.csv_rows import MOST_FAULTS, CsvTable, parse_csv
from sitegen.text.source import Source


def read(text: str) -> tuple[CsvTable | None, Problems]:
    problems = Problems()
    return parse_csv(Source("r.csv", text, ""), problems), problems


def table(text: str) -> list[list[str]]:
    found, problems = read(text)
    assert found is not None and len(problems) == 0
    return [[cell.text for cell in found.header], *([cell.text for cell in row.cells] for row in found.rows)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("aaa,bbb,ccc\nzzz,yyy,xxx\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]], id="2.1"),
        pytest.param("aaa,bbb,ccc\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]], id="2.2"),
        pytest.param('"aaa","bbb"\nzzz,yyy\n', [["aaa", "bbb"], ["zzz", "yyy"]], id="2.5"),
        pytest.param('a,b,c\n"aaa","b\nbb","ccc"\n', [["a", "b", "c"], ["aaa", "b\nbb", "ccc"]], id="2.6"),
        pytest.param('a,b,c\n"aaa","b""bb","ccc"\n', [["a", "b", "c"], ["aaa", 'b"bb', "ccc"]], id="2.7"),
        pytest.param('a,b\n" x ",y\n', [["a", "b"], [" x ", "y"]], id="2.4 blanks are part of a quoted field"),
    ],
)
def test_the_rules_of_rfc_4180(text: str, expected: list[list[str]]) -> None:
    """Examples of RFC 4180, section 2, by the number in the id (from memory)."""
    assert table(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("a;b\n1;x, y\n", [["a", "b"], ["1", "x, y"]], id="semicolons"),
        pytest.param("a\tb\n1\t x \n", [["a", "b"], ["1", "x"]], id="tabs"),
        pytest.param("sep=;\na;b\n1;2\n", [["a", "b"], ["1", "2"]], id="sep line"),
        pytest.param('"sep=;"\na,x;b\n1;2\n', [["a,x", "b"], ["1", "2"]], id="quoted sep line"),
        pytest.param("\n\na,b\n1,2\n", [["a", "b"], ["1", "2"]], id="blank lines above"),
        pytest.param('"a;b;c",d\n1,2\n', [["a;b;c", "d"], ["1", "2"]], id="separators in quotes don't count"),
        pytest.param("value\n1\n", [["value"], ["1"]], id="one column"),
        pytest.param("a,b,,\n1,2,,\n,,,\n\n3,,\n", [["a", "b"], ["1", "2"], ["3", ""]], id="blank cells and rows"),
        pytest.param('a,b\n5" hail,1\n', [["a", "b"], ['5" hail', "1"]], id="an inch mark opens nothing"),
    ],
)
def test_what_spreadsheets_write(text: str, expected: list[list[str]]) -> None:
    """Separator, a line that names it, blank rows and cells (common practice, no source)."""
    assert table(text) == expected


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("1413,5", "1413.5"),
        ("-0,50", "-0.50"),
        ("\u22122,5", "-2.5"),
        ("\u22123", "-3"),
        ("1\u00a0234,5", "1\u00a0234,5"),
        ("1\u202f234\u202f567", "1\u202f234\u202f567"),
        ("1,5e\u22123", "1.5e-3"),
        ("1413.50", "1413.50"),
        ("x 1,5", "x 1,5"),
        ("1,5,6", "1,5,6"),
        ("412,0 g", "412,0 g"),
        ("10.08.2026", "10.08.2026"),
        ("a\u00a0b", "a\u00a0b"),
    ],
)
def test_numbers_of_a_semicolon_file(written: str, expected: str) -> None:
    """A cell that is entirely a number gets a dot and keeps its digits; texts, and numbers with a blank inside, are untouched."""
    assert table(f"n;value\n1;{written}\n") == [["n", "value"], ["1", expected]]


def test_a_decimal_comma_is_noted() -> None:
    """A comma in a text doesn't make a file one with decimal commas."""
    flags = [read(text)[0] for text in ("a;b\n1,5;2\n", "a;b\n1.5;x, y\n", 'a,b\n"1,5",2\n')]
    assert [flag and flag.decimal_comma for flag in flags] == [True, False, False]


def test_a_comma_file_keeps_its_commas() -> None:
    """In a file separated by commas a quoted 1,5 may be anything: the records will ask."""
    assert table('a,b\n"1,5",\u22122\n') == [["a", "b"], ["1,5", "-2"]]


def test_cells_know_their_true_place() -> None:
    """Also after a quoted line break, after quotes written twice, and for blanks around a text."""
    found, _ = read('a,b,c\n"x ""y""\nz", 2 ,"3"\n4,,6\n')
    assert found is not None
    places = [[cell.place for cell in row.cells] for row in found.rows]
    assert places == [
        [Place("r.csv", 2, 1, 8), Place("r.csv", 3, 5, 1), Place("r.csv", 3, 8, 3)],
        [Place("r.csv", 4, 1, 1), Place("r.csv", 4, 3, 1), Place("r.csv", 4, 4, 1)],
    ]
    assert [row.place.line for row in found.rows] == [2, 4]


FAULTS = [
    pytest.param(
        "a,b\n1,412,5\n",
        "r.csv:2:7: error: expected 2 cells as in the first row, found 3 cells [csv-cells]\n"
        "    2 | 1,412,5\n"
        "      |       ^\n"
        "   hint: a decimal comma divides a number in two here: write a dot, or separate the "
        "cells by semicolons",
        id="too many cells",
    ),
    pytest.param(
        "a;b\n1;x;y\n",
        "r.csv:2:5: error: expected 2 cells as in the first row, found 3 cells [csv-cells]\n"
        "    2 | 1;x;y\n"
        "      |     ^\n"
        "   hint: put a text that holds a separator in double quotes",
        id="a separator in a text",
    ),
    pytest.param(
        "a,value\n412\n",
        "r.csv:2:1: error: expected 2 cells as in the first row, found 1 cell [csv-cells]\n"
        "    2 | 412\n"
        "      | ^^^\n"
        "   hint: write the missing value, or leave it blank but keep its separator",
        id="too few cells",
    ),
    pytest.param(
        "a,b\n1;2\n",
        "r.csv:2:1: error: expected 2 cells as in the first row, found 1 cell [csv-cells]\n"
        "    2 | 1;2\n"
        "      | ^^^\n"
        "   hint: the first row is separated by commas, this one by semicolons: use the same",
        id="two kinds of separator",
    ),
    pytest.param(
        "n;value\n1;1.234,5\n",
        "r.csv:2:3: error: expected a number, found '1.234,5', "
        "where a mark may stand for thousands or decimals [csv-number]\n"
        "    2 | 1;1.234,5\n"
        "      |   ^^^^^^^\n"
        "   hint: write 1234,5, without marks between the thousands",
        id="thousands and decimals",
    ),
    pytest.param(
        "n;value\n1;1,5\n2;1.234\n",
        "r.csv:3:3: error: expected a number, found '1.234', "
        "where a mark may stand for thousands or decimals [csv-number]\n"
        "    3 | 2;1.234\n"
        "      |   ^^^^^\n"
        "   hint: write 1234 for the whole number, or use a comma for the decimals",
        id="a dot among decimal commas",
    ),
    pytest.param(
        'n,value\n1,"1,234.5"\n',
        "r.csv:2:3: error: expected a number, found '1,234.5', "
        "where a mark may stand for thousands or decimals [csv-number]\n"
        '    2 | 1,"1,234.5"\n'
        "      |   ^^^^^^^^^\n"
        "   hint: write 1234.5, without marks between the thousands",
        id="thousands in quotes",
    ),
    pytest.param(
        'a,b\n1,"open\n2,3\n',
        "r.csv:2:3: error: the quote that opens here is never closed [csv-quote]\n"
        '    2 | 1,"open\n'
        "      |   ^\n"
        '   hint: close the cell with "; a quote inside a quoted cell is written twice: ""',
        id="quote never closed",
    ),
    pytest.param(
        'a,b\n1,"5" hail"\n',
        "r.csv:2:7: error: the cell ended at its closing quote, but 'hail\"' follows [csv-quote]\n"
        '    2 | 1,"5" hail"\n'
        "      |       ^^^^^\n"
        '   hint: a quote inside a quoted cell is written twice: ""',
        id="inch mark in quotes",
    ),
    pytest.param(
        "a,b,a\n1,2,3\n",
        "r.csv:1:5: error: the column 'a' is given twice; the first stands at r.csv:1:1 [csv-header]\n"
        "    1 | a,b,a\n"
        "      |     ^\n"
        "   hint: rename or delete one of the two",
        id="column twice",
    ),
    pytest.param(
        "a,,c\n1,2,3\n",
        "r.csv:1:3: error: column 2 has no name [csv-header]\n"
        "    1 | a,,c\n"
        "      |   ^\n"
        "   hint: write its name into the first row",
        id="column without a name",
    ),
    pytest.param(
        "",
        "r.csv:1:1: error: expected a first line with the names of the columns, "
        "found an empty file [csv-header]\n"
        "    1 |\n"
        "      | ^\n"
        "   hint: write for example: product,specimen,value",
        id="empty",
    ),
]


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_faults_name_the_cell(text: str, expected: str, printed: Callable[..., str]) -> None:
    """Each trap with its whole print."""
    assert printed(read(text)[1], text) == expected


def test_rows_of_the_right_length_are_kept() -> None:
    """One ragged row doesn't hide the others."""
    found, problems = read("a,b\n1\n2,3\n")
    assert found is not None
    assert [[cell.text for cell in row.cells] for row in found.rows] == [["2", "3"]]
    assert len(problems) == 1


def test_one_wrong_setting_is_not_told_a_thousand_times() -> None:
    """A spreadsheet spoils every row alike; the last problem says that reading stopped."""
    _, problems = read("a,b\n" + "1\n" * 1000)
    assert len(problems) == MOST_FAULTS
    assert problems.errors[-1].message.endswith("found 1 cell; the rows below were not looked at")


@pytest.mark.parametrize("cell", ["x", '"x"'])
def test_a_million_columns_are_refused(cell: str) -> None:
    """A table on its side ends with one problem, at the first column too many."""
    found, problems = read(",".join([cell] * 1_000_000))
    assert found is None
    assert [p.message for p in problems] == ["expected at most 200 columns, found more"]
    assert problems.errors[0].place.column == 200 * (len(cell) + 1) + 1


CELLS = st.text(st.sampled_from('ab1,;"\n \t'), max_size=6)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), max_size=5), st.sampled_from([",", ";", "\t"]))
def test_tables_are_those_of_the_reference_library(rows: list[list[str]], separator: str) -> None:
    """What Python's csv module writes with every cell quoted, this reads as csv does."""
    written = io.StringIO()
    header = ["j", "k", "l", "m"]
    kept = [["k", *row] for row in rows]
    csv.writer(written, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows([header, *kept])
    reference = list(csv.reader(io.StringIO(written.getvalue(), newline=""), delimiter=separator))
    found, _ = read(written.getvalue())
    assert found is not None
    got = [[cell.text for cell in row.cells] for row in found.rows]
    # decimal commas have become dots: that difference is meant
    assert got == [
        [cell.replace(",", ".") if cell not in got_row else cell for cell in row]
        for row, got_row in zip(reference[1:], got, strict=True)
    ]
