"""Unit symbols as printed, unit names as spoken, and the codes of UN/CEFACT Recommendation 20.

Symbols don't change with the language (SI Brochure, 9th edition, 5.2), so the table has one column for them.
The litre is the small l everywhere: both letters are allowed, and one house uses one. Water column is printed
as `mm H₂O`: a bare `mm` would be read as a length, and the words for "water column" differ by language where
a symbol must not; the pascal is the SI's own unit for it. Names serve text alternatives, where a symbol is
read out badly.
"""

from sitegen.datatypes import dataclass

__all__ = ["UnitName", "UnknownUnit", "common_code", "known_units", "spoken_name", "symbol"]


class UnknownUnit(LookupError):
    """A unit that isn't in the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitName:
    """One unit: its symbol, its common code (None where we aren't sure of one), and its names, mostly plural.

    `names` holds language: (name after 1, name after any other number).
    """

    symbol: str
    code: str | None
    names: dict[str, tuple[str, str]]


def _unit(symbol: str, code: str | None, en: str, de: str, nl: str, fr: str) -> UnitName:
    """A row: each name as `one|other`, or a single word where both are alike."""
    said = {"en": en, "de": de, "nl": nl, "fr": fr}
    return UnitName(
        symbol=symbol,
        code=code,
        names={tag: (text.split("|")[0], text.split("|")[-1]) for tag, text in said.items()},
    )


# Codes from memory of Recommendation 20; where memory isn't sure there is none.
_UNITS: dict[str, UnitName] = {
    "": _unit("", "C62", "", "", "", ""),
    "%": _unit("%", "P1", "percent", "Prozent", "procent", "pour cent"),
    "mg": _unit("mg", "MGM", "milligram|milligrams", "Milligramm", "milligram", "milligramme|milligrammes"),
    "g": _unit("g", "GRM", "gram|grams", "Gramm", "gram", "gramme|grammes"),
    "kg": _unit("kg", "KGM", "kilogram|kilograms", "Kilogramm", "kilogram", "kilogramme|kilogrammes"),
    "g/m²": _unit(
        "g/m²",
        "GM",
        "gram per square metre|grams per square metre",
        "Gramm je Quadratmeter",
        "gram per vierkante meter",
        "gramme par mètre carré|grammes par mètre carré",
    ),
    "µm": _unit("µm", "4H", "micrometre|micrometres", "Mikrometer", "micrometer", "micromètre|micromètres"),
    "mm": _unit("mm", "MMT", "millimetre|millimetres", "Millimeter", "millimeter", "millimètre|millimètres"),
    "cm": _unit("cm", "CMT", "centimetre|centimetres", "Zentimeter", "centimeter", "centimètre|centimètres"),
    "m": _unit("m", "MTR", "metre|metres", "Meter", "meter", "mètre|mètres"),
    "km": _unit("km", "KMT", "kilometre|kilometres", "Kilometer", "kilometer", "kilomètre|kilomètres"),
    "cm²": _unit(
        "cm²",
        "CMK",
        "square centimetre|square centimetres",
        "Quadratzentimeter",
        "vierkante centimeter",
        "centimètre carré|centimètres carrés",
    ),
    "m²": _unit(
        "m²",
        "MTK",
        "square metre|square metres",
        "Quadratmeter",
        "vierkante meter",
        "mètre carré|mètres carrés",
    ),
    "cm³": _unit(
        "cm³",
        "CMQ",
        "cubic centimetre|cubic centimetres",
        "Kubikzentimeter",
        "kubieke centimeter",
        "centimètre cube|centimètres cubes",
    ),
    "ml": _unit("ml", "MLT", "millilitre|millilitres", "Milliliter", "milliliter", "millilitre|millilitres"),
    "l": _unit("l", "LTR", "litre|litres", "Liter", "liter", "litre|litres"),
    "mm/s": _unit(
        "mm/s",
        "C16",
        "millimetre per second|millimetres per second",
        "Millimeter je Sekunde",
        "millimeter per seconde",
        "millimètre par seconde|millimètres par seconde",
    ),
    "m/s": _unit(
        "m/s",
        "MTS",
        "metre per second|metres per second",
        "Meter je Sekunde",
        "meter per seconde",
        "mètre par seconde|mètres par seconde",
    ),
    "km/h": _unit(
        "km/h",
        "KMH",
        "kilometre per hour|kilometres per hour",
        "Kilometer je Stunde",
        "kilometer per uur",
        "kilomètre par heure|kilomètres par heure",
    ),
    "ms": _unit(
        "ms",
        "C26",
        "millisecond|milliseconds",
        "Millisekunde|Millisekunden",
        "milliseconde|milliseconden",
        "milliseconde|millisecondes",
    ),
    "s": _unit("s", "SEC", "second|seconds", "Sekunde|Sekunden", "seconde|seconden", "seconde|secondes"),
    "min": _unit("min", "MIN", "minute|minutes", "Minute|Minuten", "minuut|minuten", "minute|minutes"),
    "h": _unit("h", "HUR", "hour|hours", "Stunde|Stunden", "uur", "heure|heures"),
    "d": _unit("d", "DAY", "day|days", "Tag|Tage", "dag|dagen", "jour|jours"),
    "°": _unit("°", "DD", "degree|degrees", "Grad", "graad|graden", "degré|degrés"),
    "°C": _unit(
        "°C",
        "CEL",
        "degree Celsius|degrees Celsius",
        "Grad Celsius",
        "graad Celsius|graden Celsius",
        "degré Celsius|degrés Celsius",
    ),
    "K": _unit("K", "KEL", "kelvin|kelvins", "Kelvin", "kelvin", "kelvin|kelvins"),
    "Pa": _unit("Pa", "PAL", "pascal|pascals", "Pascal", "pascal", "pascal|pascals"),
    "hPa": _unit("hPa", "A97", "hectopascal|hectopascals", "Hektopascal", "hectopascal", "hectopascal|hectopascals"),
    "kPa": _unit("kPa", "KPA", "kilopascal|kilopascals", "Kilopascal", "kilopascal", "kilopascal|kilopascals"),
    "mbar": _unit("mbar", "MBR", "millibar|millibars", "Millibar", "millibar", "millibar|millibars"),
    "bar": _unit("bar", "BAR", "bar|bars", "Bar", "bar", "bar|bars"),
    "mmH2O": _unit(
        "mm H₂O",
        None,
        "millimetre of water column|millimetres of water column",
        "Millimeter Wassersäule",
        "millimeter waterkolom",
        "millimètre de colonne d’eau|millimètres de colonne d’eau",
    ),
    "cmH2O": _unit(
        "cm H₂O",
        None,
        "centimetre of water column|centimetres of water column",
        "Zentimeter Wassersäule",
        "centimeter waterkolom",
        "centimètre de colonne d’eau|centimètres de colonne d’eau",
    ),
    "oz": _unit(
        "oz",
        "ONZ",
        "ounce|ounces",
        "Unze|Unzen",
        "ounce|ounces",
        "once|onces",
    ),
    "lb": _unit(
        "lb",
        "LBR",
        "pound|pounds",
        "Pfund",
        "pond",
        "livre|livres",
    ),
    "in": _unit(
        "in",
        "INH",
        "inch|inches",
        "Zoll",
        "inch|inches",
        "pouce|pouces",
    ),
    "ft": _unit(
        "ft",
        "FOT",
        "foot|feet",
        "Fuß",
        "voet",
        "pied|pieds",
    ),
    "m³": _unit(
        "m³",
        "MTQ",
        "cubic metre|cubic metres",
        "Kubikmeter",
        "kubieke meter",
        "mètre cube|mètres cubes",
    ),
    "in³": _unit(
        "in³",
        "INQ",
        "cubic inch|cubic inches",
        "Kubikzoll",
        "kubieke inch",
        "pouce cube|pouces cubes",
    ),
    "oz/yd²": _unit(
        "oz/yd²",
        "ON",
        "ounce per square yard|ounces per square yard",
        "Unze je Quadratyard|Unzen je Quadratyard",
        "ounce per vierkante yard",
        "once par yard carré|onces par yard carré",
    ),
    "cm/s": _unit(
        "cm/s",
        "2M",
        "centimetre per second|centimetres per second",
        "Zentimeter je Sekunde",
        "centimeter per seconde",
        "centimètre par seconde|centimètres par seconde",
    ),
    "l/m²/s": _unit(
        "l/(m²·s)",
        None,
        "litre per square metre and second|litres per square metre and second",
        "Liter je Quadratmeter und Sekunde",
        "liter per vierkante meter en seconde",
        "litre par mètre carré et par seconde|litres par mètre carré et par seconde",
    ),
    "cfm": _unit(
        "cfm",
        None,
        "cubic foot per square foot and minute|cubic feet per square foot and minute",
        "Kubikfuß je Quadratfuß und Minute",
        "kubieke voet per vierkante voet en minuut",
        "pied cube par pied carré et par minute|pieds cubes par pied carré et par minute",
    ),
    "ml/s": _unit(
        "ml/s",
        "40",
        "millilitre per second|millilitres per second",
        "Milliliter je Sekunde",
        "milliliter per seconde",
        "millilitre par seconde|millilitres par seconde",
    ),
    "l/min": _unit(
        "l/min",
        "L2",
        "litre per minute|litres per minute",
        "Liter je Minute",
        "liter per minuut",
        "litre par minute|litres par minute",
    ),
    "°F": _unit(
        "°F",
        "FAH",
        "degree Fahrenheit|degrees Fahrenheit",
        "Grad Fahrenheit",
        "graad Fahrenheit|graden Fahrenheit",
        "degré Fahrenheit|degrés Fahrenheit",
    ),
    "psi": _unit(
        "psi",
        "PS",
        "pound-force per square inch|pounds-force per square inch",
        "Pfund je Quadratzoll",
        "pond per vierkante inch",
        "livre-force par pouce carré|livres-force par pouce carré",
    ),
    "mH2O": _unit(
        "m H₂O",
        None,
        "metre of water column|metres of water column",
        "Meter Wassersäule",
        "meter waterkolom",
        "mètre de colonne d’eau|mètres de colonne d’eau",
    ),
    "N": _unit("N", "NEW", "newton|newtons", "Newton", "newton", "newton|newtons"),
    "J": _unit("J", "JOU", "joule|joules", "Joule", "joule", "joule|joules"),
    "W": _unit("W", "WTT", "watt|watts", "Watt", "watt", "watt|watts"),
    "Wh": _unit("Wh", "WHR", "watt hour|watt hours", "Wattstunde|Wattstunden", "wattuur", "wattheure|wattheures"),
    "mAh": _unit(
        "mAh",
        None,
        "milliampere hour|milliampere hours",
        "Milliamperestunde|Milliamperestunden",
        "milliampère-uur",
        "milliampère-heure|milliampères-heures",
    ),
    "V": _unit("V", "VLT", "volt|volts", "Volt", "volt", "volt|volts"),
    "A": _unit("A", "AMP", "ampere|amperes", "Ampere", "ampère", "ampère|ampères"),
    "lm": _unit("lm", "LUM", "lumen|lumens", "Lumen", "lumen", "lumen|lumens"),
    "g/m²/24 h": _unit(
        "g/m²/24 h",
        None,
        "gram per square metre in a day|grams per square metre in a day",
        "Gramm je Quadratmeter und Tag",
        "gram per vierkante meter per dag",
        "gramme par mètre carré et par jour|grammes par mètre carré et par jour",
    ),
    "cd": _unit("cd", "CDL", "candela|candelas", "Candela", "candela", "candela|candelas"),
    "lx": _unit("lx", "LUX", "lux", "Lux", "lux", "lux"),
    "dB": _unit("dB", "2N", "decibel|decibels", "Dezibel", "decibel", "décibel|décibels"),
}

# Ways to type a key on an ordinary keyboard, and the capital L of older records.
_ALSO: dict[str, str] = {
    "L": "l",
    "mL": "ml",
    "g/m2": "g/m²",
    "cm2": "cm²",
    "m2": "m²",
    "cm3": "cm³",
    "um": "µm",
    "μm": "µm",
    "deg": "°",
    "degC": "°C",
    "mm H2O": "mmH2O",
    "mm H₂O": "mmH2O",
    "cm H2O": "cmH2O",
    "cm H₂O": "cmH2O",
}


def _row(unit: str) -> UnitName:
    try:
        return _UNITS[unit]
    except KeyError:
        pass
    try:
        return _UNITS[_ALSO[unit]]
    except KeyError:
        raise UnknownUnit(f"{unit!r} is not a unit that this house prints") from None


def symbol(unit: str, tag: str = "") -> str:
    """The symbol of a unit as printed; of the empty unit, nothing.

    `tag` is taken so that a language could differ; none does today. A space within (`mm H₂O`) comes as a
    no-break space. Raises `UnknownUnit`.
    """
    return _row(unit).symbol.replace(" ", "\u00a0")


def common_code(unit: str) -> str | None:
    """The UN/CEFACT common code for structured data, or None where there is none we are sure of."""
    return _row(unit).code


def spoken_name(unit: str, tag: str, *, one: bool = False) -> str:
    """The unit's name for a text alternative, English where the language has none. Raises `UnknownUnit`."""
    names = _row(unit).names
    forms = names.get(tag.split("-")[0], names["en"])
    return forms[0] if one else forms[1]


def known_units() -> tuple[str, ...]:
    """The keys of all units in the table, in its order."""
    return tuple(_UNITS)
