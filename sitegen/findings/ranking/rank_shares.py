"""How often each entrant takes each rank over draws of scores, and how often one beats another.

Entrants with equal scores share their ranks equally: two on top are each first in half of that draw. So the
shares of an entrant sum to 1, and those of a rank too, and the order of the entrants makes no difference.
"""

from collections.abc import Iterator

from sitegen.findings.ranking.draws import Array

CELLS = 400_000  # scores ranked at once: sorting stays within the processor's cache
PAIR_CELLS = 64_000_000  # pairs of entrants times draws
LEAST_PAIR_DRAWS = 500
DECIMALS = 9  # worths that differ by rounding alone are equal


def portions(entrants: int, draws: int) -> Iterator[slice]:
    """The draws in portions of about `CELLS` scores."""
    step = max(1, CELLS // entrants)
    for start in range(0, draws, step):
        yield slice(start, min(draws, start + step))


def pair_draws(entrants: int, draws: int) -> int:
    """How many of the draws are used where every pair is looked at: all of them up to 80 entrants."""
    return min(draws, max(LEAST_PAIR_DRAWS, PAIR_CELLS // entrants**2))


def rank_shares(scores: Array) -> Array:
    """The share of draws in which entrant i has rank r, as an array (entrants, entrants).

    `scores` (entrants, draws), higher first. These are the rank acceptability indices b(i, r) of SMAA-2:
    Lahdelma & Salminen, Operations Research 49 (2001) 444.

    >>> import numpy as np
    >>> rank_shares(np.array([[3.0, 1.0], [2.0, 2.0], [1.0, 2.0]])).tolist()
    [[0.5, 0.0, 0.5], [0.25, 0.75, 0.0], [0.25, 0.25, 0.5]]
    """
    import numpy as np

    entrants, draws = scores.shape
    by_size: dict[int, Array] = {}  # how many share a score: counts by entrant and first of the shared ranks
    for part in portions(entrants, draws):
        first, size = tied_ranks(scores[:, part])
        for shared in np.unique(size).tolist():
            owner = np.nonzero(size == shared)[1]
            cells = np.bincount(owner * entrants + first[size == shared], minlength=entrants**2)
            by_size[shared] = by_size.get(shared, 0) + cells
    return _spread_over_ranks(by_size, entrants) / draws


def _spread_over_ranks(by_size: dict[int, Array], entrants: int) -> Array:
    import numpy as np

    total = np.zeros((entrants, entrants))
    for shared, cells in sorted(by_size.items()):
        counts = cells.reshape(entrants, entrants)
        for offset in range(shared):
            total[:, offset:] += counts[:, : entrants - offset] / shared
    return total


def tied_ranks(scores: Array) -> tuple[Array, Array]:
    """For each draw and entrant, shape (draws, entrants): the first rank, from 0, and how many share it."""
    import numpy as np

    # Zero is added because -0.0 and 0.0 are equal, but so that no sign is left to print either.
    below = -np.round(scores.T, DECIMALS) + 0.0
    order = np.argsort(below, axis=1)  # not a stable sort: equals get the same result in any order
    ranked = np.take_along_axis(below, order, axis=1)
    place = np.arange(scores.shape[0])
    starts = np.ones(ranked.shape, bool)
    starts[:, 1:] = ranked[:, 1:] != ranked[:, :-1]
    first = np.maximum.accumulate(np.where(starts, place, 0), axis=1)
    ends = np.ones(ranked.shape, bool)
    ends[:, :-1] = starts[:, 1:]
    last = np.minimum.accumulate(np.where(ends, place, place[-1])[:, ::-1], axis=1)[:, ::-1]
    found_first, found_size = np.empty_like(first), np.empty_like(first)
    np.put_along_axis(found_first, order, first, axis=1)
    np.put_along_axis(found_size, order, last - first + 1, axis=1)
    return found_first, found_size


def winning_shares(scores: Array) -> Array:
    """The share of draws in which one entrant (row) scores higher than another (column); equal: half.

    >>> import numpy as np
    >>> winning_shares(np.array([[3.0, 1.0], [2.0, 1.0]])).tolist()
    [[0.5, 0.75], [0.25, 0.5]]
    """
    import numpy as np

    rounded: Array = np.round(scores, DECIMALS)
    entrants, draws = scores.shape
    found = np.full((entrants, entrants), 0.5)
    for row in range(entrants - 1):
        others = rounded[row + 1 :]
        above = np.count_nonzero(rounded[row] > others, axis=1)
        equal = np.count_nonzero(rounded[row] == others, axis=1)
        found[row, row + 1 :] = (above + equal / 2) / draws
        found[row + 1 :, row] = 1 - found[row, row + 1 :]
    return found
