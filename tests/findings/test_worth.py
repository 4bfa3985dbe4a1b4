"""Worth by fixed anchors: lines, clipping, grades, shares, curves, and what isn't known."""

import math
import pickle
from decimal import Decimal
from fractions import Fraction
from itertools import product as every

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.found import CurveSummary, ShareTimes
from sitegen.findings.ranking.worth import (
    Grades,
    Line,
    Passed,
    Spread,
    WorthReason,
    line_between,
    median_chances,
    worth_of,
)
from sitegen.findings.statistics.curve import run_time, summarise_run_times
from sitegen.findings.statistics.ordinal import summarise_grades
from sitegen.findings.statistics.ratio import summarise_ratio
from sitegen.findings.statistics.steps import find_steps
from sitegen.findings.statistics.uncertainty import Certificate
from sitegen.findings.statistics.yes_no import summarise_yes_no

MASS = Line(worth_0=600.0, worth_100=250.0)
SPRAY = Line(worth_0=1.0, worth_100=5.0)
SCALE = tuple(map(Decimal, (1, 2, 3, 4, 5)))


def grams(*values: str, **more: object):  # type: ignore[no-untyped-def]
    """A summary of weighings at 0.5 g."""
    return summarise_ratio(tuple(map(Decimal, values)), Decimal("0.5"), **more)  # type: ignore[arg-type]


def grades(*values: int):  # type: ignore[no-untyped-def]
    """A summary of grades 1 to 5."""
    return summarise_grades(tuple(map(Decimal, values)), SCALE)


def test_worth_runs_straight_between_the_anchors() -> None:
    """By hand: 412 g between 600 g (0) and 250 g (100) are worth 188/350 of 100."""
    assert MASS.at(412) == pytest.approx(100 * 188 / 350)
    assert (MASS.at(600), MASS.at(250), MASS.at(700), MASS.at(200)) == (0, 100, 0, 100)
    assert [SPRAY.at(g) for g in (1, 2, 3, 4, 5)] == [0, 25, 50, 75, 100]
    assert [MASS.clips(v) for v in (600, 250, 600.1, 249.9)] == [False, False, True, True]


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(1e-3, 1e3))
def test_a_unit_changes_no_worth(value: float, zero: float, hundred: float, factor: float) -> None:
    """Value and anchors in another unit have the same worth."""
    if abs(zero - hundred) < 1e-3:
        return
    here = Line(worth_0=zero, worth_100=hundred).at(value)
    there = Line(worth_0=zero * factor, worth_100=hundred * factor).at(value * factor)
    assert there == pytest.approx(here, abs=1e-5)


def test_anchors_that_cannot_hold() -> None:
    """Equal, not finite, or the wrong way round for the protocol's direction: a plain message."""
    with pytest.raises(ValueError, match="anchors: expected two different values, found 5 twice"):
        line_between(5, 5)
    with pytest.raises(ValueError, match="worth_100: expected a finite number, found nan"):
        line_between(5, math.nan)
    with pytest.raises(ValueError, match="higher is better, so worth_100 must be above worth_0; found 1 and 5"):
        line_between(5, 1, "higher")
    with pytest.raises(ValueError, match="lower is better, so worth_100 must be below worth_0"):
        line_between(250, 600, "lower")
    assert line_between(600, 250, "lower") == MASS == line_between(600, 250)


def test_anchors_as_far_apart_as_numbers_go() -> None:
    """The difference of huge anchors doesn't overflow."""
    assert Line(worth_0=-1.5e308, worth_100=1.5e308).at(0.0) == 50


def test_a_mean_carries_its_uncertainty() -> None:
    """± U in grams become ± 100·U/350; the calibration stands apart, since all entrants share it."""
    summary = grams("412.0", "411.5", "412.5", calibration=Certificate(expanded=0.3))
    worth = worth_of(summary, MASS)
    assert summary.expanded is not None
    assert worth.value == pytest.approx(100 * 188 / 350)
    assert worth.high - worth.low == pytest.approx(200 * summary.expanded / 350)
    assert isinstance(worth.belief, Spread)
    assert worth.belief.shared == pytest.approx(0.15)
    own, shared = worth.belief.own, worth.belief.shared
    assert math.hypot(own, shared) == pytest.approx(summary.standard_uncertainty)
    assert worth.reasons == ()


def test_one_reading_says_that_its_spread_is_unknown() -> None:
    """One reading has a worth and a reason, not an invented uncertainty."""
    worth = worth_of(grams("240.0"), MASS)
    assert (worth.value, worth.low, worth.high, worth.clipped) == (100, 100, 100, True)
    assert worth.reasons == (WorthReason.SPREAD_UNKNOWN, WorthReason.CLIPPED)


def test_two_middle_grades_are_an_interval() -> None:
    """3 and 5 in the middle: from 50 to 100, best estimate 75; one middle grade is a point."""
    pair, single = worth_of(grades(3, 5), SPRAY, SCALE), worth_of(grades(3, 4, 5), SPRAY, SCALE)
    assert (pair.low, pair.value, pair.high, pair.reasons) == (50, 75, 100, (WorthReason.MEDIAN_IS_A_PAIR,))
    assert (single.low, single.value, single.high, single.reasons) == (75, 75, 75, ())


def test_the_median_of_three_by_hand() -> None:
    """2, 3, 4 of five grades: gaps 1-2, 2-3, 3-4, 4-5 with chances 1, 3, 3, 1 of 8, halved within each gap."""
    found = dict(median_chances(tuple(map(Decimal, (2, 3, 4))), SCALE))
    assert [found[g] for g in SCALE] == [Fraction(n, 16) for n in (1, 4, 6, 4, 1)]


@given(st.lists(st.integers(2, 8), min_size=1, max_size=7))
def test_the_chances_of_gaps_by_counting(values: list[int]) -> None:
    """Each specimen lies above or below the population's median with chance ½ (Thompson 1936): all 2^n ways
    counted, the median falls outside the range of the specimens in 2 of 2^n; so the chance beyond either end
    is at most 1/2^n, and all chances sum to 1."""
    scale = tuple(map(Decimal, range(1, 10)))
    found = dict(median_chances(tuple(map(Decimal, values)), scale))
    n = len(values)
    below = [sum(sides) for sides in every((0, 1), repeat=n)]  # specimens below the median, way by way
    assert Fraction(below.count(0), 2**n) >= sum(found[g] for g in scale if g < min(values))
    assert Fraction(below.count(n), 2**n) >= sum(found[g] for g in scale if g > max(values))
    assert sum(found.values()) == 1


def test_turning_the_scale_round_turns_the_chances() -> None:
    """Grades counted from the other end have mirrored chances."""
    there = [c for _, c in median_chances(tuple(map(Decimal, (5, 5, 2, 4))), SCALE)]
    back = [c for _, c in median_chances(tuple(map(Decimal, (1, 1, 4, 2))), SCALE)]
    assert there == back[::-1]


def test_grades_off_the_scale() -> None:
    """A grade that the protocol doesn't have is named."""
    with pytest.raises(ValueError, match="expected grades of the scale, found 6"):
        median_chances((Decimal(6),), SCALE)
    with pytest.raises(ValueError, match="scale: expected at least 1"):
        worth_of(grades(3), SPRAY)


def test_a_share_carries_its_exact_interval() -> None:
    """3 of 3 passed: worth 100, down to the exact limit 0.025^(1/3) = 29.2 %."""
    worth = worth_of(summarise_yes_no([True] * 3), Line(worth_0=0, worth_100=1))
    assert (worth.value, worth.high) == (100, 100)
    assert worth.low == pytest.approx(100 * 0.025 ** (1 / 3))
    per_cent = worth_of(summarise_yes_no([True] * 3), Line(worth_0=0, worth_100=100), whole=100)
    assert per_cent.low == pytest.approx(worth.low)
    assert isinstance(per_cent.belief, Passed)


def curve(*last: float) -> CurveSummary:
    """Lamps that fall straight from 100 at 0 min to `last` at 100 min; timed to 10 %."""
    runs = tuple(run_time([0, 99, 100], [100, 100 - 0.99 * (100 - end), end], 0.1) for end in last)
    times = (ShareTimes(share=Decimal(10), runs=runs, summary=summarise_run_times(runs)),)
    return CurveSummary(curves=(), times=times, area=0.0, steps=find_steps([0, 1], [1, 1], Decimal(1)))


def test_a_curve_is_worth_its_time_to_the_first_share() -> None:
    """From 100 to 0 in 100 min: 10 % after 90 min, worth 45 of 200 min."""
    worth = worth_of(curve(0.0), Line(worth_0=0, worth_100=200))
    assert worth.value == pytest.approx(45)
    assert worth.reasons == (WorthReason.SPREAD_UNKNOWN,)


def test_a_record_that_ended_first_is_worth_at_least_that() -> None:
    """Still above 10 % after 100 min: from 50 to 100, unless shorter is better or the anchor is passed."""
    longer, shorter = Line(worth_0=0, worth_100=200), Line(worth_0=200, worth_100=0)
    found = worth_of(curve(20.0), longer)
    assert (found.value, found.low, found.high) == (None, 50, 100)
    assert found.reasons == (WorthReason.BEYOND_A_LIMIT, WorthReason.SPREAD_UNKNOWN)
    assert (worth_of(curve(20.0), shorter).low, worth_of(curve(20.0), shorter).high) == (0, 50)
    passed = worth_of(curve(20.0), Line(worth_0=0, worth_100=90))
    assert (passed.value, passed.low) == (100, 100)


def test_what_was_not_measured_may_be_worth_anything() -> None:
    """No finding, or a curve without a share to time: 0 to 100, and the middle of it where one is needed."""
    no_share = CurveSummary(curves=(), times=(), area=0.0, steps=find_steps([0, 1], [1, 1], Decimal(1)))
    for summary in (None, no_share):
        worth = worth_of(summary, MASS)
        assert (worth.value, worth.low, worth.high, worth.middle) == (None, 0, 100, 50)
        assert worth.reasons == (WorthReason.NOT_MEASURED,)


def test_worths_can_be_kept() -> None:
    """Frozen, hashable and picklable."""
    for worth in (worth_of(grams("412.0", "413.0"), MASS), worth_of(grades(3, 5), SPRAY, SCALE)):
        assert pickle.loads(pickle.dumps(worth)) == worth
        assert hash(worth)
    assert isinstance(worth_of(grades(3), SPRAY, SCALE).belief, Grades)
