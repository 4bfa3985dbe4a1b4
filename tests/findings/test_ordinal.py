"""Grades: only figures that some specimen got."""

import pickle
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.ordinal import median_of, summarise_grades

SCALE = tuple(Decimal(g) for g in range(6))  # ISO 4920:2012: 0 to 5
GRADES = st.lists(st.sampled_from(SCALE), min_size=1, max_size=12)


def grades(*values: object) -> list[Decimal]:
    """Grades from whatever can be read as decimals."""
    return [Decimal(str(v)) for v in values]


def test_three_specimens_have_a_middle_one() -> None:
    """3, 5, 4: median 4, range 3 to 5, no quartiles of three. Common practice, no source."""
    found = summarise_grades(grades(3, 5, 4))
    assert (found.median, found.low, found.high, found.quartiles) == (
        tuple(grades(4)),
        Decimal(3),
        Decimal(5),
        None,
    )
    assert found.reasons == ()


def test_an_even_number_may_leave_a_pair_and_never_an_average() -> None:
    """2, 3, 4, 5: both middle grades are reported; 3.5 was given by nobody."""
    found = summarise_grades(grades(5, 2, 4, 3))
    assert found.median == tuple(grades(3, 4))
    assert found.reasons == (Reason.MEDIAN_IS_A_PAIR,)
    assert summarise_grades(grades(5, 4, 4, 2)).median == tuple(grades(4))


def test_half_grades_stay_exact() -> None:
    """4.5 is a grade of its own where the protocol allows it."""
    assert summarise_grades(grades("4.5", 4, 5)).median == tuple(grades("4.5"))


def test_counts_list_the_whole_scale() -> None:
    """With the scale known, grades that nobody got count 0."""
    found = summarise_grades(grades(5, 5, 3), SCALE)
    assert [n for _, n in found.counts] == [0, 0, 0, 1, 0, 2]


@given(GRADES)
def test_median_and_quartiles_are_grades_given(values: list[Decimal]) -> None:
    """Nothing reported was made up by arithmetic."""
    found = summarise_grades(values, SCALE)
    assert set(found.median) | {found.low, found.high} | set(found.quartiles or ()) <= set(values)


@given(GRADES)
def test_median_agrees_with_numpy_low_and_high(values: list[Decimal]) -> None:
    """Source: numpy.percentile at 50 with the methods 'lower' and 'higher'."""
    data = [float(v) for v in values]
    found = [float(m) for m in summarise_grades(values).median]
    assert found[0] == np.percentile(data, 50, method="lower")
    assert found[-1] == np.percentile(data, 50, method="higher")


@given(GRADES.filter(lambda g: len(g) >= 5))
def test_lower_quartile_is_the_inverted_distribution_function(values: list[Decimal]) -> None:
    """Source: numpy.percentile, method 'inverted_cdf' (Hyndman & Fan type 1); the upper one is its mirror
    image."""
    quartiles = summarise_grades(values).quartiles
    assert quartiles is not None
    data = np.array([float(v) for v in values])
    assert float(quartiles[0]) == np.percentile(data, 25, method="inverted_cdf")
    assert float(quartiles[1]) == -np.percentile(-data, 25, method="inverted_cdf")


@given(GRADES)
def test_turning_the_scale_round_swaps_the_ends(values: list[Decimal]) -> None:
    """5 - g for every grade mirrors median, range and quartiles."""
    plain, turned = summarise_grades(values), summarise_grades([5 - v for v in values])
    assert tuple(5 - m for m in reversed(plain.median)) == turned.median
    assert (5 - plain.high, 5 - plain.low) == (turned.low, turned.high)
    if plain.quartiles and turned.quartiles:
        assert tuple(5 - q for q in reversed(plain.quartiles)) == turned.quartiles


@given(GRADES.flatmap(lambda g: st.tuples(st.just(g), st.permutations(g))))
def test_order_is_irrelevant(pair: tuple[list[Decimal], list[Decimal]]) -> None:
    """Which specimen was graded first changes nothing but `values`."""
    first, second = (summarise_grades(g) for g in pair)
    assert (first.median, first.counts, first.quartiles) == (second.median, second.counts, second.quartiles)


def test_a_grade_off_the_scale_is_refused_with_its_index() -> None:
    """7 is no grade of a scale from 0 to 5."""
    with pytest.raises(ValueError, match=r"grades\[1\]: expected one of 0, 1, 2, 3, 4, 5, found 7"):
        summarise_grades(grades(5, 7), SCALE)


@pytest.mark.parametrize("bad", [[], ["NaN"], ["Infinity"]])
def test_nothing_and_no_number_are_refused(bad: list[str]) -> None:
    """Empty, NaN and infinite grades stop at the door."""
    with pytest.raises(ValueError, match="grades"):
        summarise_grades(grades(*bad))
    with pytest.raises(ValueError, match="grades"):
        median_of([])


def test_one_specimen_is_said() -> None:
    """One grade is its own median, with a reason; and the result can be pickled."""
    found = summarise_grades(grades(4))
    assert found.reasons == (Reason.ONE_SPECIMEN,)
    assert pickle.loads(pickle.dumps(found)) == found
