"""Trade-offs: who is beaten in everything, and what is worth its price.

One entrant dominates another when it is worth at least as much in every measure and more in one; whom nobody
dominates is in the Pareto set, and every way of weighing has its best there. By the readings alone that is a
matter of decimals, so each entrant also carries the share of draws in which somebody dominates it: from 95 %
on it is surely dominated. Where a worth isn't known, an entrant counts as dominated only if it would be even
at the best that may be, by one that would dominate even at its worst.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from sitegen.findings.photos.door import positive
from sitegen.findings.ranking.draws import Array
from sitegen.findings.ranking.ordered import SURELY, Bargain, Dominated, ParetoSet, ValueForMoney
from sitegen.findings.ranking.rank_shares import DECIMALS, pair_draws
from sitegen.findings.ranking.worth import Worth
from sitegen.findings.ranking.worth_draws import Drawn, Worths, share_error


def find_pareto(worths: Worths, drawn: Drawn) -> ParetoSet:
    """The Pareto set over the measures drawn. `drawn`: by `draw_worths` from the same `worths`."""
    few = pair_draws(len(drawn.products), drawn.count)
    shares = dominating_shares(drawn.values[:, :, :few])
    found = tuple(
        Dominated(
            product=product,
            by=by,
            share=share,
            surely_by=tuple(other for other, one in zip(drawn.products, each, strict=True) if one >= SURELY),
        )
        for product, by, (share, each) in zip(
            drawn.products, _dominators(worths, drawn.products, drawn.measures), shares, strict=True
        )
    )
    return ParetoSet(
        measures=drawn.measures,
        members=tuple(one.product for one in found if not one.by),
        entrants=found,
        draws=few,
        share_error=share_error(few),
    )


def _dominators(worths: Worths, products: Sequence[str], measures: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    import numpy as np

    def table(end: int) -> Array:
        rows = [[_bounds(worths[product][measure])[end] for measure in measures] for product in products]
        return np.round(np.array(rows), DECIMALS)

    least, most = table(0), table(1)
    found = []
    for row in range(len(products)):
        beaten = (least >= most[row]).all(axis=1) & (least > most[row]).any(axis=1)
        found.append(tuple(products[other] for other in np.nonzero(beaten)[0].tolist()))
    return tuple(found)


def _bounds(worth: Worth) -> tuple[float, float]:
    return (worth.low, worth.high) if worth.value is None else (worth.value, worth.value)


def dominating_shares(values: Array) -> tuple[tuple[float, tuple[float, ...]], ...]:
    """The share of draws in which each entrant is dominated: by somebody, and by each of the entrants.

    `values` (measures, entrants, draws).

    >>> import numpy as np
    >>> dominating_shares(np.array([[[2.0, 2.0], [1.0, 3.0]], [[5.0, 5.0], [5.0, 5.0]]]))
    ((0.5, (0.0, 0.5)), (0.5, (0.5, 0.0)))
    """
    import numpy as np

    rounded: Array = np.round(values, DECIMALS)
    found: list[tuple[float, tuple[float, ...]]] = []
    for row in range(rounded.shape[1]):
        as_good = np.ones(rounded.shape[1:], bool)
        better = np.zeros(rounded.shape[1:], bool)
        for measure in rounded:
            as_good &= measure >= measure[row]
            better |= measure > measure[row]
        dominates = as_good & better
        each = tuple((np.count_nonzero(dominates, axis=1) / rounded.shape[2]).tolist())
        found.append((int(np.count_nonzero(dominates.any(axis=0))) / rounded.shape[2], each))
    return tuple(found)


def value_for_money(
    use: str,
    scores: Mapping[str, float],
    prices: Mapping[str, Decimal],
    draws: Array,
    products: Sequence[str],
) -> ValueForMoney:
    """Who has nobody at least as good for less. `scores` 0..100 by product, `prices` in one currency.

    `draws` (products, draws): scores drawn, rows as in `products`. Errors: ValueError for a price that isn't
    above zero.
    """
    for product in products:
        if product in prices:
            positive(prices[product], f"price of {product}")
    priced = sorted((p for p in products if p in prices), key=lambda product: (prices[product], product))
    rows = [list(products).index(product) for product in priced]
    shares = _unbeaten_shares(draws[rows], [prices[product] for product in priced])
    entrants = tuple(
        Bargain(
            product=product,
            price=prices[product],
            score=scores[product],
            by=tuple(other for other in priced if _is_better_buy(other, product, scores, prices)),
            share=share,
        )
        for product, share in zip(priced, shares, strict=True)
    )
    return ValueForMoney(
        use=use,
        members=tuple(one.product for one in entrants if not one.by),
        entrants=entrants,
        unpriced=tuple(sorted(set(products) - set(priced))),
        draws=draws.shape[1],
        share_error=share_error(draws.shape[1]),
    )


def _is_better_buy(one: str, other: str, scores: Mapping[str, float], prices: Mapping[str, Decimal]) -> bool:
    gain, saving = round(scores[one] - scores[other], DECIMALS), prices[other] - prices[one]
    return gain >= 0 and saving >= 0 and (gain > 0 or saving > 0)


def _unbeaten_shares(scores: Array, prices: Sequence[Decimal]) -> tuple[float, ...]:
    """`scores` cheapest first. Beaten: by a cheaper one as good, or a better one of the same price."""
    import numpy as np

    rounded: Array = np.round(scores, DECIMALS)
    cheaper = np.full(scores.shape[1], -1.0)  # the best score of all that cost less
    found: list[float] = []
    start = 0
    while start < len(prices):
        end = start + prices[start:].count(prices[start])
        same = rounded[start:end].max(axis=0)
        for row in range(start, end):
            beaten = (cheaper >= rounded[row]) | (same > rounded[row])
            found.append(1 - int(np.count_nonzero(beaten)) / scores.shape[1])
        cheaper = np.maximum(cheaper, same)
        start = end
    return tuple(found)
