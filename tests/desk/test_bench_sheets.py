"""Bench sheets: blind codes from a seed, a balanced order, and the way back from a filled table to readings."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from builders import ROUND, write

from sitegen.desk.sheet_command import Refused, write_sheets
from sitegen.pipeline.build import read
from sitegen.problems import Problems


def _round(folder: Path) -> str:
    return next(path.parent.name for path in folder.glob("rounds/*/round.yaml"))


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_each_entrant_stands_once_in_each_block(tmp_path: Path) -> None:
    """A block holds one specimen of each product, so that a drift of the bench touches all alike.

    Source: randomised blocks, NIST/SEMATECH e-Handbook 5.3.3.2 (from memory).
    """
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    write_sheets(folder, name, 7, "en", tmp_path / "sheets")
    key = {row["code"]: row["product"] for row in _rows(folder / "rounds" / name / "codes.csv")}
    order = [key[row["code"]] for row in _rows(tmp_path / "sheets" / "spray.csv")]
    entrants = set(key.values())
    blocks = [order[i : i + len(entrants)] for i in range(0, len(order), len(entrants))]
    assert len(blocks) == 3
    assert all(set(block) == entrants for block in blocks)


def test_the_same_seed_gives_the_same_sheets(tmp_path: Path) -> None:
    """Whoever is told the seed can make the very same codes and order."""
    files = []
    for name in ("one", "two"):
        folder = write(tmp_path / name, {})
        write_sheets(folder, _round(folder), 11, "en", tmp_path / f"{name}_sheets")
        files.append({p.name: p.read_bytes() for p in sorted((tmp_path / f"{name}_sheets").iterdir())})
    assert files[0] == files[1]


def test_no_sheet_names_a_product(tmp_path: Path) -> None:
    """A grader must not learn from a sheet which product a code stands for."""
    folder = write(tmp_path / "pub", {})
    write_sheets(folder, _round(folder), 3, "en", tmp_path / "sheets")
    for path in (tmp_path / "sheets").iterdir():
        text = path.read_text("utf-8").casefold()
        assert "tarn" not in text and "fenn" not in text, path.name


def test_a_filled_table_is_read_back_as_readings(tmp_path: Path) -> None:
    """Grades written beside codes become readings of the products and specimens behind them."""
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    write_sheets(folder, name, 5, "en", tmp_path / "sheets")
    key = {row["code"]: (row["product"], row["specimen"]) for row in _rows(folder / "rounds" / name / "codes.csv")}
    for stage in ("spray", "spray-after-3-washes"):
        _fill(tmp_path / "sheets" / f"{stage}.csv", folder / "rounds" / name / f"{stage}.csv")
    if not (folder / "rounds" / name / "spray.csv").read_text().startswith("code"):
        pytest.fail("the filled table was not put in the place of the other")
    problems = Problems()
    publication = read(folder, problems)
    assert [p for p in problems if p.code != "unused-file"] == []
    assert publication is not None
    found = {(r.product, r.specimen) for r in publication.readings[name] if r.protocol == "spray"}
    assert found == {pair for pair in key.values() if int(pair[1]) <= 3}


def _fill(sheet: Path, to: Path) -> None:
    rows = _rows(sheet)
    with to.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows({**row, "value": "4", "date": "2026-08-12", "grader": "ib"} for row in rows)


def test_an_existing_key_is_never_replaced(tmp_path: Path) -> None:
    """Specimens may be marked with the old codes already, so another seed is refused."""
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    write_sheets(folder, name, 5, "en", tmp_path / "sheets")
    before = (folder / "rounds" / name / "codes.csv").read_bytes()
    with pytest.raises(Refused, match="the round has a key already"):
        write_sheets(folder, name, 6, "en", tmp_path / "other")
    assert (folder / "rounds" / name / "codes.csv").read_bytes() == before
    write_sheets(folder, name, None, "en", tmp_path / "again")
    assert (tmp_path / "again" / "spray.csv").read_bytes() == (tmp_path / "sheets" / "spray.csv").read_bytes()


def test_a_table_with_readings_is_never_overwritten(tmp_path: Path) -> None:
    """A sheet that was filled in where it lies holds readings; making sheets again must not lose them."""
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    write_sheets(folder, name, 5, "en", tmp_path / "sheets")
    filled = tmp_path / "sheets" / "spray.csv"
    filled.write_text(filled.read_text().replace(",,", ",4,", 1))
    kept = filled.read_bytes()
    with pytest.raises(Refused, match="is there already and may hold readings"):
        write_sheets(folder, name, None, "en", tmp_path / "sheets")
    assert filled.read_bytes() == kept


def test_an_unknown_round_gets_the_nearest_name(tmp_path: Path) -> None:
    """A slip in the name of the round is answered with the name that was meant."""
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    with pytest.raises(Refused, match=f"did you mean '{name}'"):
        write_sheets(folder, name[:-1], 5, "en", tmp_path / "sheets")


def test_a_seed_that_is_no_number_leaves_the_first(tmp_path: Path) -> None:
    """A key whose last cell looks like a number to Unicode alone (a superscript two) is another key, not a crash."""
    folder = write(tmp_path / "pub", {})
    name = _round(folder)
    key = folder / "rounds" / name / "codes.csv"
    product = sorted((folder / "products").glob("*.yaml"))[0].stem
    key.write_text(f"code,product,specimen,seed\nAB12,{product},1,\u00b2\n", "utf-8")
    with pytest.raises(Refused, match="has a key already"):
        write_sheets(folder, name, None, "en", tmp_path / "sheets")
    assert not (tmp_path / "sheets").exists()


OTHER = "title: Noch einmal\nentrants: [tarn, fenn]\nprotocols: [spray]\n"


def test_codes_are_unique_in_the_publication(tmp_path: Path) -> None:
    """A second round with the same entrants gets another seed and none of the first one's codes, and both stay as they are."""
    folder = write(tmp_path / "pub", {"rounds/again/round.yaml": OTHER})
    keys = []
    for name in ("trousers", "again", "trousers"):
        _, _, problems = write_sheets(folder, name, None, "en", tmp_path / f"sheets of {name}")
        assert not problems.has_errors, [problem.message for problem in problems.errors]
        keys.append(_rows(folder / "rounds" / name / "codes.csv"))
    first, second, again = keys
    assert first == again and {row["seed"] for row in first} != {row["seed"] for row in second}
    assert not {row["code"] for row in first} & {row["code"] for row in second}


def test_before_and_after_are_the_same_pieces(tmp_path: Path) -> None:
    """Where protocols ask for different numbers of specimens, every stage of one still has the same codes."""
    folder = write(
        tmp_path / "pub",
        {"rounds/trousers/round.yaml": ROUND.replace("protocols: [", "protocols: [air_permeability, ")},
    )
    write_sheets(folder, "trousers", 7, "en", tmp_path / "sheets")
    codes = {path.stem: {row["code"] for row in _rows(path)} for path in (tmp_path / "sheets").glob("*.csv")}
    assert codes["spray"] == codes["spray-after-3-washes"]
    assert len({len(found) for found in codes.values()}) > 1
    ordered = sorted(codes.values(), key=len)
    assert all(fewer <= more for fewer, more in pairwise(ordered))


def test_a_refused_sheet_leaves_no_key(tmp_path: Path) -> None:
    """Where a filled table is in the way nothing is written, the key neither."""
    folder = write(tmp_path / "pub", {})
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "spray.csv").write_text("code,value\n101,4\n")
    with pytest.raises(Refused, match="may hold readings"):
        write_sheets(folder, "trousers", None, "en", tmp_path / "sheets")
    assert not (folder / "rounds" / "trousers" / "codes.csv").exists()
    assert [path.name for path in (tmp_path / "sheets").iterdir()] == ["spray.csv"]
