"""The order of the entrants for a use: scores from weighted worths, and how sure each place is.

A score is Σ w·worth with weights as shares of their sum, so it lies between 0 and 100 and depends on no other
entrant (additive value model: Keeney & Raiffa, 1976, ch. 3; from memory). Its interval and the shares of
ranks come from draws of the worths (`worth_draws`): JCGM 101 7.7.2, probabilistically symmetric. The law of
GUM 5.1.2 isn't used: worth bends at the anchors, and a missing reading is no small uncertainty.
"""

import math
from collections.abc import Iterable, Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import not_negative
from sitegen.findings.ranking.draws import Array
from sitegen.findings.ranking.ordered import Beside, Placed, UseOrder
from sitegen.findings.ranking.rank_shares import pair_draws, rank_shares, winning_shares
from sitegen.findings.ranking.worth import Worth, WorthReason
from sitegen.findings.ranking.worth_draws import COVERAGE, Drawn, Worths, share_error

LEVEL_FROM, LEVEL_TO = 0.05, 0.95  # a winning share between these tells no one apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighting:
    """A use with its weights by measure, as written.

    Errors: ValueError for a weight below 0, weights that sum to nothing, a measure named twice.
    """

    use: str
    weights: tuple[tuple[str, float], ...]

    def __post_init__(self) -> None:
        total = math.fsum(not_negative(weight, f"weight of {measure}") for measure, weight in self.weights)
        if total <= 0 or math.isinf(total):
            raise ValueError(f"weights of {self.use}: expected a sum above zero, found {total:g}")
        if len({measure for measure, _ in self.weights}) < len(self.weights):
            raise ValueError(f"weights of {self.use}: expected each measure once")

    def shares(self) -> tuple[tuple[str, float], ...]:
        """The weights as shares of their sum.

        >>> Weighting(use="wet", weights=(("spray", 4), ("mass", 1))).shares()
        (('spray', 0.8), ('mass', 0.2))
        """
        total = math.fsum(weight for _, weight in self.weights)
        return tuple((measure, weight / total) for measure, weight in self.weights)


def score_of(worths: Sequence[Worth], weights: Sequence[float]) -> float:
    """Σ w·worth / Σ w, 0 to 100; an unknown worth counts by the middle of what it may be.

    Errors: ValueError for unequal lengths, a weight below zero, weights that sum to nothing.
    """
    if len(worths) != len(weights):
        raise ValueError(f"weights: expected {len(worths)}, found {len(weights)}")
    known = [not_negative(weight, "weight") for weight in weights]
    total = math.fsum(known)
    if total <= 0:
        raise ValueError("weights: expected a sum above zero, found 0")
    return math.fsum(weight / total * worth.middle for weight, worth in zip(known, worths, strict=True))


def score_draws(drawn: Drawn, weighting: Weighting) -> Array:
    """The score of each product in each draw, shape (products, draws).

    Added measure by measure, in one order on every machine: a library's dot product sums as its processor
    likes. Errors: ValueError for a measure that wasn't drawn.
    """
    import numpy as np

    rows = {measure: row for row, measure in enumerate(drawn.measures)}
    total = np.zeros(drawn.values.shape[1:])
    for measure, share in weighting.shares():
        if measure not in rows:
            raise ValueError(f"weights of {weighting.use}: expected a measure drawn, found {measure}")
        if share:
            total += share * drawn.values[rows[measure]]
    return total


def rank_uses(worths: Worths, uses: Sequence[Weighting], drawn: Drawn) -> tuple[UseOrder, ...]:
    """Every use with its entrants in order. `drawn`: by `draw_worths` from the same `worths`.

    At least one product has to be known by more than one reading (see `read_once`). An entrant's score and interval
    depend on its own worths alone. Errors: ValueError for a measure that wasn't drawn.
    """
    return tuple(_rank_use(worths, use, drawn) for use in uses)


def read_once(worths: Worths, measures: Iterable[str]) -> tuple[Beside, ...]:
    """The products of which one of the measures was read once while nothing tells how much it scatters, by id.

    One reading that is far off would be first without anybody noticing, so it has no place in an order.
    """
    wanted = tuple(measures)
    found = (
        Beside(
            product=product,
            measures=tuple(m for m in wanted if WorthReason.SPREAD_UNKNOWN in worths[product][m].reasons),
        )
        for product in sorted(worths)
    )
    return tuple(one for one in found if one.measures)


def _rank_use(worths: Worths, use: Weighting, every: Drawn) -> UseOrder:
    beside = read_once(worths, [measure for measure, weight in use.weights if weight])
    drawn = every.only([product for product in every.products if product not in {one.product for one in beside}])
    scores = score_draws(drawn, use)
    ranks = rank_shares(scores)
    few = pair_draws(len(drawn.products), drawn.count)
    winning = winning_shares(scores[:, :few])
    places = []
    for row, product in enumerate(drawn.products):
        level = _level_with(drawn.products, winning[row].tolist(), row)
        places.append(_place(product, worths, use, scores[row], tuple(ranks[row].tolist()), level))
    return UseOrder(
        use=use.use,
        weights=use.shares(),
        places=tuple(sorted(places, key=lambda place: (-place.score, place.product))),
        beside=beside,
        seed=drawn.seed,
        draws=drawn.count,
        share_error=share_error(drawn.count),
        pair_draws=few,
    )


def _place(
    product: str,
    worths: Worths,
    use: Weighting,
    draws: Array,
    ranks: tuple[float, ...],
    level: tuple[str, ...],
) -> Placed:
    measured = {measure: worths[product][measure] for measure, weight in use.weights if weight}
    weights = [weight for _, weight in use.weights if weight]
    score = round(score_of(tuple(measured.values()), weights), 12)
    low, high = middle_draws(draws)
    low, high = min(low, score), max(high, score)
    return Placed(
        product=product,
        score=score,
        low=low,
        high=high,
        expanded=max(high - score, score - low),
        ranks=ranks,
        level_with=level,
        missing=tuple(m for m, worth in measured.items() if worth.value is None),
    )


def middle_draws(draws: Array, coverage: float = COVERAGE) -> tuple[float, float]:
    """The probabilistically symmetric interval that holds `coverage` of the draws (JCGM 101 7.7.2).

    >>> import numpy as np
    >>> middle_draws(np.arange(1.0, 10001.0))
    (250.0, 9750.0)
    """
    import numpy as np

    count = len(draws)
    inside = min(count - 1, math.floor(coverage * count + 0.5))
    start = max(1, (count - inside + 1) // 2)
    ranked = np.sort(draws)
    return float(ranked[start - 1]), float(ranked[start + inside - 1])


def _level_with(products: Sequence[str], shares: Sequence[float], row: int) -> tuple[str, ...]:
    return tuple(
        other for column, other in enumerate(products) if column != row and LEVEL_FROM <= shares[column] <= LEVEL_TO
    )
