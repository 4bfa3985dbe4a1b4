"""How many specimens: closed form against tables and counts, power against statsmodels and simulation."""

import math
import subprocess
import sys

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from sitegen.findings.statistics.permutation import arrangements
from sitegen.findings.statistics.specimens import (
    power_for_difference,
    smallest_p,
    specimens_for_difference,
    specimens_for_grades,
)


@pytest.mark.parametrize(("n", "p"), [(2, 0.3333), (3, 0.1000), (4, 0.0286), (5, 0.0079), (6, 0.0022)])
def test_two_entrants_have_the_rank_sum_tests_smallest_p(n: int, p: float) -> None:
    """Source: 2/C(2n, n), and scipy.stats.mannwhitneyu(method="exact") on complete separation."""
    exact = stats.mannwhitneyu(range(n), range(n, 2 * n), method="exact").pvalue
    assert smallest_p(2, n) == pytest.approx(p, abs=5e-5) and smallest_p(2, n) == pytest.approx(float(exact))


@pytest.mark.parametrize(("k", "n"), [(3, 2), (3, 3), (4, 2), (2, 5), (3, 4)])
def test_closed_form_is_a_full_count_of_arrangements(k: int, n: int) -> None:
    """P(some pair wholly apart), by going through every arrangement of untied specimens."""
    every = arrangements([n] * k).reshape(-1, k, n)
    low, high = every.min(axis=2), every.max(axis=2)
    apart = (high[:, :, None] < low[:, None, :]).any(axis=(1, 2)).mean()
    assert smallest_p(k, n) == pytest.approx(float(apart), abs=1e-9)


def test_more_entrants_need_more_and_more_specimens_help() -> None:
    """Never above Bonferroni's bound over the pairs; falls with n, grows with k; 800 entrants stay
    workable.
    """
    for k in (3, 8, 80):
        chances = [smallest_p(k, n) for n in range(2, 15)]
        assert chances == sorted(chances, reverse=True)
        assert all(p <= math.comb(k, 2) * smallest_p(2, n) + 1e-9 for n, p in enumerate(chances, 2))
    needed = [specimens_for_grades(k) for k in (2, 3, 4, 8, 80, 800)]
    assert needed[:2] == [4, 5] and needed == sorted(needed)
    assert smallest_p(800, needed[-1]) <= 0.05 < smallest_p(800, needed[-1] - 1)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0, 4.0])
def test_two_entrants_need_what_a_t_test_needs(ratio: float) -> None:
    """Source: statsmodels TTestIndPower, difference in standard deviations, 80 % power at 5 %."""
    reference = math.ceil(TTestIndPower().solve_power(effect_size=ratio, power=0.8, alpha=0.05) - 1e-9)
    assert specimens_for_difference(2, 1.0, ratio) == max(2, reference)


def test_power_among_several_entrants_is_what_simulation_shows() -> None:
    """Own simulation, 4 000 seeded rounds of 5 entrants with 6 specimens, one pair 2 s apart."""
    random = np.random.default_rng(9)
    rounds = random.normal(size=(4000, 5, 6))
    rounds[:, 0] += 2.0
    error = np.sqrt(rounds.var(axis=2, ddof=1).mean(axis=1) / 6)
    q = np.abs(rounds[:, 0].mean(axis=1) - rounds[:, 1].mean(axis=1)) / error
    shown = (q > stats.studentized_range.isf(0.05, 5, 25)).mean()
    assert power_for_difference(5, 6, 1.0, 2.0) == pytest.approx(float(shown), abs=0.025)


def test_the_figure_is_the_least_that_does() -> None:
    """One specimen fewer has too little power; scaling spread and difference together changes nothing."""
    n = specimens_for_difference(8, 2.0, 3.0)
    assert n is not None and n == specimens_for_difference(8, 2000.0, 3000.0)
    assert power_for_difference(8, n, 2.0, 3.0) >= 0.8 > power_for_difference(8, n - 1, 2.0, 3.0)
    assert specimens_for_difference(8, 1.0, 0.001) is None
    assert specimens_for_difference(8, 1e-6, 5.0) == 2


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")], ids=str)
def test_senseless_planning_is_refused_by_name(bad: float) -> None:
    """Spread and difference must be finite and above zero; entrants and specimens enough to compare."""
    with pytest.raises(ValueError, match="difference"):
        specimens_for_difference(3, 1.0, bad)
    with pytest.raises(ValueError, match="spread"):
        specimens_for_difference(3, bad, 1.0)
    with pytest.raises(ValueError, match="entrants"):
        smallest_p(1, 3)
    with pytest.raises(ValueError, match="specimens"):
        smallest_p(2, 0)
    with pytest.raises(ValueError, match="specimens"):
        power_for_difference(2, 1, 1.0, 1.0)
    assert smallest_p(3, 1) == 1.0


def test_numpy_and_scipy_wait_until_something_is_compared() -> None:
    """Loading the modules of comparison, letters, graders, rig and planning loads neither library."""
    names = [
        "comparison.differences",
        "comparison.grade_differences",
        "comparison.letters",
        "grading.graders",
        "rigs.rig",
        "comparison.planning",
        "statistics.specimens",
    ]
    code = "import sys; " + "; ".join(f"import sitegen.findings.{name}" for name in names)
    loaded = "; print([name for name in ('numpy', 'scipy') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code + loaded], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
