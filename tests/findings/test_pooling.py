"""Pooling: the pooled figure, its two tests against SciPy, and why not the median-centred one."""

import math
import statistics
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.pooling import bartlett_p, largest_spread_p, pool_spread
from sitegen.findings.reasons import Reason


def spreads(groups: list[list[float]]) -> list[tuple[int, float]]:
    """(dof, s) of each group."""
    return [(len(g) - 1, statistics.stdev(g)) for g in groups]


GROUP = st.lists(st.integers(-1000, 1000).map(float), min_size=2, max_size=6).filter(lambda g: len(set(g)) > 1)


@given(st.lists(GROUP, min_size=2, max_size=6))
def test_bartlett_agrees_with_scipy(groups: list[list[float]]) -> None:
    """Source: scipy.stats.bartlett on random groups.

    With equal spreads the statistic is rounding alone, some 1e-14, and p = 1 - 0.8·√statistic turns that into 1e-7.
    """
    assert bartlett_p(spreads(groups)) == pytest.approx(float(stats.bartlett(*groups).pvalue), abs=1e-6)


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


def test_median_centred_deviations_see_nothing_in_threes() -> None:
    """Why Brown-Forsythe isn't used: of 200 rounds of eight threes with one threefold spread it objects to
    none.

    The chosen pair objects to many of the same rounds. (scipy.stats.levene with its default centre is that
    test.)
    """
    random = np.random.default_rng(1)
    scale = np.array([3.0] + [1.0] * 7)[:, None]
    rounds = [random.standard_normal((8, 3)) * scale for _ in range(200)]
    by_medians = sum(float(stats.levene(*r, center="median").pvalue) < 0.05 for r in rounds)
    ours = sum(pool_spread(r.tolist(), 1e-6).pooled is None for r in rounds)
    assert by_medians == 0
    assert ours > 60


def test_together_the_tests_object_to_about_one_normal_round_in_twenty() -> None:
    """On 400 rounds of equal normal spreads the objections stay near 5 % (binomial 99.9 %: below 36)."""
    random = np.random.default_rng(2)
    objected = sum(pool_spread(random.standard_normal((6, 3)).tolist(), 1e-6).pooled is None for _ in range(400))
    assert objected < 36


def test_pooled_spread_is_the_root_mean_square_of_equal_groups() -> None:
    """s_p² is the mean of the variances of equal groups, with the degrees of freedom of all. Source: GUM
    4.2.4."""
    pooling = pool_spread([[1.0, 3.0], [10.0, 13.0], [5.0, 5.0]], 1)
    assert pooling.pooled is not None
    assert pooling.pooled.s == pytest.approx(math.sqrt((2 + 4.5 + 0) / 3))
    assert (pooling.pooled.dof, pooling.pooled.groups) == (3, 3)


def test_pooled_spread_is_that_of_one_way_analysis_of_variance() -> None:
    """s_p² equals the within mean square. Source: statsmodels' analysis of variance on unequal groups."""
    import pandas
    import statsmodels.formula.api as smf

    groups = {"a": [412.0, 411.5, 412.5], "b": [388.0, 388.5], "c": [401.0, 402.0, 401.5, 401.0]}
    table = pandas.DataFrame(
        {"y": [y for ys in groups.values() for y in ys], "g": [g for g, ys in groups.items() for _ in ys]}
    )
    fitted = smf.ols("y ~ C(g)", data=table).fit()
    pooled = pool_spread(list(groups.values()), 0.5).pooled
    assert pooled is not None
    assert pooled.s**2 == pytest.approx(float(fitted.mse_resid))
    assert pooled.dof == int(fitted.df_resid)


@given(st.permutations([[1.0, 2.0, 4.0], [5.0, 5.5], [7.0, 9.0, 8.0, 8.5]]), st.integers(-1000, 1000))
def test_order_and_level_of_the_groups_are_irrelevant(groups: list[list[float]], shift: int) -> None:
    """Neither naming the entrants in another order nor a heavier product changes the pooled spread."""
    moved = [[x + shift * i for x in g] for i, g in enumerate(groups)]
    first, second = (pool_spread(g, 0.5).pooled for g in ([[1.0, 2, 4], [5, 5.5], [7, 9, 8, 8.5]], moved))
    assert first is not None
    assert second is not None
    assert second.s == pytest.approx(first.s)


def test_one_wild_group_stops_the_pooling() -> None:
    """A group with fifty times the spread of the rest: no pooling, and the reason names the kind."""
    pooling = pool_spread([[1.0, 2.0, 3.0], [1.0, 51.0, 101.0], [4.0, 5.0, 6.0], [1.0, 2.0, 3.0]], 0.5)
    assert pooling.pooled is None
    assert Reason.ONE_SPREAD_STANDS_OUT in pooling.reasons
    assert pooling.p_largest is not None


def test_equal_readings_do_not_pass_for_a_perfect_bench() -> None:
    """On a display of whole grams, groups of equal readings beside groups that flicker by one digit still
    pool."""
    groups = [[5, 5, 5], [7, 8, 7], [9, 9, 9], [4, 4, 5]]
    assert pool_spread(groups, 1).pooled is not None


@pytest.mark.parametrize(
    ("groups", "reason"),
    [
        ([], Reason.NO_REPEATS),
        ([[1.0], [2.0], []], Reason.NO_REPEATS),
        ([[1.0, 2.0], [3.0]], Reason.ONE_GROUP),
    ],
)
def test_nothing_to_pool_is_a_reason(groups: list[list[float]], reason: Reason) -> None:
    """Without two groups of repeats there is no pooled spread, and a code says why."""
    assert (pool_spread(groups, 1).pooled, pool_spread(groups, 1).reasons) == (None, (reason,))


def test_nan_in_a_group_is_refused() -> None:
    """A reading that isn't a number stops the pooling with its index."""
    with pytest.raises(ValueError, match=r"values\[1\]"):
        pool_spread([[Decimal(1), Decimal("NaN")], [Decimal(1), Decimal(2)]], 1)
