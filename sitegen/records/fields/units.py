"""The units an author may write: their symbols, spellings, kinds of quantity and exact factors.

A unit is one of the table or a product of powers of them: `N/mm`, `m²·K/W`, `g/m²/24 h`, `l/(m²·h)`. Powers are
written `m²`, `m2`, `m^2` or `m⁻²`; factors are joined by `·` or `*`; after the first `/` a product needs brackets, since
`a/b·c` could mean two things (SI Brochure, 9th edition, 5.2). Anything else is a slip worth reporting.

A publication may declare further units (`units` in publication.yaml). Within records such a unit carries its definition,
as `stone=6350.29318 g` or, where it counts something of its own, `flexes=`: so nobody after the reading of files needs to
know what was declared.

Factors are exact fractions, as the units are defined. (A units library would need 0.3 s to load, as much as the rest
of a start; the tests hold each factor to one.) Symbols don't change with the language (SI Brochure 5.2), but for
`nights`, which is a word. The litre is the small l everywhere: both letters are allowed, and one house uses one. A water
column is printed as `mm H₂O`: a bare `mm` would be read as a length.
"""

import re
from collections.abc import Mapping
from contextvars import ContextVar
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from functools import cache
from types import MappingProxyType

from sitegen.datatypes import dataclass

Powers = tuple[tuple[str, int], ...]  # of base units, sorted by their names, none to the power of 0

_POUND = Fraction("453.59237")  # g, exact since 1959 (NIST SP 811, B.8), as are inch, foot and yard below
_INCH, _FOOT, _YARD = Fraction("25.4"), Fraction("304.8"), Fraction("914.4")  # mm
_GRAVITY = Fraction("9.80665")  # m/s², standard; also Pa of 1 mm of conventional water, density 1000 kg/m³
_N, _W = 10**6, 10**9  # g·mm/s² and g·mm²/s³
_FORCE = {"g": 1, "mm": 1, "s": -2}
_PRESSURE = {"g": 1, "mm": -1, "s": -2}
_ENERGY = {"g": 1, "mm": 2, "s": -2}
_POWER = {"g": 1, "mm": 2, "s": -3}
_SPEED = {"mm": 1, "s": -1}


@dataclass(frozen=True, slots=True)
class _Size:
    """What a unit is: `factor` times a product of powers of base units."""

    factor: Fraction
    powers: Powers


def _size(factor: Fraction | int | str, powers: Mapping[str, int]) -> _Size:
    return _Size(Fraction(factor), tuple(sorted((base, power) for base, power in powers.items() if power)))


# Units that no product of others gives. Illuminance is lm/m²; lumen and candela differ by an angle, so each is its own.
_SIMPLE: dict[str, _Size] = {
    "g": _size(1, {"g": 1}), "kg": _size(1000, {"g": 1}), "mg": _size("0.001", {"g": 1}), "t": _size(10**6, {"g": 1}),
    "oz": _size(_POUND / 16, {"g": 1}), "lb": _size(_POUND, {"g": 1}),
    "µm": _size("0.001", {"mm": 1}), "mm": _size(1, {"mm": 1}), "cm": _size(10, {"mm": 1}), "m": _size(1000, {"mm": 1}),
    "km": _size(10**6, {"mm": 1}), "in": _size(_INCH, {"mm": 1}), "ft": _size(_FOOT, {"mm": 1}), "yd": _size(_YARD, {"mm": 1}),
    "ms": _size("0.001", {"s": 1}), "s": _size(1, {"s": 1}), "min": _size(60, {"s": 1}), "h": _size(3600, {"s": 1}),
    "d": _size(86400, {"s": 1}), "24 h": _size(86400, {"s": 1}), "Hz": _size(1, {"s": -1}),
    # A cubic foot a minute through a square foot.
    "cfm": _size(_FOOT / 60, _SPEED),
    "N": _size(_N, _FORCE), "kN": _size(1000 * _N, _FORCE),
    "Pa": _size(1, _PRESSURE), "hPa": _size(100, _PRESSURE), "kPa": _size(1000, _PRESSURE), "MPa": _size(10**6, _PRESSURE),
    "mbar": _size(100, _PRESSURE), "bar": _size(10**5, _PRESSURE),
    "psi": _size(_POUND / 1000 * _GRAVITY / (_INCH / 1000) ** 2, _PRESSURE),
    "mmH2O": _size(_GRAVITY, _PRESSURE), "cmH2O": _size(10 * _GRAVITY, _PRESSURE), "mH2O": _size(1000 * _GRAVITY, _PRESSURE),
    "J": _size(_W, _ENERGY), "kJ": _size(1000 * _W, _ENERGY), "kcal": _size(4184 * _W, _ENERGY),
    "Wh": _size(3600 * _W, _ENERGY), "kWh": _size(3600000 * _W, _ENERGY),
    "mW": _size(10**6, _POWER), "W": _size(_W, _POWER), "kW": _size(1000 * _W, _POWER),
    "A": _size(1, {"A": 1}), "mA": _size("0.001", {"A": 1}), "mAh": _size("3.6", {"A": 1, "s": 1}), "Ah": _size(3600, {"A": 1, "s": 1}),
    "V": _size(_W, _POWER | {"A": -1}),
    "ml": _size(1000, {"mm": 3}), "cl": _size(10**4, {"mm": 3}), "dl": _size(10**5, {"mm": 3}), "l": _size(10**6, {"mm": 3}),
    "lm": _size(1, {"lm": 1}), "lx": _size(Fraction(1, 10**6), {"lm": 1, "mm": -2}), "cd": _size(1, {"cd": 1}), "kcd": _size(1000, {"cd": 1}),
    "%": _size(1, {"%": 1}), "ppm": _size("0.0001", {"%": 1}), "°": _size(1, {"°": 1}), "K": _size(1, {"K": 1}),
    "dB": _size(1, {"dB": 1}), "dB(A)": _size(1, {"dB(A)": 1}), "°dH": _size(1, {"°dH": 1}), "nights": _size(1, {"nights": 1}),
    "tex": _size("0.000001", {"g": 1, "mm": -1}), "dtex": _size("0.0000001", {"g": 1, "mm": -1}),
    "den": _size(Fraction(1, 9 * 10**6), {"g": 1, "mm": -1}),
}  # fmt: skip
_TEMPERATURES = {  # the size of a degree in kelvin, and where the scale's zero lies
    "K": (Fraction(1), Fraction(0)), "°C": (Fraction(1), Fraction("273.15")), "°F": (Fraction(5, 9), Fraction("273.15") - 32 * Fraction(5, 9)),
}  # fmt: skip

# The units that messages and docs/reference.md list, by the kind of quantity that they measure.
KINDS: dict[str, tuple[str, ...]] = {
    "mass": ("g", "kg", "mg", "t", "oz", "lb"),
    "length": ("mm", "cm", "m", "km", "in", "ft", "yd", "µm"),
    "area": ("mm²", "cm²", "m²"),
    "volume": ("ml", "l", "cl", "dl", "m³", "in³"),
    "time": ("s", "min", "h", "d", "24 h", "ms"),
    "frequency": ("Hz",),
    "speed": ("mm/s", "cm/s", "m/s", "m/min", "km/h", "l/m²/s", "l/(m²·h)", "cfm"),
    "flow": ("ml/s", "l/min"),
    "force": ("N", "kN"),
    "force per length": ("N/mm", "N/cm", "N/m"),
    "pressure": ("Pa", "hPa", "kPa", "MPa", "mbar", "bar", "psi", "mmH2O", "cmH2O", "mH2O"),
    "energy": ("Wh", "kWh", "J", "kJ", "kcal"),
    "power": ("W", "mW", "kW"),
    "charge": ("mAh", "Ah"),
    "current": ("A", "mA"),
    "voltage": ("V",),
    "temperature": ("°C", "°F", "K"),
    "thermal resistance": ("m²·K/W",),
    "vapour resistance": ("m²·Pa/W",),
    "vapour flow": ("g/(m²·24 h)", "g/(m²·d)", "g/(m²·h)"),
    "mass per area": ("g/m²", "oz/yd²"),
    "density": ("g/l", "kg/m³"),
    "linear density": ("tex", "dtex", "den"),
    "luminous flux": ("lm",),
    "luminous intensity": ("cd", "kcd"),
    "illuminance": ("lx",),
    "share": ("%", "ppm"),
    "angle": ("°",),
    "sound level": ("dB",),
    "A-weighted sound level": ("dB(A)",),
    "water hardness": ("°dH",),
    "nights": ("nights",),
}
UNITS: dict[str, str] = {unit: kind for kind, units in KINDS.items() for unit in units}

# Other spellings of the same units that people write and that can mean nothing else.
SPELLINGS = {
    "L": "l", "mL": "ml", "cm³": "ml", "cm3": "ml", "cc": "ml", "sec": "s", "hr": "h", "hrs": "h", "mins": "min", "24h": "24 h",
    "°c": "°C", "degC": "°C", "deg C": "°C", "° C": "°C", "ºC": "°C", "°f": "°F", "degF": "°F", "deg F": "°F", "° F": "°F",
    "l/(m²·s)": "l/m²/s", "gsm": "g/m²", "km/u": "km/h", "um": "µm", "μm": "µm",
    "cfm/ft²": "cfm", "cfm/ft2": "cfm", "mm H2O": "mmH2O", "mmH₂O": "mmH2O", "mm H₂O": "mmH2O",
    "cm H2O": "cmH2O", "cmH₂O": "cmH2O", "cm H₂O": "cmH2O", "m H2O": "mH2O", "mH₂O": "mH2O", "m H₂O": "mH2O",
    "lumen": "lm", "lumens": "lm", "lux": "lx", "candela": "cd", "watt": "W", "watts": "W", "newton": "N", "newtons": "N", "dBA": "dB(A)",
    "gram": "g", "grams": "g", "minutes": "min", "hours": "h", "seconds": "s", "percent": "%", "% RH": "%", "deg": "°", "night": "nights",
}  # fmt: skip
# The units of which CLDR has names, under its own.
CLDR = {
    "mg": "mass-milligram", "g": "mass-gram", "kg": "mass-kilogram", "oz": "mass-ounce", "lb": "mass-pound",
    "mm": "length-millimeter", "cm": "length-centimeter", "m": "length-meter", "km": "length-kilometer", "ft": "length-foot",
    "s": "duration-second", "min": "duration-minute", "h": "duration-hour", "d": "duration-day",
    "ml": "volume-milliliter", "l": "volume-liter", "°C": "temperature-celsius", "°F": "temperature-fahrenheit",
    "%": "concentr-percent", "lm": "light-lumen", "lx": "light-lux", "cd": "light-candela", "°": "angle-degree",
    "Pa": "pressure-pascal", "hPa": "pressure-hectopascal", "kPa": "pressure-kilopascal", "mbar": "pressure-millibar",
    "bar": "pressure-bar", "km/h": "speed-kilometer-per-hour", "m/s": "speed-meter-per-second", "nights": "duration-night",
}  # fmt: skip
# Where the symbol as printed isn't the unit as written.
_PRINTED = {"mmH2O": "mm H₂O", "cmH2O": "cm H₂O", "mH2O": "m H₂O", "l/m²/s": "l/(m²·s)"}

NO_UNITS: Mapping[str, str] = MappingProxyType({})
# A head of water is a length by name and a pressure by nature: with such a protocol, mm mean mm of water.
_COLUMN = {"mm": "mmH2O", "cm": "cmH2O", "m": "mH2O"}
_declared: ContextVar[Mapping[str, str]] = ContextVar("declared", default=NO_UNITS)
_FACTOR = re.compile(r"(?P<unit>.*?[^\d^⁻⁰¹²³⁴-⁹-])(?:\^?(?P<power>-?\d)|(?P<raised>⁻?[¹²³⁴-⁹]))?")
_RAISED = str.maketrans("⁻¹²³⁴⁵⁶⁷⁸⁹", "-123456789")
_LOWERED = str.maketrans("-123456789", "⁻¹²³⁴⁵⁶⁷⁸⁹")
_LONGEST = 40  # characters of a derived unit, and so a bound of what reading one can cost


class UnknownUnit(LookupError):
    """A text that is no unit."""


class UnitMismatch(ValueError):
    """The unit does not measure the kind of quantity that was asked for."""


def known_unit(text: str) -> str | None:
    """The usual spelling of a unit, None for what is none.

    >>> known_unit("mL"), known_unit("m2*K/W"), known_unit("g/m²/24h"), known_unit("furlong")
    ('ml', 'm²·K/W', 'g/(m²·24 h)', None)
    """
    if text in UNITS:
        return text
    if text in _declared.get():
        return _declared.get()[text]
    return SPELLINGS[text] if text in SPELLINGS else _derived(text)


def declare(units: Mapping[str, str]) -> None:
    """From now on these names are units too, each with its definition, until others are declared."""
    _declared.set(units)


def declared_units() -> Mapping[str, str]:
    """The units that the publication being read declares: definition by name."""
    return _declared.get()


def defined(name: str, value: Decimal | None = None, unit: str = "") -> str:
    """A declared unit with its definition: so many of a known unit, or, without value, a count of its own."""
    return f"{name}={value:f} {unit}" if value is not None else f"{name}="


@cache
def _derived(text: str) -> str | None:
    """The usual spelling of a product of powers, None where it isn't one."""
    factors = _factors(text)
    if not factors or not _size_of(text).powers:
        return None
    over = [(unit, power) for unit, power in factors if power > 0]
    under = [(unit, -power) for unit, power in factors if power < 0]
    if not over:
        spelled = "·".join(_power(unit, power) for unit, power in factors)
    else:
        spelled = "·".join(_power(*factor) for factor in over)
        below = "·".join(_power(*factor) for factor in under)
        spelled += f"/({below})" if len(under) > 1 else f"/{below}" if under else ""
    return SPELLINGS.get(spelled, spelled)


def _power(unit: str, power: int) -> str:
    return unit + (str(power).translate(_LOWERED) if power != 1 else "")


@cache
def _factors(text: str) -> tuple[tuple[str, int], ...]:
    """The simple units of a product with their powers, in the order written; empty where it isn't one."""
    if len(text) > _LONGEST:
        return ()
    found: dict[str, int] = {}
    for number, part in enumerate(_split(text.replace("*", "·"), "/")):
        bracketed = part.startswith("(") and part.endswith(")")
        factors = _split(part[1:-1] if bracketed else part, "·")
        if number and len(factors) > 1 and not bracketed:
            return ()
        for factor in factors:
            unit, power = _simple(factor.strip())
            if not unit:
                return ()
            found[unit] = found.get(unit, 0) + (-power if number else power)
    return tuple((unit, power) for unit, power in found.items() if power)


def _split(text: str, sign: str) -> list[str]:
    """The parts between signs that stand outside brackets."""
    parts, depth = [""], 0
    for letter in text:
        depth += (letter == "(") - (letter == ")")
        if letter == sign and depth == 0:
            parts.append("")
        else:
            parts[-1] += letter
    return [part.strip() for part in parts]


def _simple(text: str) -> tuple[str, int]:
    """A simple unit and its power; an empty name for what is none."""
    for whole in (text, SPELLINGS.get(text, "")):
        if whole in _SIMPLE:
            return whole, 1
    found = _FACTOR.fullmatch(text)
    if found is None:
        return "", 0
    unit = SPELLINGS.get(found["unit"], found["unit"])
    power = int(found["power"] or (found["raised"] or "1").translate(_RAISED))
    return (unit, power) if unit in _SIMPLE and power else ("", 0)


@cache
def _size_of(unit: str) -> _Size:
    """A unit as a factor and powers of base units. Errors: UnknownUnit."""
    if unit in _SIMPLE:
        return _SIMPLE[unit]
    if unit in _TEMPERATURES:
        return _size(_TEMPERATURES[unit][0], {"K": 1})
    name, is_declared, definition = unit.partition("=")
    if is_declared and definition:
        value, _, known = definition.partition(" ")
        return _size(Fraction(value) * _size_of(known).factor, dict(_size_of(known).powers))
    if is_declared:
        return _size(1, {name: 1})
    factors = _factors(unit)
    if not factors:
        raise UnknownUnit(f"{unit!r} is not a unit that this tool knows")
    factor, powers = Fraction(1), dict[str, int]()
    for name, power in factors:
        factor *= _SIMPLE[name].factor ** power
        for base, own in _SIMPLE[name].powers:
            powers[base] = powers.get(base, 0) + own * power
    return _size(factor, powers)


@cache
def kind_of(unit: str) -> str:
    """The kind of quantity that a unit measures; of one beyond the table, its base units. Errors: UnknownUnit."""
    if unit in UNITS:
        return UNITS[unit]
    powers = _size_of(unit).powers
    return next(
        (kind for kind, units in KINDS.items() if _size_of(units[0]).powers == powers),
        "·".join(_power(base, power) for base, power in powers),
    )


def siblings(unit: str) -> tuple[str, ...]:
    """All units of the table in which a quantity of the same kind may be given, the unit itself included."""
    kind = kind_of(unit)
    extra = tuple(_COLUMN) if unit in _COLUMN.values() else ()
    return tuple(dict.fromkeys((*KINDS.get(kind, ()), *extra, *(() if unit in UNITS else (unit,)))))


def name_of(unit: str) -> str:
    """A unit as an author writes it: of a declared one, the name without the definition."""
    return unit.partition("=")[0]


def symbol(unit: str) -> str:
    """A unit as printed, with no-break spaces within; of the empty unit, nothing. Errors: UnknownUnit."""
    if unit and unit not in UNITS:
        _size_of(unit)
    return _PRINTED.get(unit, name_of(unit)).replace(" ", "\u00a0")


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """`value` in `unit`, expressed in `to`, with as many digits as the value carried (one guard digit).

    Raises UnitMismatch where the two measure different kinds of quantity.
    """
    if unit == to:
        return value
    if to in _COLUMN.values() and unit in _COLUMN:
        unit = _COLUMN[unit]
    if _size_of(unit).powers != _size_of(to).powers:
        raise UnitMismatch(f"{name_of(unit)} measures {kind_of(unit)}, {name_of(to)} measures {kind_of(to)}")
    if unit in _TEMPERATURES and to in _TEMPERATURES:
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
    return _decimal(ratio(unit, to))


def ratio(unit: str, to: str) -> Fraction:
    """How many of `to` one of `unit` is, exactly; of temperatures, the sizes of their degrees. Errors: UnknownUnit."""
    return _size_of(unit).factor / _size_of(to).factor


def _decimal(exact: Fraction) -> Decimal:
    return Decimal(exact.numerator) / Decimal(exact.denominator)
