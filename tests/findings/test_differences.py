"""Differences on a ratio scale: handbook figures, SciPy and statsmodels, and what moves no result."""

import itertools
import math
import pickle
import time
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multicomp import pairwise_tukeyhsd
from statsmodels.stats.multitest import multipletests

from sitegen.findings.comparison.comparison import Comparison, Doubt, Method, Pair
from sitegen.findings.comparison.differences import compare_ratio
from sitegen.findings.comparison.letters import letter_groups
from sitegen.findings.statistics.family import equal_pairs
from sitegen.findings.statistics.pooling import Pooled, pool_spread

NIST = {  # data of 7.4.7.1, from memory; its printed results below hold them to account
    "1": (6.9, 5.4, 5.8, 4.6, 4.0),
    "2": (8.3, 6.8, 7.8, 9.2, 6.5),
    "3": (8.0, 10.5, 8.1, 6.9, 9.3),
    "4": (5.8, 3.8, 6.1, 5.6, 6.2),
}


def common(groups: Mapping[str, Sequence[float]]) -> Pooled:
    """The scatter that all groups share."""
    pooled = pool_spread(groups, 1e-6).pooled
    assert pooled is not None
    return pooled


def pair(found: Comparison, a: str, b: str) -> Pair:
    """One pair of a comparison."""
    return next(one for one in found.pairs if (one.a, one.b) == (a, b))


def normal_groups(seed: int, sizes: list[int], spreads: list[float]) -> dict[str, list[float]]:
    """Seeded normal readings with means one apart."""
    random = np.random.default_rng(seed)
    return {
        f"p{index}": random.normal(index, spread, size).tolist()
        for index, (size, spread) in enumerate(zip(sizes, spreads, strict=True))
    }


@pytest.mark.parametrize(
    ("a", "b", "difference", "low", "high"),
    [
        ("1", "3", -3.22, -5.31, -1.13),
        ("3", "4", 3.06, 0.97, 5.15),
        ("1", "2", -2.38, -4.47, -0.29),
        ("2", "4", 2.22, 0.13, 4.31),
        ("2", "3", -0.84, -2.93, 1.25),
        ("1", "4", -0.16, -2.25, 1.93),
    ],
)
def test_tukey_intervals_of_the_handbook(a: str, b: str, difference: float, low: float, high: float) -> None:
    """Source: NIST/SEMATECH e-Handbook 7.4.7.1, six simultaneous 95 % intervals; printed values from
    memory.
    """
    found = compare_ratio(NIST, pooled=common(NIST))
    one = pair(found, a, b)
    assert found.method is Method.TUKEY_KRAMER
    assert (one.difference, one.low, one.high) == pytest.approx((difference, low, high), abs=0.006)
    assert one.distinct is (low > 0 or high < 0)


@pytest.mark.parametrize("sizes", [[5, 5, 5], [5, 7, 9, 6], [6, 6, 6, 6, 6]])
@pytest.mark.parametrize("seed", [2, 3, 4])
def test_tukey_kramer_agrees_with_scipy_and_statsmodels(sizes: list[int], seed: int) -> None:
    """Sources: scipy.stats.tukey_hsd and statsmodels pairwise_tukeyhsd, equal and unequal sizes."""
    groups = normal_groups(seed, sizes, [1.0] * len(sizes))
    found = compare_ratio(groups, pooled=common(groups))
    assert found.method is Method.TUKEY_KRAMER
    reference = stats.tukey_hsd(*groups.values())
    bounds = reference.confidence_interval(0.95)
    for one in found.pairs:
        i, j = int(one.a[1:]), int(one.b[1:])
        assert one.p_adjusted == pytest.approx(reference.pvalue[i, j], rel=1e-4, abs=1e-7)
        assert (one.low, one.high) == pytest.approx((bounds.low[i, j], bounds.high[i, j]), abs=1e-5)
    flat = [value for values in groups.values() for value in values]
    named = [name for name, values in groups.items() for _ in values]
    assert pairwise_tukeyhsd(flat, named).reject.tolist() == [one.distinct for one in found.pairs]


def holm(groups: Mapping[str, Sequence[float]]) -> list[float]:
    """Welch's p of all pairs with Holm's own steps, by SciPy and statsmodels; degrees of freedom truncated, or those of the
    smaller of unequal groups.
    """
    p = []
    for a, b in itertools.combinations(sorted(groups), 2):
        one, sizes = stats.ttest_ind(groups[a], groups[b], equal_var=False), (len(groups[a]), len(groups[b]))
        dof = math.floor(one.df) if sizes[0] == sizes[1] else min(sizes) - 1
        p.append(2 * float(stats.t.sf(abs(one.statistic), dof)))
    return [float(value) for value in multipletests(p, method="holm")[1]]


@pytest.mark.parametrize("seed", range(6))
def test_welch_with_steps_agrees_with_scipy_and_statsmodels(seed: int) -> None:
    """Sources: scipy.stats.ttest_ind(equal_var=False), statsmodels multipletests(method="holm").

    Shaffer's counts never make a p larger than Holm's, and leave the smallest as it is.
    """
    groups = normal_groups(seed, [12, 9, 9, 3], [0.2, 2.0, 1.0, 0.3])
    found = compare_ratio(groups)
    assert found.method is Method.WELCH_HOLM
    ours, theirs = [one.p_adjusted or 0.0 for one in found.pairs], holm(groups)
    assert all(a <= b + 1e-12 for a, b in zip(ours, theirs, strict=True))
    assert min(ours) == pytest.approx(min(theirs))


def test_three_entrants_step_as_fisher_would() -> None:
    """With three entrants, once one pair differs at most one other can be equal (Shaffer 1986; from memory): the two
    larger p are not multiplied. Data: the Tukey example of SciPy's documentation; Welch's t of 3.4615 with 7.07 and
    0.1974 with 6.79 degrees of freedom worked out with scipy.stats.ttest_ind.
    """
    groups = {
        "a": (24.5, 23.5, 26.4, 27.1, 29.9),
        "b": (28.4, 34.2, 29.5, 32.2, 30.1),
        "c": (26.1, 28.3, 24.3, 26.2, 27.8),
    }
    found = {(one.a, one.b): one for one in compare_ratio(groups).pairs}
    smallest = 2 * float(stats.t.sf(3.4615, 7))
    assert found["b", "c"].p_adjusted == pytest.approx(3 * smallest, abs=2e-5)
    assert found["a", "b"].p_adjusted == pytest.approx(3 * smallest, abs=2e-5)  # never below the one before it
    assert found["a", "c"].p_adjusted == pytest.approx(2 * float(stats.t.sf(0.1974, 6)), abs=1e-4)
    assert [one.distinct for one in found.values()] == [True, False, True]


def test_students_sleep_data() -> None:
    """t = -1.8608, 17.776 degrees of freedom, p = 0.07939, interval -3.365 to 0.205 (Student 1908; as R's help prints it,
    from memory); with 17 whole degrees of freedom p is 0.080, and the interval a hundredth wider.
    """
    first = (0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0)
    second = (1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4)
    (one,) = compare_ratio({"a": first, "b": second}).pairs
    assert (one.p_adjusted, one.low, one.high) == pytest.approx((0.0801, -3.371, 0.211), abs=6e-4)
    assert (one.p_adjusted, one.low, one.high) == pytest.approx((0.07939, -3.365, 0.205), abs=1e-2)
    assert not one.distinct


@pytest.mark.parametrize(("entrants", "counts"), [(3, (3, 1, 0)), (4, (6, 3, 2, 1, 0)), (5, (10, 6, 4, 3, 2, 1, 0))])
def test_numbers_of_equal_pairs(entrants: int, counts: tuple[int, ...]) -> None:
    """Shaffer's table of how many pairs can be equal (1986, table 2; from memory)."""
    assert equal_pairs(entrants) == counts


def test_no_reading_chooses_the_method() -> None:
    """A gross difference of spreads changes neither method: the protocol has said whose the scatter is."""
    groups = normal_groups(1, [6] * 4, [0.1, 0.1, 0.1, 10.0])
    assert compare_ratio(groups).method is Method.WELCH_HOLM
    assert compare_ratio(groups, pooled=common(groups)).method is Method.TUKEY_KRAMER


READINGS = st.lists(st.integers(-500, 500).map(lambda i: i / 4), min_size=1, max_size=6)
GROUPS = st.dictionaries(st.sampled_from("pqrstuv"), READINGS, min_size=2, max_size=6)


def verdicts(found: Comparison) -> list[tuple[str, str, bool]]:
    """Who was told apart from whom."""
    return [(one.a, one.b, one.distinct) for one in found.pairs]


def borderline(found: Comparison) -> bool:
    """Some decision hangs on the last digits."""
    return any(one.p_adjusted is not None and abs(one.p_adjusted - 0.05) < 1e-6 for one in found.pairs)


@given(GROUPS, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_order_of_entrants_and_readings_is_irrelevant(groups: dict[str, list[float]], random: object) -> None:
    """Entrants in another order, and each one's readings in reverse, give the same comparison."""
    names = list(groups)
    random.shuffle(names)  # type: ignore[attr-defined]
    assert compare_ratio({name: groups[name][::-1] for name in names}) == compare_ratio(groups)


@given(GROUPS, st.sampled_from([0.001, 1000.0, 0.028349523, 0.45359237]), st.sampled_from([0.0, 300.0, -40.0]))
@settings(max_examples=60, deadline=None)
def test_unit_and_zero_point_move_no_verdict_and_no_letter(
    groups: dict[str, list[float]], factor: float, shift: float
) -> None:
    """Grams or ounces, Celsius or kelvin: the same pairs are distinct, the same letters stand."""
    here = compare_ratio(groups, resolution=0.25)
    assume(not borderline(here))
    there = compare_ratio(
        {name: [(value + shift) * factor for value in values] for name, values in groups.items()},
        resolution=0.25 * factor,
    )
    assert verdicts(there) == verdicts(here) and there.method is here.method
    letters = [{one.entrant: len(one.letters) for one in letter_groups(found)} for found in (here, there)]
    assert letters[0] == letters[1]


@given(GROUPS)
@settings(max_examples=60, deadline=None)
def test_distinct_means_that_the_interval_leaves_out_zero(groups: dict[str, list[float]]) -> None:
    """Interval, adjusted p and verdict say one thing, and every pair is there once."""
    found = compare_ratio(groups, resolution=0.25)
    assert len(found.pairs) == math.comb(len(groups), 2)
    for one in found.pairs:
        if one.low is None or one.high is None or one.p_adjusted is None:
            assert not one.distinct and 1 in (len(groups[one.a]), len(groups[one.b]))
        else:
            assert one.distinct is (one.low >= 0 or one.high <= 0)
            assert one.distinct is (one.p_adjusted <= 0.05) or abs(one.p_adjusted - 0.05) < 1e-6


def test_one_specimen_is_told_apart_from_nobody() -> None:
    """Bad input "one specimen": that entrant has its difference and no verdict; the others are compared."""
    found = compare_ratio({"a": (1, 1.1, 0.9), "b": (9,), "c": (5, 5.1, 4.9)})
    assert Doubt.SINGLE_SPECIMEN in found.reasons
    assert pair(found, "a", "b") == Pair(
        a="a", b="b", difference=-8.0, low=None, high=None, p_adjusted=None, distinct=False
    )
    assert pair(found, "a", "c").distinct


def test_one_specimen_is_compared_by_the_instruments_scatter() -> None:
    """A standard deviation from elsewhere holds for one reading too, whose mean is as uncertain as the reading."""
    found = compare_ratio({"a": (1, 1.1, 0.9), "b": (9,)}, pooled=Pooled(s=0.1, dof=30))
    (one,) = found.pairs
    width = float(stats.t.isf(0.025, 30)) * 0.1 * math.sqrt(1 + 1 / 3)
    assert one.high is not None and one.high - one.difference == pytest.approx(width, rel=1e-6)
    assert one.distinct and Doubt.SINGLE_SPECIMEN not in found.reasons


def test_who_could_not_be_compared_has_no_letter() -> None:
    """A single reading of unknown scatter would share every letter, which looks like a finding."""
    found = compare_ratio({"a": (1, 1.1, 0.9), "b": (9,), "c": (5, 5.1, 4.9)})
    assert [one.entrant for one in letter_groups(found)] == ["c", "a"]


def test_single_specimens_only_can_show_nothing_and_two_are_the_least() -> None:
    """With one specimen each the finding says that no difference can be shown, and what would be needed."""
    found = compare_ratio({"a": (1,), "b": (9,)})
    assert found.method is Method.NONE and found.specimens_needed == 2
    assert Doubt.CANNOT_SHOW_A_DIFFERENCE in found.reasons and not found.pairs[0].distinct


def test_one_entrant_gives_a_finding_without_pairs() -> None:
    """A round of one has nothing to compare, and says so."""
    found = compare_ratio({"a": (1, 2, 3)})
    assert (found.pairs, found.reasons) == ((), (Doubt.TOO_FEW_ENTRANTS,))


@pytest.mark.parametrize(
    ("values", "reasons"), [((5, 5, 5), {Doubt.NO_SPREAD, Doubt.ALL_EQUAL}), ((7, 7, 7), {Doubt.NO_SPREAD})]
)
def test_equal_readings_without_resolution_have_no_yardstick(values: tuple[float, ...], reasons: set[Doubt]) -> None:
    """Bad input "all equal": no spread and no resolution, so no verdict, however large the difference."""
    found = compare_ratio({"a": (5, 5, 5), "b": values})
    assert found.method is Method.NONE and set(found.reasons) == reasons
    assert [one.distinct for one in found.pairs] == [False]


def test_equal_readings_are_judged_by_the_resolution() -> None:
    """δ/√12 is the least spread: 2 steps apart is told apart with four equal readings each, 1 step isn't."""
    steps = {"a": [10.0] * 4, "b": [10.5] * 4, "c": [11.0] * 4}
    found = compare_ratio(steps, resolution=0.5, pooled=Pooled(s=0.0, dof=9))
    assert Doubt.RESOLUTION_FLOOR in found.reasons and found.method is Method.TUKEY_KRAMER
    width = stats.studentized_range.isf(0.05, 3, 9) * (0.5 / math.sqrt(12)) / math.sqrt(4)
    one = pair(found, "a", "b")
    assert one.high is not None and one.high - one.difference == pytest.approx(width, rel=1e-6)
    assert [one.distinct for one in found.pairs] == [width <= 0.5, True, width <= 0.5]


def test_one_entrant_without_spread_is_not_taken_for_perfect() -> None:
    """Without a resolution, a group of equal readings gets its own spread of nothing, and pairs stay
    judged.
    """
    found = compare_ratio({"a": (5, 5, 5), "b": (7, 9, 8), "c": (5, 5, 5)})
    assert found.method is Method.WELCH_HOLM
    assert pair(found, "a", "c").p_adjusted is None and not pair(found, "a", "c").distinct
    assert pair(found, "a", "b").p_adjusted is not None


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")], ids=str)
def test_what_is_not_finite_is_refused_by_name(bad: float) -> None:
    """Bad input "NaN and infinity": the message names entrant and index."""
    with pytest.raises(ValueError, match=r"tarn\[1\].*finite"):
        compare_ratio({"fjell": (1, 2), "tarn": (3, bad)})


def test_other_senseless_input_is_refused_by_name() -> None:
    """No readings, readings whose squares overflow, a negative resolution, nothing worth showing."""
    with pytest.raises(ValueError, match="tarn.*at least 1"):
        compare_ratio({"fjell": (1, 2), "tarn": ()})
    with pytest.raises(ValueError, match="tarn.*1e\\+200"):
        compare_ratio({"fjell": (1, 2), "tarn": (1e200, 0)})
    with pytest.raises(ValueError, match="resolution"):
        compare_ratio(NIST, resolution=-1)
    with pytest.raises(ValueError, match="worth_showing"):
        compare_ratio(NIST, worth_showing=0)


def test_specimens_for_a_stated_difference_follow_from_the_rounds_spread() -> None:
    """Half the difference needs about four times the specimens; beyond a thousand there is a reason
    instead.
    """
    wide, narrow = (compare_ratio(NIST, worth_showing=x).specimens_needed for x in (3.0, 1.5))
    assert wide is not None and narrow is not None and 3 <= narrow / wide < 4.5
    hopeless = compare_ratio(NIST, worth_showing=0.01)
    assert hopeless.specimens_needed is None and Doubt.BEYOND_PLANNING in hopeless.reasons


def test_a_comparison_survives_pickling() -> None:
    """Findings travel between processes."""
    found = compare_ratio(NIST)
    assert pickle.loads(pickle.dumps(found)) == found


@pytest.mark.parametrize("together", [True, False], ids=["tukey", "welch"])
def test_eight_entrants_take_no_time(together: bool) -> None:
    """Eight entrants with ten readings: under 20 ms of processor time once libraries are loaded; best of five, so that a
    busy machine doesn't fail it.
    """
    groups = normal_groups(3, [10] * 8, [1.0] * 8)
    pooled = common(groups) if together else None
    taken = []
    for _ in range(5):
        start = time.thread_time()
        compare_ratio(groups, pooled=pooled)
        taken.append(time.thread_time() - start)
    assert min(taken) < 0.02


def test_every_reference_agrees_whatever_the_many_pairs_shortcut_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """120 entrants (7 140 pairs, read off a table) get the verdicts that pair by pair work gives."""
    groups = normal_groups(5, [4, 5, 6] * 40, [1.0] * 120)
    pooled = common(groups)
    many = compare_ratio(groups, pooled=pooled)
    monkeypatch.setattr("sitegen.findings.statistics.studentized.DIRECT", 10**9)
    assert [one.distinct for one in compare_ratio(groups, pooled=pooled).pairs] == [one.distinct for one in many.pairs]
