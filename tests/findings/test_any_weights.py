"""SMAA-2: closed forms, rank-order centroids, a published example."""

import math
import pickle

import numpy as np
import pytest
from findings.worth_tables import names, smaa_example, table
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.ranking.any_weights import random_weights, rank_any_weights
from sitegen.findings.ranking.ordered import AnyWeights
from sitegen.findings.ranking.worth_draws import Worths, draw_worths

NEAR = 0.015  # one and a half times the stated error of a share


def over_all(worths: Worths, measures: int, draws: int = 10_000) -> AnyWeights:
    """Drawn and ranked over all weights."""
    return rank_any_weights(draw_worths(worths, names(measures), seed=1, draws=draws))


def test_three_alternatives_in_closed_form() -> None:
    """A(1, 0), B(0, 1), C(0.6, 0.6) with w uniform: A leads for w > 0.6, B for w < 0.4, C between.

    Ranks A and B (0.40, 0.10, 0.50), C (0.20, 0.80, 0); central weights 0.8, 0.2, 0.5 (by hand).
    """
    found = over_all(table({"a": (1.0, 0.0), "b": (0.0, 1.0), "c": (0.6, 0.6)}), 2)
    for product, ranks, central in (
        ("a", (0.4, 0.1, 0.5), 0.8),
        ("b", (0.4, 0.1, 0.5), 0.2),
        ("c", (0.2, 0.8, 0.0), 0.5),
    ):
        one = found.of(product)
        assert one.ranks == pytest.approx(ranks, abs=NEAR)
        assert one.central is not None
        assert one.central[0][1] == pytest.approx(central, abs=NEAR)
        assert one.confidence == 1  # nothing is uncertain: with its own weights it always leads
    assert found.entrants[-1].product == "c"


def test_unit_vectors_in_closed_form() -> None:
    """Three alternatives, each best in one of three criteria: a third each, central weights 11/18 and 7/36."""
    found = over_all(table({"a": (1, 0, 0), "b": (0, 1, 0), "c": (0, 0, 1)}), 3)
    for place, product in enumerate("abc"):
        one = found.of(product)
        assert one.first_share == pytest.approx(1 / 3, abs=NEAR)
        assert one.central is not None
        expected = [11 / 18 if i == place else 7 / 36 for i in range(3)]
        assert [w for _, w in one.central] == pytest.approx(expected, abs=NEAR)


@pytest.mark.parametrize(
    ("count", "centroids"),
    [(3, (0.6111, 0.2778, 0.1111)), (4, (0.5208, 0.2708, 0.1458, 0.0625))],
)
def test_rank_order_centroids(count: int, centroids: tuple[float, ...]) -> None:
    """Uniform weights sorted from the largest have these means: Barron & Barrett, Management Science 42 (1996)
    1515 (from memory); Σ(k ≥ i) 1/k, over n."""
    weights = np.sort(random_weights(count, 40_000, seed=5), axis=0)[::-1]
    assert weights.mean(axis=1) == pytest.approx(centroids, abs=0.005)
    exact = [math.fsum(1 / k for k in range(i, count + 1)) / count for i in range(1, count + 1)]
    assert centroids == pytest.approx(exact, abs=5e-5)


def test_published_example() -> None:
    """Two alternatives, three criteria: first 0.3504 and 0.6496, central weights, confidence 0.6682, 0.8956.

    Saved example output of the R package smaa, from 10 000 stored draws; here from their moments as
    independent normals, hence the tolerance 0.02.
    """
    found = over_all(smaa_example(), 3)
    for product, first, central, confidence in (
        ("alt1", 0.3504, (0.1865, 0.2772, 0.5363), 0.6682),
        ("alt2", 0.6496, (0.4073, 0.3641, 0.2285), 0.8956),
    ):
        one = found.of(product)
        assert one.first_share == pytest.approx(first, abs=0.02)
        assert one.central is not None
        assert [w for _, w in one.central] == pytest.approx(central, abs=0.02)
        assert one.confidence == pytest.approx(confidence, abs=0.02)
    entropy = -sum(one.first_share * math.log2(one.first_share) for one in found.entrants)
    assert entropy == pytest.approx(0.9344, abs=0.02)


def test_rows_and_columns_sum_to_one() -> None:
    """Rank acceptability indices of five alternatives: over ranks, and over alternatives (SMAA-2)."""
    rows = {"a": (0.2, 0.9, None), "b": (0.5, 0.5, 0.5), "c": (0.9, 0.1, 0.4), "d": (0.5, 0.5, 0.5), "e": (0, 0, 1)}
    found = over_all(table(rows, own=0.1), 3)
    shares = [one.ranks for one in found.entrants]
    for line in [*shares, *zip(*shares, strict=True)]:
        assert math.fsum(line) == pytest.approx(1)


def test_equals_share() -> None:
    """Two products alike in everything have the same shares, central weights, and half the confidence."""
    found = over_all(table({"a": (0.5, 0.7), "b": (0.5, 0.7), "c": (0.1, 0.1)}), 2)
    a, b, c = (found.of(product) for product in "abc")
    assert (a.ranks, a.central, a.confidence) == (b.ranks, b.central, b.confidence)
    assert a.ranks == (0.5, 0.5, 0)
    assert a.confidence == 0.5
    assert (c.central, c.confidence, c.ranks) == (None, None, (0, 0, 1))


@settings(max_examples=30, deadline=None)
@given(
    st.dictionaries(st.sampled_from("abcdef"), st.tuples(*[st.integers(0, 4).map(lambda n: n / 4)] * 3), min_size=2),
    st.randoms(use_true_random=False),
)
def test_the_order_of_entrants_changes_nothing(rows, shuffler) -> None:  # type: ignore[no-untyped-def]
    """Products in any order give the same record to the last digit; central weights sum to 1."""
    mixed = list(rows.items())
    shuffler.shuffle(mixed)
    found = over_all(table(rows, 0.1), 3, draws=200)
    assert found == over_all(table(dict(mixed), 0.1), 3, draws=200)
    for one in found.entrants:
        assert one.central is None or math.fsum(w for _, w in one.central) == pytest.approx(1)
        assert (one.central is None) == (one.first_share == 0)


def test_one_measure_and_none() -> None:
    """With one measure all the weight is on it; without any there is nothing to weigh."""
    assert random_weights(1, 3, seed=1).tolist() == [[1.0, 1.0, 1.0]]
    with pytest.raises(ValueError, match="measures: expected 1 or more, found 0"):
        random_weights(0, 3, seed=1)
    found = over_all(table({"a": (0.5,), "b": (0.4,)}), 1, draws=50)
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(KeyError):
        found.of("c")
