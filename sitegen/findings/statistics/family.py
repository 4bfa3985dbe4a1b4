"""Many pairs at once: p values of pairs of entrants made family-wise, whatever test each came from.

Holm's steps (Scand. J. Statist. 6 (1979) 65) with the counts of Shaffer (J. Amer. Statist. Assoc. 81 (1986) 826, her
method S1; both from memory): the smallest p is multiplied by the number of pairs, the next by how many pairs of equal
entrants there can still be, and so on. If one of four entrants differs from another, at most three of the six
pairs can be equal, since equality is passed on. Right for p values that are valid one by one, however they depend on
one another, so pairs with unequal spreads, exact tests and bounds may stand in one family. Tests that aren't of pairs
take Holm's own counts: as many times as there are tests, then as many as are left.
"""

from collections.abc import Hashable, Mapping, Sequence
from functools import lru_cache
from typing import TypeVar

T = TypeVar("T", bound=Hashable)

MOST_COUNTED = 40  # entrants; beyond this Holm's own counts, which differ little there, save the work


@lru_cache(maxsize=64)
def equal_pairs(entrants: int) -> tuple[int, ...]:
    """How many pairs of `entrants` can be equal, over all ways to part them into equal ones; greatest first.

    >>> equal_pairs(4)
    (6, 3, 2, 1, 0)
    """
    counts: list[set[int]] = [{0}]
    for n in range(1, entrants + 1):
        counts.append({size * (size - 1) // 2 + rest for size in range(1, n + 1) for rest in counts[n - size]})
    return tuple(sorted(counts[entrants], reverse=True))


def step_counts(entrants: int, pairs: int) -> tuple[int, ...]:
    """By what each p is multiplied, from the smallest p to the largest; `pairs` of `entrants` are judged.

    >>> step_counts(4, 6)
    (6, 3, 3, 3, 2, 1)
    """
    if entrants > MOST_COUNTED:
        return tuple(range(pairs, 0, -1))
    possible = equal_pairs(entrants)
    every = entrants * (entrants - 1) // 2
    # A pair that isn't judged can't be a false alarm, so it counts neither here nor there.
    return tuple(min(pairs - step, next(count for count in possible if count <= every - step)) for step in range(pairs))


def stepped(p: Sequence[float], entrants: int) -> tuple[tuple[float, int], ...]:
    """Each p family-wise, with the count of the step at which its pair was judged, in the order given.

    At any level the pairs below it are those that the steps tell apart. A pair that is not reached at the usual level
    is judged by the count of its own step, its p by the largest so far.

    >>> [(round(value, 3), count) for value, count in stepped([0.2, 0.01, 0.03], 3)]
    [(0.2, 1), (0.03, 3), (0.03, 1)]
    """
    return _adjusted(p, step_counts(entrants, len(p)))


def holm(chances: Mapping[T, float]) -> dict[T, float]:
    """The p of several tests by name, adjusted by Holm's own counts, smallest first.

    >>> holm({"a": 0.01, "b": 0.04, "c": 0.03})
    {'a': 0.03, 'c': 0.06, 'b': 0.06}
    """
    adjusted = _adjusted(tuple(chances.values()), range(len(chances), 0, -1))
    found = {name: p for name, (p, _) in zip(chances, adjusted, strict=True)}
    return {name: found[name] for name in sorted(chances, key=chances.__getitem__)}


def _adjusted(p: Sequence[float], counts: Sequence[int]) -> tuple[tuple[float, int], ...]:
    """Each p times its step's count, never below that of a smaller one, and that count; in the order given."""
    order = sorted(range(len(p)), key=lambda index: (p[index], index))
    found: list[tuple[float, int]] = [(1.0, 1)] * len(p)
    highest = 0.0
    for index, count in zip(order, counts, strict=True):
        highest = max(highest, min(1.0, count * p[index]))
        found[index] = (highest, count)
    return tuple(found)
