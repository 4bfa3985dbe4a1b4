"""Differences on a ratio scale: handbook figures, SciPy and statsmodels, and what moves no result."""

import math
import pickle
import time

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multicomp import pairwise_tukeyhsd

from sitegen.findings import differences
from sitegen.findings.comparison import Comparison, Doubt, Method, Pair
from sitegen.findings.differences import compare_ratio
from sitegen.findings.letters import letter_groups

NIST = {  # data of 7.4.7.1, from memory; its printed results below hold them to account
    "1": (6.9, 5.4, 5.8, 4.6, 4.0),
    "2": (8.3, 6.8, 7.8, 9.2, 6.5),
    "3": (8.0, 10.5, 8.1, 6.9, 9.3),
    "4": (5.8, 3.8, 6.1, 5.6, 6.2),
}
STEADY = (-1.0, -0.4, 0.1, 0.5, 1.0)  # five deviations: enough for Brown-Forsythe


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
    found = compare_ratio(NIST)
    one = pair(found, a, b)
    assert found.method is Method.TUKEY_KRAMER
    assert (one.difference, one.low, one.high) == pytest.approx((difference, low, high), abs=0.006)
    assert one.distinct is (low > 0 or high < 0)


@pytest.mark.parametrize("sizes", [[5, 5, 5], [5, 7, 9, 6], [6, 6, 6, 6, 6]])
@pytest.mark.parametrize("seed", [2, 3, 4])  # seeds whose spreads pass the test of spreads
def test_tukey_kramer_agrees_with_scipy_and_statsmodels(sizes: list[int], seed: int) -> None:
    """Sources: scipy.stats.tukey_hsd and statsmodels pairwise_tukeyhsd, equal and unequal sizes."""
    groups = normal_groups(seed, sizes, [1.0] * len(sizes))
    found = compare_ratio(groups)
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


@pytest.mark.parametrize("seed", [1, 2])
def test_games_howell_agrees_with_scipy_and_statsmodels(seed: int) -> None:
    """Sources: scipy.stats.tukey_hsd(equal_var=False), statsmodels pairwise_tukeyhsd(use_var="unequal")."""
    groups = normal_groups(seed, [12, 9, 10, 14], [0.2, 6.0, 1.0, 0.3])
    found = compare_ratio(groups)
    assert found.method is Method.GAMES_HOWELL and Doubt.SPREADS_DIFFER in found.reasons
    reference = stats.tukey_hsd(*groups.values(), equal_var=False)
    bounds = reference.confidence_interval(0.95)
    for one in found.pairs:
        i, j = int(one.a[1:]), int(one.b[1:])
        assert one.p_adjusted == pytest.approx(reference.pvalue[i, j], rel=1e-4, abs=1e-7)
        assert (one.low, one.high) == pytest.approx((bounds.low[i, j], bounds.high[i, j]), abs=1e-5)
    flat = [value for values in groups.values() for value in values]
    named = [name for name, values in groups.items() for _ in values]
    other = pairwise_tukeyhsd(flat, named, use_var="unequal")
    assert other.reject.tolist() == [one.distinct for one in found.pairs]


@pytest.mark.parametrize("seed", range(5))
def test_spreads_are_judged_by_brown_forsythe(seed: int) -> None:
    """Source: scipy.stats.levene(center="median"), with five values or more everywhere."""
    groups = normal_groups(seed, [5, 8, 6], [1.0, 1.0, 3.0])
    reference = stats.levene(*groups.values(), center="median")
    assert compare_ratio(groups).p_spreads == pytest.approx(float(reference.pvalue), abs=1e-9)


def test_below_five_values_bartlett_stands_in() -> None:
    """Source: scipy.stats.bartlett; and Brown-Forsythe's F of two triples never exceeds 4, as the module
    says.
    """
    groups = normal_groups(8, [3, 4, 3], [1.0, 1.0, 1.0])
    found = compare_ratio(groups)
    assert found.p_spreads == pytest.approx(float(stats.bartlett(*groups.values()).pvalue), abs=1e-9)
    assert Doubt.SPREADS_HARDLY_TESTABLE in found.reasons
    random = np.random.default_rng(0)
    triples = [(random.normal(size=3), random.normal(size=3) * 1000) for _ in range(200)]
    assert max(float(stats.levene(a, b, center="median").statistic) for a, b in triples) <= 4.0


@pytest.mark.parametrize("n", [3, 6])
def test_a_gross_difference_of_spreads_is_seen_at_any_size(n: int) -> None:
    """An entrant a hundred times as scattered as the others is not pooled with them."""
    found = compare_ratio(normal_groups(1, [n] * 4, [0.1, 0.1, 0.1, 10.0]))
    assert found.method is Method.GAMES_HOWELL


READINGS = st.lists(st.integers(-500, 500).map(lambda i: i / 4), min_size=1, max_size=6)
GROUPS = st.dictionaries(st.sampled_from("pqrstuv"), READINGS, min_size=2, max_size=6)


def verdicts(found: Comparison) -> list[tuple[str, str, bool]]:
    """Who was told apart from whom."""
    return [(one.a, one.b, one.distinct) for one in found.pairs]


def borderline(found: Comparison) -> bool:
    """Some decision hangs on the last digits."""
    close = any(one.p_adjusted is not None and abs(one.p_adjusted - 0.05) < 1e-6 for one in found.pairs)
    return close or (found.p_spreads is not None and abs(found.p_spreads - 0.05) < 1e-6)


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
    found = compare_ratio(steps, resolution=0.5)
    assert Doubt.RESOLUTION_FLOOR in found.reasons and found.method is Method.TUKEY_KRAMER
    width = stats.studentized_range.isf(0.05, 3, 9) * (0.5 / math.sqrt(12)) / math.sqrt(4)
    one = pair(found, "a", "b")
    assert one.high is not None and one.high - one.difference == pytest.approx(width, rel=1e-6)
    assert [one.distinct for one in found.pairs] == [width <= 0.5, True, width <= 0.5]


def test_a_coarse_display_is_no_difference_of_spreads() -> None:
    """Five equal readings beside five within one step: with the resolution known the spreads are alike."""
    groups = {"a": [10.0] * 5, "b": [10.0, 10.5, 10.0, 10.5, 10.0], "c": [12.0] * 5}
    assert compare_ratio(groups, resolution=0.5).method is Method.TUKEY_KRAMER


def test_one_entrant_without_spread_is_not_taken_for_perfect() -> None:
    """Without a resolution, a group of equal readings gets its own spread of nothing, and pairs stay
    judged.
    """
    found = compare_ratio({"a": (5, 5, 5), "b": (7, 9, 8), "c": (5, 5, 5)})
    assert found.method is Method.GAMES_HOWELL
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


@pytest.mark.parametrize("spreads", [[1.0] * 8, [0.1, 1, 3, 9] * 2], ids=["tukey", "games"])
def test_eight_entrants_take_no_time(spreads: list[float]) -> None:
    """Eight entrants with ten readings: under 20 ms of processor time for Tukey once libraries are loaded,
    twice that for Games-Howell; best of five, so that a busy machine doesn't fail it.
    """
    groups = normal_groups(3, [10] * 8, spreads)
    taken = []
    for _ in range(5):
        start = time.thread_time()
        compare_ratio(groups)
        taken.append(time.thread_time() - start)
    assert min(taken) < (0.02 if spreads[0] == 1 else 0.04)


def test_every_reference_agrees_whatever_the_many_pairs_shortcut_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """120 entrants (7 140 pairs, read off a table) get the verdicts that pair by pair work gives."""
    groups = normal_groups(5, [4, 5, 6] * 40, [1.0, 2.0, 5.0] * 40)
    many = differences.compare_ratio(groups)
    monkeypatch.setattr("sitegen.findings.studentized.DIRECT", 10**9)
    assert [one.distinct for one in differences.compare_ratio(groups).pairs] == [one.distinct for one in many.pairs]
