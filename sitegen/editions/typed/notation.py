"""How one language writes figures by hand: the patterns for its numbers, amounts and dates. All are for an evened text.

Decimal and group signs, names of months and the order of a date come from CLDR through Babel; what CLDR lacks
is in `notation_words`. Besides its own group sign every language may group by a no-break or thin space (ISO 80000-1
as remembered); by an ordinary blank only where CLDR's sign is a space. A number with the other language's decimal
sign is read where it can mean nothing else: `1.5 kg` in a German text, but `1.234 g` there is 1234 g.
"""

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache

from babel import Locale, UnknownLocaleError

from sitegen.datatypes import dataclass
from sitegen.editions.typed import notation_words as words
from sitegen.editions.typed.typed_units import CURRENCY_SIGNS, TypedUnits, evened
from sitegen.figures.forms.number_forms import NumberForms, read_number_forms
from sitegen.figures.forms.typography import NO_BREAK

GAPS = "[ \u00a0]"  # of an evened text, as all that these patterns are for
FRACTIONS = "½¼¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
MINUS = "-\u2212"
CURRENCIES = frozenset(CURRENCY_SIGNS.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Notation:
    """One language's patterns. `number` reads a bare number or range, from its first digit.

    `months` gives the number of a month's name.
    `grade` and `currency` are looked for before a number, `month_first` a month's name before a day.
    """

    language: str
    forms: NumberForms
    number: re.Pattern[str]
    dates: tuple[re.Pattern[str], ...]
    month_first: re.Pattern[str] | None
    grade: re.Pattern[str] | None
    currency: re.Pattern[str]
    units: TypedUnits
    months: Mapping[str, int]


@lru_cache(maxsize=64)
def notation_of(tag: str) -> Notation:
    """The notation of a language that Babel knows; made once."""
    locale = _locale(tag)
    language = locale.language
    forms = read_number_forms(locale, tag)
    months = dict(_months(locale))
    pair = _pair(_number(forms), language)
    month = _alternatives(months)
    month = month if language in {"en", "de"} else f"(?i:{month})"
    grade = words.GRADES.get(language)
    return Notation(
        language=language, forms=forms, number=re.compile(pair),
        dates=tuple(map(re.compile, _dates(month, locale, tag))),
        month_first=re.compile(rf"(?<!\w)({month}){GAPS}\Z") if _month_first(locale) else None,
        grade=re.compile(rf"(?<!\w)(?i:{grade}){GAPS}\Z") if grade else None,
        currency=re.compile(rf"(?<!\w)({_alternatives(CURRENCY_SIGNS)}){GAPS}?\Z"),
        units=TypedUnits(locale), months={name.lower(): number for name, number in months.items()},
    )  # fmt: skip


def _locale(tag: str) -> Locale:
    """CLDR's data for a tag, or for the longest beginning of it that CLDR has; English numbers for none."""
    parts = tag.split("-")
    for length in range(len(parts), 0, -1):
        try:
            return Locale.parse("-".join(parts[:length]), sep="-")
        except (UnknownLocaleError, ValueError):
            continue
    return Locale("en")


def _alternatives(texts: Mapping[str, object]) -> str:
    return "|".join(
        re.escape(text).replace("\\ ", GAPS).replace("\\\u00a0", GAPS)
        for text in sorted(texts, key=lambda t: (-len(t), t))
    )


def _number(forms: NumberForms) -> str:
    """The pattern of one number without its sign; grouped numbers are tried before plain ones."""
    decimal, other = re.escape(forms.decimal), "," if forms.decimal == "." else "."
    own = evened(forms.group)
    groups = {own, NO_BREAK} - {forms.decimal}
    groups |= {" "} if own == NO_BREAK else set()
    groups |= {"'", "\u2019"} if own in {"'", "\u2019"} else set()
    group = "[" + "".join(re.escape(sign) for sign in sorted(groups)) + "]"
    sizes = "{2,3}" if forms.grouping[1] == 2 else "{3}"
    return (
        rf"(?:\d{{1,3}}(?:{group}\d{sizes})+(?:{decimal}\d+)?(?!\d)"
        rf"|\d+{GAPS}?[{FRACTIONS}]|[{FRACTIONS}]|(?:\d+{GAPS})?\d{{1,2}}[/\u2044]\d{{1,3}}(?![\d/])"
        rf"|\d+{decimal}\d+|\d+{re.escape(other)}(?:\d{{1,2}}|\d{{4,}})(?!\d)|\d+(?!\d))"
    )


def _pair(number: str, language: str) -> str:
    joiners = "|".join(map(re.escape, words.JOINERS.get(language, ())))
    spoken = rf"|{GAPS}(?:{joiners}){GAPS}" if joiners else ""
    return rf"(?P<low>{number})(?:(?P<join>{GAPS}?[\u2013\u2014-]{GAPS}?|{GAPS}?±{GAPS}?{spoken})(?P<minus>[{MINUS}]?)(?P<high>{number}))?"


def _months(locale: Locale) -> Iterator[tuple[str, int]]:
    for context in ("stand-alone", "format"):
        for width in ("abbreviated", "wide"):
            for number, name in locale.months[context][width].items():
                if len(name.strip(".")) > 2 and not name.isdigit():
                    yield name, number


def _month_first(locale: Locale) -> bool:
    pattern = locale.date_formats["long"].pattern
    return "d" in pattern and pattern.find("M") < pattern.find("d")


def _dates(month: str, locale: Locale, tag: str) -> Iterator[str]:
    """Patterns of dates from their first digit: groups y, m (a name), n (a number), d, and f for an earlier day."""
    yield r"(?P<y>\d{4})-(?P<n>\d{2})-(?P<d>\d{2})(?![\w-])"
    end, link = words.DAY_ENDINGS, words.DATE_LINKS
    span = rf"(?:(?P<f>\d{{1,2}}){end}{GAPS}?[\u2013-]{GAPS}?)?"
    yield rf"{span}(?P<d>\d{{1,2}}){end}{link}{GAPS}(?P<m>{month})(?:,?{link}{GAPS}(?P<y>\d{{4}}))?(?!\w)"
    order = "".join(c for c in dict.fromkeys(locale.date_formats["short"].pattern) if c in "dMy")
    day, number, year = r"(?P<d>\d{1,2})", r"(?P<n>\d{1,2})", r"(?P<y>\d{4})"
    if order == "dMy":
        yield rf"{day}(?P<sep>[./-]){GAPS}?{number}(?P=sep){GAPS}?{year}(?![\w-])"
    elif order == "Mdy" and tag != "en":  # `en` alone doesn't tell which comes first
        yield rf"{number}(?P<sep>[/-]){day}(?P=sep){year}(?![\w-])"
