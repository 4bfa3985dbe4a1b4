"""Round axes: what ticks promise, whatever the data."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.figures.charts.chart_axis import Axis, decimals, log_ticks, nice_ticks, round_axis

NUMBERS = st.floats(min_value=-1e12, max_value=1e12, allow_nan=False)
TARGETS = st.integers(min_value=3, max_value=12)


def lead(step: Decimal) -> str:
    """The digits of a number without its power of ten."""
    return "".join(map(str, step.normalize().as_tuple().digits))


@given(NUMBERS, NUMBERS, TARGETS)
def test_ticks_cover_the_data_in_round_even_steps(a: float, b: float, target: int) -> None:
    """From two to `target` ticks cover both ends; the steps are equal and 1, 2 or 5 times a power of ten."""
    low, high = sorted((a, b))
    ticks = nice_ticks(low, high, target)
    assert 2 <= len(ticks) <= target
    assert ticks[0] <= Decimal(repr(low)) and Decimal(repr(high)) <= ticks[-1]
    steps = {after - before for before, after in zip(ticks, ticks[1:])}
    assert len(steps) == 1
    assert lead(steps.pop()) in ("1", "2", "5")


@given(NUMBERS, NUMBERS, TARGETS)
def test_ticks_are_multiples_of_their_step(a: float, b: float, target: int) -> None:
    """Zero is a tick whenever the axis passes it: each tick is a whole multiple of the step."""
    ticks = nice_ticks(min(a, b), max(a, b), target)
    step = ticks[1] - ticks[0]
    assert all(tick % step == 0 for tick in ticks)


@given(st.integers(-999, 999), st.integers(1, 999), st.integers(-6, 6), TARGETS)
def test_ticks_scale_with_the_unit(low: int, span: int, power: int, target: int) -> None:
    """The same readings in a unit a power of ten smaller have the same ticks, scaled."""
    first, last = Decimal(low), Decimal(low + span)
    plain = nice_ticks(first, last, target)
    scaled = nice_ticks(first.scaleb(power), last.scaleb(power), target)
    assert scaled == tuple(tick.scaleb(power) for tick in plain)


@pytest.mark.parametrize(
    ("low", "high", "target", "expected"),
    [
        (379, 495, 6, "350 400 450 500"),
        (0, 100, 6, "0 20 40 60 80 100"),
        (Decimal("25.2"), Decimal("30.4"), 6, "24 26 28 30 32"),
        (-3, 4, 3, "-5 0 5"),
        (0, 0, 3, "-1 0 1"),
        (412, 412, 5, "405 410 415 420"),
    ],
)
def test_ticks_by_hand(low: Decimal, high: Decimal, target: int, expected: str) -> None:
    """Ticks worked out by hand: the smallest allowed step that needs no more than the target."""
    assert " ".join(map(str, nice_ticks(low, high, target))) == expected


@pytest.mark.parametrize("value", [0.0, 5e-324, -5e-324, 1e-300, 1e-12, 4.1, 1e12, 1e300])
def test_equal_readings_still_have_an_axis(value: float) -> None:
    """Readings that all agree, however small or large, stand on an axis that has a length and covers them."""
    axis = round_axis([value, value])
    assert axis.covers(value) and 0 <= axis.fraction(value) <= 1


def test_tick_labels_are_written_plainly() -> None:
    """Whole ticks have no exponent form, so that a label written from their text is a plain number."""
    assert [str(tick) for tick in nice_ticks(0, 4000000, 3)] == ["0", "2000000", "4000000"]
    assert str(nice_ticks(0, Decimal("0.002"), 3)[1]) == "0.001"


@given(st.floats(1e-9, 1e9), st.floats(1e-9, 1e9), TARGETS)
def test_log_ticks_cover_the_data(a: float, b: float, target: int) -> None:
    """A logarithmic axis has rising ticks of 1, 2, 3 or 5 times a power of ten around the data."""
    low, high = sorted((a, b))
    ticks = log_ticks(low, high, target)
    assert ticks[0] <= Decimal(repr(low)) and Decimal(repr(high)) <= ticks[-1]
    assert len(ticks) >= 2 and list(ticks) == sorted(set(ticks))
    assert {lead(tick) for tick in ticks} <= {"1", "2", "3", "5"}


@given(st.floats(0.1, 1e6), st.floats(0.1, 1e6), st.floats(0, 1), st.sampled_from(["linear", "log"]))
def test_value_inverts_fraction(a: float, b: float, fraction: float, scale: str) -> None:
    """Reading a value off an axis gives the value that was put there."""
    axis = round_axis([a, b], scale="log" if scale == "log" else "linear")
    value = axis.value(fraction)
    assert math.isclose(axis.fraction(value), fraction, abs_tol=1e-6)
    assert math.isclose(axis.fraction(axis.ticks[0]), 0, abs_tol=1e-12)
    assert math.isclose(axis.fraction(axis.ticks[-1]), 1)


def test_rulings_are_those_of_semi_log_paper() -> None:
    """Two decades of semi-log paper have lines at 1 to 9 and 10 to 90 times the start (common practice)."""
    axis = Axis(ticks=(Decimal(1), Decimal(10), Decimal(100)), scale="log")
    expected = [math.log10(n * d) / 2 for d in (1, 10) for n in range(1, 10)] + [1.0]
    assert axis.rulings == tuple(round(line, 6) for line in expected)
    assert Axis(ticks=(Decimal(1), Decimal(2))).rulings == ()


def test_decimals_are_the_most_that_a_tick_needs() -> None:
    """0, 0.5, 1 are labelled with one decimal, whole tens with none."""
    assert decimals(nice_ticks(0, 1, 3)) == 1
    assert decimals(nice_ticks(0, Decimal("0.1"), 6)) == 2
    assert decimals(nice_ticks(100, 900, 6)) == 0


@pytest.mark.parametrize("wrong", [math.nan, math.inf, Decimal("NaN"), Decimal("-Infinity")], ids=str)
def test_what_is_no_number_is_refused(wrong: float) -> None:
    """An axis can't end at what isn't a finite number, and says so."""
    with pytest.raises(ValueError, match="finite number"):
        nice_ticks(0, wrong, 5)
    with pytest.raises(ValueError, match="finite number"):
        log_ticks(1, wrong, 5)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: nice_ticks(2, 1, 5), "from 2 down to 1"),
        (lambda: nice_ticks(0, 1, 2), "three ticks"),
        (lambda: log_ticks(0, 1, 5), "logarithmic axis can't run"),
        (lambda: Axis(ticks=(Decimal(1),)), "two ticks"),
        (lambda: Axis(ticks=(Decimal(2), Decimal(1))), "must rise"),
        (lambda: Axis(ticks=(Decimal(0), Decimal(1)), scale="log"), "can't reach zero"),
        (lambda: Axis(ticks=(Decimal("-1e308"), Decimal("1e308"))), "can't be told apart"),
        (lambda: round_axis([None, None]), "without a single value"),
    ],
    ids=["turned", "too few", "zero", "one tick", "falling", "log of zero", "endless", "nothing"],
)
def test_axes_that_cannot_be_are_refused(make: object, message: str) -> None:
    """What makes no axis is refused with the reason."""
    assert callable(make)
    with pytest.raises(ValueError, match=message):
        make()
