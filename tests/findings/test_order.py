"""Scores and rank shares: a reference for weighted sums, closed forms, laws of order and independence."""

import math
import pickle

import numpy as np
import pytest
from findings.worth_tables import UNIT, graded, known, names, smaa_example, table
from hypothesis import given, settings
from hypothesis import strategies as st
from pymcdm.methods import WSM
from scipy import stats

from sitegen.findings.ranking.order import Weighting, rank_uses, score_draws, score_of
from sitegen.findings.ranking.ordered import UseOrder
from sitegen.findings.ranking.rank_shares import pair_draws, rank_shares, winning_shares
from sitegen.findings.ranking.worth import Line, Passed, Worth
from sitegen.findings.ranking.worth_draws import Drawn, Worths, draw_worths, share_error

ROWS = st.dictionaries(
    st.sampled_from([f"p{i}" for i in range(9)]),
    st.tuples(*[st.one_of(st.none(), st.integers(0, 20).map(lambda n: n / 20))] * 3),
    min_size=2,
    max_size=6,
)
WEIGHTS = st.tuples(*[st.integers(0, 5)] * 3).filter(any)


def weighting(*weights: float) -> Weighting:
    """Weights for m0, m1 …"""
    return Weighting(use="use", weights=tuple(zip(names(len(weights)), weights, strict=True)))


def ranked(worths: Worths, *weights: float, draws: int = 10_000, seed: int = 1) -> UseOrder:
    """One use, drawn and ranked."""
    drawn = draw_worths(worths, names(len(weights)), seed=seed, draws=draws)
    return rank_uses(worths, (weighting(*weights),), drawn)[0]


@given(
    st.lists(st.lists(st.floats(0, 1), min_size=4, max_size=4), min_size=2, max_size=6),
    st.lists(st.floats(0.01, 10), min_size=4, max_size=4),
)
def test_a_score_is_the_weighted_sum(matrix: list[list[float]], weights: list[float]) -> None:
    """Scores agree with pymcdm's weighted sum model on worths as they are (no normalising over entrants)."""
    shares = np.array(weights) / sum(weights)
    as_is = WSM(normalization_function=lambda column, cost=False: column)
    expected = as_is(np.array(matrix), shares, np.ones(4), validation=False)
    found = [score_of([known(v) for v in row], weights) / 100 for row in matrix]
    assert found == pytest.approx(expected, abs=1e-12)


def test_a_score_by_hand() -> None:
    """(4·0.75 + 1·0.2)/5 = 0.64; unknown counts by the middle: (4·0.75 + 1·0.5)/5 = 0.7, never 0.6."""
    order = ranked(table({"a": (0.75, 0.2), "b": (0.75, None)}), 4, 1)
    assert order.of("a").score == pytest.approx(64)
    assert order.of("b").score == pytest.approx(70)
    assert (order.of("a").low, order.of("a").high, order.of("a").missing) == (64, 64, ())
    assert order.of("b").missing == ("m1",)
    # Uniform from 60 to 80: its 95 % interval is 60.5 to 79.5 (within the Monte Carlo error of quantiles).
    assert (order.of("b").low, order.of("b").high) == pytest.approx((60.5, 79.5), abs=0.15)


def test_the_interval_is_that_of_student() -> None:
    """One measure, u = 0.01 with 4 degrees of freedom: ± t(0.975; 4)·u, as by GUM 6.2.1 (2.776)."""
    order = ranked({"a": {"m0": known(0.5, 0.01, dof=4)}, "b": {"m0": known(0.5)}}, 1)
    assert order.of("a").expanded == pytest.approx(100 * 0.01 * stats.t.ppf(0.975, 4), rel=0.06)
    assert order.of("b").expanded == 0


def test_four_rectangular_inputs() -> None:
    """JCGM 101 9.2.3: the sum of four rectangular quantities with u = 1 is within ± 3.88 (GUM would say 3.92).

    A rectangle of 0..100 has u = 28.87; the score is the sum over 4: ± 3.88·28.87/4 = 28.0.
    """
    order = ranked(table({"a": (None,) * 4, "b": (0.5,) * 4}), 1, 1, 1, 1)
    assert order.of("a").expanded == pytest.approx(3.88 * (100 / math.sqrt(12)) / 4, rel=0.02)


def test_the_chance_to_lead_in_closed_form() -> None:
    """Two normal findings a distance d apart, each with u: the better one leads with Φ(d/(u√2))."""
    order = ranked(table({"a": (0.52,), "b": (0.5,)}, own=0.02), 1)
    expected = stats.norm.cdf(0.02 / (0.02 * math.sqrt(2)))
    assert order.of("a").first_share == pytest.approx(expected, abs=share_error(10_000) * 1.5)
    assert order.of("a").level_with == ("b",)
    assert order.of("b").level_with == ("a",)


def test_an_error_that_all_share_tells_nobody_apart() -> None:
    """The calibration of one scale moves all entrants together: it widens scores, not the order."""
    rows = {"a": {"m0": known(0.52, shared=0.1)}, "b": {"m0": known(0.5, shared=0.1)}}
    order = ranked(rows, 1)
    assert order.of("a").ranks == (1.0, 0.0)
    assert order.of("a").level_with == ()
    assert order.of("a").expanded > 15


def test_vector_with_fixed_weights() -> None:
    """Weights 0.5, 0.2, 0.3 for two alternatives with normal criteria: first in 0.128 and 0.872 of draws.

    Saved example output of the R package smaa, from stored draws; their moments as independent normals
    give 0.134, hence the tolerance 0.02.
    """
    order = ranked(smaa_example(), 0.5, 0.2, 0.3)
    assert order.of("alt1").first_share == pytest.approx(0.1279, abs=0.02)
    assert order.of("alt2").first_share == pytest.approx(0.8721, abs=0.02)


def test_grades_are_drawn_by_the_chances_of_their_median() -> None:
    """5, 5, 5 stay 5 in 0.9 of draws, and each lower grade has 0.025 (see `median_chances`)."""
    drawn = draw_worths({"a": {"m0": graded(5, 5, 5)}}, ("m0",), seed=2)
    shares = [float((drawn.values == worth).mean()) for worth in (0, 25, 50, 75, 100)]
    assert shares == pytest.approx([0.025, 0.025, 0.025, 0.025, 0.9], abs=0.01)


@pytest.mark.parametrize(("yes", "n"), [(3, 3), (0, 3), (2, 5)])
def test_shares_are_drawn_from_the_exact_interval(yes: int, n: int) -> None:
    """Half from Beta(y, n-y+1), half from Beta(y+1, n-y): the two tails of Clopper & Pearson (Stevens 1950)."""
    worth = Worth(value=0.0, low=0, high=0, line=UNIT, belief=Passed(yes=yes, n=n, whole=1))
    draws = draw_worths({"a": {"m0": worth}}, ("m0",), seed=2).values[0, 0] / 100

    def below(x: np.ndarray) -> np.ndarray:
        lower = stats.beta(yes, n - yes + 1).cdf(x) if yes else np.ones_like(x)
        upper = stats.beta(yes + 1, n - yes).cdf(x) if yes < n else (x >= 1).astype(float)
        return (lower + upper) / 2

    inner = np.linspace(0.01, 0.99, 50)
    assert [float((draws <= x).mean()) for x in inner] == pytest.approx(below(inner), abs=0.015)


def brute_force_ranks(scores: np.ndarray) -> np.ndarray:
    """Rank shares by comparing all with all, draw by draw; equal ones share their ranks."""
    entrants, draws = scores.shape
    found = np.zeros((entrants, entrants))
    for column in scores.T:
        for i, score in enumerate(column):
            above, equal = int((column > score).sum()), int((column == score).sum())
            found[i, above : above + equal] += 1 / equal
    return found / draws


@given(st.lists(st.lists(st.integers(0, 3), min_size=4, max_size=4), min_size=1, max_size=6))
def test_rank_shares_by_brute_force(rows: list[list[int]]) -> None:
    """Many ties, counted by the definition; shares sum to 1 over ranks and over entrants."""
    scores = np.array(rows, float)
    found = rank_shares(scores)
    assert found == pytest.approx(brute_force_ranks(scores))
    assert found.sum(axis=0) == pytest.approx(np.ones(len(rows)))
    assert found.sum(axis=1) == pytest.approx(np.ones(len(rows)))


@given(st.lists(st.lists(st.integers(0, 3), min_size=5, max_size=5), min_size=2, max_size=5))
def test_winning_shares_by_brute_force(rows: list[list[int]]) -> None:
    """How often one beats another, ties half; both directions sum to 1."""
    scores = np.array(rows, float)
    expected = [[np.mean((a > b) + (a == b) / 2) for b in scores] for a in scores]
    assert winning_shares(scores) == pytest.approx(np.array(expected))


@settings(max_examples=40, deadline=None)
@given(ROWS, WEIGHTS, st.randoms(use_true_random=False))
def test_the_order_of_entrants_changes_nothing(rows, weights, shuffler) -> None:  # type: ignore[no-untyped-def]
    """Products in any order give the same record to the last digit."""
    mixed = list(rows.items())
    shuffler.shuffle(mixed)
    assert ranked(table(rows, 0.05), *weights, draws=200) == ranked(table(dict(mixed), 0.05), *weights, draws=200)


@settings(max_examples=40, deadline=None)
@given(ROWS, WEIGHTS, st.tuples(*[st.floats(0, 1)] * 3))
def test_a_further_product_changes_no_score(rows, weights, another) -> None:  # type: ignore[no-untyped-def]
    """Adding a product leaves the scores, intervals and draws of all others exactly as they were."""
    before = table(rows, 0.05)
    after = table({"aa": another, **rows, "zz": another}, 0.05)
    first, second = ranked(before, *weights, draws=200), ranked(after, *weights, draws=200)
    for product in rows:
        old, new = first.of(product), second.of(product)
        assert (old.score, old.low, old.high, old.missing) == (new.score, new.low, new.high, new.missing)
    drawn = [draw_worths(worths, names(3), draws=50) for worths in (before, after)]
    for row, product in enumerate(drawn[0].products):
        assert np.array_equal(drawn[0].values[:, row], drawn[1].values[:, drawn[1].products.index(product)])


@settings(max_examples=40, deadline=None)
@given(ROWS, WEIGHTS)
def test_rank_shares_of_a_use_sum_to_one(rows, weights) -> None:  # type: ignore[no-untyped-def]
    """Over the ranks of each entrant, and over the entrants of each rank; scores fall from place to place."""
    order = ranked(table(rows, 0.1), *weights, draws=200)
    for shares in [*(p.ranks for p in order.places), *zip(*(p.ranks for p in order.places), strict=True)]:
        assert math.fsum(shares) == pytest.approx(1)
    scores = [place.score for place in order.places]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= p.low <= p.score <= p.high <= 100 for p in order.places)


@settings(max_examples=30, deadline=None)
@given(ROWS, WEIGHTS, st.sampled_from([0.001, 0.5, 7.0, 28.349523125]))
def test_a_unit_changes_no_score(rows, weights, factor) -> None:  # type: ignore[no-untyped-def]
    """Values, uncertainties and anchors in another unit give the same scores and rank shares."""
    line = Line(worth_0=0.0, worth_100=factor)
    known_rows = {p: tuple(0.5 if v is None else v for v in row) for p, row in rows.items()}
    there = {
        p: {f"m{i}": known(v * factor, 0.05 * factor, line=line) for i, v in enumerate(row)}
        for p, row in known_rows.items()
    }
    one, other = ranked(table(known_rows, 0.05), *weights, draws=200), ranked(there, *weights, draws=200)
    for product in rows:
        assert other.of(product).score == pytest.approx(one.of(product).score, abs=1e-9)
        assert other.of(product).low == pytest.approx(one.of(product).low, abs=1e-9)
        assert other.of(product).ranks == pytest.approx(one.of(product).ranks, abs=1e-12)


def test_missing_readings_widen_and_never_sink() -> None:
    """Leaving a reading out moves the score towards the middle of the scale and widens the interval."""
    full = ranked(table({"a": (0.9, 0.4), "b": (0.5, 0.5)}), 1, 1).of("a")
    gap = ranked(table({"a": (0.9, None), "b": (0.5, 0.5)}), 1, 1).of("a")
    assert gap.score == pytest.approx((90 + 50) / 2)
    assert gap.low < full.score < gap.high
    assert gap.expanded > 20 > full.expanded


def test_a_weight_of_nothing_asks_for_nothing() -> None:
    """A missing reading in a measure with weight 0 isn't missing for the use."""
    place = ranked(table({"a": (0.9, None), "b": (0.5, 0.5)}), 1, 0).of("a")
    assert (place.missing, place.expanded) == ((), 0)


@pytest.mark.parametrize(
    ("weights", "message"),
    [
        ((("m0", 0.0),), "expected a sum above zero, found 0"),
        ((), "expected a sum above zero, found 0"),
        ((("m0", -1.0), ("m1", 2.0)), "weight of m0: expected zero or more, found -1.0"),
        ((("m0", math.inf),), "weight of m0: expected a finite number"),
        ((("m0", 1.0), ("m0", 2.0)), "expected each measure once"),
    ],
    ids=["zero", "none", "negative", "infinite", "twice"],
)
def test_weights_that_cannot_be(weights: tuple[tuple[str, float], ...], message: str) -> None:
    """Weights that sum to nothing, are below zero, not finite or named twice."""
    with pytest.raises(ValueError, match=message):
        Weighting(use="use", weights=weights)


def test_what_cannot_be_drawn_or_scored() -> None:
    """No products, one draw, a gap in the table, a measure that wasn't drawn, unequal lengths."""
    with pytest.raises(ValueError, match="at least 2 draws"):
        draw_worths({}, ("m0",))
    with pytest.raises(ValueError, match="a: expected a worth for m1, found none"):
        draw_worths(table({"a": (0.5,)}), ("m0", "m1"))
    drawn: Drawn = draw_worths(table({"a": (0.5,)}), ("m0",), draws=10)
    with pytest.raises(ValueError, match="expected a measure drawn, found m1"):
        score_draws(drawn, weighting(1, 1))
    with pytest.raises(ValueError, match="weights: expected 1, found 2"):
        score_of([known(0.5)], (1, 1))
    with pytest.raises(ValueError, match="expected a sum above zero"):
        score_of([known(0.5)], (0,))
    assert ranked(table({"a": (0.5,), "b": (0.4,)}), 1, draws=10).of("c") is None
    with pytest.raises(ValueError, match="draws: expected 1 or more"):
        share_error(0)


def test_ten_thousand_draws_are_within_a_hundredth() -> None:
    """Tervonen & Lahdelma, EJOR 178 (2007) 500 (from memory): 9 604 draws keep a share within 0.01 at 95 %."""
    assert share_error(9_604) == pytest.approx(0.01)
    assert [pair_draws(k, 10_000) for k in (2, 80, 800)] == [10_000, 10_000, 500]


def test_a_use_can_be_kept() -> None:
    """The record is plain, picklable, and the same on every run."""
    order = ranked(table({"a": (0.5, None), "b": (0.4, 0.3)}, 0.02), 2, 1, draws=500)
    assert (
        pickle.loads(pickle.dumps(order))
        == order
        == ranked(table({"b": (0.4, 0.3), "a": (0.5, None)}, 0.02), 2, 1, draws=500)
    )
    assert all(type(share) is float for place in order.places for share in place.ranks)
