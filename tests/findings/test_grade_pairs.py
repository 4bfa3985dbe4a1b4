"""Pairs of products in grades, by the scatter of the round: what the cloth shows is said, and no more."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.comparison.comparison import Comparison, Doubt, Method
from sitegen.findings.comparison.grade_pairs import compare_grades
from sitegen.findings.comparison.grade_scatter import pool_grades
from sitegen.findings.comparison.letters import letter_groups

ROUND = {
    "fjell": (5, 5, 5), "tarn": (1, 2, 1), "vik": (4, 5, 5), "myr": (4, 4, 4),
    "ask": (5, 4, 5), "bru": (4, 4, 5), "dal": (5, 5, 4), "elv": (4, 4, 3),
}  # fmt: skip


def compared(groups: dict[str, tuple[int, ...]]) -> Comparison:
    """The pairs of a round by its own scatter."""
    scatter = pool_grades(groups.values())
    assert scatter is not None
    return compare_grades(groups, scatter)


def test_what_soaked_in_is_told_from_all_others() -> None:
    """1, 2, 1 beside seven that bead off: eight products, three specimens, and every one of its pairs is distinct."""
    found = compared(ROUND)
    assert found.method is Method.POOLED_GRADES
    assert {pair for pair in found.distinct_pairs if "tarn" in pair} == {
        tuple(sorted((name, "tarn"))) for name in ROUND if name != "tarn"
    }
    letters = {one.entrant: one.text for one in letter_groups(found)}
    assert not set(letters["tarn"]) & set(letters["fjell"])


@given(st.lists(st.lists(st.integers(0, 5), min_size=3, max_size=3), min_size=4, max_size=6))
def test_the_adjusted_p_is_that_of_the_studentized_range(rows: list[list[int]]) -> None:
    """Source: scipy.stats.studentized_range, with each pair's moderated variances and their degrees of freedom."""
    groups = {f"p{i}": tuple(row) for i, row in enumerate(rows)}
    scatter = pool_grades(rows)
    assert scatter is not None
    for pair in compare_grades(groups, scatter).pairs:
        a, b = groups[pair.a], groups[pair.b]
        v = [scatter.variance(float(np.std(cell, ddof=1)), 3) for cell in (a, b)]
        q = abs(np.mean(a) - np.mean(b)) / np.sqrt((v[0][0] + v[1][0]) / 3 / 2)
        assert pair.p_adjusted == pytest.approx(float(stats.studentized_range.sf(q, len(rows), v[0][1])), abs=2e-5)


def test_one_specimen_is_told_apart_from_nobody() -> None:
    """A product graded once has shown no scatter: its pairs have no p, and the reason is said."""
    found = compared({**ROUND, "elv": (0,)})
    assert Doubt.SINGLE_SPECIMEN in found.reasons
    assert all(pair.p_adjusted is None and not pair.distinct for pair in found.pairs if "elv" in (pair.a, pair.b))


def test_the_order_of_products_and_specimens_makes_no_difference() -> None:
    """The same round, entered backwards."""
    backwards = {name: tuple(reversed(grades)) for name, grades in reversed(ROUND.items())}
    assert compared(backwards) == compared(ROUND)


def test_fewer_than_two_cells_with_scatter_have_no_pairs() -> None:
    """All but one graded once: nothing can be compared, and why is a reason."""
    scatter = pool_grades(ROUND.values())
    assert scatter is not None
    found = compare_grades({"fjell": (5, 5), "tarn": (1,)}, scatter)
    assert (found.pairs, Doubt.SINGLE_SPECIMEN in found.reasons) == ((), True)
    assert Doubt.TOO_FEW_ENTRANTS in compare_grades({"fjell": (5, 5)}, scatter).reasons
