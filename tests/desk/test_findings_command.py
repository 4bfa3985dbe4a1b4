"""`sitegen findings`: tables that fit a terminal, JSON that says the same."""

import json
from pathlib import Path

import pytest
from builders import SMALL, write
from jsonschema import Draft202012Validator
from small_records import small_publication

from sitegen.cli import main
from sitegen.desk.findings_command import WIDTH, UnknownName, findings_text, planning_lines, table_lines
from sitegen.desk.findings_json import SCHEMA, VERSION


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
    mass = next(one for one in found["rounds"][0]["measures"] if one["protocol"] == "mass")
    tarn = next(one for one in mass["products"] if one["product"] == "tarn")
    assert tarn["finding"]["value"] == 412.0
    assert f"({tarn['finding']['shown']}\u00a0±" in text


def limited(folder: Path) -> Path:
    """The small publication with every kind of finding."""
    round = SMALL["rounds/trousers/round.yaml"].replace(
        "[spray, mass,", "[spray, mass, hydrostatic_head, submersion_leak,"
    )
    return write(
        folder,
        {
            "rounds/trousers/round.yaml": round,
            "rounds/trousers/hydrostatic_head.csv": "product,specimen,value\ntarn,1,>1000\ntarn,2,800\nfenn,1,900\n",
            "rounds/trousers/submersion_leak.csv": "product,specimen,value\ntarn,1,yes\ntarn,2,no\n",
        },
    )


def test_the_json_has_the_form_that_is_described(tmp_path: Path) -> None:
    """Version 1, by its JSON Schema (judged by jsonschema), with a mean, grades, a share, times and a reading beyond a limit."""
    found = json.loads(findings_text(limited(tmp_path / "pub"), "", as_json=True)[0])
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(found)
    assert found["version"] == VERSION == 1
    kinds = {
        product["finding"]["kind"]
        for measure in found["rounds"][0]["measures"]
        for product in measure["products"]
        if product["finding"]
    }
    assert kinds == {"mean", "grades", "share", "times", "beyond"}


def test_the_json_says_on_what_each_figure_rests(tmp_path: Path) -> None:
    """Readings that came and were used, parts of an interval, each pair's verdict, each claim's."""
    (round,) = json.loads(findings_text(limited(tmp_path / "pub"), "", as_json=True)[0])["rounds"]
    by_name = {(one["protocol"], one["stage"]): one for one in round["measures"]}
    mass, head = by_name["mass", "new"], by_name["hydrostatic_head", "new"]
    fenn = next(one for one in mass["products"] if one["product"] == "fenn")
    assert fenn["readings"] == {"came": 3, "used": 2, "missing": ["the seam tore"]}
    assert {part["name"] for part in fenn["finding"]["rests_on"]} == {"repeatability", "resolution", "calibration"}
    assert mass["scatter"]["of"] == "instrument" and mass["scatter"]["degrees_of_freedom"] == 3
    (pair,) = mass["comparison"]["pairs"]
    assert (pair["a"], pair["b"], pair["distinct"]) == ("fenn", "tarn", True)
    tarn = next(one for one in head["products"] if one["product"] == "tarn")
    assert (tarn["finding"]["above"], tarn["finding"]["values"]) == ([1000], [800])
    assert [claim["verdict"] for claim in round["claims"]] == ["holds"]


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
