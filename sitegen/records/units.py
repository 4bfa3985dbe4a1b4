"""The units an author may write, and their conversion by the exact factors of their definitions.

The table is closed: a unit that is not in it is a slip worth telling. Factors are exact fractions, as the
units are defined. (A units library would need 0.3 s to load, as much as the rest of a start; the tests hold
each factor to it.)
"""

from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from functools import cache

# unit as written: (kind of quantity, its name in `pint`, by which the tests look it up)
UNITS: dict[str, tuple[str, str]] = {
    "g": ("mass", "gram"), "kg": ("mass", "kilogram"), "mg": ("mass", "milligram"),
    "oz": ("mass", "ounce"), "lb": ("mass", "pound"),
    "mm": ("length", "millimeter"), "cm": ("length", "centimeter"), "m": ("length", "meter"),
    "km": ("length", "kilometer"), "in": ("length", "inch"), "ft": ("length", "foot"),
    "mm/s": ("speed", "millimeter/second"), "cm/s": ("speed", "centimeter/second"),
    "m/s": ("speed", "meter/second"), "km/h": ("speed", "kilometer/hour"),
    "l/m²/s": ("speed", "liter/meter**2/second"), "cfm": ("speed", "foot/minute"),
    "Pa": ("pressure", "pascal"), "hPa": ("pressure", "hectopascal"), "kPa": ("pressure", "kilopascal"),
    "mbar": ("pressure", "millibar"), "bar": ("pressure", "bar"), "psi": ("pressure", "psi"),
    "mmH2O": ("pressure", "_mmH2O"), "cmH2O": ("pressure", "_cmH2O"), "mH2O": ("pressure", "_mH2O"),
    "°C": ("temperature", "degC"), "°F": ("temperature", "degF"), "K": ("temperature", "kelvin"),
    "s": ("time", "second"), "min": ("time", "minute"), "h": ("time", "hour"), "d": ("time", "day"),
    "lm": ("luminous flux", "lumen"), "cd": ("luminous intensity", "candela"), "lx": ("illuminance", "lux"),
    "ml": ("volume", "milliliter"), "l": ("volume", "liter"), "m³": ("volume", "meter**3"),
    "in³": ("volume", "inch**3"),
    "%": ("share", "percent"),
    "g/m²": ("mass per area", "gram/meter**2"), "oz/yd²": ("mass per area", "ounce/yard**2"),
    "°": ("angle", "degree"),
    "ml/s": ("flow", "milliliter/second"), "l/min": ("flow", "liter/minute"),
    "N": ("force", "newton"), "g/m²/24 h": ("vapour rate", "gram/meter**2/day"),
}  # fmt: skip

_POUND = Fraction("453.59237")  # g, exact since 1959 (NIST SP 811, B.8), as are inch, foot and yard below
_INCH, _FOOT, _YARD = Fraction("25.4"), Fraction("304.8"), Fraction("914.4")  # mm
_WATER = Fraction("9.80665")  # Pa of 1 mm of conventional water: density 1000 kg/m³, standard gravity
# How many of its kind's first unit each unit is; exact.
FACTORS: dict[str, Fraction] = {
    "g": Fraction(1), "kg": Fraction(1000), "mg": Fraction(1, 1000), "oz": _POUND / 16, "lb": _POUND,
    "mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "km": Fraction(10**6), "in": _INCH, "ft": _FOOT,
    # A litre through a square metre in a second is a millimetre a second; a cubic foot a minute through a square foot likewise.
    "mm/s": Fraction(1), "cm/s": Fraction(10), "m/s": Fraction(1000), "km/h": Fraction(10**6, 3600), "l/m²/s": Fraction(1), "cfm": _FOOT / 60,
    "Pa": Fraction(1), "hPa": Fraction(100), "kPa": Fraction(1000), "mbar": Fraction(100), "bar": Fraction(10**5),
    "psi": _POUND / 1000 * Fraction("9.80665") / (_INCH / 1000) ** 2, "mmH2O": _WATER, "cmH2O": 10 * _WATER, "mH2O": 1000 * _WATER,
    "s": Fraction(1), "min": Fraction(60), "h": Fraction(3600), "d": Fraction(86400),
    "lm": Fraction(1), "cd": Fraction(1), "lx": Fraction(1), "%": Fraction(1), "°": Fraction(1),
    "ml": Fraction(1), "l": Fraction(1000), "m³": Fraction(10**6), "in³": (_INCH / 10) ** 3,
    "g/m²": Fraction(1), "oz/yd²": _POUND / 16 / (_YARD / 1000) ** 2,
    "ml/s": Fraction(1), "l/min": Fraction(1000, 60),
    "N": Fraction(1), "g/m²/24 h": Fraction(1),
}  # fmt: skip
_TEMPERATURES = {  # the size of a degree in kelvin, and where the scale's zero lies
    "K": (Fraction(1), Fraction(0)), "°C": (Fraction(1), Fraction("273.15")), "°F": (Fraction(5, 9), Fraction("273.15") - 32 * Fraction(5, 9)),
}  # fmt: skip

# Other spellings of the same units that people write and that can mean nothing else.
SPELLINGS = {
    "L": "l", "mL": "ml", "cm³": "ml", "cc": "ml", "sec": "s", "hr": "h", "hrs": "h", "mins": "min",
    "°c": "°C", "degC": "°C", "deg C": "°C", "°f": "°F", "degF": "°F", "deg F": "°F",
    "l/(m²·s)": "l/m²/s", "l/m2/s": "l/m²/s", "g/m2": "g/m²", "gsm": "g/m²", "oz/yd2": "oz/yd²",
    "cfm/ft²": "cfm", "cfm/ft2": "cfm", "mm H2O": "mmH2O", "mmH₂O": "mmH2O", "mm H₂O": "mmH2O",
    "cm H2O": "cmH2O", "cmH₂O": "cmH2O", "m3": "m³", "in3": "in³", "lumen": "lm", "lumens": "lm",
    "gram": "g", "grams": "g", "minutes": "min", "hours": "h", "seconds": "s", "percent": "%", "deg": "°",
}  # fmt: skip

# A head of water is a length by name and a pressure by nature: with such a protocol, mm mean mm of water.
_COLUMN = {"mm": "mmH2O", "cm": "cmH2O", "m": "mH2O"}


class UnitMismatch(ValueError):
    """The unit does not measure the kind of quantity that was asked for."""


def known_unit(text: str) -> str | None:
    """The table's spelling of a unit, None for one that isn't in it."""
    return text if text in UNITS else SPELLINGS.get(text)


def kind_of(unit: str) -> str:
    """The kind of quantity that a unit of the table measures."""
    return UNITS[unit][0]


def siblings(unit: str) -> tuple[str, ...]:
    """All units in which a quantity of the same kind may be given."""
    kind = kind_of(unit)
    extra = tuple(_COLUMN) if unit in _COLUMN.values() else ()
    return tuple(u for u in UNITS if kind_of(u) == kind) + extra


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """`value` in `unit`, expressed in `to`, with as many digits as the value carried (one guard digit).

    Raises UnitMismatch where the two measure different kinds of quantity.
    """
    if unit == to:
        return value
    if to in _COLUMN.values() and unit in _COLUMN:
        unit = _COLUMN[unit]
    if kind_of(unit) != kind_of(to):
        raise UnitMismatch(f"{unit} measures {kind_of(unit)}, {to} measures {kind_of(to)}")
    if unit in _TEMPERATURES:
        return _convert_temperature(value, unit, to)
    factor = _factor(unit, to)
    return _keep_digits(value * factor, value, factor)


def convert_step(step: Decimal, unit: str, to: str) -> Decimal:
    """A difference such as a resolution or a tolerance; temperatures lose their offset."""
    if unit in _TEMPERATURES and to in _TEMPERATURES:
        nine_fifths = Decimal(9) / 5
        return step * (1 if unit != "°F" else 1 / nine_fifths) * (1 if to != "°F" else nine_fifths)
    return convert(step, unit, to)


def _keep_digits(exact: Decimal, written: Decimal, factor: Decimal) -> Decimal:
    exponent = written.as_tuple().exponent
    assert isinstance(exponent, int)
    step = (Decimal(1).scaleb(exponent) * factor).adjusted() - 1
    with localcontext() as wide:  # a number of 27 digits must not fail for want of room
        wide.prec = 60
        return exact.quantize(Decimal(1).scaleb(min(step, 0)), rounding=ROUND_HALF_EVEN)


def _convert_temperature(value: Decimal, unit: str, to: str) -> Decimal:
    """By way of kelvin; the zero of Celsius is 273.15 K, a degree Fahrenheit 5/9 K (SI Brochure 2.3.1; NIST SP 811 B.8)."""
    scale, zero = _TEMPERATURES[unit]
    own_scale, own_zero = _TEMPERATURES[to]
    exact = (Fraction(value) * scale + zero - own_zero) / own_scale
    return _keep_digits(_decimal(exact), value, Decimal(1))


@cache
def _factor(unit: str, to: str) -> Decimal:
    return _decimal(FACTORS[unit] / FACTORS[to])


def _decimal(exact: Fraction) -> Decimal:
    return Decimal(exact.numerator) / Decimal(exact.denominator)
