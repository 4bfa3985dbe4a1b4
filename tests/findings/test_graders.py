"""Two graders: published kappas, scikit-learn and statsmodels, and the cases without one."""

import pickle

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa

from sitegen.findings.grading.graders import GraderDoubt, compare_graders, squared_distances, weighted_kappa

COHEN = [[0.44, 0.07, 0.09], [0.05, 0.20, 0.05], [0.01, 0.03, 0.06]]
FLEISS = [[106, 10, 4], [22, 28, 10], [2, 12, 6]]
SIX = [
    [5, 8, 1, 2, 4, 2],
    [3, 5, 3, 5, 5, 0],
    [1, 2, 6, 11, 2, 1],
    [0, 1, 5, 4, 3, 3],
    [0, 0, 1, 2, 5, 2],
    [0, 0, 1, 2, 1, 4],
]
ISO_GRADES = (0, 1, 2, 3, 4, 5)


def equal_cost(k: int) -> list[list[float]]:
    """Every disagreement weighs the same: kappa without weights."""
    return [[float(i != j) for j in range(k)] for i in range(k)]


def linear(k: int) -> list[list[float]]:
    """Weights by distance."""
    return [[float(abs(i - j)) for j in range(k)] for i in range(k)]


@pytest.mark.parametrize(
    ("table", "weights", "kappa"),
    [
        pytest.param(COHEN, equal_cost(3), 0.492, id="K1"),
        pytest.param(COHEN, [[0, 1, 3], [1, 0, 6], [3, 6, 0]], 0.348, id="K2"),
        pytest.param(COHEN, [[0, 1, 4], [1, 0, 6], [2, 2, 0]], 0.353, id="K3"),
        pytest.param(COHEN, linear(3), 0.4737, id="K4-linear"),
        pytest.param(COHEN, squared_distances(3), 0.4545, id="K4-quadratic"),
        pytest.param(FLEISS, equal_cost(3), 0.4286, id="K5"),
        pytest.param(FLEISS, [[0, 1, 0.5556], [1, 0, 0.3333], [0.5556, 0.3333, 0]], 0.5071, id="K5-own"),
        pytest.param(FLEISS, linear(3), 0.4923, id="K5-linear"),
        pytest.param(FLEISS, squared_distances(3), 0.5667, id="K5-quadratic"),
        pytest.param(SIX, equal_cost(6), 0.1510, id="K6"),
        pytest.param(SIX, linear(6), 0.3157, id="K6-linear"),
        pytest.param(SIX, squared_distances(6), 0.4135, id="K6-quadratic"),
    ],
)
def test_published_kappas(table: list[list[float]], weights: list[list[float]], kappa: float) -> None:
    """Sources: K1-K3 Cohen 1968; K5 data of Fleiss, Cohen & Everitt 1969; K6 a data set that statistical
    packages quote in their help; K4 and the linear and quadratic values recomputed.
    """
    assert weighted_kappa(table, weights)[0] == pytest.approx(kappa, abs=6e-4)


@pytest.mark.parametrize("table", [FLEISS, SIX], ids=["K5", "K6"])
@pytest.mark.parametrize("kind", ["linear", "quadratic"])
def test_kappa_and_its_error_agree_with_statsmodels(table: list[list[int]], kind: str) -> None:
    """Source: statsmodels cohens_kappa, whose variance is that of Fleiss, Cohen & Everitt 1969."""
    k = len(table)
    kappa, error = weighted_kappa(table, linear(k) if kind == "linear" else squared_distances(k))
    reference = cohens_kappa(np.array(table), wt=kind)
    assert kappa == pytest.approx(reference.kappa) and error == pytest.approx(reference.std_kappa)


PAIRS = st.lists(st.tuples(st.sampled_from(ISO_GRADES), st.sampled_from(ISO_GRADES)), min_size=2, max_size=30)


@given(PAIRS)
@settings(max_examples=100, deadline=None)
def test_kappa_agrees_with_scikit_learn(pairs: list[tuple[int, int]]) -> None:
    """Source: sklearn.metrics.cohen_kappa_score(weights="quadratic", labels=all classes)."""
    first = {f"s{index}": one for index, (one, _) in enumerate(pairs)}
    second = {f"s{index}": other for index, (_, other) in enumerate(pairs)}
    found = compare_graders(first, second, ISO_GRADES)
    assume(len(set(first.values())) > 1 and len(set(second.values())) > 1)
    reference = cohen_kappa_score(list(first.values()), list(second.values()), labels=ISO_GRADES, weights="quadratic")
    assert found.kappa == pytest.approx(reference)
    assert found.low is None or -1 <= found.low <= found.kappa <= found.high <= 1  # type: ignore[operator]


@given(PAIRS, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_who_is_first_and_the_order_of_specimens_are_irrelevant(pairs: list[tuple[int, int]], random: object) -> None:
    """Graders exchanged, class list turned round, specimens shuffled: the same kappa and interval."""
    first = {f"s{index}": one for index, (one, _) in enumerate(pairs)}
    second = {f"s{index}": other for index, (_, other) in enumerate(pairs)}
    names = list(first)
    random.shuffle(names)  # type: ignore[attr-defined]
    here = compare_graders(first, second, ISO_GRADES)
    there = compare_graders({name: second[name] for name in names}, first, ISO_GRADES[::-1])
    assert (there.n, there.share, there.reasons) == (here.n, here.share, here.reasons)
    for ours, theirs in ((here.kappa, there.kappa), (here.low, there.low), (here.high, there.high)):
        assert theirs == (None if ours is None else pytest.approx(ours))


def test_the_class_list_is_fixed_beforehand() -> None:
    """Half grades nobody used widen the distances: the same grades on a longer list give another kappa."""
    first, second = {"a": 5, "b": 3, "c": 2, "d": 4}, {"a": 5, "b": 4, "c": 2, "d": 4}
    whole = compare_graders(first, second, (1, 2, 3, 4, 5))
    with_halves = compare_graders(first, second, (1, 2, 3, 3.5, 4, 5))
    assert whole.kappa != with_halves.kappa and whole.disagreements[0].classes_apart == 1
    assert with_halves.disagreements[0].classes_apart == 2


def test_disagreements_are_listed_widest_first_and_lone_grades_named() -> None:
    """Each specimen with two grades; what only one of them graded is left out and named."""
    found = compare_graders({"a": 5, "b": 3, "c": 2, "x": 1}, {"c": 5, "a": 4, "b": 3, "y": 1}, ISO_GRADES)
    assert [(one.specimen, one.first, one.second, one.classes_apart) for one in found.disagreements] == [
        ("c", 2, 5, 3),
        ("a", 5, 4, 1),
    ]
    assert (found.n, found.left_out) == (3, ("x", "y"))


@pytest.mark.parametrize("second", [{"a": 5, "b": 5, "c": 5}, {"a": 5, "b": 4, "c": 3}], ids=["both", "one"])
def test_one_class_gives_a_share_and_a_reason(second: dict[str, float]) -> None:
    """Bad input "all equal": no kappa where a grader used one class; the share has an exact interval.
    Source of the interval: scipy.stats.binomtest(...).proportion_ci(method="exact"), Clopper & Pearson
    1934.
    """
    found = compare_graders({"a": 5, "b": 5, "c": 5}, second, ISO_GRADES)
    assert (found.kappa, found.low, found.high, found.reasons) == (None, None, None, (GraderDoubt.ONE_CLASS,))
    exact = stats.binomtest(3 - len(found.disagreements), 3).proportion_ci(0.95, method="exact")
    assert (found.share_low, found.share_high) == pytest.approx((exact.low, exact.high))


def test_full_agreement_is_one_without_an_interval() -> None:
    """A variance of nothing isn't certainty: kappa is 1, its interval is left out, the share's lower end
    says how sure.
    """
    found = compare_graders({"a": 5, "b": 3}, {"a": 5, "b": 3}, ISO_GRADES)
    assert (found.kappa, found.low, found.reasons) == (1.0, None, (GraderDoubt.ALL_AGREE,))
    assert found.share == 1.0 and found.share_low == pytest.approx(0.025**0.5)


def test_few_specimens_weaken_the_interval() -> None:
    """Below 2k² specimens for k classes the interval carries a reason (Cicchetti 1981, from memory)."""

    def found(n: int) -> tuple[GraderDoubt, ...]:
        first = {f"s{index:02}": index % 2 + 3 for index in range(n)}
        return compare_graders(first, {**first, "s00": 4}, ISO_GRADES).reasons

    assert found(7) == (GraderDoubt.FEW_FOR_INTERVAL,) and found(8) == ()


def test_nothing_in_common() -> None:
    """No specimen graded by both: a finding that says why there is none, and that pickles."""
    found = compare_graders({"a": 5}, {"b": 5}, ISO_GRADES)
    assert (found.n, found.kappa, found.share, found.reasons) == (
        0,
        None,
        None,
        (GraderDoubt.NO_COMMON_SPECIMENS,),
    )
    assert pickle.loads(pickle.dumps(found)) == found


@pytest.mark.parametrize(
    ("grade", "classes", "named"),
    [
        (6, ISO_GRADES, "s1.*found 6"),
        (float("nan"), ISO_GRADES, "s1.*finite"),
        (3, (3,), "classes.*two or more"),
        (3, (3, 3, 4), "classes.*once"),
        (3, (3, 5, 4), "classes.*order"),
        (3, (3, float("inf")), r"classes\[1\]"),
    ],
)
def test_senseless_grades_and_lists_are_refused_by_name(grade: float, classes: tuple[float, ...], named: str) -> None:
    """Bad input "grades off the scale" and "NaN": the message names the specimen or the list."""
    with pytest.raises(ValueError, match=named):
        compare_graders({"s1": grade}, {"s1": 3}, classes)


@pytest.mark.parametrize(
    ("table", "weights", "named"),
    [
        ([[1, 2]], [[0, 1]], "table"),
        ([[1, 2], [3, 4]], [[0, 1]], "weights"),
        ([[1, -2], [3, 4]], equal_cost(2), "negative"),
        ([[0, 0], [0, 0]], equal_cost(2), "at least one"),
        ([[3, 0], [0, 0]], equal_cost(2), "more than one class"),
        ([[1, float("nan")], [3, 4]], equal_cost(2), r"table\[0\]\[1\]"),
    ],
)
def test_senseless_tables_are_refused(table: list[list[float]], weights: list[list[float]], named: str) -> None:
    """Shapes that don't fit, negative or empty counts, one class, NaN."""
    with pytest.raises(ValueError, match=named):
        weighted_kappa(table, weights)
