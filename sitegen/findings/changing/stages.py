"""What changed between two stages: new, after three washes. Paired by specimen where the same ones were used.

A stage's readings come as a mapping of specimen id to value. The specimens are their own control: that one
piece of cloth started better than another drops out of a paired comparison.
"""

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, all_finite, positive
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.ordinal import median_of
from sitegen.findings.statistics.uncertainty import (
    COVERAGE,
    Component,
    combine_uncertainty,
    mean_and_spread,
    repeatability,
)

if TYPE_CHECKING:
    from sitegen.findings.comparison.grade_scatter import GradeScatter

FAMILY_LEVEL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeChange:
    """Grades lost from one stage to the next, specimen by specimen; negative means gained.

    `median` one value or the two middle ones. `fell`, `rose`, `stayed` count specimens. `p_sign` uses the
    direction alone; `p_signed_rank` also the order of the sizes. `smallest_p`: the least either could be with
    `n` specimens. Without common specimens n is 0, these p are None and a reason says so.

    `p`: family-wise over the round's products, by the `scatter` of all their losses where there is one
    (`grade_changes`); `real`: whether it is below 5 %. `median_before`, `median_after`: of all specimens of a stage.
    """

    n: int
    specimens: tuple[str, ...]
    lost: tuple[Decimal, ...]
    median: tuple[Decimal, ...]
    counts: tuple[tuple[Decimal, int], ...]
    fell: int
    rose: int
    stayed: int
    p_sign: float | None
    p_signed_rank: float | None
    smallest_p: float | None
    reasons: tuple[Reason, ...]
    p: float | None = None
    real: bool = False
    median_before: tuple[Decimal, ...] = ()
    median_after: tuple[Decimal, ...] = ()
    scatter: "GradeScatter | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareKept:
    """After divided by before (1 = all kept) with its interval; None where it can't be known."""

    share: float | None
    low: float | None
    high: float | None
    n_before: int
    n_after: int
    dof: float | None
    paired: bool
    coverage: float
    reasons: tuple[Reason, ...]


def pair_specimens(before: Mapping[str, Decimal], after: Mapping[str, Decimal]) -> tuple[str, ...]:
    """Ids of the specimens read at both stages, sorted; ValueError for a reading that isn't finite.

    >>> pair_specimens({"b": Decimal(4), "a": Decimal(5)}, {"a": Decimal(3), "c": Decimal(3)})
    ('a',)
    """
    for stage, readings in (("before", before), ("after", after)):
        all_finite(list(readings.values()), stage, least=0)
    return tuple(sorted(before.keys() & after.keys()))


def grades_lost(before: Mapping[str, Decimal], after: Mapping[str, Decimal]) -> GradeChange:
    """Grades lost by each specimen that was graded at both stages, and how surely anything was lost at all.

    Grades lost is the trade's way of speaking; the sign test needs no more than which grade is better and is
    the one to quote. The signed-rank test (Wilcoxon, Biometrics Bulletin 1 (1945) 80; unchanged specimens
    left out, as there) also ranks the sizes of the losses, which ordinal grades support less well. Both count
    all 2^n patterns of signs, two-sided, ties included, and nothing is approximated. Specimens at one stage
    only are left out, with a reason.
    Errors: ValueError for grades that aren't finite.

    >>> new = {"1": Decimal(5), "2": Decimal(5), "3": Decimal(4)}
    >>> change = grades_lost(new, {"1": Decimal(3), "2": Decimal(4), "3": Decimal(3)})
    >>> [str(g) for g in change.lost], change.p_sign, change.smallest_p
    (['2', '1', '1'], 0.25, 0.25)
    """
    specimens = pair_specimens(before, after)
    lost = tuple(before[s] - after[s] for s in specimens)
    n = len(lost)
    left_out = (Reason.SPECIMENS_LEFT_OUT,) if n < len(before.keys() | after.keys()) else ()
    none = (Reason.NO_COMMON_SPECIMENS,) if n == 0 else ()
    smallest = min(1.0, 2.0 ** (1 - n)) if n else None
    weak = (Reason.CANNOT_REACH_5_PERCENT,) if smallest is not None and smallest > FAMILY_LEVEL else ()
    return GradeChange(
        n=n,
        specimens=specimens,
        lost=lost,
        median=median_of(lost) if lost else (),
        counts=tuple((size, lost.count(size)) for size in sorted(set(lost))),
        fell=sum(x > 0 for x in lost),
        rose=sum(x < 0 for x in lost),
        stayed=sum(x == 0 for x in lost),
        p_sign=sign_test_p(lost) if n else None,
        p_signed_rank=signed_rank_p(lost) if n else None,
        smallest_p=smallest,
        reasons=(*none, *left_out, *weak),
        median_before=median_of(tuple(before.values())) if before else (),
        median_after=median_of(tuple(after.values())) if after else (),
    )


def sign_test_p(differences: Sequence[Number]) -> float:
    """Two-sided exact sign test of no change; differences of zero are left out, 1.0 when nothing remains.

    Source: Conover, Practical Nonparametric Statistics, section on the sign test.

    >>> sign_test_p([1, 1, 2, 1, 1, 1])
    0.03125
    """
    signs = [x > 0 for x in differences if x != 0]
    n, rarer = len(signs), min(sum(signs), len(signs) - sum(signs))
    tail = sum(math.comb(n, k) for k in range(rarer + 1))
    return min(1.0, 2 * tail / (1 << n))


def signed_rank_p(differences: Sequence[Number]) -> float:
    """Two-sided exact signed-rank test of no change, midranks for ties, differences of zero left out.

    All 2^n sign patterns are counted, by adding one specimen at a time, so forty are as exact as four.

    >>> signed_rank_p([1, 2, 3, 4, 5])
    0.0625
    """
    moved = [x for x in differences if x != 0]
    ranks = _doubled_midranks([abs(Fraction(x)) for x in moved])
    patterns = {0: 1}  # sum of the positive ranks -> in how many patterns
    for rank in ranks:
        joined = dict(patterns)
        for total, ways in patterns.items():
            joined[total + rank] = joined.get(total + rank, 0) + ways
        patterns = joined
    observed = sum(rank for rank, x in zip(ranks, moved, strict=True) if x > 0)
    middle = sum(ranks)  # compared doubled once more: 2·total against the sum
    as_far = sum(ways for total, ways in patterns.items() if abs(2 * total - middle) >= abs(2 * observed - middle))
    return as_far / (1 << len(moved))


def _doubled_midranks(sizes: Sequence[Fraction]) -> list[int]:
    """Twice the midrank of each, a whole number: those below count 2, the equal ones 1 and itself 1 more."""
    return [2 * sum(o < s for o in sizes) + sum(o == s for o in sizes) + 1 for s in sizes]


def share_kept(
    before: Mapping[str, Decimal],
    after: Mapping[str, Decimal],
    resolution: Number,
    paired: bool = True,
    coverage: float = COVERAGE,
) -> ShareKept:
    """The share of a ratio quantity that was kept, with a t interval on the logarithm.

    `before`, `after`: values above zero in one unit, `resolution` in the same. `paired`: the same specimens
    at both stages; otherwise two separate sets with Welch-Satterthwaite. The share is that of geometric
    means. Logarithms because a share is a factor: its interval never falls below zero and reads the same
    either way round. The interval of Fieller (J. R. Stat. Soc. B 16 (1954) 175) for the ratio of arithmetic
    means can come out unbounded. The resolution counts as δ/√12 at each stage; a scale error of the
    instrument cancels and is left out.
    Errors: ValueError for values that aren't finite or not above zero.

    >>> new = {"1": Decimal(100), "2": Decimal(110), "3": Decimal(120)}
    >>> kept = share_kept(new, {"1": Decimal(90), "2": Decimal(100), "3": Decimal(107)}, 1)
    >>> round(kept.share, 3), round(kept.low, 3), round(kept.high, 3)
    (0.9, 0.883, 0.917)
    """
    names = pair_specimens(before, after)
    earlier = [positive(before[s], f"before[{s}]") for s in (names if paired else sorted(before))]
    later = [positive(after[s], f"after[{s}]") for s in (names if paired else sorted(after))]
    left_out = paired and len(names) < len(before.keys() | after.keys())
    reasons = (Reason.SPECIMENS_LEFT_OUT,) if left_out else ()
    if not earlier or not later:
        missing = Reason.NO_COMMON_SPECIMENS if paired else Reason.TOO_FEW_SPECIMENS
        return _share(None, None, earlier, later, paired, coverage, (missing, *reasons))
    log_share = math.fsum(map(math.log, later)) / len(later) - math.fsum(map(math.log, earlier)) / len(earlier)
    if min(len(earlier), len(later)) < 2:
        return _share(log_share, None, earlier, later, paired, coverage, (Reason.TOO_FEW_SPECIMENS, *reasons))
    parts = _log_spread(earlier, later, paired) + _log_resolution(earlier, later, resolution)
    return _share(log_share, parts, earlier, later, paired, coverage, reasons)


def no_share(before: Mapping[str, Decimal], after: Mapping[str, Decimal], reason: Reason) -> ShareKept:
    """The change of a quantity that can't be put as a share, with the reason."""
    return ShareKept(share=None, low=None, high=None, n_before=len(before), n_after=len(after), dof=None, paired=False,
                     coverage=COVERAGE, reasons=(reason,))  # fmt: skip


def _log_spread(earlier: Sequence[float], later: Sequence[float], paired: bool) -> list[Component]:
    if paired:
        sets = [[math.log(b / a) for a, b in zip(earlier, later, strict=True)]]
    else:
        sets = [[math.log(a) for a in earlier], [math.log(b) for b in later]]
    return [repeatability(mean_and_spread(logs)[1] or 0.0, len(logs)) for logs in sets]


def _log_resolution(earlier: Sequence[float], later: Sequence[float], resolution: Number) -> list[Component]:
    step = positive(resolution, "resolution") / math.sqrt(12)
    typical = [math.exp(math.fsum(map(math.log, xs)) / len(xs)) for xs in (earlier, later)]
    return [Component(name="resolution", standard_uncertainty=step / t) for t in typical]


def _share(
    log_share: float | None,
    parts: list[Component] | None,
    earlier: Sequence[float],
    later: Sequence[float],
    paired: bool,
    coverage: float,
    reasons: tuple[Reason, ...],
) -> ShareKept:
    joined = combine_uncertainty(parts, coverage=coverage) if parts else None
    known = log_share is not None and joined is not None
    return ShareKept(
        share=math.exp(log_share) if log_share is not None else None,
        low=math.exp(log_share - joined.expanded) if known and joined and log_share is not None else None,
        high=math.exp(log_share + joined.expanded) if known and joined and log_share is not None else None,
        n_before=len(earlier),
        n_after=len(later),
        dof=joined.dof if joined else None,
        paired=paired,
        coverage=coverage,
        reasons=reasons,
    )
