"""Curves: when they reach a share of their start, and the area below them."""

import math
import pickle
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from sitegen.findings.found import Curve
from sitegen.findings.measured import curves_of
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.curve import (
    RunTime,
    TimeGoesBack,
    area_under,
    crossings,
    run_time,
    summarise_run_times,
)
from sitegen.place import Place
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import Along
from sitegen.records.measured.readings import Reading

PLACE = Place("run_time.csv", 1, 1)


@st.composite
def curves(draw: st.DrawFn, least: int = 2) -> tuple[list[float], list[float]]:
    """Increasing times and values above zero."""
    gaps = draw(st.lists(st.integers(1, 50), min_size=least, max_size=12))
    times = np.cumsum(gaps).astype(float).tolist()
    values = draw(st.lists(st.integers(1, 1000).map(float), min_size=len(times), max_size=len(times)))
    return times, values


def readings(unit: str, *points: tuple[str, str]) -> tuple[Curve, ...]:
    """The curves of one lamp, whose points are (time, value) as written."""
    along = Along(unit=unit, name=Words((("en", "time"),)), place=PLACE)
    taken = [
        Reading(
            product="lamp",
            protocol="run_time",
            specimen="1",
            value=Decimal(value),
            along=Decimal(time),
            place=PLACE,
        )
        for time, value in points
    ]
    return curves_of(along, taken)


def test_lamp_is_timed_from_thirty_seconds() -> None:
    """Start value at 30 s, 10 % of it, counted from 30 s. Source: ANSI/PLATO FL 1, run time.

    400 lm at once, 300 lm at 0.5 min: the threshold is 30 lm, not 40, and time zero of the curve, which the chart
    draws, is at 0.5 min.
    """
    (curve,) = readings("min", ("0", "400"), ("0.5", "300"), ("60", "200"), ("120", "40"), ("180", "20"))
    assert (curve.times, curve.values) == ((0.0, 59.5, 119.5, 179.5), (300.0, 200.0, 40.0, 20.0))
    found = run_time(curve.times, curve.values, 0.1)
    assert found.threshold == pytest.approx(30.0)
    assert found.time == pytest.approx(150 - 0.5)
    assert found.reasons == (Reason.NOT_CONFIRMED,)  # the last point alone is below


def test_without_a_point_at_thirty_seconds_the_first_one_starts() -> None:
    """No value is invented between 0 and 1 min; and what isn't measured over time has no such moment."""
    (curve,) = readings("min", ("0", "100"), ("1", "80"), ("2", "9"))
    assert (curve.times, curve.values) == ((0.0, 1.0, 2.0), (100.0, 80.0, 9.0))
    (late,) = readings("min", ("2", "100"), ("3", "80"))
    assert late.times == (0.0, 1.0)
    (beam,) = readings("m", ("0.5", "100"), ("30", "80"))
    assert beam.times == (0.0, 29.5)


def test_thirty_seconds_in_hours_is_found_despite_rounding() -> None:
    """0.5/60 h written with nine digits is still the moment of 30 s."""
    assert readings("h", ("0", "100"), ("0.008333333", "50"), ("1", "4"))[0].values == (50.0, 4.0)


def test_a_curve_that_ends_above_says_longer_than() -> None:
    """The record stops 239.5 min after the start with light left: longer than that, and no time."""
    found = run_time([0, 239.5], [380, 300], 0.1)
    assert (found.time, found.longer_than) == (None, 239.5)
    assert found.reasons == (Reason.ENDS_ABOVE,)


def test_one_low_point_between_high_ones_is_a_dip() -> None:
    """A single dip doesn't end the run; it is reported. Common practice, no source."""
    found = run_time([0, 1, 2, 3, 4, 5], [100, 5, 90, 80, 5, 4], 0.1)
    assert found.time == pytest.approx(3 + 70 / 75)
    assert found.reasons == (Reason.DIPPED_BEFORE,)


def test_two_low_points_end_the_run_even_if_the_lamp_wakes_again() -> None:
    """The first lasting fall decides, and the later one is told as well."""
    found = run_time([0, 1, 2, 3, 4, 5, 6], [100, 5, 5, 90, 80, 5, 4], 0.1)
    assert found.time == pytest.approx(90 / 95)
    assert found.last_time == pytest.approx(4 + 70 / 75)
    assert found.reasons == (Reason.ROSE_AGAIN,)


def test_only_dips_and_a_high_end_is_longer_than() -> None:
    """Dips alone never make a run time."""
    found = run_time([0, 1, 2], [100, 5, 90], 0.1)
    assert (found.time, found.longer_than) == (None, 2.0)
    assert found.reasons == (Reason.DIPPED_BEFORE, Reason.ENDS_ABOVE)


def test_touching_the_share_exactly_is_reaching_it() -> None:
    """At or below: a value of exactly 50 % counts."""
    assert run_time([0, 10, 20], [100, 50, 50], 0.5).time == 10.0


@given(st.lists(st.integers(1, 30), min_size=3, max_size=10), st.floats(0.05, 0.95))
def test_falling_curves_agree_with_numpy_interpolation(drops: list[int], share: float) -> None:
    """On a strictly falling curve the time is numpy.interp of the inverse. Source: numpy."""
    values = (sum(drops) - np.cumsum([0, *drops]) + 1.0).tolist()
    times = [float(i * i + i) for i in range(len(values))]
    found = run_time(times, values, share)
    threshold = share * values[0]
    if values[-1] > threshold:
        assert found.time is None
    else:
        assert found.time == pytest.approx(float(np.interp(threshold, values[::-1], times[::-1])), rel=1e-9)


@given(curves(), st.floats(0.05, 0.95), st.integers(1, 1000), st.integers(-500, 500))
def test_units_and_clock_scale_the_run_time(
    curve: tuple[list[float], list[float]], share: float, unit: int, shift: int
) -> None:
    """Lux or lumen changes nothing; another unit of time scales it; starting the clock earlier leaves it."""
    times, values = curve
    plain = run_time(times, values, share)
    brighter = run_time(times, [v * 4 for v in values], share)
    later = run_time([t * unit + shift for t in times], values, share)
    assert (brighter.time, brighter.longer_than) == (plain.time, plain.longer_than)
    if plain.time is None:
        assert later.time is None
    else:
        assert later.time == pytest.approx(plain.time * unit, rel=1e-6, abs=1e-6)


@given(curves(), st.floats(0.05, 0.9))
def test_a_smaller_share_is_never_reached_earlier_on_a_falling_curve(
    curve: tuple[list[float], list[float]], share: float
) -> None:
    """Time to 10 % is at least the time to 50 %."""
    times, values = curve[0], sorted(curve[1], reverse=True)
    late, early = run_time(times, values, share / 2), run_time(times, values, share)
    if late.time is not None:
        assert early.time is not None
        assert early.time <= late.time


@given(curves())
def test_area_agrees_with_two_libraries(curve: tuple[list[float], list[float]]) -> None:
    """Source: numpy.trapezoid and scipy.integrate.trapezoid."""
    times, values = curve
    assert area_under(times, values) == pytest.approx(float(np.trapezoid(values, times)))
    assert area_under(times, values) == pytest.approx(float(integrate.trapezoid(values, times)))


def test_crossings_are_falls_only() -> None:
    """Rising through the threshold is no crossing; staying on it isn't a second one."""
    assert [c.time for c in crossings([0, 1, 2, 3, 4], [0, 4, 2, 2, 0], 2)] == [2.0]


def test_time_that_goes_back_is_refused_with_its_index() -> None:
    """The documented exception names the point, is a ValueError, and survives pickling."""
    with pytest.raises(TimeGoesBack, match=r"times\[2\]: expected a time after 5, found 4") as caught:
        run_time([0, 5, 4, 6], [4, 3, 2, 1], 0.5)
    assert isinstance(caught.value, ValueError)
    again = pickle.loads(pickle.dumps(caught.value))
    assert (again.index, str(again)) == (2, str(caught.value))
    with pytest.raises(TimeGoesBack):
        area_under([0, 1, 1], [1, 1, 1])


@pytest.mark.parametrize(
    ("times", "values", "said"),
    [
        ([0, 1], [1], "as many values as times"),
        ([0], [1], "at least 2"),
        ([0, math.nan], [1, 1], r"times\[1\]"),
        ([0, 1], [1, math.inf], r"values\[1\]"),
        ([0, 1], [0, 0], "a start above zero"),
        ([0, 1], [-5, 0], "a start above zero"),
    ],
)
def test_broken_curves_are_refused(times: list[float], values: list[float], said: str) -> None:
    """Unequal lengths, one point, NaN, infinity, a start of nothing: each names what is wrong."""
    with pytest.raises(ValueError, match=said):
        run_time(times, values, 0.5)


@pytest.mark.parametrize("share", [0, 1, 10, math.nan, -0.5])
def test_a_share_is_between_nothing_and_all(share: float) -> None:
    """10 (per cent) instead of 0.1 is refused, not computed."""
    with pytest.raises(ValueError, match="share"):
        run_time([0, 1], [2, 1], share)


def run(time: float | None, bracket: float = 1.0) -> RunTime:
    """A run time as found elsewhere."""
    return RunTime(
        share=0.1,
        start_value=100.0,
        threshold=10.0,
        time=time,
        longer_than=None if time is not None else 300.0,
        bracket=bracket,
        last_time=None,
        reasons=(),
    )


def test_run_times_of_specimens_are_summarised_with_the_widest_gap_as_resolution() -> None:
    """Points every 5 min leave ± 2.5 min, rectangular, however close the specimens agree. Source: GUM
    4.3.7."""
    found = summarise_run_times([run(200.0, 5.0), run(200.0, 1.0)])
    assert found is not None
    assert found.resolution == Decimal(5)
    assert found.standard_uncertainty == pytest.approx(5 / 12**0.5 * (1 + 1 / 2) ** 0.5)


def test_a_record_that_ended_first_leaves_no_mean() -> None:
    """The mean of "longer than 300" isn't a number."""
    assert summarise_run_times([run(200.0), run(None)]) is None
    with pytest.raises(ValueError, match="runs"):
        summarise_run_times([])
