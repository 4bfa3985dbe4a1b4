"""The units an author may write, and their conversion by a general-purpose library.

The table is closed: a unit that is not in it is a slip worth telling. Conversion itself is done
by `pint`, which is loaded only when a value was given in another unit than its protocol's.
"""

from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from functools import cache
from typing import Any

# unit as written: (kind of quantity, name in the conversion library)
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
_OFFSET = {"°C", "°F", "K"}


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
    if unit in _OFFSET:
        return _convert_temperature(value, unit, to)
    factor = _factor(unit, to)
    return _keep_digits(value * factor, value, factor)


def convert_step(step: Decimal, unit: str, to: str) -> Decimal:
    """A difference such as a resolution or a tolerance; temperatures lose their offset."""
    if unit in _OFFSET and to in _OFFSET:
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
    exact = _registry().Quantity(value, UNITS[unit][1]).to(UNITS[to][1]).magnitude
    return _keep_digits(Decimal(exact), value, Decimal(1))


@cache
def _factor(unit: str, to: str) -> Decimal:
    quantity = _registry().Quantity(Decimal(1), UNITS[unit][1]).to(UNITS[to][1])
    return +Decimal(quantity.magnitude)


@cache
def _registry() -> Any:
    """Loaded on first use: importing the library costs as much as reading three hundred reviews."""
    import pint

    registry: Any = pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
    # Conventional water column: 1 cm of water = 98.0665 Pa (density 1000 kg/m³, standard gravity).
    for name, pascal in (("_mmH2O", "9.80665"), ("_cmH2O", "98.0665"), ("_mH2O", "9806.65")):
        registry.define(f"{name} = {pascal} * pascal")
    return registry
