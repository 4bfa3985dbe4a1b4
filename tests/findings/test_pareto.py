"""Trade-offs and value for money: brute force, laws, and what isn't known."""

import pickle
from decimal import Decimal

import numpy as np
import pytest
from findings.worth_tables import names, table
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.ranking.order import Weighting, rank_uses
from sitegen.findings.ranking.ordered import ParetoSet
from sitegen.findings.ranking.pareto import dominating_shares, find_pareto, value_for_money
from sitegen.findings.ranking.worth_draws import Worths, draw_worths

QUARTERS = st.integers(0, 4).map(lambda n: n / 4)
ROWS = st.dictionaries(st.sampled_from("abcdefg"), st.tuples(QUARTERS, QUARTERS, QUARTERS), min_size=1)
PRICES = st.lists(st.integers(1, 4).map(Decimal), min_size=4, max_size=4)


def pareto(worths: Worths, measures: int, draws: int = 2_000) -> ParetoSet:
    """Drawn and compared."""
    return find_pareto(worths, draw_worths(worths, names(measures), seed=1, draws=draws))


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_the_pareto_set_by_its_definition(rows: dict[str, tuple[float, ...]]) -> None:
    """Members are those for whom nobody is at least as good in all and better in one; without noise every
    draw says the same."""
    found = pareto(table(rows), 3, draws=10)
    for product, row in rows.items():
        by = {
            other
            for other, there in rows.items()
            if all(x >= y for x, y in zip(there, row, strict=True)) and there != row
        }
        assert set(found.of(product).by) == by
        assert (product in found.members) == (not by)
        assert found.of(product).share == (1.0 if by else 0.0)
        assert found.of(product).surely == bool(by)


@settings(max_examples=40, deadline=None)
@given(ROWS, st.tuples(*[st.integers(1, 5)] * 3))
def test_whoever_leads_is_in_the_pareto_set(rows: dict[str, tuple[float, ...]], weights: tuple[int, ...]) -> None:
    """With every weight above zero the highest score belongs to a member."""
    worths = table(rows)
    use = Weighting(use="use", weights=tuple(zip(names(3), weights, strict=True)))
    drawn = draw_worths(worths, names(3), draws=10)
    assert rank_uses(worths, (use,), drawn)[0].first.product in find_pareto(worths, drawn).members


def test_dominated_by_decimals_is_not_sure() -> None:
    """Worse by a tenth of the uncertainty: dominated at the findings, in about a quarter of the draws."""
    close = pareto(table({"a": (0.5, 0.5), "b": (0.499, 0.499)}, own=0.01), 2, draws=10_000).of("b")
    far = pareto(table({"a": (0.5, 0.5), "b": (0.4, 0.4)}, own=0.01), 2).of("b")
    assert (close.by, close.surely) == (("a",), False)
    # Each measure separately: Φ(0.001/(0.01·√2)) = 0.528; both: 0.279 (closed form for independent normals).
    assert close.share == pytest.approx(0.279, abs=0.015)
    assert (far.by, far.surely) == (("a",), True)


def test_what_is_not_known_dominates_nobody() -> None:
    """An unknown worth might be 100, and might be 0: neither beaten nor beating unless at the ends."""
    found = pareto(table({"a": (0.9, 0.9), "b": (0.5, None), "c": (None, 0.1), "d": (0.9, 1.0)}), 2)
    assert found.of("b").by == ("d",)  # d has all that can be had in the second measure
    assert found.of("a").by == ("d",)
    assert found.of("c").by == ()
    assert found.members == ("c", "d")


def test_dominating_shares_by_brute_force() -> None:
    """Draw by draw, with many ties."""
    values = np.random.default_rng(1).integers(0, 4, (3, 5, 60)).astype(float)
    expected = [
        float(
            np.mean(
                [
                    any(
                        (values[:, j, t] >= values[:, i, t]).all() and (values[:, j, t] > values[:, i, t]).any()
                        for j in range(5)
                    )
                    for t in range(60)
                ]
            )
        )
        for i in range(5)
    ]
    found = dominating_shares(values)
    assert [share for share, _ in found] == pytest.approx(expected)
    one = [(values[:, j] >= values[:, 0]).all(axis=0) & (values[:, j] > values[:, 0]).any(axis=0) for j in range(5)]
    assert found[0][1] == pytest.approx([float(draws.mean()) for draws in one])


@given(st.lists(QUARTERS, min_size=4, max_size=4), PRICES)
def test_value_for_money_by_its_definition(scores: list[float], prices: list[Decimal]) -> None:
    """Members have nobody at least as good for at most as much and better in one; without noise every draw
    agrees."""
    products = ("a", "b", "c", "d")
    draws = np.repeat(np.array(scores)[:, None], 3, axis=1)
    by_product = dict(zip(products, scores, strict=True)), dict(zip(products, prices, strict=True))
    found = value_for_money("use", *by_product, draws, products)
    for one in found.entrants:
        mine = (by_product[0][one.product], -by_product[1][one.product])
        theirs = {p: (by_product[0][p], -by_product[1][p]) for p in products}
        by = {p for p, t in theirs.items() if t != mine and t[0] >= mine[0] and t[1] >= mine[1]}
        assert set(one.by) == by
        assert one.share == (0.0 if by else 1.0)
    assert [one.price for one in found.entrants] == sorted(prices)


def test_who_has_no_price_is_named() -> None:
    """An entrant without a price is left out and listed; no prices at all leave nothing but the list."""
    draws = np.array([[50.0, 50.0], [60.0, 60.0]])
    found = value_for_money("use", {"a": 50.0, "b": 60.0}, {"b": Decimal("9.90")}, draws, ("a", "b"))
    assert (found.members, found.unpriced, found.entrants[0].price) == (("b",), ("a",), Decimal("9.90"))
    none = value_for_money("use", {"a": 50.0, "b": 60.0}, {}, draws, ("a", "b"))
    assert (none.members, none.entrants, none.unpriced) == ((), (), ("a", "b"))


@pytest.mark.parametrize("price", ["0", "-1", "NaN"])
def test_prices_that_cannot_be(price: str) -> None:
    """A price is above zero and finite."""
    with pytest.raises(ValueError, match="price of a: expected a"):
        value_for_money("use", {"a": 1.0}, {"a": Decimal(price)}, np.zeros((1, 2)), ("a",))


def test_records_can_be_kept() -> None:
    """Plain and picklable."""
    found = pareto(table({"a": (0.5, 0.2), "b": (0.4, None)}, own=0.1), 2, draws=100)
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(KeyError):
        found.of("z")
