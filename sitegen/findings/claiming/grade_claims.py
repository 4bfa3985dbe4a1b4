"""A claimed grade, or a claimed yes, held against the specimens that were graded.

A claim is made for the product, so it is about the share of all its specimens that meet it:

- It holds where at most a third can miss it, with 97.5 % confidence. Where the round knows how much grades scatter
  that share is read off the normal distribution whose centre lies as low as Student's t allows, at the boundary half
  a step under the claimed grade. Half of the specimens miss a claim whose boundary is their centre, and such a cell
  scatters by half a step at least, so no less is reckoned with. Else, and for yes and no, it is the exact bound of
  Clopper & Pearson (Biometrika 26 (1934) 404). Where both can be had the smaller counts: all of ten that met it say
  enough by themselves.
- It does not hold where so many missed it as would come up in at most 3 of 100 such tests if nine of ten specimens of
  the product met it (binomial).
- Between the two it isn't settled; three at the claimed grade itself, with a scatter of half a grade, leave it open.

The thresholds are ours (common practice, no source); how often they lead astray is counted in
`bench/operating_grades.py`.
"""

import math
from collections.abc import Sequence
from decimal import Decimal

from sitegen.findings.claiming.claims import Bound, GradeVerdict, Outcome
from sitegen.findings.comparison.grade_scatter import GradeScatter, centre_of_grades
from sitegen.findings.photos.door import all_finite, finite, positive
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.quantiles import beta_quantile, t_below, t_quantile
from sitegen.findings.statistics.yes_no import summarise_yes_no

SMALL = 1 / 3  # the share of specimens that may miss a claim that holds
CONFIDENCE = 0.975
MEANT = 0.1  # the share that may miss a claim as makers mean it
RARE = 0.03


def judge_grades(
    claimed: Decimal,
    grades: Sequence[Decimal],
    bound: Bound = Bound.AT_LEAST,
    *,
    scatter: GradeScatter | None = None,
    step: float = 1.0,
) -> GradeVerdict:
    """A claimed grade against the grades of the specimens.

    `scatter`: how much grades scatter in the round, None where that isn't known; `step`: the smallest of the scale.
    Errors: ValueError when empty or not finite. Source: the module's text.

    >>> from sitegen.findings.comparison.grade_scatter import pool_grades
    >>> round_scatter = pool_grades([[5, 5, 4], [4, 4, 4], [3, 3, 2], [5, 5, 5]])
    >>> for grades in ((5, 5, 5), (4, 4, 4), (4, 3, 3)):
    ...     found = judge_grades(Decimal(4), [Decimal(g) for g in grades], scatter=round_scatter)
    ...     print(found.outcome, found.share.yes, round(found.may_miss, 2))
    holds 3 0.08
    cannot_be_told 3 0.71
    does_not_hold 1 0.97
    """
    finite(claimed, "claimed grade")
    positive(step, "step")
    all_finite(grades, "grades")
    too_low = [g < claimed and bound is not Bound.AT_MOST for g in grades]
    too_high = [g > claimed and bound is not Bound.AT_LEAST for g in grades]
    kept = [not low and not high for low, high in zip(too_low, too_high, strict=True)]
    pooled = (
        _pooled_miss(float(claimed), grades, bound, scatter, step) if scatter is not None and len(grades) > 1 else 1.0
    )
    reasons = (
        *((Reason.SOME_BELOW,) if any(too_low) else ()),
        *((Reason.SOME_ABOVE,) if any(too_high) else ()),
    )
    return _verdict(kept, min(pooled, exact_miss(kept)), reasons)


def judge_answers(answers: Sequence[bool], *, claimed: bool = True) -> GradeVerdict:
    """A claimed yes (or no) against the answers of the specimens; ValueError when empty. Source: the module's text.

    >>> judge_answers([True] * 10).outcome.value, judge_answers([True] * 3).outcome.value
    ('holds', 'cannot_be_told')
    """
    kept = [answer is claimed for answer in answers]
    return _verdict(kept, exact_miss(kept), ())


def exact_miss(kept: Sequence[bool]) -> float:
    """The largest share of specimens that may miss it, with 97.5 % confidence, by the exact binomial.

    >>> round(exact_miss([True] * 3), 3), round(exact_miss([True] * 10), 3)
    (0.708, 0.308)
    """
    missed = len(kept) - sum(kept)
    return 1.0 if missed == len(kept) else beta_quantile(CONFIDENCE, missed + 1, len(kept) - missed)


def _verdict(kept: Sequence[bool], may_miss: float, reasons: tuple[Reason, ...]) -> GradeVerdict:
    n, missed = len(kept), len(kept) - sum(kept)
    if missed and _at_least(missed, n, MEANT) <= RARE:
        outcome = Outcome.DOES_NOT_HOLD
    elif may_miss <= SMALL:
        outcome = Outcome.HOLDS
    else:
        outcome, reasons = Outcome.CANNOT_BE_TOLD, (*reasons, Reason.MAY_MISS_MORE)
    return GradeVerdict(outcome=outcome, share=summarise_yes_no(kept), reasons=reasons, may_miss=may_miss)


def _at_least(k: int, n: int, share: float) -> float:
    """The chance of k or more of n."""
    return math.fsum(math.comb(n, i) * share**i * (1 - share) ** (n - i) for i in range(k, n + 1))


def _pooled_miss(claimed: float, grades: Sequence[Decimal], bound: Bound, scatter: GradeScatter, step: float) -> float:
    """The share beyond the claim's boundaries, its centre moved towards each as far as t allows."""
    centre = centre_of_grades(grades, scatter, least=step / 2)
    reach = t_quantile(CONFIDENCE, centre.dof) * centre.error
    missing = 0.0
    if bound is not Bound.AT_MOST:
        missing += t_below((claimed - step / 2 - (centre.mean - reach)) / centre.sd, math.inf)
    if bound is not Bound.AT_LEAST:
        missing += t_below((centre.mean + reach - (claimed + step / 2)) / centre.sd, math.inf)
    return min(1.0, missing)
