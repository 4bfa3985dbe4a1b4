"""The rig: handbook chart, the four run rules one by one, and days in and out of order."""

import datetime
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.rig import (
    ControlChart,
    Logged,
    Order,
    RigState,
    Rule,
    Tolerance,
    control_chart,
    find_signals,
    judge_rig,
    judge_run,
    rig_on,
)

HANDBOOK = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
FLOW = Tolerance(check="flow_time", low=25, high=30)
WATER = Tolerance(check="water_temperature", low=18, high=22)
START = datetime.date(2026, 8, 1)
# 20 runs whose mean is 27.5 and whose moving ranges are all 0.2256: sigma is 0.2
STEADY = tuple(27.5 + (0.1128 if index % 2 else -0.1128) for index in range(20))
SIGMA = 0.2


def day(index: int) -> datetime.date:
    """The index-th day of the log."""
    return START + datetime.timedelta(days=index)


def chart(heights: tuple[float, ...]) -> ControlChart:
    """Twenty steady runs, then runs so many sigma above the centre."""
    values = (*STEADY, *(27.5 + SIGMA * height for height in heights))
    return control_chart("flow_time", [day(index) for index in range(len(values))], values)


def state(values: tuple[float, ...], tolerance: Tolerance = FLOW) -> RigState:
    """A log of one check, a run a day."""
    log = [Logged(date=day(index), check=tolerance.check, value=value) for index, value in enumerate(values)]
    return judge_rig(log, [tolerance])


def test_limits_of_the_handbook() -> None:
    """Source: NIST/SEMATECH e-Handbook 6.3.2.2: centre 50.81, mean moving range 1.8778, limits 45.8159,
    55.8041.
    """
    found = control_chart("flow", [day(index) for index in range(10)], HANDBOOK)
    assert found.centre == pytest.approx(50.81) and found.sigma == pytest.approx(1.8778 / 1.128, abs=1e-4)
    assert (found.lower, found.upper) == pytest.approx((45.8159, 55.8041), abs=6e-5)
    assert found.range_upper == pytest.approx(3.267 * 1.8778, abs=1e-3)
    assert sum(found.moving_ranges) / 9 == pytest.approx(1.8778, abs=5e-5)
    assert found.provisional and not [one for one in find_signals(found) if one.rule is Rule.BEYOND_THREE_SIGMA]


@pytest.mark.parametrize("side", [1, -1], ids=["high", "low"])
@pytest.mark.parametrize(
    ("heights", "rule", "run"),
    [
        ((0.5, 3.1), Rule.BEYOND_THREE_SIGMA, 21),
        ((2.1, 0.5, 2.1), Rule.TWO_OF_THREE_BEYOND_TWO_SIGMA, 22),
        ((1.1, 1.1, 0.5, 1.1, 1.1), Rule.FOUR_OF_FIVE_BEYOND_ONE_SIGMA, 24),
        ((-0.6, *(0.9,) * 8), Rule.EIGHT_ON_ONE_SIDE, 28),
    ],
    ids=lambda x: x.value if isinstance(x, Rule) else None,
)
def test_each_run_rule_speaks_when_its_pattern_is_complete(
    heights: tuple[float, ...], rule: Rule, run: int, side: int
) -> None:
    """Source: NIST/SEMATECH e-Handbook 6.3.2, the Western Electric rules; limits settled by 20 earlier
    runs.
    """
    found = find_signals(chart(tuple(side * height for height in heights)))
    assert [(one.rule, one.run, one.high_side) for one in found] == [(rule, run, side > 0)]


@pytest.mark.parametrize(
    "heights",
    [(2.9,), (2.1, 0.5, 0.5, 2.1), (2.1, -2.1), (1.1, 1.1, 0.5, 0.5, 1.1, 1.1), (*(0.9,) * 7, -0.1, 0.9)],
    ids=str,
)
def test_run_rules_keep_silent_short_of_their_pattern(heights: tuple[float, ...]) -> None:
    """Just inside, too far apart, on different sides, one too few: no signal (the eighth would need run 19
    high).
    """
    assert find_signals(chart((-0.1, *heights))) == ()


def test_the_first_twenty_runs_set_the_limits() -> None:
    """Later runs don't move them, and with nineteen they are provisional."""
    assert chart((3.1, 5.0)).upper == chart(()).upper == pytest.approx(27.5 + 3 * SIGMA)
    assert not chart(()).provisional
    assert control_chart("x", [day(i) for i in range(19)], STEADY[:19]).provisional


def test_runs_outside_their_tolerance_never_set_limits() -> None:
    """A flow of 40 s is a fault with a name and widens no limit."""
    with_fault = state((*STEADY[:10], 40.0, *STEADY[10:]))
    assert with_fault.limits[0].baseline == (*range(10), *range(11, 21))
    assert with_fault.limits[0].upper == pytest.approx(chart(()).upper)


def test_runs_are_held_against_tolerances_ends_included() -> None:
    """Source: flow time 25 s to 30 s for the volume (ISO 4920:2012 5.2): 25 and 30 are within, beyond is
    off by so much.
    """
    held = judge_run({"water_temperature": 17.0, "flow_time": 30.0}, [FLOW, WATER])
    assert [(one.check, one.within, one.off_by) for one in held] == [
        ("flow_time", True, 0.0),
        ("water_temperature", False, -1.0),
    ]
    assert judge_run({"flow_time": 99}, [Tolerance(check="flow_time", low=25)])[0].within


def test_a_day_outside_its_tolerance_is_out_of_order_and_says_why() -> None:
    """In order, out with the value that did it, not logged: and one fault doesn't stain the next day."""
    found = state((27.0, 31.5, 27.4))
    assert [one.order for one in found.days] == [Order.IN_ORDER, Order.OUT, Order.IN_ORDER]
    bad = rig_on(found, day(1))
    assert [(one.check, one.value, one.off_by) for one in bad.out_of_tolerance] == [("flow_time", 31.5, 1.5)]
    assert found.out_of_tolerance == ((day(1), bad.out_of_tolerance[0]),)
    missing = rig_on(found, day(9))
    assert (missing.order, missing.missing) == (Order.NOT_LOGGED, ("flow_time",))


def test_beyond_settled_limits_is_out_of_order_though_within_tolerance() -> None:
    """With 20 runs a value beyond three sigma puts the rig out; with fewer it is a signal to look at."""
    settled = rig_on(state((*STEADY, 28.2)), day(20))
    assert settled.order is Order.OUT and settled.out_of_tolerance == ()
    assert [one.rule for one in settled.out_of_control] == [Rule.BEYOND_THREE_SIGMA]
    early = rig_on(state((*STEADY[:12], 29.9)), day(12))
    assert early.order is Order.IN_ORDER and early.out_of_control == ()
    assert Rule.BEYOND_THREE_SIGMA in [one.rule for one in early.signals]


def test_drift_is_a_signal_and_no_verdict() -> None:
    """Eight runs on one side: the day stays in order and carries the signal."""
    found = state((*STEADY, 27.4, *(27.65,) * 8))
    assert found.days[-1].order is Order.IN_ORDER
    assert [one.rule for one in found.days[-1].signals] == [Rule.EIGHT_ON_ONE_SIDE]
    assert found.signals[-1].date == day(28)


def test_checks_that_nobody_logged_are_named() -> None:
    """A day with flow time but no water temperature is in order as far as it was logged."""
    found = judge_rig([Logged(date=START, check="flow_time", value=27)], [FLOW, WATER])
    assert found.days[0].order is Order.IN_ORDER and found.days[0].missing == ("water_temperature",)


@given(st.permutations(range(8)))
def test_the_order_of_the_log_is_irrelevant(order: list[int]) -> None:
    """A log that goes back in time is put in order of days."""
    log = [Logged(date=day(index), check="flow_time", value=26 + index / 4) for index in range(8)]
    assert judge_rig([log[index] for index in order], [FLOW]) == judge_rig(log, [FLOW])


@given(st.sampled_from([0.001, 60.0]), st.sampled_from([0.0, 273.15]))
def test_unit_and_zero_point_move_no_signal(factor: float, shift: float) -> None:
    """Seconds or minutes, Celsius or kelvin: the same runs are out and the same rules speak."""
    values = (*STEADY, 28.2, 31.0, 27.4)
    moved = Tolerance(check="flow_time", low=(25 + shift) * factor, high=(30 + shift) * factor)
    here, there = state(values), state(tuple((value + shift) * factor for value in values), moved)
    assert [one.order for one in there.days] == [one.order for one in here.days]
    assert [(one.rule, one.run) for one in there.signals] == [(one.rule, one.run) for one in here.signals]


@pytest.mark.parametrize("values", [(27.0,), (27.0,) * 25, ()], ids=["one", "all-equal", "none"])
def test_without_variation_there_are_no_limits(values: tuple[float, ...]) -> None:
    """Bad input "all equal", one run, an empty log: no limits, no signals, no fault."""
    found = state(values)
    assert found.signals == () and all(one.sigma is None and one.upper is None for one in found.limits)
    assert len(found.days) == len(values)


@pytest.mark.parametrize("bad", [float("nan"), float("inf")], ids=str)
def test_senseless_logs_are_refused_by_name(bad: float) -> None:
    """Bad input "NaN and infinity": date and check are named; so are unknown checks and tolerances upside
    down.
    """
    with pytest.raises(ValueError, match=r"2026-08-01 flow_time.*finite"):
        judge_rig([Logged(date=START, check="flow_time", value=bad)], [FLOW])
    with pytest.raises(ValueError, match="2026-08-01 angle.*flow_time"):
        judge_rig([Logged(date=START, check="angle", value=45)], [FLOW])
    with pytest.raises(ValueError, match="flow_time.*finite"):
        judge_run({"flow_time": bad}, [FLOW])
    with pytest.raises(ValueError, match="angle"):
        judge_run({"angle": 45}, [FLOW])
    with pytest.raises(ValueError, match="flow_time.*found more"):
        judge_rig([], [FLOW, FLOW])
    with pytest.raises(ValueError, match="flow_time.*30.*25"):
        Tolerance(check="flow_time", low=30, high=25)
    with pytest.raises(ValueError, match="flow_time high"):
        Tolerance(check="flow_time", high=bad)
    with pytest.raises(ValueError, match="as many dates"):
        control_chart("flow_time", [START], [1.0, 2.0])


def test_a_rigs_state_survives_pickling() -> None:
    """Findings travel between processes."""
    found = state((*STEADY, 28.2))
    assert pickle.loads(pickle.dumps(found)) == found
