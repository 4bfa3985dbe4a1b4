"""The bench plan: codes, balance of the order, and randomness that no version of Python changes."""

import pickle
import random
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.comparison.planning import Draws, block_orders, draw_codes, plan_bench, planning_figures

PINNED_CODES = ("777", "518", "584", "231")
PINNED_ORDERS = (("r", "s", "p", "q"), ("q", "p", "s", "r"))
SEEDS = st.integers(0, 2**63 - 1)


@given(st.integers(0, 900), SEEDS)
@settings(max_examples=50, deadline=None)
def test_codes_are_three_digits_and_none_comes_twice(count: int, seed: int) -> None:
    """As many as asked for, 100 to 999, no leading zero; the same again for the same seed."""
    codes = draw_codes(count, seed)
    assert len(set(codes)) == count and all(100 <= int(code) <= 999 for code in codes)
    assert draw_codes(count, seed) == codes


def test_many_specimens_get_four_digits_but_no_years() -> None:
    """901 codes and more have four digits, of which none reads as a year of our time."""
    codes = draw_codes(8_800, seed=1)
    assert len(set(codes)) == 8_800 and all(len(code) == 4 and not 1900 <= int(code) < 2100 for code in codes)


def test_codes_don_t_give_the_product_away() -> None:
    """Over many seeds the first specimen's code is as often above the middle as below (1 000 seeds, 4
    sigma).
    """
    high = sum(int(draw_codes(10, seed)[0]) >= 550 for seed in range(1_000))
    assert abs(high - 500) < 64


@given(st.integers(1, 12), st.integers(0, 30), SEEDS)
@settings(max_examples=80, deadline=None)
def test_positions_are_balanced_over_any_number_of_blocks(products: int, blocks: int, seed: int) -> None:
    """Each block holds each product once; no product has a position more than once oftener than another."""
    names = [f"p{index}" for index in range(products)]
    orders = block_orders(names, blocks, seed)
    assert len(orders) == blocks and all(sorted(order) == sorted(names) for order in orders)
    for name in names:
        met = Counter(order.index(name) for order in orders)
        counts = [met[position] for position in range(products)]
        assert max(counts) - min(counts) <= 1


@pytest.mark.parametrize("products", [2, 3, 4, 5, 8, 9])
def test_every_product_follows_every_other_equally_often(products: int) -> None:
    """Source: the defining property of Williams' squares (1949): over a full set each ordered pair of
    neighbours comes once where the number is even, twice where it is odd.
    """
    names = [f"p{index}" for index in range(products)]
    full = products if products % 2 == 0 else 2 * products
    orders = block_orders(names, full, seed=7)
    follows = Counter(pair for order in orders for pair in zip(order, order[1:], strict=False))
    assert set(follows.values()) == {full // products} and len(follows) == products * (products - 1)


@pytest.mark.parametrize("products", [2, 4, 8])
def test_even_blocks_come_with_their_reverse(products: int) -> None:
    """With an even number of products two blocks give each the same mean position, whatever drifts."""
    orders = block_orders([f"p{index}" for index in range(products)], products, seed=3)
    assert all(second == first[::-1] for first, second in zip(orders[::2], orders[1::2], strict=True))


def test_the_order_is_shuffled_from_seed_to_seed() -> None:
    """Over 600 seeds each of four products opens the first block about equally often (150 each, 4 sigma)."""
    first = Counter(block_orders(["p", "q", "r", "s"], 1, seed)[0][0] for seed in range(600))
    assert all(abs(count - 150) < 43 for count in first.values()) and len(first) == 4


@given(st.permutations(["fjell", "tarn", "vik", "nord"]), SEEDS)
@settings(max_examples=30, deadline=None)
def test_the_order_of_entry_is_irrelevant(products: list[str], seed: int) -> None:
    """The plan depends on who takes part and on the seed, not on the order in the file."""
    assert plan_bench(products, seed, [("spray", 3)]) == plan_bench(sorted(products), seed, [("spray", 3)])


def test_a_further_protocol_moves_no_other_sheet() -> None:
    """Each sheet has its own stream: a sheet added later, or before, leaves codes and orders as printed."""
    one, two = (
        plan_bench(["fjell", "tarn", "vik"], 5, [(name, 3) for name in names])
        for names in (["spray"], ["mass", "spray"])
    )
    assert one.codes == two.codes and one.sheets[0] == two.sheets[1]
    assert two.sheets[0].runs != two.sheets[1].runs


@given(st.integers(1, 6), st.integers(1, 5), SEEDS)
@settings(max_examples=40, deadline=None)
def test_every_specimen_is_on_every_sheet_once(products: int, specimens: int, seed: int) -> None:
    """Blocks hold one specimen of each product; positions count from 1; each code leads back to one
    specimen.
    """
    plan = plan_bench([f"p{index}" for index in range(products)], seed, [("spray", specimens), ("mass", specimens)])
    assert len({one.code for one in plan.codes}) == products * specimens and plan.seed == seed
    for sheet in plan.sheets:
        assert sorted(run.coded.code for run in sheet.runs) == sorted(one.code for one in plan.codes)
        assert [(run.block, run.position) for run in sheet.runs] == [
            (block, position) for block in range(1, specimens + 1) for position in range(1, products + 1)
        ]
        for block in range(1, specimens + 1):
            assert len({run.coded.product for run in sheet.runs if run.block == block}) == products


@given(st.lists(st.integers(1, 5), min_size=1, max_size=5), SEEDS)
@settings(max_examples=40, deadline=None)
def test_all_sheets_of_a_round_take_the_same_pieces(counts: list[int], seed: int) -> None:
    """What a sheet with fewer specimens reads is read by each with more, so that before and after are the same pieces."""
    plan = plan_bench(["fjell", "tarn"], seed, [(f"sheet{index}", count) for index, count in enumerate(counts)])
    read = [{run.coded.code for run in sheet.runs} for sheet in plan.sheets]
    assert [len(codes) for codes in read] == [2 * count for count in counts]
    assert all(one <= other or one >= other for one in read for other in read)


@given(st.integers(0, 890), st.integers(1, 20), SEEDS)
@settings(max_examples=40, deadline=None)
def test_no_code_is_drawn_that_is_taken(before: int, count: int, seed: int) -> None:
    """Codes of another round, drawn from the same seed even, are never given again."""
    taken = draw_codes(before, seed)
    assert not set(taken) & set(draw_codes(count, seed, taken))


def test_the_stream_is_pythons_promised_one() -> None:
    """Source: Python documentation of `random`, "Notes on Reproducibility"; 0.6394267984578837 is the first
    value of seed 42 in every version (widely printed; from memory). What is built on it is pinned as
    recorded here.
    """
    assert random.Random(42).random() == 0.6394267984578837
    assert draw_codes(4, seed=20260810) == PINNED_CODES
    assert block_orders(["p", "q", "r", "s"], 2, seed=20260810) == PINNED_ORDERS


def test_shuffling_is_fair() -> None:
    """Own count: each order of three comes up about equally often over 6 000 shuffles of one stream (4
    sigma).
    """
    draws = Draws(1, "fairness")
    counts = Counter(draws.shuffled("abc") for _ in range(6_000))
    assert len(counts) == 6 and all(abs(count - 1_000) < 116 for count in counts.values())


def test_hundreds_of_products_can_be_planned() -> None:
    """800 products with three specimens: 2 400 codes and three blocks that share no position."""
    plan = plan_bench([f"p{index:03}" for index in range(800)], 1, [("mass", 3)])
    assert len(plan.sheets[0].runs) == 2_400 and pickle.loads(pickle.dumps(plan)) == plan


def test_planning_figures_say_what_cannot_be_shown() -> None:
    """Source: 2/C(6, 3) = 0.1: with two products three specimens can't show a difference in grades, four
    can.
    """
    three, four = planning_figures(2, 3), planning_figures(2, 4)
    assert (three.grades_can_differ, four.grades_can_differ) == (False, True)
    assert three.smallest_p == pytest.approx(0.1) and three.for_grades == 4 and three.for_difference is None
    assert planning_figures(2, 3, spread=1, difference=1).for_difference == 17  # t test of two: 17 a group


@pytest.mark.parametrize(
    ("products", "specimens", "seed", "sheets", "named"),
    [
        ([], 3, 1, ["mass"], "products"),
        (["a", "a"], 3, 1, ["mass"], "products"),
        (["a"], 0, 1, ["mass"], "specimens"),
        (["a"], 1, -1, ["mass"], "seed"),
        (["a"], 1, 1, ["mass", "mass"], "sheets"),
        (["a"], 9_000, 1, ["mass"], "codes"),
    ],
)
def test_senseless_plans_are_refused_by_name(
    products: list[str], specimens: int, seed: int, sheets: list[str], named: str
) -> None:
    """No products, one twice, no specimens, a negative seed, a sheet twice, more codes than there are."""
    with pytest.raises(ValueError, match=named):
        plan_bench(products, seed, [(name, specimens) for name in sheets])


def test_senseless_planning_figures_are_refused_by_name() -> None:
    """A spread without a difference, NaN, a negative number of blocks."""
    with pytest.raises(ValueError, match="both or neither"):
        planning_figures(3, 3, spread=1)
    with pytest.raises(ValueError, match="spread"):
        planning_figures(3, 3, spread=float("nan"), difference=1)
    with pytest.raises(ValueError, match="blocks"):
        block_orders(["a"], -1, seed=1)
