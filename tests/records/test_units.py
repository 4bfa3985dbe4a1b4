"""Units: conversion against published factors and against the unit library, digits kept, offsets and steps."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.records.fields.units import (
    SPELLINGS,
    UNITS,
    UnitMismatch,
    UnknownUnit,
    convert,
    convert_step,
    kind_of,
    known_unit,
    ratio,
    siblings,
    symbol,
)
from tests.records.library_units import NAMES, library

D = Decimal

# NIST SP 811 (2008), appendix B.8, exact or to the digits printed there; from memory. The water column is the
# conventional one (4 °C in B.8: 9.806 65 Pa for 1 mmH2O); the cfm is that of air permeability, 1 ft³/min through 1 ft².
PUBLISHED = [
    ("1.0000000", "oz", "g", "28.34952"),
    ("1.0000000", "lb", "kg", "0.45359237"),
    ("1.000000", "in", "mm", "25.4"),
    ("1.000000", "ft", "m", "0.3048"),
    ("1.0000000", "psi", "kPa", "6.894757"),
    ("1.0000000", "mbar", "Pa", "100"),
    ("1.000000", "bar", "kPa", "100"),
    ("1.000000", "mmH2O", "Pa", "9.80665"),
    ("1.000000", "cmH2O", "Pa", "98.0665"),
    ("1.000000", "in³", "ml", "16.387064"),
    ("1.0000000", "oz/yd²", "g/m²", "33.90575"),
    ("1.000000", "cfm", "mm/s", "5.08"),  # ft/min: 5.08 E-03 m/s
    ("1.000000", "l/m²/s", "mm/s", "1"),  # by definition: 10⁻³ m³ through 1 m² is 1 mm
    ("1.000000", "h", "min", "60"),
    ("1.000000", "d", "h", "24"),
    ("1.000000", "km/h", "m/s", "0.27777778"),
]


@pytest.mark.parametrize(("value", "unit", "to", "expected"), PUBLISHED)
def test_published_factors(value: str, unit: str, to: str, expected: str) -> None:
    """One of a unit is what NIST SP 811 prints for it."""
    assert float(convert(D(value), unit, to)) == pytest.approx(float(expected), rel=5e-7)


# Heads of water: recomputed from 1 cmH2O = 98.0665 Pa. Air permeability: ISO 9237 in mm/s, ASTM D737 in cfm/ft².
TRADE = [
    ("1.0000", "kPa", "mmH2O", "101.972"),
    ("10.0000", "kPa", "mmH2O", "1019.72"),
    ("1.00000", "mbar", "mmH2O", "10.1972"),
    ("1.0000", "hPa", "mmH2O", "10.1972"),
    ("1.0000", "psi", "mmH2O", "703.07"),
    ("60.000", "cmH2O", "mbar", "58.84"),
    ("1.0000", "cfm", "mm/s", "5.08"),
    ("1.0000", "cfm", "l/m²/s", "5.08"),
    ("1.00000", "cfm", "cm/s", "0.508"),
]


@pytest.mark.parametrize(("value", "unit", "to", "expected"), TRADE)
def test_pairs_of_the_trade(value: str, unit: str, to: str, expected: str) -> None:
    """Heads of water and air permeability as makers print them, recomputed by hand from the definitions."""
    assert float(convert(D(value), unit, to)) == pytest.approx(float(expected), rel=1e-5)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.decimals("0.0001", "99999", places=4))
def test_every_pair_agrees_with_the_unit_library(unit: str, to: str, value: Decimal) -> None:
    """A units library (pint) gives the same to the digits kept; other kinds are refused."""
    in_water = unit in ("mm", "cm", "m") and to in ("mmH2O", "cmH2O", "mH2O")  # a length of water is a pressure
    if in_water:
        unit += "H2O"
    if kind_of(unit) != kind_of(to):
        with pytest.raises(UnitMismatch):
            convert(value, unit, to)
        return
    expected = float(library().Quantity(value, NAMES[unit]).to(NAMES[to]).magnitude)
    found = convert(value, unit, to)
    assert float(found) == pytest.approx(expected, rel=1e-9, abs=float(10 ** D(int(found.as_tuple().exponent))))


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("412.0", "g", "g", "412.0"),  # untouched: the last digit is the author's
        ("1.5", "kg", "g", "1500"),
        ("0.4120", "kg", "g", "412.0"),
        ("14.5", "oz", "g", "411.1"),
        ("1", "lb", "g", "454"),
        ("20.0", "cfm", "mm/s", "101.6"),
        ("2", "h", "min", "120"),
        ("90", "s", "min", "1.50"),
    ],
)
def test_digits_are_kept(value: str, unit: str, to: str, expected: str) -> None:
    """A conversion neither invents precision nor loses any: as fine as the value was written, and one digit to guard it."""
    found = convert(D(value), unit, to)
    assert abs(found - D(expected)) <= D(1).scaleb(int(D(expected).as_tuple().exponent)) / 2
    step = float(convert(D(1).scaleb(int(D(value).as_tuple().exponent)), unit, to)) or 1.0
    assert 10.0 ** int(found.as_tuple().exponent) <= max(step, 1.0)


def test_the_longest_numbers_convert() -> None:
    """Fifteen digits before the point and twelve behind it, the most that may be written, fit into any unit."""
    longest = D("999999999999999.999999999999")
    for unit in UNITS:
        for to in siblings(unit):
            if to in UNITS and kind_of(unit) == kind_of(to):
                assert convert(longest, unit, to).is_finite()


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("20.0", "°C", "°F", "68.0"),
        ("212", "°F", "°C", "100"),
        ("-40", "°C", "°F", "-40"),
        ("0.00", "°C", "K", "273.15"),
    ],
)
def test_temperatures_have_an_offset(value: str, unit: str, to: str, expected: str) -> None:
    """Fixed points: water boils at 212 °F, the scales meet at -40, 0 °C is 273.15 K (NIST SP 811, B.8; from memory)."""
    assert float(convert(D(value), unit, to)) == pytest.approx(float(expected), abs=1e-9)


def test_steps_have_none() -> None:
    """A tolerance of 2 °C is one of 3.6 °F and of 2 K, never of 35.6 °F."""
    assert convert_step(D(2), "°C", "°F") == D("3.6")
    assert convert_step(D(2), "°C", "K") == 2
    assert float(convert_step(D("1.8"), "°F", "°C")) == pytest.approx(1.0)
    assert convert_step(D("0.5"), "g", "g") == D("0.5")


def test_a_head_of_water_may_be_given_as_a_length() -> None:
    """Makers write 10,000 mm of water column as 10 000 mm: with such a protocol a length is one of water."""
    assert convert(D(10000), "mm", "mmH2O") == 10000
    assert convert(D("1000"), "cm", "mmH2O") == 10000
    assert convert(D("10"), "m", "mmH2O") == 10000
    assert {"mm", "cm", "m"} <= set(siblings("mmH2O"))
    with pytest.raises(UnitMismatch):
        convert(D(10), "mmH2O", "mm")
    assert "mmH2O" not in siblings("mm")


def test_other_spellings_mean_a_unit_of_the_table() -> None:
    """No spelling leads nowhere, none hides a unit of the table."""
    assert all(unit in UNITS for unit in SPELLINGS.values())
    assert not set(SPELLINGS) & set(UNITS)
    assert known_unit("gsm") == "g/m²" and known_unit("furlong") is None


@pytest.mark.parametrize(
    ("written", "unit", "kind"),
    [
        ("m2*K/W", "m²·K/W", "thermal resistance"),
        ("g/m²/24 h", "g/(m²·24 h)", "vapour flow"),
        ("g/m2/24h", "g/(m²·24 h)", "vapour flow"),
        ("g/(m^2·d)", "g/(m²·d)", "vapour flow"),
        ("L/min", "l/min", "flow"),
        ("l/(m2·s)", "l/m²/s", "speed"),
        ("W·h", "W·h", "energy"),
        ("J/s", "J/s", "power"),
        ("kg·m/s²", "kg·m/s²", "force"),
        ("lm/m²", "lm/m²", "illuminance"),
        ("m⁻²", "m⁻²", "mm⁻²"),
        ("night", "nights", "nights"),
    ],
)
def test_units_are_read_by_a_grammar(written: str, unit: str, kind: str) -> None:
    """Products of powers have one spelling, which is read as itself, and the kind that their dimensions give."""
    assert known_unit(written) == unit == known_unit(unit)
    assert kind_of(unit) == kind and unit in siblings(unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "/",
        "()",
        "m/",
        "g/m·s",
        "a/b",
        "°C/m",
        "m0",
        "m99",
        "m/m",
        "24 h/d",
        "g/(m²·d",
        "furlong",
        "(" * 39,
        "m·" * 30,
    ],
)
def test_what_is_no_unit_is_none(text: str) -> None:
    """Unknown names, two meanings (`g/m·s`), nothing left (`m/m`), a scale with an offset in a product, brackets left open."""
    assert known_unit(text) is None


@given(st.text("gmsK/·*²-1234() WNl", max_size=45))
def test_any_text_is_a_unit_or_none(text: str) -> None:
    """No text raises anything; what is a unit has a spelling that stays, a kind and a symbol."""
    unit = known_unit(text)
    if unit is not None:
        assert known_unit(unit) == unit and kind_of(unit) and symbol(unit)
        assert ratio(unit, unit) == 1


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("24.0", "g/(m²·24 h)", "g/(m²·h)", "1.00"),
        ("3600", "J", "Wh", "1"),
        ("2.0", "N/mm", "N/m", "2000"),
        ("1", "lm/m²", "lx", "1"),
        ("1.0", "kg·m/s²", "N", "1.0"),
    ],
)
def test_derived_units_convert(value: str, unit: str, to: str, expected: str) -> None:
    """Recomputed by hand from the definitions in the SI Brochure, 9th edition, table 4."""
    assert convert(D(value), unit, to) == D(expected)


def test_symbols_are_told_apart() -> None:
    """No two units print alike: a head of water is never mistaken for a length. No line breaks inside a symbol."""
    printed = [symbol(unit) for unit in UNITS]
    assert len(printed) == len(set(printed)) and not any(" " in sign for sign in printed)
    with pytest.raises(UnknownUnit):
        symbol("furlong")
