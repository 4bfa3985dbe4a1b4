"""Pooling: the pooled figure, and the two tests that report what contradicts it, against SciPy."""

import math
import statistics
from collections.abc import Iterable, Sequence
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.photos.door import Number
from sitegen.findings.statistics.pooling import Disagreement, Pooled, bartlett_p, largest_spread_p, pool_spread


def spreads(groups: list[list[float]]) -> list[tuple[int, float]]:
    """(dof, s) of each group."""
    return [(len(g) - 1, statistics.stdev(g)) for g in groups]


GROUP = st.lists(st.integers(-1000, 1000).map(float), min_size=2, max_size=6).filter(lambda g: len(set(g)) > 1)


@given(st.lists(GROUP, min_size=2, max_size=6))
def test_bartlett_agrees_with_scipy(groups: list[list[float]]) -> None:
    """Source: scipy.stats.bartlett on random groups.

    With equal spreads the statistic is rounding alone, some 1e-14, and p = 1 - 0.8·√statistic turns that into 1e-7.
    """
    expected = float(stats.bartlett(*groups).pvalue)
    if math.isnan(expected):  # equal spreads, where SciPy's statistic comes out below 0 by rounding
        expected = 1.0
    assert bartlett_p(spreads(groups)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("groups", "n", "critical"),
    [
        (2, 2, 0.9985),
        (2, 3, 0.9750),
        (3, 2, 0.9669),
        (4, 3, 0.7679),
        (5, 3, 0.6838),
        (8, 3, 0.5157),
        (10, 6, 0.3029),
    ],
)
def test_largest_spread_has_cochrans_critical_values(groups: int, n: int, critical: float) -> None:
    """C = s²max/Σs² at 5 % as tabled for p groups of n readings. Source: Cochran's table (Eisenhart, Hastay &
    Wallis, Techniques of Statistical Analysis, 1947), from memory; the larger entries also stand in ISO
    5725-2."""
    rest = math.sqrt((1 - critical) / (groups - 1))
    found = largest_spread_p([(n - 1, math.sqrt(critical)), *[(n - 1, rest)] * (groups - 1)])
    assert found == pytest.approx(0.05, rel=0.03)


def named(groups: Iterable[Sequence[Number]]) -> dict[str, Sequence[Number]]:
    """Groups under the names p0, p1, …"""
    return {f"p{index}": group for index, group in enumerate(groups)}


def test_a_threefold_spread_is_mostly_reported_and_changes_nothing() -> None:
    """Of 200 rounds of eight threes with one threefold spread many are reported; all are pooled over all entrants alike.

    Brown-Forsythe's test (scipy.stats.levene with its default centre) would report none of them.
    """
    random = np.random.default_rng(1)
    scale = np.array([3.0] + [1.0] * 7)[:, None]
    rounds = [random.standard_normal((8, 3)) * scale for _ in range(200)]
    found = [pool_spread(named(r.tolist()), 1e-6) for r in rounds]
    assert sum(float(stats.levene(*r, center="median").pvalue) < 0.05 for r in rounds) == 0
    reported = [one.disagreement.entrant for one in found if one.disagreement is not None]
    assert len(reported) > 60 and reported.count("p0") > 0.9 * len(reported)
    assert {one.pooled.dof for one in found if one.pooled} == {16} and all(one.pooled for one in found)


def test_together_the_tests_object_to_about_one_normal_round_in_twenty() -> None:
    """On 400 rounds of equal normal spreads the objections stay near 5 % (binomial 99.9 %: below 36)."""
    random = np.random.default_rng(2)
    rounds = [named(random.standard_normal((6, 3)).tolist()) for _ in range(400)]
    assert sum(pool_spread(one, 1e-6).disagreement is not None for one in rounds) < 36


def test_pooled_spread_is_the_root_mean_square_of_equal_groups() -> None:
    """s_p² is the mean of the variances of equal groups, with the degrees of freedom of all. Source: GUM
    4.2.4."""
    pooling = pool_spread(named([[1.0, 3.0], [10.0, 13.0], [5.0, 5.0]]), 1)
    assert pooling.pooled is not None
    assert pooling.pooled.s == pytest.approx(math.sqrt((2 + 4.5 + 0) / 3))
    assert (pooling.pooled.dof, pooling.pooled.earlier) == (3, 0)


def test_pooled_spread_is_that_of_one_way_analysis_of_variance() -> None:
    """s_p² equals the within mean square. Source: statsmodels' analysis of variance on unequal groups."""
    import pandas
    import statsmodels.formula.api as smf

    groups = {"a": [412.0, 411.5, 412.5], "b": [388.0, 388.5], "c": [401.0, 402.0, 401.5, 401.0]}
    table = pandas.DataFrame(
        {"y": [y for ys in groups.values() for y in ys], "g": [g for g, ys in groups.items() for _ in ys]}
    )
    fitted = smf.ols("y ~ C(g)", data=table).fit()
    pooled = pool_spread(groups, 0.5).pooled
    assert pooled is not None
    assert pooled.s**2 == pytest.approx(float(fitted.mse_resid))
    assert pooled.dof == int(fitted.df_resid)


@given(st.permutations([[1.0, 2.0, 4.0], [5.0, 5.5], [7.0, 9.0, 8.0, 8.5]]), st.integers(-1000, 1000))
def test_order_and_level_of_the_groups_are_irrelevant(groups: list[list[float]], shift: int) -> None:
    """Neither naming the entrants in another order nor a heavier product changes the pooled spread."""
    moved = [[x + shift * i for x in g] for i, g in enumerate(groups)]
    first, second = (pool_spread(named(g), 0.5).pooled for g in ([[1.0, 2, 4], [5, 5.5], [7, 9, 8, 8.5]], moved))
    assert first is not None
    assert second is not None
    assert second.s == pytest.approx(first.s)


def test_one_wild_group_is_named_with_its_figure() -> None:
    """A group with fifty times the spread of the rest: it is named, with its standard deviation and the others'."""
    groups = [[1.0, 2.0, 3.0], [1.0, 51.0, 101.0], [4.0, 5.0, 6.0], [1.0, 2.0, 3.0]]
    pooling = pool_spread(named(groups), 0.5)
    assert pooling.disagreement == Disagreement(entrant="p1", s=50.0, others=1.0)


def test_an_entrant_that_scatters_less_is_named_too() -> None:
    """What stands out may be the quiet one."""
    groups = [[1.0, 51.0, 101.0], [4.0, 54.0, 104.0], [1.0, 1.1, 1.2, 1.15, 1.05], [0.0, 50.0, 100.0]]
    pooling = pool_spread(named(groups), 0.01)
    assert pooling.disagreement is not None and pooling.disagreement.entrant == "p2"


def test_equal_readings_do_not_pass_for_a_perfect_bench() -> None:
    """On a display of whole grams, groups of equal readings beside groups that flicker by one digit contradict nothing."""
    pooling = pool_spread(named([[5, 5, 5], [7, 8, 7], [9, 9, 9], [4, 4, 5]]), 1)
    assert pooling.pooled is not None and pooling.disagreement is None


@pytest.mark.parametrize("groups", [[], [[1.0], [2.0], []]])
def test_without_repeats_there_is_no_scatter(groups: list[list[float]]) -> None:
    """One reading each says nothing of what two would differ by."""
    assert pool_spread(named(groups), 1).pooled is None


def test_earlier_rounds_lend_their_degrees_of_freedom() -> None:
    """s_p² = Σνs²/Σν over this round's and the earlier ones; a single reading is then known as well. Source: GUM H.3.6 note."""
    earlier = Pooled(s=0.4, dof=20)
    pooled = pool_spread({"a": [1.0, 2.0, 3.0], "b": [5.0]}, 0.1, earlier).pooled
    assert pooled is not None and (pooled.dof, pooled.earlier) == (22, 20)
    assert pooled.s**2 == pytest.approx((20 * 0.16 + 2 * 1.0) / 22)
    assert pool_spread({"a": [1.0], "b": [5.0]}, 0.1, earlier).pooled == Pooled(s=0.4, dof=20, earlier=20)


def test_nan_in_a_group_is_refused() -> None:
    """A reading that isn't a number stops the pooling with its index."""
    with pytest.raises(ValueError, match=r"values\[1\]"):
        pool_spread({"a": [Decimal(1), Decimal("NaN")], "b": [Decimal(1), Decimal(2)]}, 1)
