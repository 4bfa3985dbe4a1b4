"""Numbers, quantities, money, lists and quotations as one language writes them.

Digits are never invented or dropped here: a `Decimal` keeps all that it was written with, trailing zeros
included. The signs and the grouping are CLDR's; the space before a unit is the SI's (SI Brochure, 9th
edition, 5.4.3): always there, never breaking, also before °C and %, but not before the degree of an angle.
CLDR's own "20°C" is not used.
"""

import unicodedata
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Context, Decimal
from typing import Any

from babel import localedata
from babel.numbers import get_currency_precision, get_currency_symbol, parse_pattern

from sitegen.figures.forms.language import Language
from sitegen.figures.forms.number_forms import NumberForms
from sitegen.figures.forms.typography import NO_BREAK
from sitegen.records.fields.units import CLDR, symbol

__all__ = [
    "duration",
    "estimate",
    "isolated",
    "listing",
    "money",
    "number",
    "ordinal_grade",
    "own_order",
    "percent",
    "quantity",
    "quote",
    "quote_inside",
    "round_to",
    "span",
    "unit_sign",
]

# UAX 9: what stands between these is laid out by itself, from the left (LRI) or as its first strong letter says (FSI).
# Without them "412 g" in a line from right to left comes out as "g 412".
LEFT_TO_RIGHT, BY_ITSELF, END_ISOLATE = "\u2066", "\u2068", "\u2069"
EN_DASH = "\u2013"
# Wide enough for every digit of a double: quantizing must never fail for want of room.
_WIDE = Context(prec=800)

# Units that are words, with their names after 1 and after other numbers where CLDR's isn't what the trade says.
WORDS = {"nights": {"de": ("Nacht", "Nächte")}}


def isolated(lang: Language, text: str, start: str = LEFT_TO_RIGHT) -> str:
    """A number with its signs and unit, kept in its own order in a language written from right to left."""
    return f"{start}{text}{END_ISOLATE}" if lang.direction == "rtl" else text


def own_order(lang: Language, text: str) -> str:
    """A line of a chart kept in its own order where none of its letters is written from right to left."""
    if lang.direction != "rtl":
        return text
    leftwards = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)
    return text if leftwards or not text else isolated(lang, text)


def round_to(value: float | Decimal, decimals: int) -> Decimal:
    """`value` with exactly so many decimals, halves away from zero; a negative zero loses its sign.

    A float is taken as its shortest decimal text, so that 2.675 is the 2.675 that a reader sees.
    Raises `ValueError` for an infinity or a value that is no number.
    """
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    if not exact.is_finite():
        raise ValueError(f"{value} has no digits to write")
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP, _WIDE)
    return rounded if rounded else rounded.copy_abs()


def number(lang: Language, value: Decimal | int | float, decimals: int | None = None) -> str:
    """A number by the locale's signs and grouping; a float needs `decimals`. Minus is U+2212, zero unsigned.

    Raises `TypeError` for a float without decimals, `ValueError` for what isn't finite.
    """
    if decimals is not None:
        value = round_to(value, decimals)
    elif isinstance(value, float):
        raise TypeError("a float doesn't say how many of its digits count: give decimals")
    return _signed(lang.forms, value, lang.forms.swap)  # CLDR's minus brings its own mark where writing goes leftwards


def _signed(forms: NumberForms, value: Decimal | int, swap: dict[int, str]) -> str:
    dressed = _grouped(forms, value).translate(swap)
    return forms.minus + dressed if value < 0 else dressed


def _grouped(forms: NumberForms, value: Decimal | int) -> str:
    """The digits without sign, with Python's own `,` and `.` for group and decimal sign."""
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise ValueError(f"{value} has no digits to write")
        text = f"{value.copy_abs():,f}"
    else:
        text = f"{abs(value):,}"
    first = text.find(",")
    if first < 0:
        return text
    whole, point, rest = text.partition(".")
    if len(whole) - whole.count(",") < forms.grouping[0] + forms.minimum_grouping:
        return whole.replace(",", "") + point + rest
    return text if forms.grouping == (3, 3) else _regrouped(whole.replace(",", ""), forms.grouping) + point + rest


def _regrouped(whole: str, sizes: tuple[int, int]) -> str:
    """Groups of other sizes than three, as in 12,34,567."""
    groups, left = [whole[-sizes[0] :]], whole[: -sizes[0]]
    while left:
        groups.append(left[-sizes[1] :])
        left = left[: -sizes[1]]
    return ",".join(reversed(groups))


def unit_sign(lang: Language, unit: str, *, one: bool = False) -> str:
    """A unit's symbol, the same in every language; `nights` is a word, by CLDR. Errors: UnknownUnit."""
    if unit not in WORDS:
        return symbol(unit)
    if lang.locale.language in WORDS[unit]:
        return WORDS[unit][lang.locale.language][0 if one else 1]
    data: Any = localedata.load(str(lang.locale))
    forms = localedata.LocaleDataDict(data)["unit_patterns"][CLDR[unit]]["long"]
    return str(forms.get("one" if one else "other", forms["other"])).replace("{0}", "").strip()


def _with_unit(lang: Language, figure: str, unit: str) -> str:
    sign = unit_sign(lang, unit, one=figure == "1")
    if not sign:
        return figure
    return isolated(lang, figure + sign if sign == "°" else figure + NO_BREAK + sign)


def quantity(lang: Language, value: Decimal | int | float, unit: str, decimals: int | None = None) -> str:
    """A number with its unit: `412.0 g`, `20 °C`, `26 %`, but `30°`. An empty unit gives the number alone.

    Raises as `number` does, and `UnknownUnit` for a unit that isn't in the table.
    """
    return _with_unit(lang, number(lang, value, decimals), unit)


def percent(lang: Language, value: Decimal | int | float, decimals: int | None = None) -> str:
    """A share already in percent: 26 gives `26 %`. The sign is CLDR's, the space always the SI's."""
    return isolated(lang, number(lang, value, decimals) + NO_BREAK + lang.forms.percent)


def estimate(lang: Language, value: Decimal, expanded: Decimal | None, unit: str) -> str:
    """An estimate with its expanded uncertainty: `(1,412.50 ± 0.98) g`; without one the plain quantity.

    Form: JCGM 100:2008, 7.2.4 (with the ± for an expanded uncertainty), SI Brochure 5.4.5 (one unit for
    both). No part of it breaks across lines. Both are printed with the digits that they come with.
    """
    if expanded is None:
        return quantity(lang, value, unit)
    pair = f"{number(lang, value)}{NO_BREAK}±{NO_BREAK}{number(lang, expanded)}"
    return _with_unit(lang, f"({pair})", unit) if unit else isolated(lang, pair)


def span(lang: Language, low: Decimal | int, high: Decimal | int, unit: str) -> str:
    """A range with its unit once: `25–30 s`. Beside a minus the dash stands between no-break spaces."""
    dash = f"{NO_BREAK}{EN_DASH}{NO_BREAK}" if low < 0 or high < 0 else EN_DASH
    return _with_unit(lang, f"{number(lang, low)}{dash}{number(lang, high)}", unit)


def money(lang: Language, amount: Decimal, currency: str) -> str:
    """An amount in a currency (ISO 4217 code) by CLDR's pattern, with the decimals that the currency has.

    Amounts keep further digits if they were written: a price is never rounded here.
    """
    pattern = parse_pattern(lang.locale.currency_formats["standard"])
    written = max(get_currency_precision(currency), -int(amount.as_tuple().exponent))
    figure = _grouped(lang.forms, round_to(amount, written)).translate(lang.forms.money_swap)
    sign = get_currency_symbol(currency, lang.locale)
    negative = amount < 0
    before, after = (affix.replace("¤", sign) for affix in (pattern.prefix[negative], pattern.suffix[negative]))
    # CLDR `currencySpacing`: a currency of letters doesn't touch the digits.
    before += NO_BREAK if before[-1:].isalpha() else ""
    after = (NO_BREAK if after[:1].isalpha() else "") + after
    return isolated(lang, f"{before}{figure}{after}".replace("-", lang.forms.minus), BY_ITSELF)


def ordinal_grade(lang: Language, grade: Decimal) -> str:
    """A grade of an ordinal scale: `4`; between two neighbours `3–4`, as half a grade is no number."""
    below = int(grade // 1)
    if grade == below:
        return number(lang, below)
    if grade - below == Decimal("0.5") and grade > 0:
        return isolated(lang, f"{number(lang, below)}{EN_DASH}{number(lang, below + 1)}")
    return number(lang, grade)


def duration(lang: Language, minutes: Decimal | int) -> str:
    """A time in hours and minutes: `3 h 20 min`, `45 min`, `3 h`. Decimals of the minutes stay as written."""
    hours, rest = divmod(Decimal(minutes).copy_abs(), 60)
    parts = [quantity(lang, int(hours), "h")] if hours else []
    parts += [quantity(lang, rest, "min")] if rest or not hours else []
    return isolated(lang, (lang.forms.minus if minutes < 0 else "") + NO_BREAK.join(parts))


def listing(lang: Language, texts: Sequence[str]) -> str:
    """Texts joined as the language lists things (CLDR `listPattern-type-standard`); of none, nothing."""
    forms = lang.forms.listing
    if len(texts) < 3:
        return _joined(forms.two, *texts) if len(texts) == 2 else "".join(texts)
    said = _joined(forms.end, texts[-2], texts[-1])
    for text in reversed(texts[1:-2]):
        said = _joined(forms.middle, text, said)
    return _joined(forms.start, texts[0], said)


def _joined(pattern: str, first: str, second: str) -> str:
    # Not `format`: a text may hold braces.
    head, _, tail = pattern.partition("{0}")
    between, _, end = tail.partition("{1}")
    return f"{head}{first}{between}{second}{end}"


def quote(lang: Language, text: str) -> str:
    """The text between the language's outer quotation marks (CLDR `delimiters`)."""
    start, end = lang.forms.quotes
    return f"{start}{text}{end}"


def quote_inside(lang: Language, text: str) -> str:
    """The text between the marks for a quotation within a quotation."""
    start, end = lang.forms.inner_quotes
    return f"{start}{text}{end}"
