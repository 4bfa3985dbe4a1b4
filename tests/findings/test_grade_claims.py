"""Claimed grades and claimed answers: what so few specimens allow one to say of all."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.claiming.claims import Bound, Outcome
from sitegen.findings.claiming.grade_claims import exact_miss, judge_answers, judge_grades
from sitegen.findings.comparison.grade_scatter import pool_grades
from sitegen.findings.reasons import Reason

SCATTER = pool_grades([(5, 5, 4), (4, 4, 4), (3, 3, 2), (5, 5, 5), (4, 3, 4), (2, 3, 2), (4, 4, 5), (1, 2, 1)])


@pytest.mark.parametrize(
    ("grades", "bound", "outcome"),
    [
        ((5, 5, 5), Bound.AT_LEAST, Outcome.HOLDS),
        ((5, 5, 4), Bound.AT_LEAST, Outcome.HOLDS),
        ((4, 4, 4), Bound.AT_LEAST, Outcome.CANNOT_BE_TOLD),
        ((4, 4, 3), Bound.AT_LEAST, Outcome.CANNOT_BE_TOLD),
        ((4, 3, 3), Bound.AT_LEAST, Outcome.DOES_NOT_HOLD),
        ((3, 3, 3), Bound.AT_LEAST, Outcome.DOES_NOT_HOLD),
        ((5,), Bound.AT_LEAST, Outcome.CANNOT_BE_TOLD),
        ((3,), Bound.AT_LEAST, Outcome.CANNOT_BE_TOLD),
        ((3, 2, 2), Bound.AT_MOST, Outcome.HOLDS),
        ((5, 5, 5), Bound.ABOUT, Outcome.DOES_NOT_HOLD),
        ((4,) * 10, Bound.AT_LEAST, Outcome.HOLDS),
    ],
)
def test_a_grade_of_4_is_judged_by_what_may_miss_it(grades: tuple[int, ...], bound: Bound, outcome: Outcome) -> None:
    """Clearly above holds, mostly below doesn't; three at the grade itself leave open what half of all would do."""
    assert judge_grades(Decimal(4), [Decimal(g) for g in grades], bound, scatter=SCATTER).outcome is outcome


@pytest.mark.parametrize(("n", "bound"), [(1, 0.05), (3, 0.368), (5, 0.549), (10, 0.741), (29, 0.902), (59, 0.950)])
def test_all_of_n_met_it(n: int, bound: float) -> None:
    """The lower 95 % bound of the share that meets it is 0.05^(1/n): published table of acceptance without failure.

    Here at 97.5 %; at 95 % the same formula gives the table's values (recomputed).
    """
    assert 0.05 ** (1 / n) == pytest.approx(bound, abs=5e-4)
    assert exact_miss([True] * n) == pytest.approx(1 - 0.025 ** (1 / n))


@given(st.lists(st.booleans(), min_size=1, max_size=30))
def test_the_exact_bound_is_that_of_clopper_and_pearson(kept: list[bool]) -> None:
    """Source: scipy.stats.binomtest, proportion_ci, exact, 95 % two-sided, upper limit."""
    expected = stats.binomtest(len(kept) - sum(kept), len(kept)).proportion_ci(0.95, method="exact").high
    assert exact_miss(kept) == pytest.approx(float(expected))


@pytest.mark.parametrize(
    ("missed", "n", "refuted"), [(1, 1, False), (2, 2, True), (1, 3, False), (2, 3, True), (2, 5, False), (3, 5, True)]
)
def test_a_claim_is_refuted_where_nine_in_ten_would_rarely_miss_so_often(missed: int, n: int, refuted: bool) -> None:
    """Source: scipy.stats.binom: so many misses or more at one in ten, at most 3 of 100."""
    assert (float(stats.binom.sf(missed - 1, n, 0.1)) <= 0.03) == refuted
    answers = [False] * missed + [True] * (n - missed)
    assert (judge_answers(answers).outcome is Outcome.DOES_NOT_HOLD) == refuted


def test_yes_and_no_claims_are_judged() -> None:
    """Ten that didn't leak hold a claim of no leak, three leave it open and say how many could, ten leaks refute it."""
    assert judge_answers([False] * 10, claimed=False).outcome is Outcome.HOLDS
    three = judge_answers([False] * 3, claimed=False)
    assert (three.outcome, three.reasons) == (Outcome.CANNOT_BE_TOLD, (Reason.MAY_MISS_MORE,))
    assert three.may_miss == pytest.approx(0.708, abs=5e-4)
    assert judge_answers([True] * 10, claimed=False).outcome is Outcome.DOES_NOT_HOLD


@pytest.mark.parametrize("bad", ["NaN", "Infinity"])
def test_no_number_is_no_claimed_grade(bad: str) -> None:
    """NaN, infinity, no specimens and a step of nothing are refused by name."""
    with pytest.raises(ValueError, match="claimed grade"):
        judge_grades(Decimal(bad), [Decimal(4)])
    with pytest.raises(ValueError, match="grades"):
        judge_grades(Decimal(4), [])
    with pytest.raises(ValueError, match="step"):
        judge_grades(Decimal(4), [Decimal(4)], step=0)
