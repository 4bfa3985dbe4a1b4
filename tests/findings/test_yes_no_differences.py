"""Yes and no compared: exact, family-wise, and told apart where they can be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.comparison.comparison import Doubt, Method
from sitegen.findings.comparison.yes_no_differences import compare_yes_no, fisher_p, specimens_for_answers

COUNT = st.integers(1, 12).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(COUNT, COUNT)
def test_fisher_agrees_with_scipy(first: tuple[int, int], second: tuple[int, int]) -> None:
    """Source: scipy.stats.fisher_exact, two-sided."""
    table = [[first[0], first[1] - first[0]], [second[0], second[1] - second[0]]]
    assert fisher_p(first, second) == pytest.approx(float(stats.fisher_exact(table).pvalue))


@pytest.mark.parametrize(
    ("first", "second", "p"),
    [
        ((3, 4), (1, 4), 0.4857),
        ((8, 10), (1, 6), 0.0350),
        ((7, 19), (8, 11), 0.1281),
        ((3, 3), (0, 3), 0.1),
        ((4, 4), (0, 4), 0.0286),
        ((5, 5), (1, 5), 0.0476),
    ],
)
def test_published_tables(first: tuple[int, int], second: tuple[int, int], p: float) -> None:
    """The lady tasting tea (Fisher 1935), the example of SciPy's documentation and others: two-sided p (recomputed)."""
    assert fisher_p(first, second) == pytest.approx(p, abs=5e-5)


def test_eight_of_eight_is_told_from_none_of_eight() -> None:
    """Among eight products with eight specimens each, those that all leaked are told from those that never did."""
    groups = {f"p{i}": [i < 4] * 8 for i in range(8)}
    found = compare_yes_no(groups)
    assert found.method is Method.FISHER_HOLM
    assert len(found.distinct_pairs) == 16
    assert Doubt.CANNOT_SHOW_A_DIFFERENCE not in found.reasons


def test_three_specimens_cannot_show_it_and_that_is_said() -> None:
    """3 of 3 against 0 of 3 is p = 0.1: no letters, and the number that would do."""
    found = compare_yes_no({"fjell": [True] * 3, "tarn": [False] * 3})
    assert Doubt.CANNOT_SHOW_A_DIFFERENCE in found.reasons and found.specimens_needed == 4 == specimens_for_answers(2)
    with pytest.raises(ValueError, match="fjell"):
        compare_yes_no({"fjell": []})
