"""Rearranging specimens among entrants: what the largest rank difference would be if all entrants were equal.

A pair's difference is S = (specimen pairs in which a is higher) - (in which b is higher): the rank sum
statistic on midranks, doubled and centred (2U - nm), a whole number even with ties. Its size is compared on
the scale sqrt(nm(n+m+1)/3), its standard deviation without ties. Steel, Biometrics 16 (1960) 560; Dwass 1960;
Critchlow & Fligner, Comm. Statist. Theory 20 (1991) 127 (all pairs, each ranked for itself); the largest
statistic over permutations: Westfall & Young, Resampling-Based Multiple Testing, 1993. Titles from memory.

Shuffles come from the raw 64-bit stream of NumPy's PCG64, which NumPy promises never to change for a given
seed (class documentation, "Compatibility Guarantee"; NEP 19), not from `permutation()`, for which it promises
nothing: specimens are put in the order of one raw number each.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any

Array = Any  # a NumPy array

SAME = 1e-9  # relative slack between statistics that are equal but for rounding
CELLS = 4_000_000  # numbers kept in memory at once
SINGLE_PRECISION = 4_000  # sizes below this give |S| < 2^24: whole numbers that float32 holds, at half the time


def count_arrangements(sizes: Sequence[int]) -> int:
    """In how many ways specimens can be dealt out to groups of these sizes: (Σn)! / Πn!.

    >>> count_arrangements([3, 3, 3])
    1680
    """
    return math.factorial(sum(sizes)) // math.prod(math.factorial(size) for size in sizes)


def arrangements(sizes: Sequence[int]) -> Array:
    """Every way, once: rows of specimen numbers, the first group's first; shape (arrangements, Σn).

    >>> arrangements([1, 2]).tolist()
    [[0, 1, 2], [1, 0, 2], [2, 0, 1]]
    """
    import numpy as np

    total = sum(sizes)
    if len(sizes) == 1:
        return np.arange(total)[None, :]
    chosen = np.array(list(combinations(range(total), sizes[0])))
    free = np.ones((len(chosen), total), bool)
    np.put_along_axis(free, chosen, False, axis=1)
    others = np.nonzero(free)[1].reshape(len(chosen), total - sizes[0])
    rest = others[:, arrangements(sizes[1:])]
    first = np.broadcast_to(chosen[:, None, :], (*rest.shape[:2], sizes[0]))
    return np.concatenate([first, rest], axis=2).reshape(-1, total)


def shuffles(specimens: int, count: int, seed: int) -> Iterator[Array]:
    """`count` random orders of `specimens`, in portions of rows; the same for the same `seed`, for ever."""
    import numpy as np

    stream = np.random.PCG64(seed)
    portion = max(1, CELLS // (4 * specimens))
    for start in range(0, count, portion):
        rows = min(portion, count - start)
        keys = stream.random_raw(rows * specimens).reshape(rows, specimens)
        yield np.argsort(keys, axis=1, kind="stable")


def scales(sizes: Sequence[int]) -> Array:
    """The standard deviation of each pair's S without ties, shape (k, k)."""
    import numpy as np

    n = np.array(sizes, float)
    return np.sqrt(n[:, None] * n[None, :] * (n[:, None] + n[None, :] + 1) / 3)


def pair_differences(rows: Array, sizes: Sequence[int]) -> Array:
    """S of every pair, a minus b: `rows` (m, Σn) of grade codes from 0, group after group, to (m, k, k)."""
    import numpy as np

    k, grades = len(sizes), int(rows.max()) + 1
    owner = np.repeat(np.arange(k), sizes)
    cells = (np.arange(len(rows))[:, None] * k + owner) * grades + rows
    counts = np.bincount(cells.ravel(), minlength=len(rows) * k * grades).reshape(len(rows), k, grades)
    upto = np.cumsum(counts, axis=2)
    exact = np.float32 if max(sizes) < SINGLE_PRECISION else np.float64
    below_less_above = (2 * upto - counts - np.array(sizes)[:, None]).astype(exact)
    return counts.astype(exact) @ below_less_above.transpose(0, 2, 1)


def largest(rows: Array, sizes: Sequence[int]) -> Array:
    """The largest scaled |S| over all pairs for each row, shape (m,); S is antisymmetric: the largest S."""
    import numpy as np

    inverse = 1 / scales(sizes)
    portion = max(1, CELLS // max(len(sizes) ** 2, len(sizes) * (int(rows.max()) + 1)))
    found = []
    for start in range(0, len(rows), portion):
        s = pair_differences(rows[start : start + portion], sizes)
        even = len(set(sizes)) == 1
        found.append(s.max(axis=(1, 2)) * inverse[0, 0] if even else (s * inverse).max(axis=(1, 2)))
    return np.concatenate(found)


def pair_p(n: int, ties: Sequence[int], s: float) -> float:
    """Exact two-sided p of one pair by itself: the share of arrangements with |S| at least |s|.

    `ties`: how many specimens of both entrants together share each grade, lowest grade first; `n` of them
    belong to the first entrant. The arrangements are counted grade by grade, not gone through.

    >>> round(pair_p(4, [1, 2, 3, 2], 14), 4)  # {5,5,4,4} against {3,3,4,2}
    0.0857
    """
    import numpy as np

    total = sum(ties)
    ways = np.zeros((n + 1, 2 * total * n + 1))  # [specimens given to the first entrant, doubled rank sum]
    ways[0, 0] = 1
    before = 0
    for tied in ties:
        doubled_rank, fresh = 2 * before + tied + 1, np.zeros_like(ways)
        for taken in range(min(tied, n) + 1):
            step = taken * doubled_rank
            if step < ways.shape[1]:
                fresh[taken:, step:] += math.comb(tied, taken) * ways[: n + 1 - taken, : ways.shape[1] - step]
        ways, before = fresh, before + tied
    distances = np.abs(np.arange(ways.shape[1]) - n * (total + 1))
    return float(ways[n, distances >= abs(s) - 0.5].sum() / ways[n].sum())
