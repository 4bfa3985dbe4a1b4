"""What a finding is worth, from 0 to 100, by fixed anchors; and how sure that is.

The anchors say which value is worth nothing and which is worth all a reader could wish. Between them worth
runs straight, beyond them it stays at 0 or 100 and is marked as clipped. Since anchors are fixed and not the
best and worst of the day, a further product changes nobody's worth. (A value function of multi-attribute
value theory: Keeney & Raiffa, Decisions with Multiple Objectives, 1976, ch. 3; from memory.)

What isn't known is never zero: an entrant without a reading may be worth anything from 0 to 100.

Grades get a worth because the author's anchors declare one, at equal steps; no grade that is printed is an average.
How far the middle of all such specimens may lie from that of the few tested follows from the scatter of the whole
round (`grade_scatter`), by Student's t about the centre of the cell, cut off at the ends of the scale. Where a round
has too little to pool it follows from ranks alone: the median of a population lies below the smallest of n specimens with chance 1/2^n, and between
the j-th and the next with chance C(n, j)/2^n (Thompson, Ann. Math. Statist. 7 (1936) 122; as a distribution:
Hill, J. Amer. Statist. Assoc. 63 (1968) 677; both from memory). Nothing about the shape of the distribution
is assumed, which with three specimens nobody could justify. Resampling the three themselves would call three
equal grades certain; this gives them 1 chance in 8 to lie too high and 1 in 8 to lie too low.
"""

import math
from collections.abc import Sequence
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.grade_scatter import GradeScatter, centre_of_grades
from sitegen.findings.found import CurveSummary, Summary
from sitegen.findings.photos.door import Number, all_finite, finite
from sitegen.findings.statistics.censored import CensoredSummary, censored_times
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.findings.statistics.uncertainty import CALIBRATION, effective_dof
from sitegen.findings.statistics.yes_no import ShareSummary

BEST = 100.0


class WorthReason(StrEnum):
    """Why a worth is wide, one-sided or unknown."""

    NOT_MEASURED = "not_measured"  # no reading: anything from 0 to 100
    SPREAD_UNKNOWN = "spread_unknown"  # one reading: its repeatability is left out of the uncertainty
    BEYOND_A_LIMIT = "beyond_a_limit"  # readings known by a bound only, such as a record that ended first
    CLIPPED = "clipped"  # the finding lies beyond an anchor
    MEDIAN_IS_A_PAIR = "median_is_a_pair"  # two middle grades: worth lies between theirs


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The values worth 0 and 100, in the unit of the measure. Errors: ValueError when equal or not finite."""

    worth_0: float
    worth_100: float

    def __post_init__(self) -> None:
        if finite(self.worth_0, "worth_0") == finite(self.worth_100, "worth_100"):
            raise ValueError(f"anchors: expected two different values, found {self.worth_0:g} twice")

    def at(self, value: float) -> float:
        """The worth of `value`, clipped to 0..100.

        >>> Line(worth_0=600, worth_100=250).at(425.0), Line(worth_0=1, worth_100=5).at(6.0)
        (50.0, 100.0)
        """
        return min(BEST, max(0.0, self.straight(value)))

    def at_any(self, value: float) -> float:
        """As `at`, also for an infinite value."""
        return (
            self.at(value) if math.isfinite(value) else BEST if (value > 0) == (self.worth_100 > self.worth_0) else 0.0
        )

    def straight(self, value: float) -> float:
        """The worth of `value` before clipping."""
        low, high = self.worth_0 / 2, self.worth_100 / 2  # halved: the difference of huge ones stays finite
        return (value / 2 - low) / (high - low) * BEST

    def clips(self, value: float) -> bool:
        """Whether `value` lies beyond an anchor."""
        return not min(self.worth_0, self.worth_100) <= value <= max(self.worth_0, self.worth_100)


def line_between(worth_0: Number, worth_100: Number, better: str = "neither") -> Line:
    """The anchors as a line; `better` is the protocol's direction (higher, lower, neither: as the use wants).

    Errors: ValueError for anchors that are equal, not finite, or the wrong way round for `better`.

    >>> line_between(250, 600, "lower")
    Traceback (most recent call last):
    ValueError: anchors: lower is better, so worth_100 must be below worth_0; found 600 and 250
    """
    line = Line(worth_0=finite(worth_0, "worth_0"), worth_100=finite(worth_100, "worth_100"))
    rises = line.worth_100 > line.worth_0
    if better in {"higher", "lower"} and rises != (better == "higher"):
        side = "above" if better == "higher" else "below"
        raise ValueError(
            f"anchors: {better} is better, so worth_100 must be {side} worth_0; "
            f"found {line.worth_100:g} and {line.worth_0:g}"
        )
    return line


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A ratio finding: t with `dof` around `value`, scaled by `own`, plus a normal deviation `shared`.

    `own` and `shared` are standard uncertainties in the unit of the measure. `shared` is the instrument's
    calibration: one and the same error for all entrants, which mustn't make their order less sure.
    JCGM 101 6.4.9.
    """

    value: float
    own: float
    dof: float
    shared: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Grades:
    """A grade finding: grades from the lowest, with the chance that the median of all specimens is there."""

    grades: tuple[float, ...]
    chances: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """A grade finding by the round's scatter: t with `dof` about `centre`, scaled by `own`, cut off at `low` and `high`.

    All in grades; `low` and `high` are the ends of the protocol's scale.
    """

    centre: float
    own: float
    dof: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """A yes/no finding: `yes` of `n`; `whole` is what all of them would be in the unit (1, or 100 for %)."""

    yes: int
    n: int
    whole: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Anywhere:
    """A worth known only to lie from `low` to `high`: any is as likely as any other."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """A worth that lies in one of `spans` (from, to; 0 to 100) with these chances, anywhere within it."""

    spans: tuple[tuple[float, ...], ...]
    chances: tuple[float, ...]


Belief = Spread | Grades | Graded | Passed | Anywhere | Spans


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """One entrant's worth in one measure, 0 to 100.

    `value` is None where it isn't known. `low`, `high`: the worth at the finding's interval (ratio: ± U;
    yes/no: exact interval; grades: the middle pair; unknown: all it may be). `belief`: what is drawn from.
    """

    value: float | None
    low: float
    high: float
    line: Line
    belief: Belief
    reasons: tuple[WorthReason, ...] = ()

    @property
    def middle(self) -> float:
        """The best estimate; where there is none, the middle of what it may be."""
        return self.value if self.value is not None else (self.low + self.high) / 2

    @property
    def clipped(self) -> bool:
        """Whether the finding lies beyond an anchor."""
        return WorthReason.CLIPPED in self.reasons


def worth_of(
    summary: "Summary | None",
    line: Line,
    scale: Sequence[Decimal] = (),
    whole: float = 1.0,
    scatter: GradeScatter | None = None,
) -> Worth:
    """The worth of a finding; None, or a curve without a share to time, may be worth anything.

    `line` in the finding's unit (a curve: its unit of time, for the protocol's first share). `scale`: all
    grades of the protocol, and `scatter`: that of the measure where it is known, for grades. `whole`: see `Passed`.
    Errors: ValueError for grades without a scale.
    """
    if isinstance(summary, RatioSummary):
        return ratio_worth(summary, line)
    if isinstance(summary, CensoredSummary):
        return censored_worth(summary, line)
    if isinstance(summary, GradeSummary):
        return grade_worth(summary, line, scale, scatter)
    if isinstance(summary, ShareSummary):
        return share_worth(summary, line, whole)
    if isinstance(summary, CurveSummary) and summary.times:
        return run_time_worth(summary, line)
    return unknown_worth(line)


def unknown_worth(line: Line) -> Worth:
    """The worth of what wasn't measured: from 0 to 100.

    >>> found = unknown_worth(Line(worth_0=0, worth_100=1))
    >>> found.value, found.low, found.high, found.middle
    (None, 0.0, 100.0, 50.0)
    """
    return _between(0.0, BEST, line, WorthReason.NOT_MEASURED)


def ratio_worth(summary: RatioSummary, line: Line) -> Worth:
    """The worth of a mean with its uncertainty; one reading has none, and a reason says so."""
    own = [part for part in summary.components if part.name != CALIBRATION]
    shared = [part.contribution for part in summary.components if part.name == CALIBRATION]
    belief = Spread(
        value=summary.mean,
        own=math.hypot(*(part.contribution for part in own)),
        dof=effective_dof(own),
        shared=math.hypot(*shared),
    )
    ends = sorted(line.at(summary.mean + sign * (summary.expanded or 0.0)) for sign in (-1, 1))
    unknown = (WorthReason.SPREAD_UNKNOWN,) if summary.standard_uncertainty is None else ()
    clipped = (WorthReason.CLIPPED,) if line.clips(summary.mean) else ()
    return Worth(
        value=line.at(summary.mean),
        low=ends[0],
        high=ends[1],
        line=line,
        belief=belief,
        reasons=(*unknown, *clipped),
    )


def grade_worth(
    summary: GradeSummary, line: Line, scale: Sequence[Decimal], scatter: GradeScatter | None = None
) -> Worth:
    """The worth of a median; of two middle grades, the middle between their worths, and an interval."""
    ends = sorted(line.at(float(grade)) for grade in summary.median)
    pair = (WorthReason.MEDIAN_IS_A_PAIR,) if len(summary.median) == 2 else ()
    clipped = (WorthReason.CLIPPED,) if any(line.clips(float(grade)) for grade in summary.median) else ()
    return Worth(
        value=(ends[0] + ends[-1]) / 2,
        low=ends[0],
        high=ends[-1],
        line=line,
        belief=_grade_belief(summary, scale, scatter),
        reasons=(*pair, *clipped),
    )


def _grade_belief(summary: GradeSummary, scale: Sequence[Decimal], scatter: GradeScatter | None) -> Graded | Grades:
    if scatter is not None:
        centre = centre_of_grades(summary.values, scatter)
        low, high = float(min(scale)), float(max(scale))
        return Graded(centre=centre.mean, own=centre.error, dof=centre.dof, low=low, high=high)
    grades, chances = zip(*median_chances(summary.values, scale), strict=True)
    return Grades(grades=tuple(map(float, grades)), chances=tuple(map(float, chances)))


def median_chances(values: Sequence[Decimal], scale: Sequence[Decimal]) -> tuple[tuple[Decimal, Fraction], ...]:
    """Each grade of `scale` with the chance that the median of all such specimens is this grade.

    By C(n, j)/2^n for the gap between the j-th and the next of the `values` in order (before the first: down
    to the lowest grade, behind the last: up to the highest), shared equally by the grades of the gap.
    Errors: ValueError for no values, no scale, or a value off the scale. Source: the module's text.

    >>> three = median_chances([Decimal(5)] * 3, [Decimal(g) for g in (1, 2, 3, 4, 5)])
    >>> [str(chance) for _, chance in three]
    ['1/40', '1/40', '1/40', '1/40', '9/10']
    """
    all_finite(values, "grades")
    all_finite(scale, "scale")
    steps = sorted(set(scale))
    off = [str(value) for value in values if value not in steps]
    if off:
        raise ValueError(f"grades: expected grades of the scale, found {', '.join(off)}")
    n, ranked = len(values), sorted(values)
    walls = [steps[0], *ranked, steps[-1]]
    chances = dict.fromkeys(steps, Fraction(0))
    for j in range(n + 1):
        inside = [step for step in steps if walls[j] <= step <= walls[j + 1]]
        for step in inside:
            chances[step] += Fraction(math.comb(n, j), 2**n * len(inside))
    return tuple(chances.items())


def share_worth(summary: ShareSummary, line: Line, whole: float = 1.0) -> Worth:
    """The worth of a share of specimens, with its exact interval."""
    ends = sorted(line.at(share * whole) for share in (summary.low, summary.high))
    return Worth(
        value=line.at(summary.share * whole),
        low=ends[0],
        high=ends[1],
        line=line,
        belief=Passed(yes=summary.yes, n=summary.n, whole=whole),
        reasons=(WorthReason.CLIPPED,) if line.clips(summary.share * whole) else (),
    )


def run_time_worth(summary: CurveSummary, line: Line) -> Worth:
    """The worth of the time to the protocol's first share; of a record that ended first, at least that."""
    first = summary.times[0]
    return (
        ratio_worth(first.summary, line)
        if first.summary is not None
        else censored_worth(censored_times(first.runs), line)
    )


def censored_worth(summary: CensoredSummary, line: Line) -> Worth:
    """The worth of readings of which some are only known by a bound.

    How far the median of all such specimens may lie follows from ranks alone, as for grades: between the j-th of n
    readings and the next with chance C(n, j)/2^n, each no surer than its own bounds. One reading tells nothing.
    """
    n = summary.n
    walls = ((-math.inf, *summary.lows), (*summary.highs, math.inf))
    spans = tuple(tuple(sorted(map(line.at_any, pair))) for pair in zip(*walls, strict=True))
    known = float(summary.median) if summary.median is not None else None
    middle = (
        known if known is not None else float(summary.median_above) if summary.median_above is not None else -math.inf,
        known if known is not None else float(summary.median_below) if summary.median_below is not None else math.inf,
    )
    ends = sorted(map(line.at_any, middle))
    once = (WorthReason.SPREAD_UNKNOWN,) if n == 1 else ()
    return Worth(
        value=ends[0] if ends[0] == ends[1] else None,
        low=ends[0],
        high=ends[1],
        line=line,
        belief=Spans(spans=spans, chances=tuple(math.comb(n, j) / 2**n for j in range(n + 1))),
        reasons=(WorthReason.BEYOND_A_LIMIT, *once),
    )


def _between(low: float, high: float, line: Line, reason: WorthReason) -> Worth:
    known = low if low == high else None
    return Worth(value=known, low=low, high=high, line=line, belief=Anywhere(low=low, high=high), reasons=(reason,))
