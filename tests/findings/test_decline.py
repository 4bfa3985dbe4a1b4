"""Washes until a grade is lost: the monotone fit, its crossing, and an interval that keeps its word."""

import math
import pickle
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from sklearn.isotonic import isotonic_regression

from sitegen.findings.changing.decline import Decline, StageGrades, fall_below, monotone_fall, washes_until_below
from sitegen.findings.comparison.grade_scatter import pool_grades
from sitegen.findings.reasons import Reason


def stages(*rows: tuple[int, tuple[object, ...]]) -> list[StageGrades]:
    """Stages from washes and plain grades."""
    return [StageGrades(washes=w, grades=tuple(Decimal(str(g)) for g in gs)) for w, gs in rows]


def until(grade: object, *rows: tuple[int, tuple[object, ...]]) -> Decline:
    """Washes until below `grade`."""
    return washes_until_below(stages(*rows), Decimal(str(grade)))


@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(1, 9)), min_size=1, max_size=12))
def test_monotone_fit_agrees_with_scikit_learn(points: list[tuple[int, int]]) -> None:
    """Source: sklearn.isotonic.isotonic_regression, increasing=False, weighted."""
    values, weights = zip(*points, strict=True)
    expected = isotonic_regression(np.array(values, float), sample_weight=np.array(weights, float), increasing=False)
    assert monotone_fall(values, weights) == pytest.approx(expected.tolist(), abs=1e-9)


@given(st.lists(st.integers(0, 20), min_size=2, max_size=8))
def test_crossing_agrees_with_numpy_interpolation(drops: list[int]) -> None:
    """On a strictly falling line the crossing is numpy.interp of the inverse."""
    shares = (1 - np.cumsum([0.0, *[d + 1.0 for d in drops]]) / (sum(drops) + len(drops))).tolist()
    places = list(range(len(shares)))
    assert fall_below(places, shares, 0.5) == pytest.approx(float(np.interp(0.5, shares[::-1], places[::-1])))


def test_six_specimens_give_a_95_per_cent_interval() -> None:
    """All six hold 4 after 3 washes and none after 6: surely between 3 and 6; estimate half-way, by hand."""
    found = until(4, (0, (5,) * 6), (3, (4,) * 6), (6, (3,) * 6))
    assert (found.washes, found.low, found.high, found.confidence) == (4.5, 3, 6, 0.95)
    assert found.reasons == ()


def test_three_specimens_say_what_confidence_they_give() -> None:
    """The same with three: 1 - 2·0.5³ = 75 %, and the reason."""
    found = until(4, (0, (5,) * 3), (3, (4,) * 3), (6, (3,) * 3))
    assert (found.washes, found.low, found.high, found.confidence) == (4.5, 3, 6, 0.75)
    assert found.reasons == (Reason.LEVEL_BELOW_95,)


def test_the_rounds_scatter_makes_three_specimens_sure() -> None:
    """5, 5, 5 is surely above 3 and 1, 2, 1 surely below, at 95 %; 3, 2, 3 is neither. t by hand: (5 - 2.5)/0.29 = 8.7."""
    scatter = pool_grades([(5, 5, 4), (4, 4, 4), (1, 2, 1), (3, 3, 2), (5, 5, 5), (4, 3, 4), (2, 3, 2), (4, 4, 5)])
    rows = ((0, (5, 5, 5)), (3, (3, 2, 3)), (6, (1, 2, 1)))
    known = [StageGrades(washes=w, grades=tuple(map(Decimal, grades)), scatter=scatter) for w, grades in rows]
    found = washes_until_below(known, Decimal(3))
    assert (found.low, found.high, found.confidence, found.reasons) == (0, 6, 0.95, ())
    assert until(3, *rows).confidence == 0.75


def test_three_at_the_wanted_grade_are_not_surely_above_it() -> None:
    """Half of all such specimens might be below: with half a grade of scatter t is 0.5/0.29 = 1.7, too little."""
    scatter = pool_grades([(3, 3, 3)] * 8)
    known = [StageGrades(washes=w, grades=(Decimal(3),) * 3, scatter=scatter) for w in (0, 3, 6)]
    found = washes_until_below(known, Decimal(3))
    assert (found.low, found.high, found.washes) == (0, None, None)


def test_kept_is_every_specimen_at_every_stage() -> None:
    """One specimen below at any stage, also where it came back, and the grade wasn't kept; the first such stage is named."""
    assert until(3, (0, (5, 5, 5)), (3, (3, 3, 4)), (6, (3, 3, 3))).kept
    dipped = until(3, (0, (5, 5, 5)), (3, (3, 2, 4)), (6, (3, 3, 3)))
    assert (dipped.kept, dipped.first_below) == (False, (3, 1, 3))
    assert until(3, (0, (5, 5)), (3, (2, 5))).first_below == (3, 1, 2)


def test_a_grade_that_is_never_lost_is_not_within_the_washes() -> None:
    """Still at 4 after 6 washes: no estimate, no upper limit, surely more than 6."""
    found = until(4, (0, (5,) * 6), (3, (4,) * 6), (6, (4,) * 6))
    assert (found.washes, found.low, found.high, found.last_stage) == (None, 6, None, 6)
    assert found.reasons == (Reason.NEVER_FELL,)


def test_two_stages_cannot_tell() -> None:
    """With fewer than three stages the shares are given, nothing more."""
    found = until(4, (0, (5, 5, 5)), (3, (3, 3, 3)))
    assert (found.washes, found.low, found.high, found.confidence) == (None, None, None, None)
    assert found.shares == (1.0, 0.0)
    assert found.reasons == (Reason.TOO_FEW_STAGES,)


def test_below_from_the_start_is_said() -> None:
    """A product that never had the grade: zero washes, with the reason."""
    found = until(4, (0, (3,) * 6), (3, (3,) * 6), (6, (2,) * 6))
    assert (found.washes, found.low, found.high) == (0.0, 0, 0)
    assert found.reasons == (Reason.BELOW_FROM_THE_START,)


def test_a_grade_that_rises_after_a_wash_is_pooled_with_its_neighbour() -> None:
    """Shares 1, 1/3, 2/3, 0 become 1, 1/2, 1/2, 0: falls below a half where the level stretch ends, at 6
    washes."""
    found = until(4, (0, (4, 4, 4)), (3, (4, 3, 3)), (6, (4, 4, 3)), (9, (3, 3, 3)))
    assert found.shares == (1.0, 0.5, 0.5, 0.0)
    assert found.washes == 6.0


def test_a_share_of_exactly_one_half_is_exact() -> None:
    """Pooled thirds and sevenths that make one half don't slip below it as floats would."""
    for n in range(2, 40, 2):
        half = (4,) * (n // 2) + (3,) * (n // 2)
        assert until(4, (0, (4,) * n), (3, half), (6, half)).washes is None


def test_interval_of_one_stage_is_the_sign_test() -> None:
    """Surely above at a stage exactly when SciPy's one-sided binomial test says so at 2.5 %."""
    for k in range(11):
        found = until(4, (0, (4,) * 10), (3, (4,) * k + (3,) * (10 - k)), (6, (3,) * 10))
        above = stats.binomtest(k, 10, alternative="greater").pvalue <= 0.025
        below = stats.binomtest(k, 10, alternative="less").pvalue <= 0.025
        assert (found.low, found.high) == (3 if above else 0, 3 if below else 6)


def test_the_interval_covers_as_often_as_it_says() -> None:
    """Of 600 simulated products, each with specimens that fall after a random number of washes, the interval
    holds the true median in at least 95 % (six specimens) and 75 % (three), where a bootstrap of three
    wouldn't."""
    random = np.random.default_rng(11)
    washes = (0, 2, 4, 6, 8, 10)
    for n, level in ((6, 0.95), (3, 0.75)):
        held = 0
        for _ in range(600):
            true = random.uniform(1, 9)
            falls = true * np.exp(random.normal(0, 0.4, n))  # median exactly `true`
            rows = [(w, tuple(4 if f > w else 3 for f in falls)) for w in washes]
            found = until(4, *rows)
            assert found.low is not None
            held += found.low <= true <= (math.inf if found.high is None else found.high)
        assert held / 600 >= level - 0.02


@given(st.lists(st.lists(st.integers(1, 5), min_size=3, max_size=3), min_size=3, max_size=5))
def test_order_of_specimens_is_irrelevant_and_a_higher_grade_is_lost_no_later(rows: list[list[int]]) -> None:
    """Sorting the grades of each stage changes nothing; losing grade 4 never takes longer than losing grade
    3."""
    plain = until(4, *[(3 * i, tuple(r)) for i, r in enumerate(rows)])
    assert until(4, *[(3 * i, tuple(sorted(r))) for i, r in enumerate(rows)]) == plain
    lower = until(3, *[(3 * i, tuple(r)) for i, r in enumerate(rows)])
    assert (plain.washes if plain.washes is not None else math.inf) <= (
        lower.washes if lower.washes is not None else math.inf
    )


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "stages: expected at least 1"),
        ([(0, (5,)), (3, ())], "grades after 3 washes"),
        ([(3, (5,)), (3, (4,))], r"stages\[1\]: expected more than 3 washes, found 3"),
        ([(-1, (5,))], r"stages\[0\]"),
        ([(0, ("NaN",))], "grades after 0 washes"),
    ],
)
def test_broken_stages_are_refused(rows: list[tuple[int, tuple[object, ...]]], said: str) -> None:
    """No stages, an empty one, washes that don't increase, NaN: each named."""
    with pytest.raises(ValueError, match=said):
        until(4, *rows)


def test_wrong_weights_are_refused_and_results_can_be_pickled() -> None:
    """One weight above zero for each value."""
    with pytest.raises(ValueError, match="weights"):
        monotone_fall([1, 2], [1, 0])
    with pytest.raises(ValueError, match="weights"):
        monotone_fall([1, 2], [1])
    assert fall_below([0, 1], [0.4, 0.1], 0.5) == 0.0
    found = until(4, (0, (5,)), (1, (4,)), (2, (3,)))
    assert found.confidence == 0.0
    assert pickle.loads(pickle.dumps(found)) == found
