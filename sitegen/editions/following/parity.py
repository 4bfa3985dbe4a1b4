"""Holds the figures of one paragraph against those of the same paragraph in the lead language.

Two figures say the same when their values are equal, or equal within the last digit after conversion between
units of one kind (1.5 kg, 1500 g; 15 °C, 59 °F); a degree without a scale is a degree Celsius. Dates agree
where all that both say agrees. A whole number that the other language writes out in a word (twelve minutes) isn't
missing. Ranges are taken apart, so "25–30 s" and "from 25 s to 30 s" say the same.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.editions.typed.figure_reader import DATE, GRADE, Typed
from sitegen.editions.typed.notation_words import number_word
from sitegen.records.fields.units import UNITS, UnitMismatch, convert, kind_of

MOST_COMPARED = 40_000  # pairs of leftover values in one paragraph that are tried for conversion
# Exact factors of common units, so that no library needs loading for them: unit → (base, factor).
_DECIMAL: Mapping[str, tuple[str, int | str]] = {
    "kg": ("g", 1000), "g": ("g", 1), "mg": ("g", "0.001"), "km": ("m", 1000), "m": ("m", 1), "cm": ("m", "0.01"), "mm": ("m", "0.001"),
    "s": ("s", 1), "min": ("s", 60), "h": ("s", 3600), "d": ("s", 86400), "l": ("l", 1), "ml": ("l", "0.001"), "m³": ("l", 1000),
    "Pa": ("Pa", 1), "hPa": ("Pa", 100), "kPa": ("Pa", 1000), "mbar": ("Pa", 100), "bar": ("Pa", 100000),
    "mm/s": ("m/s", "0.001"), "cm/s": ("m/s", "0.01"), "m/s": ("m/s", 1), "dl": ("l", "0.1"), "cl": ("l", "0.01"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a figure: its unit, its number or its day."""

    figure: Typed
    unit: str
    number: Decimal = Decimal(0)
    day: tuple[int, int, int] = (0, 0, 0)

    @property
    def kind(self) -> str:
        """What kind of thing it measures; only values of one kind can contradict each other."""
        return kind_of(self.unit) if self.unit in UNITS else self.unit


@dataclass(frozen=True, slots=True)
class Difference:
    """A figure that disagrees with the other language's, or (`there` or `here` None) that it hasn't got."""

    there: Typed | None
    here: Typed | None


def compare_figures(
    there: Sequence[Typed], here: Sequence[Typed], text_there: str, text_here: str, languages: tuple[str, str]
) -> tuple[Difference, ...]:
    """The differences between the lead's paragraph (`there`) and the translation's (`here`).

    What is marked as meant, in either language, is none. `languages` are those of `there` and `here`.
    """
    left, right = _unmatched(
        [value for f in there for value in _values(f)], [value for f in here for value in _values(f)]
    )
    found = list(_pairs(left, right))
    found += [Difference(v.figure, None) for v in left if not _in_words(v, text_here, languages[1])]
    found += [Difference(None, v.figure) for v in right if not _in_words(v, text_there, languages[0])]
    found = [d for d in found if not ((d.there and d.there.meant) or (d.here and d.here.meant))]
    return tuple(dict.fromkeys(found))


def _values(figure: Typed) -> Iterator[Value]:
    if figure.unit == DATE:
        yield Value(figure, DATE, day=figure.day)
        for first in figure.values:
            yield Value(figure, DATE, day=(figure.day[0], figure.day[1], int(first)))
        return
    unit = "°C" if figure.unit == "°" else figure.unit
    for number in (*figure.values, *((figure.deviation,) if figure.deviation is not None else ())):
        yield Value(figure, unit, number)


def _unmatched(there: list[Value], here: list[Value]) -> tuple[list[Value], list[Value]]:
    """What is left on both sides when equals are taken away: plain equals first, then converted ones."""
    there, here = _without_equals(there, here)
    for same in (_same_day, _same_converted):
        if len(there) * len(here) > MOST_COMPARED:  # a table of hundreds of figures that all differ
            continue
        left = []
        for value in there:
            match = next((other for other in here if same(value, other)), None)
            if match is None:
                left.append(value)
            else:
                here = _without(here, match)
        there = left
    return there, here


def _without_equals(there: list[Value], here: list[Value]) -> tuple[list[Value], list[Value]]:
    """Both sides without what is written with the same value and unit on either, as often as it is."""
    mine, theirs = (Counter((v.unit, v.number, v.day) for v in side) for side in (here, there))
    sides = []
    for side, common in ((there, mine & theirs), (here, mine & theirs)):
        left = []
        for value in side:
            key = (value.unit, value.number, value.day)
            if common[key]:
                common[key] -= 1
            else:
                left.append(value)
        sides.append(left)
    return sides[0], sides[1]


def _without(values: list[Value], gone: Value) -> list[Value]:
    at = next(i for i, value in enumerate(values) if value is gone)
    return values[:at] + values[at + 1 :]


def _same_day(a: Value, b: Value) -> bool:
    """Dates agree in all that both say: `4. Oktober` is October 4, 2026."""
    return a.unit == b.unit == DATE and all(x == y or not x or not y for x, y in zip(a.day, b.day, strict=True))


def _same_converted(a: Value, b: Value) -> bool:
    if a.unit == b.unit or DATE in (a.unit, b.unit) or GRADE in (a.unit, b.unit):
        return False
    return agrees(a.number, a.unit, b.number, b.unit)


def agrees(a: Decimal, unit: str, b: Decimal, other: str) -> bool:
    """Whether two quantities are equal within half the last digit of either, whichever is coarser."""
    converted, step_there = in_unit(b, other, unit), in_unit(Decimal(0), other, unit)
    raised = in_unit(half_digit(b), other, unit)
    if converted is None or step_there is None or raised is None:
        return False
    return abs(a - converted) <= max(half_digit(a), abs(raised - step_there))


def half_digit(value: Decimal) -> Decimal:
    """Half a step of the last digit that is written."""
    return Decimal(5).scaleb(int(value.as_tuple().exponent) - 1)


def in_unit(value: Decimal, unit: str, to: str) -> Decimal | None:
    """A value in another unit; None where the two measure different things."""
    if unit == to:
        return value
    base, target = _DECIMAL.get(unit), _DECIMAL.get(to)
    if base and target and base[0] == target[0]:
        return value * Decimal(base[1]) / Decimal(target[1])
    if unit not in UNITS or to not in UNITS:
        return None
    try:
        return convert(value.quantize(Decimal("1e-9")) if value.is_finite() else value, unit, to)
    except (UnitMismatch, ArithmeticError):
        return None


def _pairs(left: list[Value], right: list[Value]) -> Iterator[Difference]:
    """Takes from both sides what is of one kind and therefore contradicts: the same unit first, in the text's order."""
    if len(left) * len(right) > MOST_COMPARED:
        return
    for name in ("unit", "kind"):
        for value in list(left):
            other = next((o for o in right if getattr(o, name) == getattr(value, name)), None)
            if other is not None:
                left[:] = _without(left, value)
                right[:] = _without(right, other)
                yield Difference(value.figure, other.figure)


def _in_words(value: Value, text: str, language: str) -> bool:
    """Whether a small whole number may stand in the other language as a word; without a table, any up to twenty may."""
    if value.unit == DATE or value.number != value.number.to_integral_value() or not 0 <= value.number <= 100:
        return False
    number = int(value.number)
    word = number_word(language, number)
    if word is None:
        return number_word(language, 1) is None and number <= 20
    return re.search(rf"(?<!\w)(?i:{word})", text) is not None
