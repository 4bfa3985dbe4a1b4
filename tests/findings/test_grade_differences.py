"""Differences in grades: exact tests with and without ties, the family of pairs, what moves no result."""

import math
import pickle
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from sitegen.findings.comparison.comparison import Comparison, Doubt, Method, Pair
from sitegen.findings.comparison.grade_differences import ALL_UP_TO, compare_ordinal
from sitegen.findings.statistics.permutation import arrangements, count_arrangements, pair_differences, pair_p, shuffles
from sitegen.findings.statistics.specimens import smallest_p


def pair(found: Comparison, a: str, b: str) -> Pair:
    """One pair of a comparison."""
    return next(one for one in found.pairs if (one.a, one.b) == (a, b))


@pytest.mark.parametrize(
    ("a", "b", "p"),
    [
        pytest.param((19, 22, 16, 29, 24), (20, 11, 17, 12), 0.1111, id="W1"),
        pytest.param(
            (0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46),
            (1.15, 0.88, 0.90, 0.74, 1.21),
            0.2544,
            id="W2",
        ),
        pytest.param((4, 4, 5), (2, 3, 3), 2 / 20, id="ties-1"),
        pytest.param((4, 4, 4), (4, 3, 3), 8 / 20, id="ties-2"),
        pytest.param((5, 5, 4, 4), (3, 3, 4, 2), 6 / 70, id="ties-3"),
        pytest.param((5, 4, 4.5, 5, 4), (3, 3.5, 2, 3, 4), 6 / 252, id="ties-4"),
    ],
)
def test_two_entrants_are_the_exact_rank_sum_test(a: tuple[float, ...], b: tuple[float, ...], p: float) -> None:
    """Sources: W1 the worked example of the rank sum test in SciPy's documentation; W2 Hollander & Wolfe's
    example, as in R's help (both from memory, figures recomputed); ties: permutation of midranks, two-sided
    by distance, counted by hand.
    """
    found = compare_ordinal({"a": a, "b": b})
    assert found.method is Method.PERMUTATION_EXACT and found.seed is None
    assert found.pairs[0].p_adjusted == pytest.approx(p, abs=5e-5)
    assert found.permutations == math.comb(len(a) + len(b), len(a))


@pytest.mark.parametrize(
    ("n", "p"), [(2, 0.3333), (3, 0.1000), (4, 0.0286), (5, 0.0079), (6, 0.0022)], ids=lambda x: str(x)
)
def test_smallest_p_of_two_entrants(n: int, p: float) -> None:
    """Source: 2/C(2n, n). Three against three can never be told apart, four against four can."""
    found = compare_ordinal({"a": [5] * n, "b": [1] * n})
    assert found.pairs[0].p_adjusted == pytest.approx(p, abs=5e-5) == found.smallest_possible_p
    assert found.pairs[0].distinct is (n >= 4) and found.specimens_needed == 4
    assert (Doubt.CANNOT_SHOW_A_DIFFERENCE in found.reasons) is (n < 4)


GRADES = st.lists(st.sampled_from([0, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5]), min_size=1, max_size=6)


@given(GRADES, GRADES)
@settings(max_examples=60, deadline=None)
def test_counted_p_agrees_with_scipys_permutation_test(a: list[float], b: list[float]) -> None:
    """Source: scipy.stats.permutation_test over all arrangements, statistic |rank sum - its mean| on
    midranks.
    """
    ranks = stats.rankdata([*a, *b])
    centre = len(a) * (len(a) + len(b) + 1) / 2

    def distance(x: np.ndarray, y: np.ndarray, axis: int = -1) -> np.ndarray:
        distances: np.ndarray = np.abs(x.sum(axis=axis) - centre)
        return distances

    parts = (ranks[: len(a)], ranks[len(a) :])
    ours = compare_ordinal({"a": a, "b": b}).pairs[0].p_adjusted
    least = 2 / math.comb(len(ranks), len(a))  # one-sided luck of ties and unequal sizes isn't counted
    if min(map(len, parts)) < 2:  # SciPy wants two values a group
        rows = arrangements([len(a), len(b)])
        reached = np.abs(ranks[rows][:, : len(a)].sum(axis=1) - centre) >= distance(*parts) - 1e-9
        assert ours == pytest.approx(min(1.0, max(least, float(reached.mean()))))
        return
    reference = stats.permutation_test(parts, distance, vectorized=True, n_resamples=np.inf, alternative="greater")
    assert ours == pytest.approx(max(least, float(reference.pvalue)))


def by_hand(groups: dict[str, tuple[float, ...]]) -> dict[tuple[str, str], float]:
    """Adjusted p by the definition: every ordering of the values, every pair, plain loops."""
    names, sizes = sorted(groups), [len(groups[name]) for name in sorted(groups)]
    values = [value for name in names for value in groups[name]]

    def scaled(order: tuple[float, ...]) -> dict[tuple[str, str], float]:
        ends = np.cumsum(sizes)
        parts = [order[end - size : end] for end, size in zip(ends, sizes, strict=True)]
        return {
            (names[i], names[j]): abs(sum(np.sign(x - y) for x in parts[i] for y in parts[j]))
            / math.sqrt(sizes[i] * sizes[j] * (sizes[i] + sizes[j] + 1) / 3)
            for i in range(len(names))
            for j in range(i + 1, len(names))
        }

    seen = [max(scaled(order).values()) for order in permutations(values)]
    return {key: sum(top >= height - 1e-9 for top in seen) / len(seen) for key, height in scaled(tuple(values)).items()}


@pytest.mark.parametrize(
    "groups",
    [
        {"a": (5.0, 4.0), "b": (3.0, 3.0), "c": (1.0, 2.0)},
        {"a": (5.0, 5.0), "b": (4.0, 4.0, 3.0), "c": (3.0,)},
        {"a": (1.0, 1.0), "b": (1.0, 1.0), "c": (1.0, 2.0)},
    ],
)
def test_all_pairs_p_is_the_share_of_arrangements(groups: dict[str, tuple[float, ...]]) -> None:
    """The largest difference over all pairs, counted over every ordering by plain loops; never below the
    floor.
    """
    found = compare_ordinal(groups)
    for key, p in by_hand(groups).items():
        floor = found.smallest_possible_p
        assert floor is not None and pair(found, *key).p_adjusted == pytest.approx(max(p, floor))


def test_sampled_p_is_near_the_exact_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same round by all 34 650 arrangements and by 9 999 shuffles: p within what chance allows."""
    groups = {"a": (5, 4, 4.5, 5), "b": (4, 4, 3.5, 3), "c": (2, 3, 3, 4.5)}
    exact = compare_ordinal(groups)
    monkeypatch.setattr("sitegen.findings.comparison.grade_differences.ALL_UP_TO", 10)
    monkeypatch.setattr("sitegen.findings.comparison.grade_differences.HOPELESS_SHUFFLES", 9_999)
    sampled = compare_ordinal(groups, seed=11)
    assert (exact.method, sampled.method) == (Method.PERMUTATION_EXACT, Method.PERMUTATION_SAMPLED)
    assert (exact.permutations, sampled.permutations, sampled.seed) == (34_650, 9_999, 11)
    for one, other in zip(exact.pairs, sampled.pairs, strict=True):
        assert other.p_adjusted == pytest.approx(one.p_adjusted, abs=0.02)


@pytest.mark.parametrize(("k", "n"), [(3, 3), (4, 4), (8, 5), (80, 5)])
def test_too_few_specimens_are_called_so(k: int, n: int) -> None:
    """However clear the grades: where n can't show a difference nothing is distinct, and the need is
    stated.
    """
    found = compare_ordinal({f"p{index:02}": [index] * n for index in range(k)})
    assert Doubt.CANNOT_SHOW_A_DIFFERENCE in found.reasons and not found.distinct_pairs
    assert found.specimens_needed is not None and found.specimens_needed > n
    assert found.smallest_possible_p == smallest_p(k, n) > 0.05


def test_enough_specimens_do_show_it() -> None:
    """Eight entrants need six: with six, entrants wholly apart are distinct, equal ones aren't."""
    found = compare_ordinal(
        {f"p{index}": [1 + index // 4 * 3, 2, 1, 1, 2, 1] if index < 4 else [5, 4, 4, 5, 5, 4] for index in range(8)}
    )
    assert found.specimens_needed == 6 and Doubt.CANNOT_SHOW_A_DIFFERENCE not in found.reasons
    assert not pair(found, "p4", "p5").distinct and pair(found, "p1", "p5").distinct


def test_ties_among_others_make_no_pair_surer() -> None:
    """Six entrants all at grade 3 don't turn three fives against three ones into a difference."""
    others = {f"p{index}": (3, 3, 3) for index in range(6)}
    found = compare_ordinal({**others, "x": (5, 5, 5), "y": (1, 1, 1)})
    assert Doubt.TIES_HELD_BACK in found.reasons and not found.distinct_pairs


def test_equal_entrants_are_called_distinct_in_at_most_one_round_of_twenty(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Own simulation, 200 seeded rounds: three equal entrants with tied grades beside three that never
    vary.
    """
    monkeypatch.setattr("sitegen.findings.comparison.grade_differences.SHUFFLES", 499)
    monkeypatch.setattr("sitegen.findings.comparison.grade_differences.FEWEST_SHUFFLES", 499)
    random, wrong = np.random.default_rng(5), 0
    for turn in range(200):
        equal = {name: random.integers(1, 6, 7).tolist() for name in "abc"}
        found = compare_ordinal({**equal, "d": [3] * 7, "e": [3] * 7, "f": [3] * 7}, seed=turn)
        wrong += any(a in "abc" and b in "abc" for a, b in found.distinct_pairs)
    assert wrong <= 19  # 10 expected at most, and three standard deviations


@given(
    st.dictionaries(st.sampled_from("pqrst"), GRADES, min_size=2, max_size=4),
    st.randoms(use_true_random=False),
)
@settings(max_examples=40, deadline=None)
def test_order_scale_and_direction_move_no_p(groups: dict[str, list[float]], random: object) -> None:
    """Entrants and specimens in another order, grades on another scale in the same order: the same p for
    all.
    """
    names = list(groups)
    random.shuffle(names)  # type: ignore[attr-defined]
    bent = {name: [10 * grade**3 + 7 for grade in values] for name, values in groups.items()}
    with pytest.MonkeyPatch.context() as patch:
        for name in ("SHUFFLES", "FEWEST_SHUFFLES", "HOPELESS_SHUFFLES"):
            patch.setattr(f"sitegen.findings.comparison.grade_differences.{name}", 199)
        patch.setattr("sitegen.findings.comparison.grade_differences.ALL_UP_TO", 2_000)
        here = compare_ordinal(groups)
        assert compare_ordinal({name: groups[name][::-1] for name in names}) == here
        assert compare_ordinal(bent) == here
        upside_down = compare_ordinal({name: [-grade for grade in values] for name, values in groups.items()})
    exact = here.method is Method.PERMUTATION_EXACT
    for one, other in zip(here.pairs, upside_down.pairs, strict=True):
        assert other.difference == -one.difference
        assert other.p_adjusted == pytest.approx(one.p_adjusted, abs=1e-12 if exact else 0.25)


def test_a_seed_gives_the_same_result_and_another_seed_another() -> None:
    """Same seed, same bytes; the seed and the number of shuffles stand in the result."""
    random = np.random.default_rng(2)
    groups = {f"p{index}": random.integers(1, 6, 7).tolist() for index in range(8)}
    first, again, other = (compare_ordinal(groups, seed=seed) for seed in (3, 3, 4))
    assert pickle.dumps(first) == pickle.dumps(again) and first.seed == 3
    assert first.permutations == 9_999 and first.pairs != other.pairs


def test_shuffles_are_pcg64s_raw_stream() -> None:
    """Source: NumPy's own test data for PCG64, seed 0xdeadbeaf, first number (from memory); the order of five
    specimens follows from it, so a change of stream would be noticed."""
    keys = np.random.PCG64(0xDEADBEAF).random_raw(5)
    assert int(keys[0]) == 0x60D24054E17A0698
    (rows,) = shuffles(5, 1, seed=0xDEADBEAF)
    assert rows[0].tolist() == np.argsort(keys).tolist()


def test_shuffles_are_uniform() -> None:
    """Own count: the 24 orders of four specimens come up about equally often (chi-square, 23 dof)."""
    rows = np.concatenate(list(shuffles(4, 24_000, seed=6)))
    counts = np.unique(rows @ np.array([64, 16, 4, 1]), return_counts=True)[1]
    assert len(counts) == 24 and stats.chisquare(counts).pvalue > 1e-4


def test_arrangements_are_all_and_each_once() -> None:
    """As many as the multinomial coefficient, none twice, each specimen once a row."""
    rows = arrangements([2, 3, 2])
    assert len(rows) == count_arrangements([2, 3, 2]) == 210
    split = {(tuple(sorted(row[:2])), tuple(sorted(row[2:5]))) for row in rows.tolist()}
    assert len(split) == 210 and all(sorted(row) == list(range(7)) for row in rows.tolist())
    assert count_arrangements([4, 4, 4]) == 34_650 < ALL_UP_TO


def test_differences_of_pairs_are_counts_of_wins() -> None:
    """S against two plain loops; larger samples in double precision give the same."""
    rows = np.array([[3, 0, 4, 2, 1, 3]])
    s = pair_differences(rows, [2, 1, 3])[0]
    assert s.tolist() == [[0, -2, -1], [2, 0, 3], [1, -3, 0]]
    assert pair_p(3, [6], 0.0) == 1.0


def test_one_specimen_and_one_entrant() -> None:
    """Bad input "one specimen": named, never distinct; a round of one entrant has no pairs."""
    found = compare_ordinal({"a": (5,), "b": (1, 1, 2, 1, 2, 1)})
    assert Doubt.SINGLE_SPECIMEN in found.reasons and not found.distinct_pairs
    assert found.pairs[0].p_adjusted == pytest.approx(2 / 7)
    assert compare_ordinal({"a": (5, 4)}).reasons == (Doubt.TOO_FEW_ENTRANTS,)


def test_all_equal_grades() -> None:
    """Bad input "all equal": p is 1, the difference 0, and the reason is stated."""
    found = compare_ordinal(dict.fromkeys("abc", (4, 4, 4, 4)))
    assert {(one.p_adjusted, one.difference) for one in found.pairs} == {(1.0, 0.0)}
    assert Doubt.ALL_EQUAL in found.reasons


@pytest.mark.parametrize("bad", [float("nan"), float("inf")], ids=str)
def test_what_is_not_finite_is_refused_by_name(bad: float) -> None:
    """Bad input "NaN and infinity": the message names entrant and index; so for no grades and a negative
    seed.
    """
    with pytest.raises(ValueError, match=r"tarn\[0\].*finite"):
        compare_ordinal({"fjell": (1, 2), "tarn": (bad, 3)})
    with pytest.raises(ValueError, match="tarn"):
        compare_ordinal({"fjell": (1, 2), "tarn": ()})
    with pytest.raises(ValueError, match="seed"):
        compare_ordinal({"fjell": (1, 2), "tarn": (1,)}, seed=-1)


def test_the_largest_statistic_is_no_weaker_than_holm() -> None:
    """Source: statsmodels multipletests(method="holm") on the pairs' exact p: what Holm tells apart at the
    family's level by its first step, the largest statistic does too, in a round without ties.
    """
    groups = {
        "a": (1, 2, 3, 4, 5, 6),
        "b": (7, 8, 9, 10, 11, 12),
        "c": (13, 14, 15, 16, 17, 18),
        "d": (5.5, 19, 20, 21, 22, 23),
    }
    found = compare_ordinal(groups)
    own = [float(stats.mannwhitneyu(groups[one.a], groups[one.b], method="exact").pvalue) for one in found.pairs]
    first_step = multipletests(own, method="bonferroni")[0]
    holm = multipletests(own, method="holm")[0]
    assert all(one.distinct for one, told in zip(found.pairs, first_step, strict=True) if told)
    assert sum(one.distinct for one in found.pairs) >= sum(first_step) and sum(holm) >= sum(first_step) > 0
