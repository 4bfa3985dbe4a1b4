"""What washing did to grades: each product's specimens before and after, judged by the scatter of the whole round.

Where the same specimens were graded at both stages each is its own control: its loss is one reading, and the scatter
of losses is pooled over all products as the scatter of grades is (`grade_scatter`; here too other stages help where
there are few). Where they are other pieces, or bear no marks, the two cells are compared as separate ones, each with
the scatter of its stage. A change is real where |mean loss| / standard error passes Student's t at 5 % family-wise
over the products, by the steps of Holm (Scand. J. Statist. 6 (1979) 65). Where a round has too little to pool, the
exact sign test of `stages.grades_lost` stands alone, family-wise in the same way.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.findings.changing.stages import GradeChange, grades_lost
from sitegen.findings.comparison.comparison import LEVEL
from sitegen.findings.comparison.grade_scatter import TRUST_LOSSES, GradeScatter, centre_of_grades, pool_grades
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.family import holm
from sitegen.findings.statistics.quantiles import t_below

Grades = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """One product's grades by specimen at two stages; `marked`: each specimen can be found again at the other."""

    product: str
    before: Grades
    after: Grades
    marked: bool = True

    @property
    def lost(self) -> tuple[Decimal, ...]:
        """What each specimen of both stages lost, in order of their marks; empty where they bear none."""
        both = sorted(self.before.keys() & self.after.keys()) if self.marked else []
        return tuple(self.before[specimen] - self.after[specimen] for specimen in both)


def judge_changes(
    stages: Sequence[Stages],
    *,
    between: Sequence[Sequence[Decimal]] = (),
    step: float = 1.0,
    scatters: tuple[GradeScatter | None, GradeScatter | None] = (None, None),
) -> dict[str, GradeChange]:
    """The change of every product between two stages, with its own p; `family_wise` then says which are real.

    `between`: losses between other stages of the round, a cell a product. `step`: the smallest of the scale.
    `scatters`: of the grades before and after, for specimens that can't be paired. Errors: ValueError for grades that
    aren't finite. Source: the module's text.

    >>> new, worn = ({s: Decimal(g) for s, g in zip("abc", grades)} for grades in ((5, 5, 5), (1, 2, 1)))
    >>> same = [Stages(product=p, before=new, after=new) for p in ("fjell", "tarn", "vik")]
    >>> found = family_wise(judge_changes([*same, Stages(product="myr", before=new, after=worn)]))
    >>> [product for product, change in found.items() if change.real]
    ['myr']
    """
    losses = pool_grades(
        [one.lost for one in stages if one.lost], [cell for cell in between if cell], step, TRUST_LOSSES
    )
    return {one.product: _judged(one, losses, scatters) for one in stages}


def family_wise(changes: Mapping[str, GradeChange], level: float = LEVEL) -> dict[str, GradeChange]:
    """The changes of all products of a protocol with p adjusted for their number, and whether each is real."""
    adjusted = holm({product: change.p for product, change in changes.items() if change.p is not None})
    return {
        product: replace(change, p=adjusted.get(product), real=adjusted.get(product, 1.0) <= level)
        for product, change in changes.items()
    }


def _judged(
    one: Stages, losses: GradeScatter | None, scatters: tuple[GradeScatter | None, GradeScatter | None]
) -> GradeChange:
    change = grades_lost(one.before, one.after)
    if not one.marked:
        change = replace(
            grades_lost({}, {}),
            reasons=(Reason.SPECIMENS_UNMARKED,),
            median_before=change.median_before,
            median_after=change.median_after,
        )
    return replace(change, p=_chance(one, losses, scatters, change), scatter=losses if change.n else None)


def _chance(
    one: Stages,
    losses: GradeScatter | None,
    scatters: tuple[GradeScatter | None, GradeScatter | None],
    change: GradeChange,
) -> float | None:
    """p of no change: by pooled losses, by both stages' scatter, or by signs alone; None where nothing can be said."""
    if one.lost:
        if losses is None:
            return change.p_sign
        centre = centre_of_grades(one.lost, losses)
        return _two_sided(centre.mean / centre.error, centre.dof) if len(one.lost) > 1 else None
    before, after = scatters
    if before is None or after is None or min(len(one.before), len(one.after)) < 2:
        return None
    first, last = (
        centre_of_grades(tuple(one.before.values()), before),
        centre_of_grades(tuple(one.after.values()), after),
    )
    return _two_sided((first.mean - last.mean) / math.hypot(first.error, last.error), min(first.dof, last.dof))


def _two_sided(t: float, dof: float) -> float:
    return 2 * t_below(-abs(t), dof)
