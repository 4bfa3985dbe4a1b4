"""Which entrants differ in grades: every pair at once, at a family-wise level of 5 %, by ranks alone.

Each pair is ranked for itself, so that no third entrant moves a pair's difference; the adjusted p is the
share of arrangements in which the largest difference of any pair is at least as large (all arrangements where
there are few, else seeded shuffles, (1 + hits)/(1 + shuffles)). See `permutation` for statistic and sources.

Grades tie, and there the largest statistic alone is too bold: six entrants all at grade 3 make it rare that
three fives come together, yet between {5,5,5} and {1,1,1} alone chance does so once in ten. A pair's p
is therefore never below its own exact p, nor below what complete separation gives without ties
(`specimens.smallest_p`; 2/C(n+m, n) for two entrants), whatever the others did. Common practice for the first
bound; the second is ours.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.comparison import LEVEL, Comparison, Doubt, Method, Pair, checked_groups
from sitegen.findings.photos.door import Number, share
from sitegen.findings.statistics.permutation import (
    SAME,
    arrangements,
    count_arrangements,
    largest,
    pair_differences,
    pair_p,
    scales,
    shuffles,
)
from sitegen.findings.statistics.specimens import smallest_p, specimens_for_grades

ALL_UP_TO = 50_000  # arrangements are gone through one by one; three entrants with four specimens have 34 650
SHUFFLES = 9_999
FEWEST_SHUFFLES = 999  # however many pairs there are
HOPELESS_SHUFFLES = 199  # where nothing can come of it
MOST_COMPARED = 10_000_000  # pairs times shuffles, before fewer shuffles are taken
COUNTED_UP_TO = 2_500  # n times m of a pair whose own p is counted out; larger ones have ties to spare

Array = Any


def compare_ordinal(groups: Mapping[str, Sequence[Number]], *, seed: int = 1, level: float = LEVEL) -> Comparison:
    """Every pair of entrants: how much oftener one is higher, adjusted p, distinct or not.

    `groups`: entrant to the grades of its specimens; only their order counts, so any scale will do. `seed`, 0
    or more, fixes the shuffles. Errors: ValueError for grades that aren't finite, an entrant without any,
    a negative seed. Grades off the protocol's scale are the records' affair. Source: the module's text.

    >>> found = compare_ordinal({"fjell": [5, 5, 4, 4], "tarn": [3, 3, 4, 2]})
    >>> found.method.value, round(found.pairs[0].p_adjusted, 4), found.pairs[0].difference
    ('permutation_exact', 0.0857, 0.875)
    >>> compare_ordinal({"fjell": [5, 5, 5], "tarn": [1, 1, 1]}).specimens_needed
    4
    """
    share(level, "level")
    if seed < 0:
        raise ValueError(f"seed: expected 0 or more, found {seed}")
    every = checked_groups(groups)
    if len(every) < 2:
        return Comparison(
            method=Method.NONE,
            pairs=(),
            reasons=(Doubt.TOO_FEW_ENTRANTS,),
            centres=tuple((name, 1 / 2 + len(values) / 2) for name, values in every.items()),
        )
    dealt = _deal(every)
    sizes = dealt.sizes
    floor = _clearest(sizes)
    exact = len(sizes) == 2 or count_arrangements(sizes) <= ALL_UP_TO
    tried = count_arrangements(sizes) if exact else _how_many(len(sizes), hopeless=floor > level)
    pairs, held_back = _judged(dealt, _pooled_p(dealt, tried, None if exact else seed), floor, level)
    return Comparison(
        method=Method.PERMUTATION_EXACT if exact else Method.PERMUTATION_SAMPLED,
        pairs=pairs,
        reasons=_reasons(dealt, floor > level, held_back),
        centres=tuple(zip(every, _mean_midranks(dealt), strict=True)),
        seed=None if exact else seed,
        permutations=tried,
        smallest_possible_p=floor,
        specimens_needed=specimens_for_grades(len(sizes), level),
    )


@dataclass(frozen=True, slots=True)
class _Dealt:
    """Names, grades as whole numbers from 0 in rank order, group by group, their sizes, S of all pairs."""

    names: tuple[str, ...]
    codes: Array
    sizes: tuple[int, ...]
    differences: Array


def _deal(groups: Mapping[str, tuple[float, ...]]) -> _Dealt:
    import numpy as np

    values = [value for group in groups.values() for value in sorted(group)]  # no order of entry may show
    codes = np.unique(values, return_inverse=True)[1]
    sizes = tuple(len(group) for group in groups.values())
    return _Dealt(tuple(groups), codes, sizes, pair_differences(codes[None, :], sizes)[0])


def _clearest(sizes: Sequence[int]) -> float:
    """p of complete separation of the largest entrants, without ties; a lower bound where sizes differ."""
    first, second = sorted(sizes, reverse=True)[:2]
    if first == second:
        return smallest_p(sizes.count(first), first)
    return 2 / math.comb(first + second, first)


def _how_many(entrants: int, *, hopeless: bool) -> int:
    """Shuffles worth their time."""
    pairs = entrants * (entrants - 1) // 2
    return HOPELESS_SHUFFLES if hopeless else min(SHUFFLES, max(FEWEST_SHUFFLES, MOST_COMPARED // pairs))


def _pooled_p(dealt: _Dealt, tried: int, seed: int | None) -> Array:
    """Adjusted p by the largest statistic, shape (k, k); of two entrants the pair's own, counted out."""
    import numpy as np

    codes, sizes, differences = dealt.codes, dealt.sizes, dealt.differences
    if len(sizes) == 2 and sizes[0] * sizes[1] <= COUNTED_UP_TO:
        return np.full((2, 2), pair_p(sizes[0], np.bincount(codes).tolist(), float(differences[0, 1])))
    portions = (arrangements(sizes),) if seed is None else shuffles(len(codes), tried, seed)
    seen = np.sort(np.concatenate([largest(codes[rows], sizes) for rows in portions]))
    observed = np.abs(differences) / scales(sizes) * (1 - SAME)
    hits = len(seen) - np.searchsorted(seen, observed.ravel(), side="left").reshape(observed.shape)
    return hits / tried if seed is None else (1 + hits) / (1 + tried)


def _judged(dealt: _Dealt, pooled: Array, floor: float, level: float) -> tuple[tuple[Pair, ...], bool]:
    """The pairs, and whether ties elsewhere would have made one of them distinct that isn't."""
    import numpy as np

    own = _own_p(dealt)
    pairs, held_back = [], False
    differences, chances = dealt.differences.tolist(), np.maximum(pooled, floor).clip(0, 1).tolist()
    bold = pooled <= level
    for i, a in enumerate(dealt.names):
        for j in range(i + 1, len(dealt.names)):
            s, p, most = differences[i][j], chances[i][j], dealt.sizes[i] * dealt.sizes[j]
            if p <= level and len(dealt.names) > 2 and most <= COUNTED_UP_TO:
                p = max(p, own(i, j, s))
            held_back = held_back or (p > level and bool(bold[i, j]))
            pairs.append(_pair(a, dealt.names[j], s / most, p, level))
    return tuple(pairs), held_back


def _pair(a: str, b: str, difference: float, p: float, level: float) -> Pair:
    return Pair(a=a, b=b, difference=difference, low=None, high=None, p_adjusted=p, distinct=p <= level)


def _own_p(dealt: _Dealt) -> Callable[[int, int, float], float]:
    """Two entrants and their S to their own exact p; pairs with the same ties are counted out once."""
    import numpy as np

    grades = int(dealt.codes.max()) + 1
    parts = np.split(dealt.codes, np.cumsum(dealt.sizes)[:-1])
    counts = [np.bincount(part, minlength=grades) for part in parts]
    known: dict[tuple[int, bytes], dict[float, float]] = {}

    def own(i: int, j: int, s: float) -> float:
        together = counts[i] + counts[j]
        cases = known.setdefault((dealt.sizes[i], together.tobytes()), {})
        if abs(s) not in cases:
            cases[abs(s)] = pair_p(dealt.sizes[i], together[together > 0].tolist(), s)
        return cases[abs(s)]

    return own


def _reasons(dealt: _Dealt, hopeless: bool, held_back: bool) -> tuple[Doubt, ...]:
    found = (
        (Doubt.SINGLE_SPECIMEN, min(dealt.sizes) == 1),
        (Doubt.ALL_EQUAL, int(dealt.codes.max()) == 0),
        (Doubt.CANNOT_SHOW_A_DIFFERENCE, hopeless),
        (Doubt.TIES_HELD_BACK, held_back and int(dealt.codes.max()) + 1 < len(dealt.codes)),
    )
    return tuple(doubt for doubt, holds in found if holds)


def _mean_midranks(dealt: _Dealt) -> tuple[float, ...]:
    """Each entrant's mean midrank in the whole round, from 1: for ordering, not for print."""
    import numpy as np

    tied = np.bincount(dealt.codes)
    midranks = (np.cumsum(tied) - tied + (tied + 1) / 2)[dealt.codes]
    return tuple(float(part.mean()) for part in np.split(midranks, np.cumsum(dealt.sizes)[:-1]))
