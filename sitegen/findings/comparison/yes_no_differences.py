"""Which products differ in a yes/no measure: Fisher's exact test for every pair, family-wise by Holm's steps.

Fisher, Statistical Methods for Research Workers, 1934, section 21.02: given how many passed of both products together,
the share of outcomes that are no likelier than the one seen (two-sided). Holm, Scand. J. Statist. 6 (1979) 65. A test
on a nuisance parameter (Boschloo, Barnard) would see a little more; this one needs no search and is counted out.
"""

import math
from collections.abc import Mapping, Sequence

from sitegen.findings.comparison.comparison import LEVEL, Comparison, Doubt, Method, Pair
from sitegen.findings.photos.door import share
from sitegen.findings.statistics.family import holm


def compare_yes_no(groups: Mapping[str, Sequence[bool]], *, level: float = LEVEL) -> Comparison:
    """Every pair of products: difference of the shares that passed, adjusted p, distinct or not.

    `groups`: product to the answers of its specimens. Errors: ValueError for a product without any. Source: the
    module's text.

    >>> found = compare_yes_no({"fjell": [True] * 8, "tarn": [False] * 8, "vik": [True] * 4 + [False] * 4})
    >>> found.distinct_pairs
    (('fjell', 'tarn'),)
    """
    share(level, "level")
    every = {name: list(groups[name]) for name in sorted(groups)}
    for name, answers in every.items():
        if not answers:
            raise ValueError(f"{name}: expected at least 1 values, found 0")
    shares = {name: sum(answers) / len(answers) for name, answers in every.items()}
    counts = {name: (sum(answers), len(answers)) for name, answers in every.items()}
    names = list(every)
    chances = {(a, b): fisher_p(counts[a], counts[b]) for index, a in enumerate(names) for b in names[index + 1 :]}
    adjusted = holm(chances)
    clearest = min((_clearest(counts[a], counts[b]) for a, b in chances), default=1.0) * len(chances)
    hopeless = clearest > level and bool(chances)
    doubts = (
        (Doubt.TOO_FEW_ENTRANTS, len(every) < 2),
        (Doubt.SINGLE_SPECIMEN, min((n for _, n in counts.values()), default=0) == 1),
        (Doubt.ALL_EQUAL, len(set(shares.values())) == 1),
        (Doubt.CANNOT_SHOW_A_DIFFERENCE, hopeless),
    )
    return Comparison(
        method=Method.FISHER_HOLM if chances else Method.NONE,
        pairs=tuple(
            Pair(a=a, b=b, difference=shares[a] - shares[b], low=None, high=None, p_adjusted=p, distinct=p <= level)
            for (a, b), p in ((pair, adjusted[pair]) for pair in chances)
        ),
        reasons=tuple(doubt for doubt, holds in doubts if holds),
        centres=tuple(shares.items()),
        smallest_possible_p=min(1.0, clearest) if chances else None,
        specimens_needed=specimens_for_answers(len(every), level) if chances else None,
    )


def fisher_p(first: tuple[int, int], second: tuple[int, int]) -> float:
    """Fisher's exact two-sided p of two (yes, n), counted in whole numbers.

    >>> round(fisher_p((8, 10), (1, 6)), 4), round(fisher_p((3, 4), (1, 4)), 4)
    (0.035, 0.4857)
    """
    (yes, n), (other, m) = first, second
    together = yes + other
    ways = [math.comb(n, k) * math.comb(m, together - k) for k in range(max(0, together - m), min(n, together) + 1)]
    seen = math.comb(n, yes) * math.comb(m, other)
    return min(1.0, sum(way for way in ways if way <= seen) / sum(ways))


def specimens_for_answers(products: int, level: float = LEVEL) -> int:
    """The fewest specimens of each of `products` with which all yes can be told from all no.

    >>> specimens_for_answers(2), specimens_for_answers(8)
    (4, 7)
    """
    pairs = products * (products - 1) // 2
    return next(n for n in range(2, 1_000) if pairs * 2 / math.comb(2 * n, n) <= level)


def _clearest(first: tuple[int, int], second: tuple[int, int]) -> float:
    """p of all yes against all no."""
    return fisher_p((first[1], first[1]), (0, second[1]))
