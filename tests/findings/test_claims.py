"""Claims against findings by JCGM 106, and figures that may not be compared.

The examples of JCGM 106 are quoted from memory and recomputed.
"""

import itertools
import pickle
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.claiming.claims import (
    Bound,
    Claim,
    Limits,
    Outcome,
    conformance_probability,
    decide,
    judge_claim,
    judge_run_times,
    tolerated,
)
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.convertible import METHODS, convertible
from sitegen.findings.statistics.curve import RunTime, run_time
from sitegen.findings.statistics.ratio import RatioSummary, summarise_ratio


def limits(low: float | None = None, high: float | None = None) -> Limits:
    """Limits without reasons."""
    return Limits(low=low, high=high, reasons=())


def found(*values: object, resolution: str = "0.5") -> RatioSummary:
    """A finding from readings."""
    return summarise_ratio(tuple(Decimal(str(v)) for v in values), Decimal(resolution))


def claim(value: object, bound: Bound = Bound.ABOUT, tolerance: object = None, **more: object) -> Claim:
    """A claim with numbers as text or plain."""
    wide = None if tolerance is None else Decimal(str(tolerance))
    return Claim(value=Decimal(str(value)), bound=bound, tolerance=wide, **more)  # type: ignore[arg-type]


def test_breakdown_voltage_conforms_with_92_per_cent() -> None:
    """TU = -5.40 V, y = -5.47 V, u = 0.05 V: pc = 0.92. Source: JCGM 106:2012 7.3.3 example 1."""
    assert round(conformance_probability(-5.47, 0.05, limits(high=-5.40)), 2) == 0.92


def test_burst_pressure_conforms_with_99_per_cent() -> None:
    """TL = 490 kPa, y = 509.7 kPa, u = 8.6 kPa: pc = 0.99. Source: JCGM 106:2012 7.3.3 example 2."""
    assert round(conformance_probability(509.7, 8.6, limits(low=490)), 3) == 0.989


def test_speed_is_acted_on_from_107() -> None:
    """Limit 100 km/h, u/v = 2 %, 99.9 % sure: from 106.6, printed 107. Source: JCGM 106:2012 8.3.3
    example."""
    sure = next(v for v in itertools.count(100) if 1 - conformance_probability(v, 0.02 * v, limits(high=100)) > 0.999)
    assert sure == 107
    assert 1 - conformance_probability(106.59, 2.1318, limits(high=100)) == pytest.approx(0.999, abs=1e-4)


def test_probability_within_two_limits_and_few_degrees_of_freedom() -> None:
    """Two-sided: a difference of distribution functions (JCGM 106 7.4); t for few readings, by
    scipy.stats.t."""
    assert conformance_probability(1, 1, limits(0, 2)) == pytest.approx(stats.norm.cdf(1) - stats.norm.cdf(-1))
    assert conformance_probability(1, 1, limits(0, 2), 4.2) == pytest.approx(stats.t.cdf(1, 4.2) - stats.t.cdf(-1, 4.2))
    assert conformance_probability(3, 0, limits(0, 2)) == 0.0
    assert conformance_probability(2, 0, limits(0, 2)) == 1.0


def test_guard_band_keeps_false_words_below_one_in_forty() -> None:
    """With w = U = 1.96 u a product exactly at the limit is passed in 2.5 %. Source: ILAC-G8:09/2019 table;
    sampled."""
    draws = np.random.default_rng(5).normal(490, 8.6, 20_000)
    passed = sum(decide(float(y), 1.96 * 8.6, limits(low=490)) is Outcome.HOLDS for y in draws)
    assert passed / 20_000 == pytest.approx(0.025, abs=0.004)


@given(st.integers(0, 100), st.integers(0, 30), st.integers(1, 40))
def test_three_outcomes_divide_the_line(y: int, guard: int, width: int) -> None:
    """Holding implies lying within, not holding implies lying outside, and no guard leaves nothing open."""
    within = limits(50 - width, 50 + width)
    outcome = decide(y, guard, within)
    inside = 50 - width <= y <= 50 + width
    assert outcome is not Outcome.HOLDS or inside
    assert outcome is not Outcome.DOES_NOT_HOLD or not inside
    assert decide(y, 0, within) is (Outcome.HOLDS if inside else Outcome.DOES_NOT_HOLD)


@given(st.integers(0, 100), st.integers(0, 30), st.integers(1, 40))
def test_a_mirror_turns_at_least_into_at_most(y: int, guard: int, limit: int) -> None:
    """Turning all signs exchanges the two bounds."""
    assert decide(y, guard, limits(low=limit)) is decide(-y, guard, limits(high=-limit))


def test_mass_claim_with_tolerance() -> None:
    """412 g ± 3 % is 399.64 to 424.36 g; 408 g holds, 438 g doesn't, 424 g can't be told. By hand."""
    stated = claim(412, tolerance=3, relative=True)
    assert (tolerated(stated).low, tolerated(stated).high) == pytest.approx((399.64, 424.36))
    assert judge_claim(stated, found(408, "408.5", 408)).outcome is Outcome.HOLDS
    assert judge_claim(stated, found(438, "438.5", 438)).outcome is Outcome.DOES_NOT_HOLD
    close = judge_claim(stated, found(424, "424.5", 424))
    assert (close.outcome, close.reasons) == (Outcome.CANNOT_BE_TOLD, (Reason.INSIDE_GUARD_BAND,))
    assert close.probability is not None
    assert 0.5 < close.probability < 1


def test_how_far_off_has_the_findings_uncertainty() -> None:
    """438 - 412 = 26 g, U as found; in per cent of the claim both are divided by 4.12."""
    finding = found("438.0", "438.5", "437.5", "438.0")
    assert finding.expanded is not None
    verdict = judge_claim(claim(412), finding)
    assert verdict.off == pytest.approx(26)
    assert verdict.off_expanded == finding.expanded
    assert (verdict.off_percent, verdict.off_percent_expanded) == pytest.approx((26 / 4.12, finding.expanded / 4.12))
    assert verdict.shown is not None
    assert verdict.shown_percent is not None
    assert (str(verdict.shown.value), str(verdict.shown_percent.value)) == ("26.00", "6.31")


def test_about_without_tolerance_is_taken_as_written() -> None:
    """412 g: half a gram; 412.0 g: a twentieth; 1.2 kg in grams: fifty, by its last written digit."""
    for text, digit, half in (("412", None, 0.5), ("412.0", None, 0.05), ("1200", Decimal(100), 50)):
        within = tolerated(claim(text, last_digit=digit))
        assert ((within.high or 0) - (within.low or 0)) / 2 == pytest.approx(half)
        assert within.reasons == (Reason.TOLERANCE_FROM_DIGITS,)


def test_a_tolerance_narrower_than_the_uncertainty_is_said() -> None:
    """± 0.05 g can't be confirmed with U = 0.3 g, however good the product."""
    verdict = judge_claim(claim("412.0"), found(412, 412, 412))
    assert verdict.outcome is Outcome.CANNOT_BE_TOLD
    assert Reason.TOLERANCE_BELOW_UNCERTAINTY in verdict.reasons


def test_bounds_are_open_on_one_side() -> None:
    """At least 10000 mm: more is fine; at most 500 g: less is fine; no tolerance is added."""
    assert judge_claim(claim(10000, Bound.AT_LEAST), found(12000, 13000, 12500, resolution="10")).outcome is (
        Outcome.HOLDS
    )
    assert judge_claim(claim(500, Bound.AT_MOST), found(498, "498.5")).outcome is Outcome.CANNOT_BE_TOLD
    assert tolerated(claim(500, Bound.AT_MOST)) == Limits(low=None, high=500.0, reasons=(Reason.NO_TOLERANCE_NEEDED,))
    assert tolerated(claim(500, Bound.AT_LEAST, 10)).low == 490.0


@given(
    st.lists(st.integers(100, 900), min_size=2, max_size=5),
    st.integers(100, 900),
    st.integers(1, 50),
    st.sampled_from(Bound),
    st.integers(-3, 3),
)
def test_another_unit_changes_no_verdict(values: list[int], stated: int, wide: int, bound: Bound, power: int) -> None:
    """Grams or kilograms: outcome, probability and per cent stay, the difference scales."""
    unit = Decimal(10) ** power
    plain = judge_claim(
        Claim(value=Decimal(stated), bound=bound, tolerance=Decimal(wide)), found(*values, resolution="1")
    )
    scaled = judge_claim(
        Claim(value=stated * unit, bound=bound, tolerance=wide * unit),
        found(*[v * unit for v in values], resolution=str(unit)),
    )
    assert scaled.outcome is plain.outcome
    assert scaled.probability == pytest.approx(plain.probability)
    assert scaled.off_percent == pytest.approx(plain.off_percent)


def test_one_reading_decides_nothing() -> None:
    """Without uncertainty: can't be told, the difference stands alone, a reason."""
    verdict = judge_claim(claim(412, tolerance=5), found(500))
    assert (verdict.outcome, verdict.probability, verdict.shown) == (Outcome.CANNOT_BE_TOLD, None, None)
    assert (verdict.off, verdict.off_expanded) == (88.0, None)
    assert verdict.reasons == (Reason.NO_UNCERTAINTY,)


def test_a_claim_of_zero_has_no_per_cent() -> None:
    """Nothing leaks: the difference is given, a share of nothing isn't."""
    verdict = judge_claim(claim(0, Bound.AT_MOST, 1), found(5, 6))
    assert (verdict.off_percent, verdict.shown_percent) == (None, None)
    assert Reason.CLAIM_IS_ZERO in verdict.reasons


def lamp(minutes: float, last: float = 400) -> RunTime:
    """A lamp that falls to nothing around `minutes`, recorded every minute until `last`."""
    times = np.arange(0, last + 1).tolist()
    return run_time(times, [300.0 if t < minutes else 3.0 for t in times], 0.1)


def test_run_times_are_judged_like_other_readings() -> None:
    """Three lamps at 200, 203, 201 min against "about 240 min ± 10": doesn't hold."""
    verdict = judge_run_times(claim(240, tolerance=10), [lamp(200), lamp(203), lamp(201)])
    assert verdict.outcome is Outcome.DOES_NOT_HOLD
    assert verdict.off == pytest.approx(200.9 + 1 / 3 + 0.1 - 240, abs=1)


@pytest.mark.parametrize(
    ("stated", "outcome"),
    [
        (claim(240, Bound.AT_LEAST), Outcome.HOLDS),
        (claim(390, Bound.AT_LEAST), Outcome.CANNOT_BE_TOLD),  # three so close come about by chance
        (claim(500, Bound.AT_LEAST), Outcome.CANNOT_BE_TOLD),
        (claim(240, Bound.AT_MOST), Outcome.DOES_NOT_HOLD),
        (claim(240, tolerance=10), Outcome.DOES_NOT_HOLD),
        (claim(500, tolerance=10), Outcome.CANNOT_BE_TOLD),
    ],
)
def test_records_that_ended_first_decide_by_their_length(stated: Claim, outcome: Outcome) -> None:
    """All three still shone after 400 min: enough for some claims, and no mean is made up."""
    verdict = judge_run_times(stated, [lamp(1000)] * 3)
    assert (verdict.outcome, verdict.off, verdict.probability) == (outcome, None, None)
    assert Reason.BEYOND_A_LIMIT in verdict.reasons


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "-Infinity"])
def test_no_number_is_no_claim(bad: str) -> None:
    """NaN and infinity are refused by name, and so are tolerances below zero and digits of zero."""
    with pytest.raises(ValueError, match="claim: expected a finite number"):
        claim(bad)
    with pytest.raises(ValueError, match="tolerance of the claim"):
        claim(1, tolerance=bad)
    with pytest.raises(ValueError, match="value"):
        conformance_probability(float(bad), 1, limits(0))


def test_impossible_tolerances_are_refused_and_verdicts_can_be_pickled() -> None:
    """A tolerance below zero and a last digit of zero are no claims; a verdict survives another process."""
    with pytest.raises(ValueError, match="tolerance"):
        claim(1, tolerance=-1)
    with pytest.raises(ValueError, match="last digit"):
        claim(1, last_digit=Decimal(0))
    verdict = judge_claim(claim(412), found(412, 413))
    assert pickle.loads(pickle.dumps(verdict)) == verdict


@pytest.mark.parametrize(
    ("a", "b", "allowed", "reason"),
    [
        ("iso_11092_ret", "jis_l1099_b1", False, Reason.OTHER_VAPOUR_METHOD),
        ("iso_11092_ret", "astm_e96_b", False, Reason.OTHER_VAPOUR_METHOD),
        ("jis_l1099_b1", "jis_l1099_b2", False, Reason.OTHER_VAPOUR_METHOD),
        ("iso_9237_100pa", "astm_d737_125pa", False, Reason.OTHER_PRESSURE),
        ("iso_811_10cm", "iso_811_60cm", False, Reason.OTHER_RATE),
        ("fl1_run_time", "run_time_50", False, Reason.OTHER_SHARE),
        ("iso_11092_ret", "iso_9237_100pa", False, Reason.OTHER_MEASURAND),
        ("iso_11092_ret", "iso_11092_rct", False, Reason.OTHER_MEASURAND),
        ("iso_4920", "aatcc_tm22", True, Reason.SAME_SCALE),
        ("iso_11092_ret", "iso_11092_ret", True, Reason.SAME_METHOD),
        ("iso_11092_ret", "no_such_method", False, Reason.UNKNOWN_METHOD),
    ],
)
def test_methods_that_do_not_convert_are_refused(a: str, b: str, allowed: bool, reason: Reason) -> None:
    """Ret and cup figures, 100 and 125 Pa, slow and fast head: a unit converts, a method doesn't. ASTM E96 5,
    ISO 9237."""
    assert (convertible(a, b).allowed, convertible(a, b).reason) == (allowed, reason)


def test_comparability_is_mutual_and_only_charts_link_methods() -> None:
    """Order plays no part; of all pairs of different methods one alone is allowed; every row names its
    source."""
    pairs = list(itertools.combinations(METHODS, 2))
    assert all(convertible(a, b) == convertible(b, a) for a, b in pairs)
    assert [pair for pair in pairs if convertible(*pair).allowed] == [("iso_4920", "aatcc_tm22")]
    assert all(method.source for method in METHODS.values())
    assert all(method.condition for method in METHODS.values())
