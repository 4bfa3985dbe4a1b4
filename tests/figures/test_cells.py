"""A finding in words: value, spread, what is missing and why, in the forms of each language."""

import pytest
from builders import SMALL
from small_records import edition, small_findings, small_publication

from sitegen.figures.wording.cells import Worded, further_times, time_text, word_cell
from sitegen.findings.rigs.rig_state import judge_rig_record
from sitegen.findings.rounds import find_round
from sitegen.records.measured.round import parse_measure
from sitegen.records.publication import Publication

NBSP = "\u00a0"
MASS, SPRAY, CURVE, ROUND = (
    f"rounds/trousers/{name}" for name in ("mass.csv", "spray.csv", "run_time.csv", "round.yaml")
)


def worded(publication: Publication, measure: str, product: str, tag: str = "en") -> Worded:
    found = small_findings(publication).of(parse_measure(measure))  # type: ignore[arg-type]
    assert found is not None
    return word_cell(edition(publication, tag), found.measured, found.measured.cell(product))


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def test_a_value_carries_its_uncertainty_and_unit(small: Publication) -> None:
    """GUM 7.2.2 (from memory): the uncertainty to two digits at most, the value to the same place, one unit for both."""
    found = worded(small, "mass", "tarn")
    assert found.value == f"(412.0{NBSP}±{NBSP}1.4){NBSP}g"
    assert found.spread == "mean of 3 readings"
    assert float(found.sort) == 412
    assert worded(small, "mass", "tarn", "de").value == f"(412,0{NBSP}±{NBSP}1,4){NBSP}g"


def test_what_is_missing_is_said_with_its_reason(small: Publication) -> None:
    """A reading left out is named where its value stands; a cell without any says so and has no sort key."""
    assert worded(small, "mass", "fenn").note == "1 reading is missing: the seam tore"  # two were taken
    none = "product,specimen,value,note\ntarn,1,412.0,\nfenn,1,,the seam tore\n"
    assert worded(small_publication({MASS: none}), "mass", "fenn").note == "Not measured: the seam tore"
    nothing = worded(small, "run_time", "fenn")
    assert (nothing.value, nothing.spread, nothing.sort) == ("missing", "", "")


def test_grades_are_words_and_a_range(small: Publication) -> None:
    """A grade is no number with a unit: its median, and from which to which grade the specimens went."""
    found = worded(small, "spray after 3 washes", "tarn")
    assert (found.value, found.spread) == ("grade 3", "median of 3 specimens, 3 to 4")


def test_an_even_number_of_grades_keeps_both_middles() -> None:
    """Two specimens of grades 3 and 4 have no grade 3.5: both are said."""
    two = "product;stage;specimen;value\ntarn;new;1;3\ntarn;new;2;4\nfenn;new;1;4\nfenn;new;2;4\ntarn;after 3 washes;1;3\n"
    publication = small_publication({SPRAY: two})
    assert worded(publication, "spray", "tarn").value == "grade 3 or 4"
    assert worded(publication, "spray", "fenn").spread == "2 specimens, all equal"
    assert worded(publication, "spray after 3 washes", "tarn").spread == "one specimen"


def test_yes_or_no_is_a_share_with_its_interval() -> None:
    """Two of three kept dry; the true share may lie far apart, and that is said (Wilson 1927 or kin; in per cent)."""
    text = SMALL[ROUND].replace("[spray, mass,", "[spray, submersion_leak, mass,")
    table = "product,specimen,value\ntarn,1,yes\ntarn,2,no\ntarn,3,yes\n"
    found = worded(
        small_publication({ROUND: text, "rounds/trousers/submersion_leak.csv": table}), "submersion_leak", "tarn"
    )
    assert found.value == "2 of 3"
    assert "95" in found.spread and "%" in found.spread


def test_a_single_reading_claims_no_mean() -> None:
    """One reading is called one reading."""
    found = worded(small_publication({MASS: "product,value\ntarn,412.0\nfenn,390\n"}), "mass", "tarn")
    assert found.spread == "one reading"
    assert "412" in found.value


def test_a_curve_that_never_falls_is_longer_than() -> None:
    """A lamp that was still above half when the bench was switched off: no time is invented."""
    found = worded(small_publication({CURVE: "product,time,value\ntarn,0,300\ntarn,90,290\n"}), "run_time", "tarn")
    assert found.value == f"longer than 90{NBSP}min"


def test_a_curve_has_a_time_for_each_of_its_shares() -> None:
    """The value gives the first share; each further one is told beside it, by linear interpolation between readings.

    300 lm falls to 10 % (30 lm) between 120 min (140 lm) and 180 min (20 lm): 120 + 60 * 110 / 120 = 175 min.
    """
    small = small_publication()
    entry = next(entry for entry in small_findings(small).measured if entry.measure.protocol == "run_time")
    cell = next(cell for cell in entry.cells if cell.product == "tarn")
    assert further_times(edition(small), entry, cell) == (f"Time to 10{NBSP}% of the start: 2{NBSP}h{NBSP}55{NBSP}min",)
    mass = next(entry for entry in small_findings(small).measured if entry.measure.protocol == "mass")
    assert further_times(edition(small), mass, mass.cells[0]) == ()


def test_times_are_told_as_people_do(small: Publication) -> None:
    """Minutes below two hours, hours and minutes from there on; other units stay."""
    en = edition(small)
    assert time_text(en, 95.4, "min") == f"95.4{NBSP}min"
    assert time_text(en, 119.4, "min") == f"119{NBSP}min"
    assert time_text(en, 175.0, "min") == f"2{NBSP}h{NBSP}55{NBSP}min"
    assert time_text(en, 12.34, "s") == f"12.3{NBSP}s"


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr"])
def test_every_cell_has_words_in_every_language(tag: str, small: Publication) -> None:
    """No cell of any scale comes out empty or with a place left unfilled."""
    for entry in small_findings(small).measured:
        for cell in entry.cells:
            found = word_cell(edition(small, tag), entry, cell)
            assert found.value and "{" not in found.value + found.spread + found.note


def test_a_day_out_of_order_is_marked_beside_its_figures() -> None:
    """Only the readings of that day are marked, beside the figure and in what stands below it in a table."""
    log = "date,check,value,unit,note\n2026-08-10,reference,500.1,g,\n2026-08-11,reference,502.0,g,\n"
    table = "product,specimen,value,unit,date,note\ntarn,1,412.0,g,2026-08-11,\nfenn,1,388.0,g,2026-08-10,\n"
    publication = small_publication({"rigs/scale/log.csv": log, MASS: table})
    rigs = {id: judge_rig_record(rig, publication.protocols) for id, rig in publication.rigs.items()}
    readings = publication.readings["trousers"]
    found = find_round(publication.rounds["trousers"], readings, publication.protocols, publication.products, rigs).of(
        parse_measure("mass")
    )  # type: ignore[arg-type]
    assert found is not None
    marked = {
        product: word_cell(edition(publication, "de"), found.measured, found.measured.cell(product))
        for product in ("tarn", "fenn")
    }
    assert marked["tarn"].mark == "Messeinrichtung nicht in Ordnung am 11. August 2026"
    assert marked["tarn"].small_print == f"ein Messwert; {marked['tarn'].mark}"
    assert marked["fenn"].mark == "" and ";" not in marked["fenn"].small_print
