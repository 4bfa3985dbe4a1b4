"""Names of units behind figures, held against Babel's own formatting of quantities, which the tool doesn't use for it."""

from decimal import Decimal

import pytest
from babel import Locale
from babel.units import format_unit

from sitegen.editions.typed.notation import notation_of
from sitegen.editions.typed.notation_words import JOINERS
from sitegen.editions.typed.typed_units import TypedUnits, evened
from sitegen.records.fields.units import CLDR, UNITS

LANGUAGES = ("de", "en", "nl", "fr", "es", "it", "da", "sv", "nb", "pl")


def names_by_formatting(locale: str) -> set[str]:
    """What stands behind 1, 2, 5 and 1.5 of each unit, long and short."""
    found = set()
    for unit in CLDR.values():
        for value in (1, 2, 5, Decimal("1.5")):
            for width in ("long", "short"):
                text = format_unit(value, unit, width, locale=locale).strip(
                    "0123456789.,\u066b \u00a0\u202f\u200e\u200f"
                )
                if text not in {"", unit, *UNITS} and (width == "long" or len(text.strip(".")) > 2):
                    found.add(text.lower())
    return found


@pytest.mark.parametrize("locale", [*LANGUAGES, "en_GB", "de_CH"])
def test_knows_every_name_that_babel_writes(locale: str) -> None:
    """Source: CLDR, through Babel's format_unit."""
    units = TypedUnits(Locale.parse(locale))
    assert names_by_formatting(locale) <= units.names.keys()


@pytest.mark.parametrize("tag", LANGUAGES)
def test_finds_each_unit_at_its_place(tag: str) -> None:
    """Every symbol and name is found whole behind a number, with either blank in it and in capitals too."""
    units = notation_of(tag).units
    for name, unit in units.names.items():
        for written in {name, name.upper(), name.replace(" ", "\u202f")} - units.symbols.keys():
            if written.lower() == name or "\u202f" in written:
                found = units.after(evened(f"5 {written}, or"), 2)
                assert found == (unit, False, 2 + len(written)), (tag, written)
    for symbol, unit in units.symbols.items():
        found = units.after(f"5 {symbol}", 2)
        assert found is not None and (found[0], found[2]) == (unit, 2 + len(symbol)), (tag, symbol)


@pytest.mark.parametrize("after", ["2", "²", "s", "°", "/s", "-2", "_"])
def test_a_unit_ends_where_a_word_ends(after: str) -> None:
    """`m2`, `ms`, `m-2` are no metres; `m-long` and `m.` are."""
    units = notation_of("en").units
    assert units.after(f"5 kPa{after}", 2) is None
    assert units.after("5 m-long", 2) == ("m", True, 3) and units.after("5 m.", 2) == ("m", True, 3)


def test_the_longer_unit_counts_and_then_the_symbol() -> None:
    """`deg C` is no angle, 250 SEK are no seconds, mm of water no millimetres."""
    en, sv, de = (notation_of(tag).units for tag in ("en", "sv", "de"))
    assert en.after("5 deg C", 2) == ("°C", True, 7) and sv.after("5 SEK", 2) == ("SEK", True, 5)
    assert de.after("5 mm Wassersäule", 2) == ("mmH2O", False, 16) and de.after("5 mm Wasser", 2) == ("mm", True, 4)


@pytest.mark.parametrize("tag", LANGUAGES)
def test_no_word_between_two_numbers_is_a_unit(tag: str) -> None:
    """In `5 to 7 g` the word joins the numbers: were it a unit, the range would be read as its first number."""
    units = notation_of(tag).units
    assert all(units.after(f"5 {word} 7", 2) is None for word in JOINERS[tag])
