"""All units of the table under their names in a general-purpose library of units, pint, which has them from CODATA and NIST SP 811."""

from decimal import Decimal
from functools import cache
from typing import Any

# Conventional water column: 1 mm of water = 9.80665 Pa (density 1000 kg/m³, standard gravity).
WATER = {"_mmH2O": "9.80665", "_cmH2O": "98.0665", "_mH2O": "9806.65"}
# What the library lacks, or has as something without a dimension.
OWN = ("nights = [nights]", "_share = [share]", "_ppm = 0.0001 * _share", "_degree = [angle_seen]", "_hardness = [hardness]", "_level = [level]",
       "_level_a = [level_a]",
       "_lumen = [flux]", "_lux = _lumen / meter ** 2", "_tex = gram / kilometer", "_dtex = _tex / 10", "_den = _tex / 9")  # fmt: skip
NAMES = {
    "g": "gram", "kg": "kilogram", "mg": "milligram", "t": "metric_ton", "oz": "ounce", "lb": "pound",
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "km": "kilometer", "in": "inch", "ft": "foot", "yd": "yard", "µm": "micrometer",
    "mm²": "millimeter**2", "cm²": "centimeter**2", "m²": "meter**2",
    "ml": "milliliter", "l": "liter", "cl": "centiliter", "dl": "deciliter", "m³": "meter**3", "in³": "inch**3",
    "s": "second", "min": "minute", "h": "hour", "d": "day", "24 h": "day", "ms": "millisecond", "Hz": "1/second",
    "mm/s": "millimeter/second", "cm/s": "centimeter/second", "m/s": "meter/second", "m/min": "meter/minute", "km/h": "kilometer/hour",
    "l/m²/s": "liter/meter**2/second", "l/(m²·h)": "liter/meter**2/hour", "cfm": "foot/minute", "ml/s": "milliliter/second", "l/min": "liter/minute",
    "N": "newton", "kN": "kilonewton", "N/mm": "newton/millimeter", "N/cm": "newton/centimeter", "N/m": "newton/meter",
    "Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "MPa": "megapascal", "mbar": "millibar", "bar": "bar", "psi": "psi",
    "mmH2O": "_mmH2O", "cmH2O": "_cmH2O", "mH2O": "_mH2O",
    "Wh": "watt*hour", "kWh": "kilowatt*hour", "J": "joule", "kJ": "kilojoule", "kcal": "kilocalorie",
    "W": "watt", "mW": "milliwatt", "kW": "kilowatt", "mAh": "milliampere*hour", "Ah": "ampere*hour", "A": "ampere", "mA": "milliampere", "V": "volt",
    "°C": "degC", "°F": "degF", "K": "kelvin",
    "m²·K/W": "meter**2*kelvin/watt", "m²·Pa/W": "meter**2*pascal/watt",
    "g/(m²·24 h)": "gram/meter**2/day", "g/(m²·d)": "gram/meter**2/day", "g/(m²·h)": "gram/meter**2/hour",
    "g/m²": "gram/meter**2", "oz/yd²": "ounce/yard**2", "g/l": "gram/liter", "kg/m³": "kilogram/meter**3",
    "tex": "_tex", "dtex": "_dtex", "den": "_den",
    "lm": "_lumen", "lx": "_lux", "cd": "candela", "kcd": "kilocandela", "%": "_share", "ppm": "_ppm", "°": "_degree",
    "dB": "_level", "dB(A)": "_level_a", "°dH": "_hardness", "nights": "nights",
}  # fmt: skip


@cache
def library() -> Any:
    """The library with exact decimals."""
    import pint

    registry: Any = pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
    for name, pascal in WATER.items():
        registry.define(f"{name} = {pascal} * pascal")
    for line in OWN:
        registry.define(line)
    return registry
