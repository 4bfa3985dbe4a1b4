"""Readings to cells: every entrant at every stage, also the empty ones; two graders kept apart; times by hand."""

import re
from decimal import Decimal

import pytest
from builders import SMALL
from small_records import small_findings, small_publication

from sitegen.findings.found import CurveSummary, Measured
from sitegen.findings.measured import measure_round
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.records.fields.words import Words
from sitegen.records.measured.round import parse_measure
from sitegen.records.publication import Publication

D = Decimal
MASS, SPRAY, CURVE, ROUND = (
    f"rounds/trousers/{name}" for name in ("mass.csv", "spray.csv", "run_time.csv", "round.yaml")
)


def measured(publication: Publication, measure: str) -> Measured:
    found = measure_round(publication.rounds["trousers"], publication.readings["trousers"], publication.protocols)
    wanted = parse_measure(measure)
    return next(entry for entry in found if entry.measure == wanted)


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def test_every_entrant_has_a_cell_in_every_measure(small: Publication) -> None:
    """Protocols in the round's order, each at its stages, each with the entrants in the round's order: nobody is left out."""
    found = measure_round(small.rounds["trousers"], small.readings["trousers"], small.protocols)
    assert [entry.measure.text for entry in found] == ["spray", "spray after 3 washes", "mass", "run_time"]
    assert {tuple(cell.product for cell in entry.cells) for entry in found} == {("tarn", "fenn")}


def test_an_empty_cell_says_nothing_was_measured(small: Publication) -> None:
    """No readings, no summary: never a nought."""
    cell = measured(small, "run_time").cell("fenn")
    assert cell.summary is None and cell.specimens == () and cell.missing == ()
    with pytest.raises(KeyError):
        measured(small, "run_time").cell("halde")


def test_a_missing_reading_is_counted_and_its_reason_kept(small: Publication) -> None:
    """Two of three specimens: the mean of two, one short, and why."""
    cell = measured(small, "mass").cell("fenn")
    assert isinstance(cell.summary, RatioSummary)
    assert (cell.summary.n, cell.summary.mean, cell.short) == (2, pytest.approx(388.75), 1)
    assert cell.missing == (Words((("", "the seam tore"),)),)
    assert cell.specimens == (("1", D("388.0")), ("2", D("389.5")))


def test_grades_get_a_median_never_a_mean(small: Publication) -> None:
    """Grades 4, 3, 3 have the median 3; a mean of 3.33 would be no grade."""
    summary = measured(small, "spray after 3 washes").cell("tarn").summary
    assert isinstance(summary, GradeSummary)
    assert (summary.median, summary.low, summary.high) == ((D(3),), D(3), D(4))


def test_run_times_are_interpolated_by_hand(small: Publication) -> None:
    """No point at 30 s, so the first counts as the start: half of 300 lm at 60 + 60·(290-150)/150 min, a tenth likewise."""
    summary = measured(small, "run_time").cell("tarn").summary
    assert isinstance(summary, CurveSummary)
    half, tenth = summary.times
    assert (half.share, tenth.share) == (50, 10)
    start = 300
    assert half.runs[0].time == pytest.approx(60 + 60 * (290 - start / 2) / 150)
    assert tenth.runs[0].time == pytest.approx(120 + 60 * (140 - start / 10) / 120)
    # Trapezia by hand: 60·(295 + 215 + 80).
    assert summary.area == pytest.approx(60 * (295 + 215 + 80))


def test_a_run_counts_from_thirty_seconds() -> None:
    """ANSI/PLATO FL 1 (from memory): what the lamp gives 30 s after switching on is the whole of which 10 % ends the run."""
    rows = "product,time,value\ntarn,0,400\ntarn,0.5,300\ntarn,60,290\ntarn,120,140\ntarn,180,20\n"
    summary = measured(small_publication({CURVE: rows}), "run_time").cell("tarn").summary
    assert isinstance(summary, CurveSummary)
    assert summary.times[0].runs[0].start_value == 300
    assert summary.times[0].runs[0].time == pytest.approx(116.0 - 0.5)


def test_a_second_grader_is_kept_apart() -> None:
    """Who graded more is the finding, the other the check on it; their grades are never pooled."""
    more = SMALL[SPRAY] + "tarn;new;1;3;2026-08-13;xy\ntarn;new;2;3;2026-08-13;xy\n"
    found = measured(small_publication({SPRAY: more}), "spray")
    cell = found.cell("tarn")
    assert found.graders == ("ib", "xy")
    assert [value for _, value in cell.specimens] == [5, 5, 4]
    assert {grader: [value for _, value in values] for grader, values in cell.gradings} == {
        "ib": [5, 5, 4],
        "xy": [3, 3],
    }
    assert isinstance(cell.summary, GradeSummary) and cell.summary.n == 3


def graded(rows: str, graders: str = "") -> Measured:
    """The spray measure with these further rows, and graders declared by the round."""
    files = {SPRAY: SMALL[SPRAY] + rows, ROUND: SMALL[ROUND] + (f"graders: [{graders}]\n" if graders else "")}
    return measured(small_publication(files), "spray")


def test_the_round_may_say_whose_grades_are_the_finding() -> None:
    """Named first, a grader with fewer grades is the finding; what that person didn't grade, the other did, and it is said."""
    found = graded("tarn;new;1;3;2026-08-13;xy\ntarn;new;2;3;2026-08-13;xy\n", "xy")
    tarn, fenn = found.cell("tarn"), found.cell("fenn")
    assert found.graders == ("xy", "ib")
    assert (sorted(tarn.specimens), tarn.by_others) == ([("1", D(3)), ("2", D(3)), ("3", D(4))], (("ib", 1),))
    assert fenn.by_others == (("ib", 3),) and fenn.summary is not None


def test_of_two_with_equally_many_the_tables_decide_and_not_the_alphabet() -> None:
    """Who comes first in the tables; renamed graders give the same finding."""
    rows = [
        f"{product};{stage};{n};1;2026-08-13;%s"
        for product in ("tarn", "fenn")
        for stage in ("new", "after 3 washes")
        for n in (1, 2, 3)
    ]
    for other in ("aa", "zz"):
        assert [value for _, value in graded("\n".join(rows) % ((other,) * 12) + "\n").cell("tarn").specimens] == [
            5,
            5,
            4,
        ]


def test_a_product_graded_by_another_person_alone_is_graded() -> None:
    """Two people share the products out: nobody is "not measured", and the cell says whose grades it rests on."""
    rows = SMALL[SPRAY].replace("ib", "jm").split("\n")
    shared = "\n".join(row if row.startswith("fenn") else row.replace("jm", "ib") for row in rows)
    found = measured(small_publication({SPRAY: shared}), "spray").cell("fenn")
    assert found.by_others == (("jm", 3),) and found.summary is not None


def test_specimens_without_marks_are_known_to_have_none() -> None:
    """They are counted, but not taken for the specimens of another stage in the same order."""
    found = graded("").cell("tarn")
    unmarked = measured(
        small_publication({SPRAY: re.sub(r"tarn;(new|after 3 washes);[123];", r"tarn;\1;;", SMALL[SPRAY])}), "spray"
    ).cell("tarn")
    assert (found.marked, unmarked.marked, len(unmarked.specimens)) == (True, False, 3)


@pytest.mark.parametrize(
    ("declared", "expected"),
    [
        ("resolution: 0.5 g", "0.5"),
        ("resolution: 0.5", "0.5"),
        ("resolution: 0.001 kg", "1"),
        ("calibration: 1 g", "0.1"),
    ],
)
def test_the_resolution_is_the_instruments(declared: str, expected: str) -> None:
    """The round's instrument first, in whatever unit it was declared, then the protocol's usual one."""
    text = SMALL[ROUND].replace("{resolution: 0.5 g, calibration: 0.3 g}", f"{{{declared}}}")
    assert measured(small_publication({ROUND: text}), "mass").resolution == D(expected)


def test_the_calibration_enters_the_uncertainty() -> None:
    """A certificate with an expanded uncertainty of 20 g can't leave the result sure to 1 g (GUM 5.1.2: squares add up)."""
    rough = SMALL[ROUND].replace("calibration: 0.3 g", "calibration: 20 g")
    fine, coarse = (measured(small_publication(files), "mass").cell("tarn").summary for files in ({}, {ROUND: rough}))
    assert isinstance(fine, RatioSummary) and isinstance(coarse, RatioSummary)
    assert fine.expanded < 2 < 19 < coarse.expanded


def test_other_units_give_the_same_findings() -> None:
    """Readings in kilograms are the same readings."""
    rows = ["product,specimen,value,unit"]
    rows += ["tarn,1,0.4120,kg", "tarn,2,0.4115,kg", "tarn,3,0.4125,kg", "fenn,1,0.3880,kg", "fenn,2,0.3895,kg"]
    found = measured(small_publication({MASS: "\n".join(rows) + "\n"}), "mass").cell("tarn").summary
    plain = measured(small_publication(), "mass").cell("tarn").summary
    assert isinstance(found, RatioSummary) and isinstance(plain, RatioSummary)
    assert found.mean == pytest.approx(plain.mean)


def test_findings_do_not_depend_on_the_order_of_rows() -> None:
    """A table sorted another way says the same."""
    head, *rows = SMALL[SPRAY].strip().split("\n")
    turned = "\n".join([head, *reversed(rows)]) + "\n"
    one, other = small_findings(small_publication()), small_findings(small_publication({SPRAY: turned}))
    assert [c.letters for c in one.compared] == [c.letters for c in other.compared]
    for first, second in zip(one.measured, other.measured, strict=True):
        for a, b in zip(first.cells, second.cells, strict=True):
            assert sorted(a.specimens) == sorted(b.specimens)


def test_every_reading_of_a_scale_counts_whoever_read_it() -> None:
    """A balance weighs alike in anybody's hands: two people's readings of one piece are repeats, none is left out."""
    rows = ["tarn,1,410.0,2026-08-10,ib", "tarn,1,411.0,2026-08-10,jm", "tarn,2,412.0,2026-08-10,jm"]
    table = "\n".join(("product,specimen,value,date,grader", *rows, "fenn,1,388.0,2026-08-10,ib", ""))
    found = measured(small_publication({"rounds/trousers/mass.csv": table}), "mass")
    cell = found.cell("tarn")
    assert isinstance(cell.summary, RatioSummary)
    assert (cell.summary.n, cell.summary.mean, cell.came, cell.used) == (3, pytest.approx(411.0), 3, 3)
    assert (found.graders, cell.by_others, cell.gradings) == ((), (), ())
