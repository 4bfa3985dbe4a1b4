"""Every cell of every table of a publication, damaged one at a time: reported at its place, or without effect on any figure."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import ROUND, SMALL, write

from sitegen import stock
from sitegen.findings.rigs.rig_state import judge_rig_record
from sitegen.findings.rounds import find_round
from sitegen.pipeline.build import read
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.publication import Publication
from sitegen.records.stock_records import read_stock

GRADED = """\
code,protocol,stage,value,unit,date,grader,note
101,spray,new,5,,2026-08-12,ib,
102,spray,new,4,,2026-08-12,ib,
103,spray,new,4,,2026-08-12,ib,
104,spray,new,3,,2026-08-12,ib,
101,spray,after 3 washes,4,,2026-08-20,ib,
102,spray,after 3 washes,3,,2026-08-20,ib,
103,spray,after 3 washes,2,,2026-08-20,ib,
104,spray,after 3 washes,2,,2026-08-20,ib,
"""
CODES = "code,product,specimen,seed\n101,tarn,1,7\n102,tarn,2,7\n103,fenn,1,7\n104,fenn,2,7\n"
DRYING = """\
product;specimen;value;unit;date
tarn;1;51,5;min;2026-08-17
tarn;2;47;min;2026-08-18
tarn;3;0,8;h;2026-08-18
fenn;1;55,5;min;2026-08-17
fenn;2;54;min;2026-08-18
"""
LEAK = "product,specimen,value,date\ntarn,1,yes,2026-08-21\ntarn,2,no,2026-08-21\n"
RUN_TIME = "product,specimen,time,value,unit\ntarn,1,0,300,lm\ntarn,1,60,290,lm\ntarn,1,120,140,lm\ntarn,1,180,20,lm\n"
LOG = "date,check,value,unit,note\n2026-08-10,reference,500.1,g,\n2026-08-11,reference,500.2,g,\n2026-08-11,room_humidity,61,%,\n"
FILES: dict[str, str | bytes | None] = {
    "rounds/trousers/round.yaml": ROUND.replace(
        "[spray, mass,", "[spray, mass, {protocol: drying_time, stages: [new]}, submersion_leak,"
    ),
    "rounds/trousers/spray.csv": GRADED,
    "rounds/trousers/codes.csv": CODES,
    "rounds/trousers/drying_time.csv": DRYING,
    "rounds/trousers/submersion_leak.csv": LEAK,
    "rounds/trousers/run_time.csv": RUN_TIME,
    "rigs/scale/log.csv": LOG,
}
TABLES = {name: str(text) for name, text in {**SMALL, **FILES}.items() if name.endswith(".csv")}
UNITS = {"g": "mg", "min": "s", "h": "min", "lm": "cd", "%": "g"}
# A cell that only people read: what stands there is on the page as it stands.
FREE = {"note", "seed"}


def damages(cells: list[str], at: int, is_curve: bool) -> Iterator[tuple[str, list[str]]]:
    """What may happen to one cell of a row: how it is called, and the row after it."""
    cell = cells[at]
    for how, text in (
        ("blank", ""), ("letter", f"{cell}x"), ("letter before", f"x{cell}"), ("sign", f"-{cell}"), ("doubled", cell * 2),
        ("cut", f"{cell[:1]} {cell[1:]}"), ("unit", f"{cell} kg"), ("other unit", UNITS.get(cell, cell)),
    ):  # fmt: skip
        if text != cell:
            yield how, [*cells[:at], text, *cells[at + 1 :]]
    yield "pushed right", [*cells[:at], "", *cells[at:]]
    yield "pulled left", [*cells[:at], *cells[at + 1 :]]
    yield "pulled left and filled up", [*cells[:at], *cells[at + 1 :], ""]
    if at and not is_curve:  # of a time and a value that are both possible nothing tells which is which
        yield "exchanged with its neighbour", [*cells[: at - 1], cell, cells[at - 1], *cells[at + 1 :]]


class Bench:
    """The publication in a folder, of which one table after another is replaced."""

    def __init__(self, folder: Path) -> None:
        self.folder = write(folder, FILES)
        self.names = tuple(sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()))
        self.stock = read_stock(stock.content_folder(), Problems())
        self.sound, problems = self.read()
        assert list(problems) == []

    def read(self) -> tuple[Publication, Problems]:
        """All records, and what is wrong with them."""
        problems = Problems()
        publication = read(self.folder, problems)
        assert publication is not None
        return publication, problems

    def damaged(self, name: str, text: str) -> tuple[Publication, Problems]:
        """The same after one table was replaced, for this once."""
        path = self.folder / name
        before = path.read_bytes()
        path.write_text(text)
        found = self.read()
        path.write_bytes(before)
        return found


def figures(publication: Publication) -> object:
    """All that is found of the readings and the rigs, but for places."""
    rigs = {id: judge_rig_record(rig, publication.protocols) for id, rig in publication.rigs.items()}
    return [
        find_round(round, publication.readings[id], publication.protocols, publication.products, rigs)
        for id, round in publication.rounds.items()
    ], rigs


def table_of(rows: list[list[str]], separator: str) -> str:
    """Rows as a table."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
    return out.getvalue()


def is_reported(problems: Problems, name: str, row: int) -> bool:
    """Whether a problem stands in this row. Of a key of codes, where the code stands in a table; of a curve, also at the
    next point, where time goes back.
    """
    places: list[Place] = [problem.place for problem in problems]
    coded, last = name.endswith("codes.csv"), row + name.endswith("run_time.csv")
    return any(
        (p.file == name and row <= p.line <= last) or (coded and p.file.startswith("rounds/trousers/")) for p in places
    )


def passed_over(bench: Bench, name: str) -> Iterator[str]:
    """The damages of a table that change a figure and are not reported."""
    separator = ";" if ";" in TABLES[name] else ","
    header, *rows = list(csv.reader(io.StringIO(TABLES[name]), delimiter=separator))
    for number, row in enumerate(rows):
        for at, column in enumerate(header):
            for how, cells in damages(row, at, "time" in header) if column not in FREE else ():
                text = table_of([header, *rows[:number], cells, *rows[number + 1 :]], separator)
                publication, problems = bench.damaged(name, text)
                if is_reported(problems, name, number + 2) or publication.readings == bench.sound.readings:
                    continue
                if figures(publication) != figures(bench.sound):
                    yield f"{column} of row {number + 2}, {how}: {separator.join(cells)}"


@pytest.mark.parametrize("name", TABLES)
def test_no_damaged_cell_is_passed_over(name: str, tmp_path: Path) -> None:
    """A cell that is blank, doubled, signed, in another unit or column is reported in its row, or leaves all figures as they are."""
    assert list(passed_over(Bench(tmp_path / "pub"), name)) == []
