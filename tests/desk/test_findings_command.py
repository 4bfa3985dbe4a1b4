"""`sitegen findings`: tables that fit a terminal, JSON that says the same."""

import json
from pathlib import Path

import pytest
from builders import write
from small_records import small_publication

from sitegen.cli import main
from sitegen.desk.findings_command import WIDTH, UnknownName, findings_text, planning_lines, table_lines


def test_no_line_is_wider_than_a_terminal(tmp_path: Path) -> None:
    """Eighty columns are what every terminal has."""
    text, problems = findings_text(write(tmp_path / "pub", {}), "", as_json=False)
    assert not problems.has_errors
    assert max(map(len, text.splitlines())) <= WIDTH == 80


def test_the_table_and_the_json_agree(tmp_path: Path) -> None:
    """The mean of the CSV's masses stands in both, worked out by hand: (412.0 + 411.5 + 412.5) / 3 = 412.0."""
    folder = write(tmp_path / "pub", {})
    text, _ = findings_text(folder, "", as_json=False)
    found = json.loads(findings_text(folder, "", as_json=True)[0])
    mass = next(c["measured"] for c in found[0]["compared"] if c["measured"]["measure"]["protocol"] == "mass")
    tarn = next(cell for cell in mass["cells"] if cell["product"] == "tarn")
    assert tarn["summary"]["mean"] == 412.0
    assert f"({tarn['summary']['shown']}\u00a0±" in text


def test_a_missing_reading_is_told(tmp_path: Path) -> None:
    """Why a reading is missing stands where the others say how sure they are."""
    text, _ = findings_text(write(tmp_path / "pub", {}), "", as_json=False)
    assert "the seam tore" in text


def test_what_so_few_specimens_can_show_is_said(tmp_path: Path) -> None:
    """Two entrants with three specimens each: smallest two-sided p = 2/C(6,3) = 0.1, so four are needed.

    Source: the exact Mann-Whitney distribution, 2/C(n+m, n); recomputed here.
    """
    text, _ = findings_text(write(tmp_path / "pub", {}), "", as_json=False)
    told = " ".join(text.split())
    assert "too few specimens to know how much grades scatter" in told
    assert "at least 4 specimens of each product" in told


def test_a_planned_round_says_what_its_specimens_could_show() -> None:
    """Two products leave exact tests, which three specimens don't satisfy; eight are judged by the scatter of all."""
    spray = small_publication().protocols["spray"]
    two, eight = (" ".join(planning_lines(n, [spray])) for n in (2, 8))
    assert "3 specimens of each of 2 entrants cannot show a difference" in two and "4 of each would" in two
    assert "3 specimens of each of 8 entrants show a difference of 2.2 grades or more" in eight


def test_an_unknown_name_is_answered_with_the_nearest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip exits with 2, as wrong use, and names what was meant."""
    folder = write(tmp_path / "pub", {})
    name = next(path.parent.name for path in folder.glob("rounds/*/round.yaml"))
    with pytest.raises(UnknownName):
        findings_text(folder, name[1:], as_json=False)
    assert main(["findings", name[1:], "--in", str(folder)]) == 2
    assert f"did you mean '{name}'?" in capsys.readouterr().err


def test_a_long_cell_wraps_within_its_column() -> None:
    """A last column that is too long goes on below itself, never past the edge."""
    lines = list(table_lines(("a", "b"), [("x", "word " * 40)]))
    assert max(map(len, lines)) <= WIDTH
    assert len(lines) > 2
