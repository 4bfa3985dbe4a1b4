"""Digits: two of the uncertainty, and the value to the same place."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.statistics.rounding import last_place, round_estimate, round_uncertainty

VALUES = st.decimals(-(10**9), 10**9, allow_nan=False, allow_infinity=False, places=6)
UNCERTAINTIES = st.floats(1e-6, 1e7)


@pytest.mark.parametrize(
    ("raw", "printed"),
    [
        (10.47, "11"),  # GUM 7.2.6: "might be rounded up to 11 mΩ"
        (28.05, "28"),  # GUM 7.2.6: "should be rounded down to 28 kHz"
        (93.44, "93"),  # GUM H.1.6: 2.92 · 32 nm
        (0.0996, "0.10"),  # a carried digit leaves two, not three
        (99.6, "100"),
        (0.995, "1.0"),
        (1234.0, "1300"),
        (0.00012, "0.00012"),
        (0, "0"),
    ],
)
def test_uncertainties_round_as_printed(raw: float, printed: str) -> None:
    """To the nearest, but up where that takes away more than 1 %. Source: GUM 7.2.6, H.1.6."""
    assert str(round_uncertainty(raw)) == printed


@given(UNCERTAINTIES)
def test_rounding_hides_at_most_one_per_cent_and_keeps_two_digits(u: float) -> None:
    """The shown uncertainty is at least 99 % and less than 110 % of the true one, with at most two digits."""
    shown = round_uncertainty(u)
    assert float(shown) / u >= 0.99 * (1 - 1e-12)
    assert float(shown) / u < 1.10
    assert len(shown.normalize().as_tuple().digits) <= 2


@given(VALUES, UNCERTAINTIES)
def test_a_value_never_shows_more_digits_than_its_uncertainty_carries(value: Decimal, u: float) -> None:
    """Value and uncertainty end at one place, and the value has moved by half of it at most."""
    shown = round_estimate(value, u)
    assert shown.uncertainty is not None
    assert shown.value.as_tuple().exponent == shown.uncertainty.as_tuple().exponent
    place = last_place(shown.uncertainty)
    assert shown.value % place == 0
    assert abs(shown.value - value) <= place / 2


@given(VALUES, st.one_of(st.none(), UNCERTAINTIES))
def test_there_is_no_negative_zero_and_rounding_is_odd(value: Decimal, u: float | None) -> None:
    """The sign of a value plays no part in its digits, and zero has none."""
    plus, minus = (round_estimate(v, u, Decimal("0.5")).value for v in (value, -value))
    assert plus == -minus
    assert not (minus.is_zero() and minus.is_signed())
    assert not (plus.is_zero() and plus.is_signed())


@given(VALUES, UNCERTAINTIES)
def test_rounding_twice_is_rounding_once(value: Decimal, u: float) -> None:
    """What has its digits keeps them."""
    once = round_estimate(value, u)
    assert round_estimate(once.value, once.uncertainty) == once


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        ("412.25", "0.5", "412.2"),
        ("412", "0.1", "412.0"),
        ("412", "0.50", "412.0"),
        ("437", "10", "440"),
        ("-0.2", "1", "0"),
    ],
)
def test_without_uncertainty_the_value_keeps_the_resolution(value: str, resolution: str, shown: str) -> None:
    """The last place is that of the instrument's step; halves go to even (ISO 80000-1 annex B, rule A)."""
    found = round_estimate(Decimal(value), None, Decimal(resolution))
    assert (str(found.value), found.uncertainty) == (shown, None)


def test_with_neither_the_value_stays_as_written() -> None:
    """Nothing is known about its digits, so none is taken or given."""
    assert str(round_estimate(Decimal("412.0"), None).value) == "412.0"


def test_an_exact_fraction_is_rounded_once() -> None:
    """A mean of thirds rounds from its exact value, not from a rounded float."""
    assert str(round_estimate(Fraction(10, 3), 0.012).value) == "3.333"
    assert str(round_estimate(Fraction(25, 10), 10).value) == "2"  # an exact half, to even


def test_extreme_sizes_do_not_break() -> None:
    """A huge value with a tiny uncertainty is silly but no crash."""
    assert str(round_estimate(1e300, 1e-300).uncertainty) == "1.0E-300"


@pytest.mark.parametrize("bad", [math.nan, math.inf, Decimal("sNaN"), Decimal("Infinity"), Decimal("1E-999999999")])
def test_what_is_not_finite_is_refused_by_name(bad: float | Decimal) -> None:
    """NaN, infinities, signalling NaN and monstrous exponents stop at the door."""
    with pytest.raises(ValueError, match="value: expected a finite number"):
        round_estimate(bad, 1.0)
    with pytest.raises(ValueError, match="uncertainty: expected a finite number"):
        round_estimate(1.0, bad)
    with pytest.raises(ValueError, match="resolution"):
        round_estimate(1.0, None, bad)


def test_negative_uncertainty_and_resolution_are_refused() -> None:
    """Neither can be below zero."""
    with pytest.raises(ValueError, match="uncertainty"):
        round_uncertainty(-0.1)
    with pytest.raises(ValueError, match="resolution"):
        round_estimate(1, None, Decimal(-1))
