"""Reads the figures that an author typed: `412 g`, `25–30 s`, `½ l`, `Grad 4`, `26 %`, `4. Oktober 2026`.

Code, addresses of links and `{…}` are passed over. What is not read: numbers without a unit, numbers in
words, times of day, and dates by their day alone ("am 28.").
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import field, replace
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.editions.following.parts import Part
from sitegen.editions.typed import notation_words as words
from sitegen.editions.typed.notation import CURRENCIES, FRACTIONS, GAPS, MINUS, Notation
from sitegen.editions.typed.typed_units import CURRENCY_SIGNS, evened
from sitegen.figures.forms.typography import NO_BREAK
from sitegen.place import Place
from sitegen.text.value_grammar import MEANT, WRITTEN

GRADE, DATE = "grade", "date"
BLANK = "\0"  # stands for each character that isn't running text
_SPECIAL = re.compile(r"[\\`{\]<:]")
# From a special character on: an escape, code, a value, an address.
_NOT_TEXT = re.compile(
    r"\\[\\`{<\[]|(`+)(?:.|\n)+?(?<!`)\1(?!`)|"
    + WRITTEN
    + r"|\]\([^)\s]*|\]:[^\n]*|<[A-Za-z][\w+.-]{1,31}:[^\s<>]*>|://[^\s)>]+"
)
_CODE_BLOCK = re.compile(r" {0,3}(?:```|~~~)|(?: {4}|\t)")
_START = re.compile(rf"[0-9{FRACTIONS}]")
_RUN = re.compile(r"[\w.,:/\u2044]+")
_MEANT = re.compile(rf"[*_)\]\"”“»]{{0,4}}[ \u00a0]?\{{\s*{MEANT}\s*\}}")
_BETWEEN = re.compile(rf"{GAPS}?(?:(?:und|and|en|et){GAPS})?\Z")
_HALF_HOURS = re.compile(rf"{GAPS}?(\d\d)(?![\w.,:/%°])(?!{GAPS}?(?:min|s|g|km|m)\b)")
_BEFORE_UNIT = {" ", NO_BREAK, "-"}
_SMALLER = {"h": ("min", 60), "min": ("s", 60)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One figure as typed: its values in `unit` (of `records.units`, a currency's code, GRADE or DATE).

    `values` holds one value, or both ends of a range; a date stands in `day` as (year, month, day), 0 for what
    isn't said. `deviation` is what stands after ±. `meant` is true where `{meant}` follows. `start` and `end`
    count characters of the part it stands in.
    """

    unit: str
    written: str
    values: tuple[Decimal, ...] = ()
    day: tuple[int, int, int] = (0, 0, 0)
    deviation: Decimal | None = None
    meant: bool = False
    start: int = field(compare=False, default=0)
    end: int = field(compare=False, default=0)
    place: Place = field(compare=False, repr=False)


def running_text(text: str) -> str:
    """The text with everything that isn't running text blanked, character for character."""
    if _CODE_BLOCK.match(text):
        return BLANK * len(text)
    pieces, at, done = [], 0, 0
    while special := _SPECIAL.search(text, at):
        found = _NOT_TEXT.match(text, special.start())
        at = found.end() if found else special.end()
        if found and not found[0].startswith("\\"):
            pieces += [text[done : found.start()], BLANK * len(found[0])]
            done = at
    return "".join((*pieces, text[done:])) if pieces else text


def read_figures(part: Part, notation: Notation) -> tuple[Typed, ...]:
    """All figures of a part of a text, in their order. Never raises."""
    if not _START.search(part.text):
        return ()
    found: list[Typed] = []
    text = evened(running_text(part.text))
    for figure in _scan(text, notation):
        before = found[-1] if found else None
        joined = _joined(before, figure, text) if before else None
        if joined is not None:
            found[-1] = joined
        else:
            found.append(figure)
    return tuple(
        replace(figure, written=_tidy(part.text[figure.start : figure.end]), place=place_in(part, figure.start, figure.end),
                meant=_MEANT.match(part.text, figure.end) is not None)
        for figure in found
    )  # fmt: skip


def stray_marks(part: Part, figures: tuple[Typed, ...]) -> Iterator[Place]:
    """Where `{meant}` follows no figure that is read."""
    if "meant" in part.text and not _CODE_BLOCK.match(part.text):
        marked = {found.end() for figure in figures if (found := _MEANT.match(part.text, figure.end))}
        for found in re.finditer(r"(?<!\\)\{\s*meant\s*\}", part.text):
            if found.end() not in marked:
                yield place_in(part, found.start(), found.end())


def place_in(part: Part, start: int, end: int) -> Place:
    """Where a stretch of a part stands; of a front-matter text on several lines only its beginning is known."""
    before = part.text[:start]
    line = before.count("\n")
    column = start - (before.rfind("\n") + 1)
    width = max(1, min(end, part.text.find("\n", start) % (len(part.text) + 1) or end) - start)
    base = part.place
    return Place(base.file, base.line + line, (base.column if line == 0 else 1) + column, width)


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _scan(text: str, notation: Notation) -> Iterator[Typed]:
    at = 0
    while start := _START.search(text, at):
        figure = _at(text, start.start(), notation)
        if isinstance(figure, Typed):
            yield figure
            at = figure.end
        else:
            at = figure


def _at(text: str, start: int, notation: Notation) -> Typed | int:
    """The figure whose first digit stands at `start`, else where to look on."""
    before = text[start - 1] if start else " "
    run = _RUN.match(text, start)
    beyond = run.end() if run else start + 1
    if before.isalnum() or before in ".,:/_":
        return beyond
    for pattern in notation.dates:
        if (found := pattern.match(text, start)) and (dated := _date(found, notation)):
            return dated
    number = notation.number.match(text, start)
    if number is None:
        return beyond
    figure = _quantity(number, text, notation)
    if figure is not None:
        return figure
    return _after_word(text, number, notation) or max(
        number.end() if number["high"] is None else number.end("low"), start + 1
    )


def _quantity(number: re.Match[str], text: str, notation: Notation) -> Typed | None:
    """A number or range with its unit, as in `25–30 s`, `(412 ± 3) g`, `20-l`."""
    at = number.end() + (text[number.end() : number.end() + 1] == ")")
    gap = text[at : at + 1] in _BEFORE_UNIT
    found = notation.units.after(text, at + gap)
    if found is None:
        return None
    unit, by_symbol, end = found
    if unit == "s" and by_symbol and not gap:
        return None  # the 1990s
    start = number.start()
    clock = words.CLOCKS.get(notation.language)
    if unit == "h" and clock and re.search(rf"(?<!\w)(?i:{clock}){GAPS}\Z", text[max(0, start - 12) : start]):
        return None
    figure = _of_numbers(number, unit, text, start, end, notation)
    if figure and unit == "h" and notation.language == "fr" and (half := _HALF_HOURS.match(text, end)):
        return replace(figure, unit="min", values=(figure.values[-1] * 60 + Decimal(half[1]),), end=half.end())
    return figure


def _of_numbers(found: re.Match[str], unit: str, text: str, start: int, end: int, notation: Notation) -> Typed | None:
    low = to_decimal(found["low"], notation)
    high = to_decimal(found["high"], notation) if found["high"] else None
    if low is None or (found["high"] and high is None):
        return None
    if (
        start
        and text[start - 1] in MINUS
        and (start == 1 or not (text[start - 2].isalnum() or text[start - 2] in ")%"))
    ):
        low, start = -low, start - 1
    if high is not None and "±" in found["join"]:
        return Typed(unit=unit, written="", values=(low,), deviation=high, start=start, end=end, place=_NOWHERE)
    if high is not None and found["minus"]:
        high = -high
    values = (low,) if high is None else (low, high)
    return Typed(unit=unit, written="", values=values, start=start, end=end, place=_NOWHERE)


_NOWHERE = Place("", 1, 1)


def to_decimal(written: str, notation: Notation) -> Decimal | None:
    """A number as this language writes it; trailing zeros are kept. Thirds and the like get six decimals."""
    text = written
    if any(c in FRACTIONS or c in "/\u2044" for c in text):
        return _fraction(text)
    decimal = notation.forms.decimal
    other = "," if decimal == "." else "."
    plain = re.sub(rf"{GAPS}|['\u2019]", "", text)
    if decimal not in plain and plain.count(other) == 1 and len(plain.rpartition(other)[2]) != 3:
        return Decimal(plain.replace(other, "."))  # the other sign where it can only be a decimal one
    try:
        return Decimal("".join("." if c == decimal else "" if not c.isdigit() else c for c in plain))
    except InvalidOperation:
        return None


def _fraction(text: str) -> Decimal | None:
    total = Fraction(0)
    for piece in re.findall(rf"\d+[/\u2044]\d+|\d+|[{FRACTIONS}]", text):
        if piece in FRACTIONS:
            total += Fraction(str(unicodedata.numeric(piece))).limit_denominator(10)
        else:
            above, _, below = re.sub("\u2044", "/", piece).partition("/")
            if below and not int(below):
                return None
            total += Fraction(int(above), int(below or 1))
    exact = Decimal(total.numerator) / Decimal(total.denominator)
    return exact if Fraction(exact) == total else round(exact, 6)


def _after_word(text: str, number: re.Match[str], notation: Notation) -> Typed | None:
    """A figure by the word or the sign before it: a grade, an amount of money, a month and its day."""
    start = number.start()
    window = text[max(0, start - 24) : start]
    if window and (amount := notation.currency.search(window)):
        made = _of_numbers(number, CURRENCY_SIGNS[amount[1]], text, start, number.end(), notation)
        return replace(made, start=start - len(amount[0])) if made else None
    if window and notation.grade and (word := notation.grade.search(window)):
        made = _of_numbers(number, GRADE, text, start, number.end(), notation)
        return replace(made, start=start - len(word[0])) if made else None
    if window and notation.month_first and (month := notation.month_first.search(window)):
        return _month_first(text, start, notation.months.get(month[1].lower(), 0), start - len(month[0]))
    return _month_and_year(text, start, notation)


_DAY_AND_YEAR = re.compile(
    rf"(\d{{1,2}})(?:st|nd|rd|th)?(?!\d)(?:{GAPS}?[\u2013-]{GAPS}?(\d{{1,2}})(?!\d))?(?:,?{GAPS}(\d{{4}})(?!\w))?"
)


def _month_first(text: str, start: int, month: int, begin: int) -> Typed | None:
    found = _DAY_AND_YEAR.match(text, start)
    if found is None:
        year = re.compile(r"\d{4}(?!\w)").match(text, start)
        return _dated(int(year[0]), month, 0, begin, year.end()) if year else None
    made = _dated(int(found[3] or 0), month, int(found[2] or found[1]), begin, found.end())
    return replace(made, values=(Decimal(found[1]),)) if made and found[2] else made


def _month_and_year(text: str, start: int, notation: Notation) -> Typed | None:
    """`Oktober 2026`: a month before a year."""
    year = re.compile(r"\d{4}(?!\w)").match(text, start)
    word = re.search(rf"([^\W\d_]+\.?){GAPS}\Z", text[max(0, start - 24) : start]) if year else None
    month = notation.months.get(word[1].lower()) if word else None
    if (
        year is None
        or word is None
        or month is None
        or (notation.language in {"en", "de"} and not word[1][0].isupper())
    ):
        return None
    return _dated(int(year[0]), month, 0, start - len(word[0]), year.end())


def _date(found: re.Match[str], notation: Notation) -> Typed | None:
    groups = found.groupdict()
    month = notation.months.get(groups["m"].replace(NO_BREAK, " ").lower(), 0) if groups.get("m") else int(groups["n"])
    made = _dated(int(groups["y"] or 0), month, int(groups["d"]), found.start(), found.end())
    return replace(made, values=(Decimal(groups["f"]),)) if made and groups.get("f") else made


def _dated(year: int, month: int, day: int, start: int, end: int) -> Typed | None:
    """A date; in `values` the first day of a span within one month."""
    if not (1 <= month <= 12 and 0 <= day <= 31):
        return None
    return Typed(unit=DATE, written="", day=(year, month, day), start=start, end=end, place=_NOWHERE)


def _joined(first: Typed, second: Typed, text: str) -> Typed | None:
    """`3 h 20 min` is one time; the smaller unit carries it."""
    smaller = _SMALLER.get(first.unit)
    if smaller is None or second.unit != smaller[0] or len(first.values) != 1 or len(second.values) != 1:
        return None
    if not _BETWEEN.match(text[first.end : second.start]) or second.values[0] >= smaller[1] or first.values[0] % 1:
        return None
    return replace(second, values=(first.values[0] * smaller[1] + second.values[0],), start=first.start)


def is_money(figure: Typed) -> bool:
    """Whether a figure is an amount of money."""
    return figure.unit in CURRENCIES
