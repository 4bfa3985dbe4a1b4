"""Cells of the open data in spreadsheets that part lines elsewhere than at commas."""

import csv
from io import StringIO

import pytest

from sitegen.pages.machines.open_data import _csv

SEPARATORS = (";", "\t", "|", "\n", "\r\n")


@pytest.mark.parametrize("separator", SEPARATORS)
@pytest.mark.parametrize("before", ["", " ", '"'])
@pytest.mark.parametrize("formula", ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\uff1d1+1"])
def test_no_part_of_a_note_begins_as_a_formula(separator: str, before: str, formula: str) -> None:
    """At whichever separator a spreadsheet parts a line, no cell begins as a formula (OWASP, CSV injection; from memory)."""
    data = _csv(("note",), [(f"seam tore{separator}{before}{formula}",)]).decode()
    for part in data.replace("\r\n", "\n").replace("\t", ";").replace("|", ";").replace("\n", ";").split(";"):
        assert not part.strip().lstrip('"').strip().startswith(tuple("=+-@\uff1d"))


def test_what_has_another_separator_is_quoted_and_numbers_stay_numbers() -> None:
    """A row with a separator in a cell is quoted whole (RFC 4180, 2.5 to 2.7); a negative number gets no apostrophe."""
    data = _csv(("value", "note"), [("-3.5", "seam tore; dry"), ("-4", "dry")])
    assert data == b'value,note\r\n"-3.5","seam tore; dry"\r\n-4,dry\r\n'
    assert list(csv.reader(StringIO(data.decode(), newline="")))[1] == ["-3.5", "seam tore; dry"]
