"""The factors of all units against a general-purpose library of units (pint, which takes its own from CODATA and NIST SP 811)."""

import itertools
from decimal import Decimal

import pytest

from sitegen.records.fields.units import UNITS, convert, kind_of, ratio
from tests.records.library_units import NAMES, library

PAIRS = [(a, b) for a, b in itertools.permutations(UNITS, 2) if kind_of(a) == kind_of(b)]


@pytest.mark.parametrize(("unit", "to"), [pair for pair in PAIRS if kind_of(pair[0]) != "temperature"])
def test_a_factor_is_the_librarys(unit: str, to: str) -> None:
    """Each pair of units of a kind has the factor that the library has, to 24 digits."""
    expected = library().Quantity(Decimal(1), NAMES[unit]).to(NAMES[to]).magnitude
    own = Decimal(ratio(unit, to).numerator) / ratio(unit, to).denominator
    assert abs(own / Decimal(expected) - 1) < Decimal("1e-24")


@pytest.mark.parametrize(("unit", "to"), [pair for pair in PAIRS if kind_of(pair[0]) == "temperature"])
@pytest.mark.parametrize("value", ["-40.00000000", "0E-8", "21.50000000", "98.60000000"])
def test_a_temperature_is_the_librarys(unit: str, to: str, value: str) -> None:
    """Each pair of temperature scales gives the library's value, to the digits that the value carries."""
    expected = library().Quantity(Decimal(value), NAMES[unit]).to(NAMES[to]).magnitude
    assert abs(convert(Decimal(value), unit, to) - Decimal(expected)) <= Decimal("1e-8")


def test_kinds_are_the_librarys_dimensions() -> None:
    """Two units are of one kind just where the library finds their dimensions equal, and each has a name there."""
    assert NAMES.keys() == UNITS.keys()
    dimensions = {unit: library().get_dimensionality(library().Unit(name)) for unit, name in NAMES.items()}
    for a, b in itertools.combinations(UNITS, 2):
        assert (kind_of(a) == kind_of(b)) == (dimensions[a] == dimensions[b]), (a, b)
