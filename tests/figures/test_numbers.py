"""Numbers, quantities, money, lists and quotations against CLDR, the SI rules and a second formatter.

Sources named below: "CLDR by Babel" is the data of Babel 2.18; "ICU" is what the ECMAScript Intl objects of a
Node with ICU 78.2 (CLDR 48) print for the same input, written down here; "CLDR JSON" is release 48.2 of the
CLDR JSON data.
"""

import random
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path

import pytest
from babel.lists import format_list
from babel.numbers import format_currency, format_decimal, parse_decimal
from hypothesis import given
from hypothesis import strategies as st

from sitegen.figures.forms import numbers
from sitegen.figures.forms.language import Language
from sitegen.figures.forms.language import open_language as open_one

CATALOGUES = Path(__file__).parents[2] / "content" / "catalogues"
NB, NNB, MINUS, DASH = "\u00a0", "\u202f", "\u2212", "\u2013"
LOCALES = ("en", "en-GB", "nl", "de", "de-AT", "de-CH", "fr", "fr-CH", "pl")


@cache
def open_language(tag: str) -> Language:
    return open_one(tag, CATALOGUES)


# CLDR by Babel 2.18; the percent column is what CLDR itself prints, "" where it wasn't looked up.
NUMBER_TABLE = [
    ("en", "1,234,567.891", "26%"),
    ("en-GB", "1,234,567.891", "26%"),
    ("nl", "1.234.567,891", "26%"),
    ("nl-BE", "1.234.567,891", "26%"),
    ("de", "1.234.567,891", f"26{NB}%"),
    ("de-AT", "1.234.567,891", f"26{NB}%"),
    ("de-CH", "1\u2019234\u2019567.891", "26%"),
    ("fr", f"1{NNB}234{NNB}567,891", f"26{NNB}%"),
    ("fr-CH", f"1{NNB}234{NNB}567,891", ""),
    ("pl", f"1{NB}234{NB}567,891", "26%"),
]


@pytest.mark.parametrize(("tag", "written", "share"), NUMBER_TABLE)
def test_signs_and_grouping(tag: str, written: str, share: str) -> None:
    """Decimal and group signs are the locale's; a share differs from CLDR's only in its space."""
    lang = open_language(tag)
    assert written == numbers.number(lang, Decimal("1234567.891"))
    assert f"26{NB}%" == numbers.percent(lang, 26)
    if share:
        assert share.replace(NB, "").replace(NNB, "") == numbers.percent(lang, 26).replace(NB, "")


@pytest.mark.parametrize(
    ("tag", "four", "five"),
    [
        # ICU.
        ("en", "1,234", "12,345"),
        ("de", "1.234", "12.345"),
        ("fr", f"1{NNB}234", f"12{NNB}345"),
        ("pl", "1234", f"12{NB}345"),
        ("es", "1234", "12.345"),
        ("es-MX", "1,234", "12,345"),
        ("it", "1234", "12.345"),
        ("pt-PT", "1234", f"12{NB}345"),
        ("hu", "1234", f"12{NB}345"),
    ],
)
def test_minimum_grouping(tag: str, four: str, five: str) -> None:
    """Where CLDR asks for two digits before the first group sign, four digits stay together."""
    assert (four, five) == tuple(numbers.number(open_language(tag), n) for n in (1234, 12345))


def test_groups_of_other_sizes() -> None:
    """Hindi groups by two beyond the thousands (ICU)."""
    assert "12,34,567.891" == numbers.number(open_language("hi"), Decimal("1234567.891"))


@pytest.mark.parametrize("tag", [*LOCALES, "hi", "sv", "ar"])
def test_two_thousand_numbers_as_babel_writes_them(tag: str) -> None:
    """Random decimals come out as by Babel, its hyphen and its ignorance of minimum grouping set aside."""
    lang, chance = open_language(tag), random.Random(20261004)
    for _ in range(2000):
        value = Decimal(chance.randrange(-(10**9), 10**9)).scaleb(-chance.randrange(0, 6))
        decimals = -int(value.as_tuple().exponent)
        pattern = lang.locale.decimal_formats[None].pattern.split(".")[0] + "." * bool(decimals) + "0" * decimals
        expected = format_decimal(value, pattern, locale=lang.locale).replace("-", lang.forms.minus)
        if 1000 <= abs(value) < 10000:
            expected = expected.replace(lang.forms.group, lang.forms.group * (lang.forms.minimum_grouping < 2))
        assert expected == numbers.number(lang, value)


@pytest.mark.parametrize("tag", [*LOCALES, "hi", "sv", "ar", "fa"])
def test_minus_is_a_minus(tag: str) -> None:
    """Minus is U+2212 in every language; only marks of direction may stand with it."""
    assert MINUS == open_language(tag).forms.minus.strip("\u200e\u200f\u061c")


@given(value=st.decimals(allow_nan=False, allow_infinity=False, places=4, min_value=-(10**11), max_value=10**11))
@pytest.mark.parametrize("tag", LOCALES)
def test_reading_back_gives_the_number(tag: str, value: Decimal) -> None:
    """What was formatted, parsed in the same locale, is the same number."""
    lang = open_language(tag)
    written = numbers.number(lang, value).replace(MINUS, "-")
    assert value == parse_decimal(written, locale=lang.locale)


@given(digits=st.integers(-(10**12), 10**12), decimals=st.integers(0, 9))
def test_every_written_digit_is_kept(digits: int, decimals: int) -> None:
    """A decimal shows exactly the decimals that it was written with, trailing zeros included."""
    value = Decimal(digits).scaleb(-decimals)
    _, _, shown = numbers.number(open_language("en"), value).partition(".")
    assert decimals == len(shown)


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [
        (Decimal("1412.50"), None, "1.412,50"),
        (Decimal("412.0"), None, "412,0"),
        (Decimal("1E+3"), None, "1.000"),
        (Decimal("-0.00"), None, "0,00"),
        (Decimal("-0.004"), 2, "0,00"),
        (Decimal("-12.5"), None, f"{MINUS}12,5"),
        (0, None, "0"),
        (-7, None, f"{MINUS}7"),
        (0.1 + 0.2, 3, "0,300"),
        (2.675, 2, "2,68"),
        (Decimal("0.125"), 2, "0,13"),
        (Decimal(10**27), 3, "1." + "000." * 8 + "000,000"),
        (Decimal("12345678901234567890123456789012.5"), None, "12.345.678.901.234.567.890.123.456.789.012,5"),
    ],
)
def test_digits_and_signs(value: Decimal | int | float, decimals: int | None, expected: str) -> None:
    """No digit is lost to a default precision, halves go away from zero, a zero has no sign."""
    assert expected == numbers.number(open_language("de"), value, decimals)


def test_a_float_must_say_its_decimals() -> None:
    """A float alone doesn't know how many digits count; what isn't finite has none."""
    lang = open_language("en")
    with pytest.raises(TypeError):
        numbers.number(lang, 1.5)
    for value in (float("nan"), float("inf")):
        with pytest.raises(ValueError):
            numbers.number(lang, value, 1)
    with pytest.raises(ValueError):
        numbers.number(lang, Decimal("NaN"))


@given(value=st.floats(-1e9, 1e9, allow_nan=False), decimals=st.integers(0, 6))
def test_rounding_goes_to_the_nearest_decimal(value: float, decimals: int) -> None:
    """The rounded value is within half a step of the float's shortest text, and halves go away from zero."""
    rounded, exact, step = (
        numbers.round_to(value, decimals),
        Decimal(repr(value)),
        Decimal(1).scaleb(-decimals),
    )
    assert abs(rounded - exact) <= step / 2
    assert rounded == exact.quantize(step, ROUND_HALF_UP)
    assert -decimals == rounded.as_tuple().exponent
    assert rounded or not rounded.is_signed()


@pytest.mark.parametrize(
    ("tag", "value", "unit", "expected"),
    [
        # SI Brochure, 9th edition, 5.4.3: a space before the unit, also °C and %, none before ° of angle.
        ("en", "412.0", "g", f"412.0{NB}g"),
        ("de", "412.0", "g", f"412,0{NB}g"),
        ("en", "20", "°C", f"20{NB}°C"),
        ("nl", "20", "°C", f"20{NB}°C"),
        ("pl", "20", "°C", f"20{NB}°C"),
        ("en", "26", "%", f"26{NB}%"),
        ("fr", "30", "°", "30°"),
        ("en", "3.5", "", "3.5"),
        ("en", "10000", "mmH2O", f"10,000{NB}mm{NB}H₂O"),
        ("de", "3", "nights", f"3{NB}Nächte"),
        ("fr", "1", "nights", f"1{NB}nuit"),
    ],
)
def test_number_and_unit(tag: str, value: str, unit: str, expected: str) -> None:
    """Number and unit are joined by a no-break space in every language, against CLDR's own "20°C"."""
    assert expected == numbers.quantity(open_language(tag), Decimal(value), unit)


@pytest.mark.parametrize(
    ("tag", "expected"),
    [
        # SI Brochure 5.4.5 and JCGM 100:2008, 7.2.4: one unit for the value and its uncertainty.
        ("en", f"(1,412.50{NB}±{NB}0.98){NB}g"),
        ("de", f"(1.412,50{NB}±{NB}0,98){NB}g"),
        ("fr", f"(1{NNB}412,50{NB}±{NB}0,98){NB}g"),
        ("pl", f"(1412,50{NB}±{NB}0,98){NB}g"),
    ],
)
def test_estimate(tag: str, expected: str) -> None:
    """Estimate and expanded uncertainty stand in brackets before one unit; without the latter it is plain."""
    lang = open_language(tag)
    assert expected == numbers.estimate(lang, Decimal("1412.50"), Decimal("0.98"), "g")
    assert numbers.quantity(lang, Decimal("1412.50"), "g") == numbers.estimate(lang, Decimal("1412.50"), None, "g")


def test_estimate_without_a_unit_needs_no_brackets() -> None:
    """Brackets carry the unit: without one there are none; the degree of an angle follows closely."""
    lang = open_language("en")
    assert f"1.5{NB}±{NB}0.1" == numbers.estimate(lang, Decimal("1.5"), Decimal("0.1"), "")
    assert f"(30{NB}±{NB}1)°" == numbers.estimate(lang, Decimal(30), Decimal(1), "°")


def test_span() -> None:
    """A range has an en dash without spaces and its unit once; beside a minus the dash keeps its distance."""
    lang = open_language("de")
    assert f"25{DASH}30{NB}s" == numbers.span(lang, 25, 30, "s")
    assert f"1,5{DASH}2,0{NB}kPa" == numbers.span(lang, Decimal("1.5"), Decimal("2.0"), "kPa")
    assert f"{MINUS}5{NB}{DASH}{NB}10{NB}°C" == numbers.span(lang, -5, 10, "°C")


@pytest.mark.parametrize(
    ("tag", "euro", "franc"),
    [
        # ICU; left out are de-AT and de-CH, whose group sign changed between the CLDR releases of ICU and
        # Babel.
        ("en", "€1,149.90", f"CHF{NB}1,149.90"),
        ("en-GB", "€1,149.90", f"CHF{NB}1,149.90"),
        ("nl", f"€{NB}1.149,90", f"CHF{NB}1.149,90"),
        ("de", f"1.149,90{NB}€", f"1.149,90{NB}CHF"),
        ("fr", f"1{NNB}149,90{NB}€", f"1{NNB}149,90{NB}CHF"),
        ("fr-CH", f"1{NNB}149.90{NB}€", f"1{NNB}149.90{NB}CHF"),
        ("pl", f"1149,90{NB}€", f"1149,90{NB}CHF"),
        ("es", f"1149,90{NB}€", f"1149,90{NB}CHF"),
        ("hi", "€1,149.90", f"CHF{NB}1,149.90"),
    ],
)
def test_money(tag: str, euro: str, franc: str) -> None:
    """Money follows CLDR: place, space, money's own decimal sign, a space beside a currency of letters."""
    lang, amount = open_language(tag), Decimal("1149.9")
    assert (euro, franc) == (numbers.money(lang, amount, "EUR"), numbers.money(lang, amount, "CHF"))


@pytest.mark.parametrize("tag", ["en", "en-GB", "nl", "de", "de-AT", "fr"])
@pytest.mark.parametrize("amount", ["149.90", "12345.67", "0.05", "-149.90"])
def test_euros_as_babel_writes_them(tag: str, amount: str) -> None:
    """Euros come out as by Babel, its hyphen set aside."""
    lang = open_language(tag)
    expected = format_currency(Decimal(amount), "EUR", locale=lang.locale).replace("-", MINUS)
    assert expected == numbers.money(lang, Decimal(amount), "EUR")


def test_money_has_the_decimals_of_its_currency_and_no_fewer_than_written() -> None:
    """ISO 4217: two for the euro, none for the yen; a further written digit stays."""
    lang = open_language("en")
    assert "€150.00" == numbers.money(lang, Decimal(150), "EUR")
    assert "¥150" == numbers.money(lang, Decimal(150), "JPY")
    assert "€0.125" == numbers.money(lang, Decimal("0.125"), "EUR")


@pytest.mark.parametrize(
    ("grade", "expected"),
    [("4", "4"), ("4.0", "4"), ("3.5", f"3{DASH}4"), ("100", "100"), ("85", "85"), ("3.25", "3,25")],
)
def test_grades(grade: str, expected: str) -> None:
    """Grades are whole or between two (common practice with grey scales, no source), else a number."""
    assert expected == numbers.ordinal_grade(open_language("de"), Decimal(grade))


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (200, f"3{NB}h{NB}20{NB}min"),
        (45, f"45{NB}min"),
        (180, f"3{NB}h"),
        (0, f"0{NB}min"),
        (Decimal("90.5"), f"1{NB}h{NB}30.5{NB}min"),
        (-61, f"{MINUS}1{NB}h{NB}1{NB}min"),
    ],
)
def test_duration(minutes: Decimal | int, expected: str) -> None:
    """Hours and minutes add up to the minutes given; a part that is nothing is left out."""
    assert expected == numbers.duration(open_language("en"), minutes)


@pytest.mark.parametrize("tag", [*LOCALES, "es", "it", "da", "sv", "nb", "zh-Hant", "ar", "hi"])
@pytest.mark.parametrize("count", range(6))
def test_lists_as_babel_joins_them(tag: str, count: int) -> None:
    """Lists are CLDR's standard ones, whatever their length (reference: Babel)."""
    lang, texts = open_language(tag), ["a", "b", "c", "d", "e"][:count]
    assert format_list(texts, locale=lang.locale) == numbers.listing(lang, texts)


def test_a_list_leaves_braces_alone() -> None:
    """What stands in a list is never read as a pattern."""
    assert "{0}, {1} und {x}" == numbers.listing(open_language("de"), ["{0}", "{1}", "{x}"])


@pytest.mark.parametrize(
    ("tag", "outer", "inner"),
    [
        # CLDR JSON, delimiters; the space within the French marks is ours (common practice, no source).
        ("en", "“x”", "‘x’"),
        ("en-GB", "“x”", "‘x’"),
        ("nl", "‘x’", "‘x’"),
        ("de", "„x“", "‚x‘"),
        ("de-CH", "„x“", "‚x‘"),
        ("fr", f"«{NNB}x{NNB}»", f"«{NNB}x{NNB}»"),
        ("fr-CH", "«x»", "‹x›"),
        ("pl", "„x”", "«x»"),
        ("sv", "”x”", "’x’"),
        ("es", "“x”", "‘x’"),
        ("ja", "「x」", "『x』"),
    ],
)
def test_quotation_marks(tag: str, outer: str, inner: str) -> None:
    """Quotations take the language's marks, outer and inner."""
    lang = open_language(tag)
    assert (outer, inner) == (numbers.quote(lang, "x"), numbers.quote_inside(lang, "x"))
