"""Which weight would have to change, and how far, for another entrant to come first.

The lead of the first over another is Σ w·(worth - worth'), a straight line in each single weight. Changing
one weight by δ and no other changes it by δ·(worth - worth'), so the lead is used up at

    δ = -lead / (worth - worth')

which counts where the weight stays at zero or above. The smallest |δ| over all weights and entrants is exact;
beyond it the other is first. (Own derivation; one-way sensitivity of an additive model is common practice.)
"""

import math
from collections.abc import Mapping, Sequence

from sitegen.findings.ranking.order import Weighting
from sitegen.findings.ranking.ordered import Change, Toppling

EVEN = 1e-9  # worths this close are equal but for rounding


def find_toppling(use: Weighting, worths: Mapping[str, Sequence[float]], first: str) -> Toppling:
    """What it takes to topple `first`.

    `worths`: 0..100 by product, one for each weight of `use`. Errors: ValueError for lengths that differ;
    KeyError where `first` isn't among the products.

    >>> use = Weighting(use="wet", weights=(("spray", 4.0), ("mass", 1.0)))
    >>> found = find_toppling(use, {"fjell": (75.0, 20.0), "tarn": (50.0, 70.0)}, "fjell")
    >>> found.smallest.measure, found.smallest.was, found.smallest.tips_at
    ('mass', 1.0, 2.0)
    """
    for product, row in worths.items():
        if len(row) != len(use.weights):
            raise ValueError(f"{product}: expected {len(use.weights)} worths, found {len(row)}")
    leader = worths[first]
    others = sorted(product for product in worths if product != first)
    found = [_smallest(use, product, leader, worths[product]) for product in others]
    changes = tuple(sorted((c for c in found if c), key=lambda c: (c.of_all, c.product)))
    return Toppling(use=use.use, first=first, smallest=changes[0] if changes else None, changes=changes)


def _smallest(use: Weighting, product: str, leader: Sequence[float], other: Sequence[float]) -> Change | None:
    gaps = [a - b for a, b in zip(leader, other, strict=True)]
    lead = max(0.0, math.fsum(weight * gap for (_, weight), gap in zip(use.weights, gaps, strict=True)))
    total = math.fsum(weight for _, weight in use.weights)
    lead = 0.0 if lead <= EVEN * total else lead
    changes = []
    for (measure, weight), gap in zip(use.weights, gaps, strict=True):
        if abs(gap) <= EVEN:
            continue
        tips_at = weight - lead / gap
        # Down to nothing is as far as a weight goes: to lead, the other must still gain below `tips_at`.
        if tips_at > EVEN * total or (gap < 0 and tips_at >= 0):
            size = abs(lead / gap) / total
            changes.append(Change(product=product, measure=measure, was=weight, tips_at=tips_at, of_all=size))
    return min(changes, key=lambda c: (c.of_all, c.measure), default=None)
