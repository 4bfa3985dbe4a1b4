"""Change between stages: paired, exact where few, and honest about what few can't show."""

import itertools
import math
import pickle
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.changing.stages import GradeChange, grades_lost, share_kept, sign_test_p, signed_rank_p
from sitegen.findings.reasons import Reason


def stage(*values: object) -> dict[str, Decimal]:
    """Readings of specimens a, b, c, …"""
    return {name: Decimal(str(v)) for name, v in zip("abcdefghij", values, strict=False)}


def change(before: tuple[object, ...], after: tuple[object, ...]) -> GradeChange:
    """Grades lost between two stages of the same specimens."""
    return grades_lost(stage(*before), stage(*after))


DIFFERENCES = st.lists(st.integers(-5, 5), min_size=1, max_size=9)


def test_grades_lost_are_counted_specimen_by_specimen() -> None:
    """5, 5, 4 → 3, 5, 4.5: two lost, none lost, half a grade won. By hand."""
    found = change((5, 5, 4), (3, 5, "4.5"))
    assert found.lost == (Decimal(2), Decimal(0), Decimal("-0.5"))
    assert (found.fell, found.stayed, found.rose) == (1, 1, 1)
    assert found.median == (Decimal(0),)
    assert found.counts == ((Decimal("-0.5"), 1), (Decimal(0), 1), (Decimal(2), 1))


@pytest.mark.parametrize(("n", "smallest"), [(1, 1.0), (3, 0.25), (4, 0.125), (5, 0.0625), (6, 0.03125)])
def test_smallest_p_is_said_before_anyone_hopes(n: int, smallest: float) -> None:
    """With n pairs no test of signs goes below 2/2^n: five can't reach 5 %, six can. By counting sign
    patterns."""
    found = change((5,) * n, (3,) * n)
    assert (found.p_sign, found.p_signed_rank, found.smallest_p) == (smallest,) * 3
    assert (Reason.CANNOT_REACH_5_PERCENT in found.reasons) == (n < 6)


@given(DIFFERENCES)
def test_sign_test_agrees_with_scipy(differences: list[int]) -> None:
    """Source: scipy.stats.binomtest of the positives among those that moved."""
    moved = [d for d in differences if d]
    expected = stats.binomtest(sum(d > 0 for d in moved), len(moved)).pvalue if moved else 1.0
    assert sign_test_p(differences) == pytest.approx(float(expected))


@given(DIFFERENCES)
def test_signed_rank_agrees_with_every_sign_pattern(differences: list[int]) -> None:
    """Midranks by scipy.stats.rankdata, then all 2^n sign patterns one by one."""
    moved = [d for d in differences if d]
    ranks = stats.rankdata([abs(d) for d in moved]) if moved else np.array([])
    observed = abs(sum(r * math.copysign(1, d) for r, d in zip(ranks, moved, strict=True)))
    sums = [abs(float(np.dot(ranks, s))) for s in itertools.product((-1, 1), repeat=len(moved))]
    expected = sum(s >= observed - 1e-9 for s in sums) / len(sums)
    assert signed_rank_p(differences) == pytest.approx(expected)


@given(st.lists(st.integers(1, 1000), min_size=1, max_size=15, unique=True), st.integers(0, 2**15))
def test_signed_rank_without_ties_agrees_with_scipy(sizes: list[int], signs: int) -> None:
    """Source: scipy.stats.wilcoxon, method exact (defined without ties and zeros)."""
    differences = [s if signs >> i & 1 else -s for i, s in enumerate(sizes)]
    assert signed_rank_p(differences) == pytest.approx(float(stats.wilcoxon(differences, method="exact").pvalue))


def test_signed_rank_published_example() -> None:
    """Depression scale of nine patients: V = 40, one-sided p = 0.01953, two-sided 0.0391.

    Source: Hollander & Wolfe, Nonparametric Statistical Methods, example 3.1 (data from memory)."""
    first = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]
    second = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
    assert signed_rank_p([a - b for a, b in zip(first, second, strict=True)]) == pytest.approx(0.03906, abs=1e-5)


@given(DIFFERENCES.flatmap(lambda d: st.tuples(st.just(d), st.permutations(d))))
def test_order_and_direction_leave_the_p_values(pair: tuple[list[int], list[int]]) -> None:
    """Two-sided tests don't know which stage came first, nor which specimen."""
    plain, shuffled = pair
    for test in (sign_test_p, signed_rank_p):
        assert test(plain) == test(shuffled) == test([-d for d in plain])


def test_many_specimens_are_as_exact_as_few() -> None:
    """Forty pairs that all fell: 2/2^40, counted and not approximated."""
    assert signed_rank_p([1] * 40) == 2.0**-39


def test_specimens_of_one_stage_only_are_left_out() -> None:
    """Only a, b, c were graded twice; d is left out with a reason."""
    found = grades_lost(stage(5, 5, 4, 4), stage(4, 4, 3))
    assert found.specimens == ("a", "b", "c")
    assert Reason.SPECIMENS_LEFT_OUT in found.reasons


def test_without_common_specimens_there_is_no_change() -> None:
    """Other specimens at each stage: no pairs, no p, and the reason."""
    found = grades_lost({"a": Decimal(5)}, {"b": Decimal(3)})
    assert (found.n, found.median, found.p_sign, found.p_signed_rank, found.smallest_p) == (
        0,
        (),
        None,
        None,
        None,
    )
    assert Reason.NO_COMMON_SPECIMENS in found.reasons


def test_share_kept_is_the_interval_of_the_mean_logarithm() -> None:
    """exp(mean ± t·s/√n) of ln(after/before), by SciPy, with a display too fine to matter."""
    before, after = stage(100, 110, 120, 95), stage(91, 100, 105, 90)
    logs = [math.log(after[k] / before[k]) for k in before]
    low, high = stats.t.interval(0.95, 3, loc=np.mean(logs), scale=stats.sem(logs))
    kept = share_kept(before, after, 1e-9)
    assert (kept.share, kept.low, kept.high) == pytest.approx(
        (math.exp(np.mean(logs)), math.exp(low), math.exp(high)), rel=1e-6
    )


def test_share_of_separate_specimens_uses_welch() -> None:
    """Unpaired: the ratio of geometric means, ν by Welch, truncated. Source: scipy.stats.ttest_ind,
    equal_var=False."""
    before, after = stage(100, 110, 120, 95), stage(80, 100, 70)
    kept = share_kept(before, after, 1e-9, paired=False)
    welch = stats.ttest_ind(
        [math.log(v) for v in after.values()], [math.log(v) for v in before.values()], equal_var=False
    )
    assert kept.dof == pytest.approx(float(welch.df), rel=1e-6)
    logs = [math.log(kept.share or 0), math.log(kept.low or 0)]
    factor = stats.t.ppf(0.975, math.floor(welch.df))
    assert (logs[0] - logs[1]) / factor == pytest.approx(logs[0] / float(welch.statistic), rel=1e-6)


POSITIVE = st.lists(st.tuples(st.integers(50, 200), st.integers(50, 200)), min_size=2, max_size=8)


@given(POSITIVE, st.integers(1, 1000))
def test_the_unit_cancels_and_the_way_back_is_the_reciprocal(pairs: list[tuple[int, int]], unit: int) -> None:
    """A share has no unit; kept from A to B times kept from B to A is one, limits included."""
    before, after = (stage(*column) for column in zip(*pairs, strict=True))
    kept, back = share_kept(before, after, 1), share_kept(after, before, 1)
    scaled = share_kept({k: v * unit for k, v in before.items()}, {k: v * unit for k, v in after.items()}, unit)
    assert scaled.share == pytest.approx(kept.share)
    assert scaled.low == pytest.approx(kept.low)
    assert kept.share is not None
    assert kept.low is not None
    assert back.share == pytest.approx(1 / kept.share)
    assert back.high == pytest.approx(1 / kept.low)


def test_equal_shares_still_have_the_resolution() -> None:
    """No spread between specimens doesn't make the share exact."""
    kept = share_kept(stage(100, 100), stage(90, 90), 1)
    assert kept.low is not None
    assert kept.share is not None
    assert kept.low < kept.share


def test_one_pair_gives_a_share_without_interval() -> None:
    """One specimen: the share stands, the interval can't be told."""
    kept = share_kept(stage(100), stage(90), 1)
    assert kept.share == pytest.approx(0.9)
    assert (kept.low, kept.high) == (None, None)
    assert kept.reasons == (Reason.TOO_FEW_SPECIMENS,)
    assert share_kept({"a": Decimal(1)}, {"b": Decimal(1)}, 1).reasons[0] is Reason.NO_COMMON_SPECIMENS


@pytest.mark.parametrize("bad", ["0", "-3", "NaN", "Infinity"])
def test_a_share_of_nothing_less_or_no_number_is_refused(bad: str) -> None:
    """Zero and negative masses have no logarithm; NaN and infinity stop at the door."""
    with pytest.raises(ValueError, match=r"before"):
        share_kept(stage(bad, 1), stage(1, 1), 1)
    with pytest.raises(ValueError, match=r"after"):
        share_kept(stage(1, 1), stage(1, bad), 1)
    if not bad.lstrip("-").isdigit():
        with pytest.raises(ValueError, match="before"):
            change((bad,), (1,))


def test_results_can_be_pickled() -> None:
    """A finding may come from another process."""
    for found in (change((5, 4), (4, 4)), share_kept(stage(2, 3), stage(1, 2), 1)):
        assert pickle.loads(pickle.dumps(found)) == found
