"""The units that one language writes behind a figure: symbols, and names in every form that CLDR has.

Names come from CLDR through Babel; what CLDR lacks is in `notation_words`. They are looked up, the longest first,
and not matched: a pattern of some hundred names takes 15 ms to compile, more than reading ten texts.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import cache, cached_property
from typing import Any

from babel import Locale, localedata

from sitegen.editions.typed import notation_words as words
from sitegen.records.fields.units import CLDR, SPELLINGS, UNITS

# All of a line's blanks are one of these two in an evened text, so that patterns need no letter beyond Latin-1: the
# standard library compiles a set with such a letter ten times as long.
_EVENED = str.maketrans({"\n": " ", "\u202f": "\u00a0", "\u2009": "\u00a0"})
_NO_BREAK_AS_BLANK = str.maketrans({"\u00a0": " "})
# Symbols that are words as well, in one language or another, and one that begins with a figure.
_AMBIGUOUS = {"in", "d", "t", "A", "den", "nights", "24 h"}
CURRENCY_SIGNS = {"€": "EUR", "£": "GBP", "$": "USD"} | {
    code: code for code in ("EUR", "GBP", "USD", "CHF", "DKK", "SEK", "NOK", "PLN")
}
_DRESS = ".,\u066b \u00a0\u202f\u200e\u200f"


def evened(text: str) -> str:
    """A text whose blanks are plain (line ends too) or no-break ones (thin ones too), character for character."""
    return text.translate(_EVENED)


class TypedUnits:
    """The units of one language. `symbols` gives the unit of a symbol, `names` that of a lower-case name."""

    def __init__(self, locale: Locale) -> None:
        self._locale = locale
        self.symbols = _symbols()

    @cached_property
    def names(self) -> Mapping[str, str]:
        """All names, found when the first figure is read."""
        return dict(_unit_names(self._locale))

    @cached_property
    def _by_letter(self) -> tuple[Mapping[str, tuple[str, ...]], Mapping[str, tuple[str, ...]]]:
        return _longest_first(self.names), _longest_first(self.symbols)

    def after(self, text: str, at: int) -> tuple[str, bool, int] | None:
        """The unit that is written at a place of an evened text: which one, whether by its symbol, and where it ends.

        The longer one counts, `mm Wassersäule` before `mm`, and of two the symbol: `SEK` is no second.
        """
        names, symbols = self._by_letter
        written = text[at : at + 40].translate(_NO_BREAK_AS_BLANK)
        lowered = "".join(c.lower() if len(c.lower()) == 1 else c for c in written)  # else every place would shift
        name = _first(names.get(lowered[:1], ()), lowered, text, at)
        symbol = _first(symbols.get(written[:1], ()), written, text, at)
        if symbol and len(symbol) >= len(name):
            return self.symbols[symbol], True, at + len(symbol)
        return (self.names[name], False, at + len(name)) if name else None


def _first(names: Iterable[str], written: str, text: str, at: int) -> str:
    return next((name for name in names if written.startswith(name) and _ends(text, at + len(name))), "")


def _longest_first(names: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for name in sorted(names, key=lambda name: (-len(name), name)):
        found.setdefault(name[0], []).append(name)
    return {letter: tuple(group) for letter, group in found.items()}


def _ends(text: str, at: int) -> bool:
    """Whether a unit may end here: no letter, no power, no further unit, no digit as in `m-2`."""
    following = text[at : at + 2]
    first = following[:1]
    return not (first.isalnum() or first in {"_", "°", "/", "·"} or (first == "-" and following[1:].isdecimal()))


@cache
def _symbols() -> Mapping[str, str]:
    found = {unit: unit for unit in UNITS if unit not in _AMBIGUOUS}
    spellings = {
        text: unit
        for text, unit in SPELLINGS.items()
        if unit not in _AMBIGUOUS and not (text.isascii() and text.isalpha() and len(text) > 2)
    }
    return found | spellings | CURRENCY_SIGNS


def _unit_names(locale: Locale) -> Iterator[tuple[str, str]]:
    """Lower-case names of units, by CLDR's long and short patterns; German ones also in the dative plural."""
    for unit, cldr in CLDR.items():
        for name in _cldr_names(locale, cldr):
            yield name.lower(), unit
            if locale.language == "de" and name[-1] in "erl":
                yield f"{name}n".lower(), unit
    for unit, names in words.UNIT_NAMES.get(locale.language, {}).items():
        yield from ((name.lower(), unit) for name in names)


def _cldr_names(locale: Locale, unit: str) -> Iterator[str]:
    """A unit's name with each plural category. (Formatting numbers with it instead took a hundred times as long.)"""
    data: Any = localedata.load(str(locale))
    patterns = localedata.LocaleDataDict(data)["unit_patterns"][unit]
    for width in ("long", "short"):
        for category, pattern in patterns[width].items():
            name = pattern.replace("{0}", "").strip(_DRESS)
            if category != "per" and name and (width == "long" or len(name.strip(".")) > 2) and name not in UNITS:
                yield name
