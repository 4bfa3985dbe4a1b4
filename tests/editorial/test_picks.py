"""Which for what: one pick a use, and what would change it in shares of all weights."""

from demo_records import demo_findings

from sitegen.editorial.picks import picks, tipping
from sitegen.findings.ranking.ordered import Change
from sitegen.findings.ranking.round_order import order_round


def test_a_changed_weight_is_part_of_the_sum() -> None:
    """From 1 of 10 to 3.5 is from 10 % to 3.5 of 12.5, which is 28 %: the others keep their weights."""
    found = tipping(Change(product="halde", measure="mass", was=1.0, tips_at=3.5, of_all=0.25), 10.0)
    assert (found.was, found.tips_at) == (0.1, 0.28)


def test_a_pick_for_each_use_and_none_for_none() -> None:
    """Each use of the demo's rounds gets its first entrant; what would change it names another one."""
    for findings in demo_findings().values():
        order = order_round(findings, {}, draws=200)
        assert order is not None
        found = picks(order, findings.round.uses)
        assert [pick.use for pick in found] == [use.use for use in order.uses]
        for pick, use in zip(found, order.uses, strict=True):
            assert pick.product == use.first.product
            assert pick.product not in pick.level
            assert pick.tipping is None or pick.tipping.product != pick.product
