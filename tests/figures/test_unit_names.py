"""Units as printed, as spoken and as coded."""

import pytest

from sitegen.figures.unit_names import UnknownUnit, common_code, known_units, spoken_name, symbol
from sitegen.records.units import SPELLINGS, UNITS


@pytest.mark.parametrize("unit", sorted({*UNITS, *SPELLINGS.values()}))
def test_every_unit_that_may_be_written_can_be_printed(unit: str) -> None:
    """No unit of the records is without a symbol, and each has a name in every language of the catalogues."""
    assert symbol(unit)
    for tag in ("en", "de", "nl", "fr"):
        assert spoken_name(unit, tag) and spoken_name(unit, tag, one=True)


@pytest.mark.parametrize("tag", ["", "en", "de", "fr", "pl", "ar"])
def test_symbols_do_not_change_with_the_language(tag: str) -> None:
    """SI Brochure, 9th edition, 5.2: symbols are the same in every language."""
    assert [symbol(unit) for unit in known_units()] == [symbol(unit, tag) for unit in known_units()]


def test_symbols_are_told_apart() -> None:
    """No two units print alike: a head of water is never mistaken for a length."""
    printed = [symbol(unit) for unit in known_units()]
    assert len(printed) == len(set(printed))


def test_an_unknown_unit_is_refused() -> None:
    """The table is closed."""
    with pytest.raises(UnknownUnit):
        symbol("furlong")


@pytest.mark.parametrize(
    ("unit", "code"),
    # UN/ECE Recommendation 20, from memory.
    [("g", "GRM"), ("kg", "KGM"), ("mm", "MMT"), ("m", "MTR"), ("Pa", "PAL"), ("lm", "LUM"), ("cd", "CDL"),
     ("s", "SEC"), ("min", "MIN"), ("h", "HUR"), ("°C", "CEL"), ("%", "P1"), ("l", "LTR"), ("mmH2O", None)],
)  # fmt: skip
def test_codes(unit: str, code: str | None) -> None:
    """Structured data names a unit by its common code, or by none where we have no sure one."""
    assert code == common_code(unit)


def test_codes_are_told_apart() -> None:
    """No code stands for two units."""
    codes = [code for unit in known_units() if (code := common_code(unit))]
    assert len(codes) == len(set(codes))


def test_spoken_names() -> None:
    """A text alternative says the name that fits the number, English where the language isn't ours."""
    assert ("Minute", "Minuten") == (spoken_name("min", "de-AT", one=True), spoken_name("min", "de-AT"))
    assert "millimeter waterkolom" == spoken_name("mmH2O", "nl")
    assert "grams" == spoken_name("g", "pl")
