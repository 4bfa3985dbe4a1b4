"""Where an entrant stands: only differences that could be shown give it a place."""

from small_records import small_findings, small_publication

from sitegen.editorial.standing import Standing, standing_of
from sitegen.findings.found import Compared
from sitegen.records.fields.stage import NEW
from sitegen.records.measured.round import parse_measure


def compared(measure: str) -> Compared:
    parsed = parse_measure(measure)
    assert parsed is not None
    found = small_findings(small_publication()).of(parsed)
    assert found is not None
    return found


def test_a_clear_difference_gives_each_its_end() -> None:
    """Fenn weighs less than Tarn by more than the uncertainty of both: each has its end, seen from either side."""
    mass = compared("mass")
    assert standing_of(mass, "fenn") == Standing(product="fenn", lower=(), level=(), higher=("tarn",))
    tarn = standing_of(mass, "tarn")
    assert tarn is not None and tarn.is_highest and not tarn.is_lowest
    assert (tarn.place("lower"), tarn.place("higher"), tarn.place("neither")) == (2, 1, None)


def test_grades_of_so_few_specimens_give_no_place() -> None:
    """Where no outcome could have shown a difference, nobody stands anywhere."""
    assert compared("spray").measured.measure.stage == NEW
    assert standing_of(compared("spray"), "tarn") is None


def test_who_is_level_with_somebody_has_no_place_of_its_own() -> None:
    """A place is shared as soon as one other can't be told apart, whatever is known of the rest."""
    shared = Standing(product="a", lower=("b",), level=("c",), higher=("d", "e"))
    assert (shared.of, shared.place("lower"), shared.is_lowest, shared.is_highest) == (5, None, False, False)
