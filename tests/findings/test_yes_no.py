"""Shares with exact intervals, against two libraries and the definition."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.yes_no import exact_interval, summarise_yes_no


@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_agrees_with_two_libraries(case: tuple[int, int]) -> None:
    """Source: scipy.stats.binomtest 'exact' and statsmodels proportion_confint 'beta'."""
    yes, n = case
    found = exact_interval(yes, n)
    other = stats.binomtest(yes, n).proportion_ci(0.95, method="exact")
    assert found == pytest.approx((other.low, other.high), abs=1e-9)
    assert found == pytest.approx(proportion_confint(yes, n, 0.05, method="beta"), abs=1e-9)


@given(st.integers(1, 20).flatmap(lambda n: st.tuples(st.integers(1, n), st.just(n))))
def test_lower_limit_is_where_the_tail_is_half_of_five_per_cent(case: tuple[int, int]) -> None:
    """P(X ≥ yes | low) = 0.025, the definition of Clopper & Pearson (1934)."""
    yes, n = case
    assert stats.binom.sf(yes - 1, n, exact_interval(yes, n)[0]) == pytest.approx(0.025, abs=1e-9)


@given(st.integers(1, 30).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_yes_and_no_are_mirror_images(case: tuple[int, int]) -> None:
    """Counting the leaks instead of the tight ones turns the interval round."""
    yes, n = case
    low, high = exact_interval(yes, n)
    assert exact_interval(n - yes, n) == pytest.approx((1 - high, 1 - low), abs=1e-12)


@pytest.mark.parametrize(("n", "low"), [(3, 0.2924), (5, 0.4782), (10, 0.6915)])
def test_all_passed_still_leaves_doubt(n: int, low: float) -> None:
    """n of n: the lower limit is 0.025^(1/n), by hand."""
    assert exact_interval(n, n) == pytest.approx((low, 1.0), abs=5e-5)
    assert low == pytest.approx(0.025 ** (1 / n), abs=5e-5)


def test_answers_are_counted() -> None:
    """Three of four; the values keep their order; the result can be pickled."""
    found = summarise_yes_no([True, False, True, True])
    assert (found.n, found.yes, found.share, found.values) == (4, 3, 0.75, (True, False, True, True))
    assert found.reasons == ()
    assert summarise_yes_no([False]).reasons == (Reason.ONE_SPECIMEN,)
    assert pickle.loads(pickle.dumps(found)) == found


def test_wrong_calls_are_refused() -> None:
    """No answers, a number for an answer, more yes than answers, a coverage of 95: named errors."""
    with pytest.raises(ValueError, match="answers"):
        summarise_yes_no([])
    with pytest.raises(ValueError, match=r"answers\[1\]: expected yes or no"):
        summarise_yes_no([True, float("nan")])  # type: ignore[list-item]
    with pytest.raises(ValueError, match="4 of 3"):
        exact_interval(4, 3)
    with pytest.raises(ValueError, match="coverage"):
        exact_interval(1, 3, 95)
