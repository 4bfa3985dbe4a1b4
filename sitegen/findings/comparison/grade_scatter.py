"""How much the grades of one product scatter, learnt from a whole round, so that three specimens can be judged.

Three grades of one product say next to nothing about their own scatter, but a round of eight products has 24 of
them, given by one eye to one kind of cloth. As GUM 4.2.4 and ISO 5725-2 do for readings, the variances within cells
(a product at a stage) are pooled; as in the moderated variance of Smyth (Stat. Appl. Genet. Mol. Biol. 3 (2004) 3)
each cell's own variance then moves that pooled one,

    v = (d0·s0² + (n - 1)·s²) / (d0 + n - 1)  with d0 + n - 1 degrees of freedom,

so that a product which scatters more than the others is judged by more. Grade numbers serve as scores here, at equal
steps, as they do in the quadratic weights of kappa; the result decides what differs and is never printed as a grade.

The constants are ours, chosen by simulation (`bench/operating_grades.py`; its table is in DEVELOPERS.md):

- d0 is a quarter of the degrees of freedom pooled, at most 4, where pairs of products are compared; at most 6, of
  16, for what washing did, where a cell is held against no loss. More would trust a common scatter that products don't
  share; less would give up what the round knows.
- Scatter belongs to the stage: what is tight when new is wide after washing. Only where a stage has fewer than 16
  degrees of freedom do the other stages help it out, each of theirs counts for a quarter, and they only ever raise
  its scatter: a stage is never judged by the smaller scatter of another.
- No scatter counts as less than 0.45 of a step: whole grades hide what is smaller.
- One cell that visibly scatters more than the others (Cochran's test at 5 %) halves d0, which widens all of them.
"""

import itertools
import math
from collections.abc import Iterable, Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, all_finite, positive

LEAST_DOF = 6.0  # below, a round's grades say too little about their scatter: the exact tests decide alone
ENOUGH_DOF = 16  # of a stage, from which on other stages aren't asked
BORROWED = 0.25  # what a degree of freedom of another stage counts
TRUST_GRADES, TRUST_LOSSES = 4.0, 6.0  # d0 at most: where pairs are compared, and where one cell is held against none
FINEST = 0.45  # of a step of the scale
OBJECTION = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeScatter:
    """The scatter of grades within a cell, pooled over a round.

    `sd` in grades (standard deviation); it counts as `weight` degrees of freedom against a cell's own. It rests on
    `specimens` in `cells` cells, of which `borrowed` are of other stages. `uneven`: one cell visibly scatters more
    than the rest. `floored`: the grades scatter by less than the steps of the scale can show.
    """

    sd: float
    weight: float
    specimens: int
    cells: int
    borrowed: int
    uneven: bool
    floored: bool

    def variance(self, spread: float, n: int) -> tuple[float, float]:
        """Variance (grades²) and degrees of freedom of one grade of a cell of `n` with standard deviation `spread`.

        >>> pooled = GradeScatter(sd=0.5, weight=4.0, specimens=24, cells=8, borrowed=0, uneven=False, floored=False)
        >>> pooled.variance(1.0, 3)
        (0.5, 6.0)
        """
        own = n - 1
        return (self.weight * self.sd**2 + own * spread**2) / (self.weight + own), self.weight + own


def pool_grades(
    cells: Iterable[Sequence[Number]],
    elsewhere: Iterable[Sequence[Number]] = (),
    step: Number = 1,
    trust: float = TRUST_GRADES,
) -> GradeScatter | None:
    """The scatter of grades over the `cells` of a stage, one a product; None where there is too little to pool.

    `elsewhere`: cells of the protocol's other stages. `step`: the smallest step of the scale. `trust`: d0 at most. A cell of one specimen
    has no scatter. Errors: ValueError for grades that aren't finite, a step not above zero. Source: the module's text.

    >>> found = pool_grades([[5, 5, 4], [4, 4, 4], [3, 3, 2], [5, 5, 5]])
    >>> round(found.sd, 3), found.weight, found.cells, found.floored
    (0.45, 2.0, 4, True)
    >>> pool_grades([[5, 5, 5], [1, 2, 1]]) is None
    True
    """
    finest = FINEST * positive(step, "step")
    own = [_spread(cell) for cell in cells if len(cell) > 1]
    other = [_spread(cell) for cell in elsewhere if len(cell) > 1]
    dof, variance = _pooled(own)
    lent, elsewhere_variance = _pooled(other)
    borrowed = min(lent, max(0, ENOUGH_DOF - dof)) * BORROWED
    total = dof + borrowed
    if total < LEAST_DOF or not own:
        return None
    seen = max(variance, (dof * variance + borrowed * elsewhere_variance) / total)
    uneven = _stands_out(own, finest)
    weight = min(trust, trust / ENOUGH_DOF * total)
    used = other if borrowed else []
    return GradeScatter(
        sd=max(math.sqrt(seen), finest),
        weight=weight / 2 if uneven else weight,
        specimens=sum(n for n, _ in (*own, *used)),
        cells=len(own) + len(used),
        borrowed=len(used),
        uneven=uneven,
        floored=seen < finest**2,
    )


def spread_of(grades: Sequence[Number]) -> float:
    """The standard deviation of the grades of a cell, 0.0 for one; a step towards a decision, never printed."""
    known = all_finite(grades, "grades")
    if len(known) < 2:
        return 0.0
    mean = math.fsum(known) / len(known)
    return math.sqrt(math.fsum((grade - mean) ** 2 for grade in known) / (len(known) - 1))


def _spread(cell: Sequence[Number]) -> tuple[int, float]:
    return len(cell), spread_of(cell)


def _pooled(spreads: Sequence[tuple[int, float]]) -> tuple[int, float]:
    """Degrees of freedom and pooled variance of (n, s) pairs: Σνs²/Σν."""
    dof = sum(n - 1 for n, _ in spreads)
    return dof, math.fsum((n - 1) * s * s for n, s in spreads) / dof if dof else 0.0


def _stands_out(spreads: Sequence[tuple[int, float]], finest: float) -> bool:
    """Whether one cell's variance is far above the others': the generalised Cochran test, see `pooling`."""
    from sitegen.findings.statistics.pooling import largest_spread_p

    if len(spreads) < 2:
        return False
    return largest_spread_p([(n - 1, max(s, finest)) for n, s in spreads]) < OBJECTION


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """Where the grades of a cell lie: `mean` with its standard error and degrees of freedom, for deciding only."""

    mean: float
    error: float
    dof: float
    sd: float


def centre_of_grades(grades: Sequence[Number], scatter: GradeScatter, least: float = 0.0) -> Centre:
    """The centre of a cell's grades by the pooled scatter; `least`: a standard deviation that it isn't below.

    Errors: ValueError when empty or not finite.

    >>> pooled = GradeScatter(sd=0.5, weight=4.0, specimens=24, cells=8, borrowed=0, uneven=False, floored=False)
    >>> centre = centre_of_grades([5, 5, 5], pooled)
    >>> centre.mean, round(centre.error, 3), centre.dof
    (5.0, 0.236, 6.0)
    """
    known = all_finite(grades, "grades")
    variance, dof = scatter.variance(spread_of(known), len(known))
    variance = max(variance, least**2)
    n = len(known)
    return Centre(mean=math.fsum(known) / n, error=math.sqrt(variance / n), dof=dof, sd=math.sqrt(variance))


def step_of(scale: Sequence[Number]) -> float:
    """The smallest step between neighbouring grades of a scale; ValueError for fewer than two.

    >>> step_of([0, 1, 2, 3, 4, 5])
    1.0
    """
    ranked = sorted(all_finite(scale, "scale", least=2))
    return min(b - a for a, b in itertools.pairwise(ranked))
