"""The maker's figure against the finding, by JCGM 106:2012 with guard bands as wide as the uncertainty.

A claim states what is tolerated: an interval about it, or everything from it on. Only a finding that lies
inside by more than its expanded uncertainty confirms it, only one that lies outside by more than that refutes
it; between the two it can't be told. With w = U at 95 % a wrong word in either direction comes up in less
than 1 of 40.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from enum import StrEnum

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import finite, not_negative, positive
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.censored import CensoredSummary, censored_times
from sitegen.findings.statistics.curve import RunTime, summarise_run_times
from sitegen.findings.statistics.quantiles import t_below
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.findings.statistics.rounding import Rounded, round_estimate
from sitegen.findings.statistics.yes_no import ShareSummary

RUN_TIME_SHARE = Decimal(10)  # a maker's run time ends at 10 % of the start: ANSI/PLATO FL 1
WRONG_WORD = 0.025  # at most so often, in either direction
MOST_SCATTER = 0.3  # of the claim; see `judge_censored`


class Bound(StrEnum):
    """How a claim is meant; the values are what an author writes."""

    ABOUT = "about"
    AT_LEAST = "at least"
    AT_MOST = "at most"


class Outcome(StrEnum):
    """What the finding says about the claim."""

    HOLDS = "holds"
    DOES_NOT_HOLD = "does_not_hold"
    CANNOT_BE_TOLD = "cannot_be_told"


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A maker's figure, already in the unit of the finding.

    `tolerance` is absolute in that unit or, when `relative`, in per cent of the value; None when none is
    stated. `bound_given`: the bound is the maker's own word, not taken from which direction is better.
    `last_digit` is what one step of the claim's last written digit is worth in that unit (1.2 kg: 100 g);
    left out, it is taken from the digits of `value`, which is right only if the claim was written in this
    unit.
    Errors: ValueError for anything not finite, a tolerance below zero, a last digit not above zero.
    """

    value: Decimal
    bound: Bound = Bound.ABOUT
    bound_given: bool = True
    tolerance: Decimal | None = None
    relative: bool = False
    last_digit: Decimal | None = None

    def __post_init__(self) -> None:
        finite(self.value, "claim")
        if self.tolerance is not None:
            not_negative(self.tolerance, "tolerance of the claim")
        if self.last_digit is not None:
            positive(self.last_digit, "last digit of the claim")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a claim tolerates, both ends included; None for an open end."""

    low: float | None
    high: float | None
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A claim held against a finding.

    `probability` that the true value conforms, 0..1. `off` = finding - claim with expanded uncertainty
    `off_expanded`, in the unit and in per cent of the claim; `shown` and `shown_percent` have final digits.
    None wherever the finding has no uncertainty or no mean, or the claim is zero (per cent).
    """

    outcome: Outcome
    limits: Limits
    probability: float | None
    off: float | None
    off_expanded: float | None
    off_percent: float | None
    off_percent_expanded: float | None
    shown: Rounded | None
    shown_percent: Rounded | None
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeVerdict:
    """A claimed grade, or yes, held against the specimens (`grade_claims`).

    `share`: of those tested the share that met it, with interval; `may_miss`: the largest share of all the product's
    specimens, 0..1, that may miss it all the same, with 97.5 % confidence.
    """

    outcome: Outcome
    share: ShareSummary
    reasons: tuple[Reason, ...]
    may_miss: float = 1.0


def tolerated(claim: Claim) -> Limits:
    """The interval that the claim stands for.

    A plain figure without a tolerance is taken as precisely as it is written, by half its last digit:
    whoever prints 412 g says neither 411 nor 413 (the rounding rule read backwards, GUM F.2.2.1; the choice
    itself is common practice). A bound that the maker gives without a tolerance is taken at its word.

    >>> tolerated(Claim(value=Decimal("412"), tolerance=Decimal(3), relative=True)).low
    399.64
    >>> limits = tolerated(Claim(value=Decimal("1200"), last_digit=Decimal(100)))
    >>> limits.low, limits.high
    (1150.0, 1250.0)
    """
    reasons: tuple[Reason, ...] = ()
    if claim.tolerance is not None:
        width = abs(claim.value) * claim.tolerance / 100 if claim.relative else claim.tolerance
    elif claim.bound is Bound.ABOUT or not claim.bound_given:
        digit = claim.last_digit or Decimal(1).scaleb(int(claim.value.as_tuple().exponent))
        width, reasons = digit / 2, (Reason.TOLERANCE_FROM_DIGITS,)
    else:
        width, reasons = Decimal(0), (Reason.NO_TOLERANCE_NEEDED,)
    low = float(claim.value - width) if claim.bound is not Bound.AT_MOST else None
    high = float(claim.value + width) if claim.bound is not Bound.AT_LEAST else None
    return Limits(low=low, high=high, reasons=reasons)


def judge_claim(claim: Claim, found: RatioSummary) -> Verdict:
    """Whether the claim holds, how likely, and how far off the finding is.

    Guarded acceptance and guarded rejection with w = U (JCGM 106 8.3.2, 8.3.3). A finding without uncertainty
    decides nothing. Where the tolerance is narrower than the uncertainty no finding could confirm the claim:
    a reason says so.

    >>> from sitegen.findings.statistics.ratio import summarise_ratio
    >>> found = summarise_ratio(tuple(map(Decimal, ("438.0", "438.5", "437.5", "438.0"))), Decimal("0.5"))
    >>> verdict = judge_claim(Claim(value=Decimal(412), tolerance=Decimal(3), relative=True), found)
    >>> str(verdict.outcome), str(verdict.shown.value), str(verdict.shown.uncertainty)
    ('does_not_hold', '26.00', '0.61')
    """
    limits = tolerated(claim)
    if found.expanded is None or found.standard_uncertainty is None or found.dof is None:
        reasons = (*limits.reasons, Reason.NO_UNCERTAINTY)
        return _verdict(claim, limits, Outcome.CANNOT_BE_TOLD, None, found, reasons)
    outcome = decide(found.mean, found.expanded, limits)
    probability = conformance_probability(found.mean, found.standard_uncertainty, limits, found.dof)
    reasons = limits.reasons
    if outcome is Outcome.CANNOT_BE_TOLD:
        reasons += (Reason.INSIDE_GUARD_BAND,)
    if limits.low is not None and limits.high is not None and limits.high - limits.low < 2 * found.expanded:
        reasons += (Reason.TOLERANCE_BELOW_UNCERTAINTY,)
    return _verdict(claim, limits, outcome, probability, found, reasons)


def decide(value: float, guard: float, limits: Limits) -> Outcome:
    """Holds inside the limits drawn in by `guard`, doesn't hold outside them moved out by it (JCGM 106 8.3).

    >>> limits = Limits(low=490.0, high=None, reasons=())
    >>> [str(decide(y, 5.0, limits)) for y in (484.9, 490.0, 495.0)]
    ['does_not_hold', 'cannot_be_told', 'holds']
    """
    low = -math.inf if limits.low is None else limits.low
    high = math.inf if limits.high is None else limits.high
    if low + guard <= value <= high - guard:
        return Outcome.HOLDS
    if value < low - guard or value > high + guard:
        return Outcome.DOES_NOT_HOLD
    return Outcome.CANNOT_BE_TOLD


def conformance_probability(value: float, u: float, limits: Limits, dof: float = math.inf) -> float:
    """The chance that the true value lies within the limits, given the estimate and standard uncertainty.

    Normal for infinite degrees of freedom (JCGM 106 7.2 to 7.4), else the scaled and shifted t distribution
    that JCGM 101 6.4.9 gives to a mean of few readings. u = 0 leaves only yes or no. Errors: ValueError for
    numbers not finite, u below zero.

    >>> round(conformance_probability(-5.47, 0.05, Limits(low=None, high=-5.40, reasons=())), 2)
    0.92
    """
    y, spread = finite(value, "value"), not_negative(u, "standard uncertainty")
    low = -math.inf if limits.low is None else limits.low
    high = math.inf if limits.high is None else limits.high
    if spread == 0:
        return 1.0 if low <= y <= high else 0.0
    above = 1.0 if math.isinf(high) else t_below((high - y) / spread, dof)
    below = 0.0 if math.isinf(low) else t_below((low - y) / spread, dof)
    return max(0.0, above - below)


def refused_claim(reason: Reason) -> Verdict:
    """The verdict on a figure that was made by a method whose results don't convert into the finding's."""
    limits = Limits(low=None, high=None, reasons=())
    return Verdict(outcome=Outcome.CANNOT_BE_TOLD, limits=limits, probability=None, off=None, off_expanded=None, off_percent=None,
                   off_percent_expanded=None, shown=None, shown_percent=None, reasons=(reason,))  # fmt: skip


def _verdict(
    claim: Claim,
    limits: Limits,
    outcome: Outcome,
    probability: float | None,
    found: RatioSummary,
    reasons: tuple[Reason, ...],
) -> Verdict:
    size = abs(float(claim.value))
    off, wide = found.mean - float(claim.value), found.expanded
    percent = 100 * off / size if size else None
    wide_percent = 100 * wide / size if size and wide is not None else None
    known = wide is not None
    return Verdict(
        outcome=outcome,
        limits=limits,
        probability=probability,
        off=off,
        off_expanded=wide,
        off_percent=percent,
        off_percent_expanded=wide_percent,
        shown=round_estimate(off, wide, found.resolution) if known else None,
        shown_percent=round_estimate(percent, wide_percent) if percent is not None and wide_percent else None,
        reasons=reasons if size else (*reasons, Reason.CLAIM_IS_ZERO),
    )


def judge_run_times(claim: Claim, runs: Sequence[RunTime]) -> Verdict:
    """A claimed run time, in the curves' unit of time, against the specimens' curves.

    When every specimen reached the share its times are judged like any other readings; a record that ended first is a
    time above what was recorded. Errors: ValueError when empty.
    """
    summary = summarise_run_times(runs)
    return judge_claim(claim, summary) if summary is not None else judge_censored(claim, censored_times(runs))


def judge_censored(claim: Claim, found: CensoredSummary) -> Verdict:
    """A claim against readings of which some are only known by a bound: there is no mean, so every reading has to agree.

    All of them inside what is tolerated confirm the claim, all outside on one side refute it, where that would come
    about in less than 1 of 40 if the middle of all specimens stood at the limit: six readings for that alone, fewer
    where the nearest of them is farther off than specimens scatter, taken as at most 30 % of the claim (common practice,
    no source). Anything else can't be told.
    """
    limits = tolerated(claim)
    low, high = limits.low, limits.high
    least, most = found.lows[0], found.highs[-1]
    holds = all(
        _far_enough(gap, end, found.n)
        for gap, end in ((least - (low or 0.0), low), ((high or 0.0) - most, high))
        if end is not None
    )
    refuted = (high is not None and _far_enough(least - high, high, found.n)) or (
        low is not None and _far_enough(low - most, low, found.n)
    )
    outcome = Outcome.HOLDS if holds else Outcome.DOES_NOT_HOLD if refuted else Outcome.CANNOT_BE_TOLD
    return Verdict(outcome=outcome, limits=limits, probability=None, off=None, off_expanded=None, off_percent=None,
                   off_percent_expanded=None, shown=None, shown_percent=None,
                   reasons=(*limits.reasons, Reason.BEYOND_A_LIMIT))  # fmt: skip


def _far_enough(gap: float, limit: float, n: int) -> bool:
    """Whether all `n` readings farther beyond `limit` than `gap` come about by chance in less than 1 of 40."""
    if gap < 0:
        return False
    return (1 - t_below(gap / (MOST_SCATTER * abs(limit)), math.inf) if limit else 0.5) ** n <= WRONG_WORD


def not_refused(verdict: Verdict) -> Verdict:
    """The verdict on readings that all stand where the rig ends or carry a note: they refute nothing."""
    if verdict.outcome is not Outcome.DOES_NOT_HOLD:
        return verdict
    return replace(verdict, outcome=Outcome.CANNOT_BE_TOLD, reasons=(*verdict.reasons, Reason.BEYOND_A_LIMIT))
