"""The factors of all units against a general-purpose library of units (pint, which takes its own from CODATA and NIST SP 811)."""

import itertools
from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from sitegen.records.units import FACTORS, UNITS, convert, kind_of

# Conventional water column: 1 mm of water = 9.80665 Pa (density 1000 kg/m³, standard gravity).
WATER = {"_mmH2O": "9.80665", "_cmH2O": "98.0665", "_mH2O": "9806.65"}


@cache
def library() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
    for name, pascal in WATER.items():
        registry.define(f"{name} = {pascal} * pascal")
    return registry


PAIRS = [(a, b) for a, b in itertools.permutations(UNITS, 2) if kind_of(a) == kind_of(b)]


@pytest.mark.parametrize(("unit", "to"), [pair for pair in PAIRS if kind_of(pair[0]) != "temperature"])
def test_a_factor_is_the_librarys(unit: str, to: str) -> None:
    """Each pair of units of a kind has the factor that the library has, to 24 digits."""
    expected = library().Quantity(Decimal(1), UNITS[unit][1]).to(UNITS[to][1]).magnitude
    own = (
        Decimal(FACTORS[unit].numerator)
        * FACTORS[to].denominator
        / (Decimal(FACTORS[unit].denominator) * FACTORS[to].numerator)
    )
    assert abs(own / Decimal(expected) - 1) < Decimal("1e-24")


@pytest.mark.parametrize(("unit", "to"), [pair for pair in PAIRS if kind_of(pair[0]) == "temperature"])
@pytest.mark.parametrize("value", ["-40.00000000", "0E-8", "21.50000000", "98.60000000"])
def test_a_temperature_is_the_librarys(unit: str, to: str, value: str) -> None:
    """Each pair of temperature scales gives the library's value, to the digits that the value carries."""
    expected = library().Quantity(Decimal(value), UNITS[unit][1]).to(UNITS[to][1]).magnitude
    assert abs(convert(Decimal(value), unit, to) - Decimal(expected)) <= Decimal("1e-8")


def test_every_unit_has_a_factor_or_a_scale() -> None:
    """No unit of the table lacks its factor."""
    assert {unit for unit in UNITS if kind_of(unit) != "temperature"} == set(FACTORS)
