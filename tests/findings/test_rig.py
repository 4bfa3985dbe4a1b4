"""The rig: handbook chart, hints, false alarms by simulation, and days in and out of order."""

import datetime
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench import rig_alarms
from sitegen.findings.rigs.rig import (
    ControlChart,
    Logged,
    Order,
    RigState,
    Tolerance,
    control_chart,
    find_hints,
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
    assert found.provisional and find_hints(found) == ()


@pytest.mark.parametrize("side", [1, -1], ids=["high", "low"])
@pytest.mark.parametrize(
    ("heights", "runs"),
    [
        ((2.9, -2.9), ()),
        ((0.5, 3.1), (21,)),
        ((3.1, 4.0, 3.5, 2.0, 3.2), (20,)),  # one excursion, since nothing came back within one sigma
        ((3.1, 0.9, 3.1), (20, 22)),
        ((*(0.9,) * 8, 2.1, 0.5, 2.1), ()),  # the further run rules aren't used
    ],
    ids=str,
)
def test_an_excursion_beyond_three_sigma_is_one_hint(
    heights: tuple[float, ...], runs: tuple[int, ...], side: int
) -> None:
    """Limits settled by 20 earlier runs: the first run outside is the hint, the next comes after a return."""
    found = find_hints(chart(tuple(side * height for height in heights)))
    assert [(one.run, one.high_side) for one in found] == [(run, side > 0) for run in runs]


def test_one_step_of_the_last_digit_is_no_hint() -> None:
    """Source of the harm: where nearly all runs read 250 ml, moving ranges are near zero, and 251 looked far out."""
    log = [Logged(date=day(i), check="volume", value=251 if i == 30 else 250) for i in range(40)]
    log[3] = Logged(date=day(3), check="volume", value=251)
    coarse = judge_rig(log, [Tolerance(check="volume", low=248, high=252, step=1)])
    assert coarse.hints == () and coarse.limits[0].sigma == 0.5
    far = [*log, Logged(date=day(41), check="volume", value=252)]
    assert [h.run for h in judge_rig(far, [Tolerance(check="volume", step=1)]).hints] == [40]


def test_what_the_weather_decides_has_limits_and_no_chart() -> None:
    """Room air: a day outside its limits is out of order, and nothing else is said."""
    air = Tolerance(check="room_humidity", low=45, high=65, ambient=True)
    found = state((*(50.0, 51.0) * 15, 64.0, 66.0), air)
    assert found.limits == () and found.hints == ()
    assert [one.date for one in found.days if one.order is Order.OUT] == [day(31)]


@pytest.mark.parametrize("kind", ["steps", "humidity", "drift"])
def test_false_alarms_are_few(kind: str) -> None:
    """By simulation, seeded: a rig in order gives at most two hints in 100 days, and is never out of order."""
    hints, out = rig_alarms.alarms(kind, logs=60, seed=7)
    assert hints <= 2 and out == 0


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


def test_only_the_tolerance_puts_a_day_out_of_order() -> None:
    """Far beyond the settled limits of the chart, within the tolerance: in order, with a hint to look."""
    found = rig_on(state((*STEADY, 28.5)), day(20))
    assert found.order is Order.IN_ORDER and found.out_of_tolerance == ()
    assert [(one.check, one.run, one.high_side) for one in found.hints] == [("flow_time", 20, True)]


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
def test_unit_and_zero_point_move_no_hint(factor: float, shift: float) -> None:
    """Seconds or minutes, Celsius or kelvin: the same runs are out, and the same are hints."""
    values = (*STEADY, 28.2, 31.0, 27.4)
    moved = Tolerance(check="flow_time", low=(25 + shift) * factor, high=(30 + shift) * factor)
    here, there = state(values), state(tuple((value + shift) * factor for value in values), moved)
    assert [one.order for one in there.days] == [one.order for one in here.days]
    assert [one.run for one in there.hints] == [one.run for one in here.hints]


@pytest.mark.parametrize("values", [(27.0,), (27.0,) * 25, ()], ids=["one", "all-equal", "none"])
def test_without_variation_there_are_no_limits(values: tuple[float, ...]) -> None:
    """Bad input "all equal", one run, an empty log: no limits, no hints, no fault."""
    found = state(values)
    assert found.hints == () and all(one.sigma is None and one.upper is None for one in found.limits)
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
