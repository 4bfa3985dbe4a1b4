"""The order when nobody says what counts: over all weights there are, each as likely as any other.

SMAA-2 (Lahdelma & Salminen, Operations Research 49 (2001) 444; SMAA: Lahdelma, Hokkanen & Salminen, European
J. Oper. Res. 106 (1998) 137): weights uniform on the simplex, worths from the same draws as for the uses. It
serves readers who share none of the round's uses: how often an entrant is first tells how many ways of
weighing speak for it, its central weights tell which, and its confidence how sure the readings make that.

Weights: the gaps between m - 1 uniform numbers in order, which are uniform on the simplex (David & Nagaraja,
Order Statistics, 6.4; from memory); made with comparison and subtraction alone.
"""

import math

from sitegen.findings.ranking.draws import Array, Stream
from sitegen.findings.ranking.ordered import Acceptable, AnyWeights
from sitegen.findings.ranking.rank_shares import DECIMALS, pair_draws, rank_shares
from sitegen.findings.ranking.worth_draws import Drawn, share_error


def random_weights(measures: int, draws: int, seed: int) -> Array:
    """Weights uniform on the simplex, shape (measures, draws); ValueError for no measures.

    >>> weights = random_weights(3, 100, seed=1)
    >>> bool((abs(weights.sum(axis=0) - 1) < 1e-12).all()), bool((weights >= 0).all())
    (True, True)
    """
    import numpy as np

    if measures < 1:
        raise ValueError(f"measures: expected 1 or more, found {measures}")
    walls = np.empty((draws, measures + 1))
    walls[:, 0], walls[:, -1] = 0.0, 1.0
    inner = Stream(seed, "weights", str(measures)).uniform(draws * (measures - 1))
    walls[:, 1:-1] = np.sort(inner.reshape(draws, measures - 1), axis=1)
    return np.diff(walls, axis=1).T


def rank_any_weights(drawn: Drawn) -> AnyWeights:
    """The entrants over all weights of the measures that were drawn. Source: the module's text."""
    weights = random_weights(len(drawn.measures), drawn.count, drawn.seed)
    scores = _scores(drawn.values, weights)
    ranks, centrals = rank_shares(scores), central_weights(scores, weights)
    few = pair_draws(len(drawn.products), drawn.count)
    found = []
    for row, product in enumerate(drawn.products):
        central = centrals.get(row)
        found.append(
            Acceptable(
                product=product,
                ranks=tuple(ranks[row].tolist()),
                central=tuple(zip(drawn.measures, central, strict=True)) if central else None,
                confidence=_confidence(drawn.values[:, :, :few], central, row) if central else None,
            )
        )
    return AnyWeights(
        measures=drawn.measures,
        entrants=tuple(sorted(found, key=lambda one: (-one.first_share, one.product))),
        seed=drawn.seed,
        draws=drawn.count,
        share_error=share_error(drawn.count),
        confidence_draws=few,
    )


def _scores(values: Array, weights: Array | tuple[float, ...]) -> Array:
    total: Array = values[0] * weights[0]
    for row in range(1, len(weights)):
        total += values[row] * weights[row]
    return total


def central_weights(scores: Array, weights: Array) -> dict[int, tuple[float, ...]]:
    """The mean weights (measures, draws) of the draws in which an entrant, a row of `scores`, is first.

    A draw shared by several firsts counts for each with its part. Exactly rounded sums: no order of adding
    shows.
    """
    import numpy as np

    rounded = np.round(scores, DECIMALS)
    best = rounded == rounded.max(axis=0)
    parts = 1.0 / np.count_nonzero(best, axis=0)
    found = {}
    for row in np.nonzero(best.any(axis=1))[0].tolist():
        where = best[row]
        total = math.fsum(parts[where].tolist())
        sums = [math.fsum((one[where] * parts[where]).tolist()) for one in weights]
        found[row] = tuple(value / total for value in sums)
    return found


def _confidence(values: Array, central: tuple[float, ...], row: int) -> float:
    """The confidence factor of SMAA: how often `row` is first when weighed its own way."""
    import numpy as np

    scores = np.round(_scores(values, central), DECIMALS)
    best = scores == scores.max(axis=0)
    parts: list[float] = (1.0 / np.count_nonzero(best[:, best[row]], axis=0)).tolist()
    return math.fsum(parts) / int(values.shape[2])
