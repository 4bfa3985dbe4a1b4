"""Holds typed figures against the readings, findings and claims of the product that a text is about.

A figure is looked at only where it is plain that it is about a measure of the product:

* its unit measures the same kind of thing as a protocol of a round that the product was in, and
* its sentence names that measure (by the protocol's own names, or by words such as "weighs"), or names the product
  itself, or the unit is one that nothing else here is measured in (lumen);
* in a guide, where no product is the subject, the sentence must name the product;
* a grade needs the product's name in its sentence, for "grade 5 means …" explains the scale.

It is contradicted when it agrees, within half its last digit (half its last digit that isn't 0 after "about"), with no
reading, mean, spread, uncertainty, claim, tolerance or condition of the product and of the others named in the
sentence, at any stage, nor with a difference between two entrants. Not looked at: bounds ("more than 400 g"), differences
("12 g lighter"), km/h and m/s (weather), times and prices that are more than threefold off (other things are
dried and paid for, too), and in sentences that only name the product whatever is more than twofold off.

So what is found is the figure that was right once, and the slip of the keyboard; what isn't: a wrong figure in a
sentence that names neither measure nor product, one that happens to equal another reading, one in words.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from decimal import Decimal
from functools import cache

from sitegen.datatypes import dataclass
from sitegen.editions.following.parity import half_digit, in_unit
from sitegen.editions.following.parts import Part
from sitegen.editions.typed import notation_words as words
from sitegen.editions.typed.figure_reader import DATE, GRADE, Typed, is_money
from sitegen.editions.typed.known_values import PRICE, Known, known_values, units_of
from sitegen.editions.typed.notation import GAPS
from sitegen.editions.typed.typed_units import evened
from sitegen.findings.found import RoundFindings
from sitegen.problems import Problems, quoted
from sitegen.records.fields.units import UNITS, kind_of
from sitegen.records.publication import Publication

NEAR, NEAR_BY_NAME = Decimal(3), Decimal(2)
_WEATHER = {"km/h", "m/s"}
_OWN_UNIT = {"luminous flux"}
_LOOSE = {"time", "share", "money"}  # kinds that many other things are measured in
_STARTS = re.compile(r"(?<!\w)(?:\w+|\W)")
_Groups = Sequence[tuple[Known, ...]]


@dataclass(frozen=True, slots=True)
class Subject:
    """What a text is about: its language (tag and base), and its product (empty for none)."""

    tag: str
    language: str
    product: str


@dataclass(frozen=True, slots=True)
class Bench:
    """The data of a publication; what is asked for is gathered once."""

    publication: Publication
    findings: Mapping[str, RoundFindings]
    _known: dict[str, dict[str, tuple[Known, ...]]] = field(default_factory=dict, compare=False, repr=False)
    _words: dict[tuple[str, str], re.Pattern[str] | None] = field(default_factory=dict, compare=False, repr=False)
    _units: dict[str, frozenset[str]] = field(default_factory=dict, compare=False, repr=False)

    def check(self, part: Part, figures: Sequence[Typed], subject: Subject, problems: Problems) -> None:
        """Cautions for the figures of one part of a text."""
        ends: list[int] | None = None
        for figure in figures:
            if not figure.meant and figure.unit != DATE and figure.unit not in _WEATHER:
                ends = sentence_ends(part.text) if ends is None else ends
                start, end = sentence_around(ends, figure.start)
                self._hold(figure, part.text, start, end, subject, problems)

    def _hold(self, figure: Typed, text: str, start: int, end: int, subject: Subject, problems: Problems) -> None:
        sentence = text[start:end]
        named = self._named(sentence)
        products = [
            id for id in dict.fromkeys(filter(None, (subject.product, *named))) if self._is_measured(figure.unit, id)
        ]
        groups = [group for id in products for group in self._groups(figure, id)]
        if not groups or (figure.unit == GRADE and not named) or _is_bound(text, figure, start, end, subject.language):
            return
        kind = _kind(figure)
        protocols = {k.protocol for group in groups for k in group}
        spoken = {id for id in protocols if self._is_spoken_of(id, kind, sentence, subject)}
        meant = spoken or (protocols if named and kind not in _LOOSE else set())
        placed = [(_in_unit(k, figure), k) for group in groups for k in group if k.place and k.protocol in meant]
        if not placed or _is_backed(figure, groups, _slack(figure, text[start : figure.start], subject.language)):
            return
        value, nearest = min(placed, key=lambda pair: (_distance(figure, pair[0]), str(pair[1].place)))
        limit = None if kind == GRADE or (spoken and kind not in _LOOSE) else NEAR if spoken else NEAR_BY_NAME
        if limit is None or _within(figure.values[0], value, limit):
            self._report(figure, nearest, problems)

    def _is_measured(self, unit: str, product: str) -> bool:
        """Whether anything of a product is measured in such a unit: a quick look before its values are gathered."""
        if product not in self._units:
            self._units[product] = units_of(self.publication, product)
        return any(_is_comparable(unit, known) for known in self._units[product])

    def _groups(self, figure: Typed, product: str) -> Iterator[tuple[Known, ...]]:
        """What is known of a product in units of the figure's kind."""
        if product not in self._known:
            self._known[product] = known_values(self.publication, self.findings, product)
        return (group for unit, group in self._known[product].items() if _is_comparable(figure.unit, unit))

    def _report(self, figure: Typed, nearest: Known, problems: Problems) -> None:
        what = nearest.protocol.replace("_", " ")
        message = (
            f"{quoted(figure.written)} agrees with no reading, finding or claim ({what}) that this sentence can be about; "
            f"the nearest is {nearest.text} in {nearest.place}"
        )
        hint = f"write {{{nearest.protocol}}}, which follows the data; if something else is meant, write {figure.written}{{meant}}"
        problems.caution("figure-data", figure.place, message, hint)

    def _named(self, sentence: str) -> tuple[str, ...]:
        """The products that a sentence names."""
        # Looked up by the first word: one pattern of all names takes longer to compile than a page to make.
        found, named, at = dict[str, None](), self.publication.index.named, 0
        for start in _STARTS.finditer(sentence):
            if start.start() < at:
                continue
            for name, id in named.get(start[0], ()):
                end = start.start() + len(name)
                if (
                    sentence.startswith(name, start.start())
                    and not sentence[end : end + 1].isalnum()
                    and sentence[end : end + 1] != "_"
                ):
                    found[id], at = None, end
                    break
        return tuple(found)

    def _is_spoken_of(self, protocol: str, kind: str, sentence: str, subject: Subject) -> bool:
        if kind in _OWN_UNIT:
            return True
        key = (protocol, subject.tag)
        if key not in self._words:
            self._words[key] = self._measure_words(protocol, subject)
        pattern = self._words[key]
        return pattern is not None and pattern.search(sentence) is not None

    def _measure_words(self, protocol: str, subject: Subject) -> re.Pattern[str] | None:
        if protocol == PRICE:
            said = words.PRICE.get(subject.language)
            return re.compile(rf"(?i){said}") if said else None
        record = self.publication.protocols[protocol]
        lead = self.publication.settings.lead
        names = [re.escape(text.text(subject.tag, lead)) for text in (record.name, record.short) if text]
        more = words.MEASURES.get(protocol, {}).get(subject.language, "") if record.stock else ""
        return re.compile(rf"(?i)(?<!\w)(?:ge|ver)?(?:{'|'.join(filter(None, (*names, more)))})")


@cache
def _sentence_end() -> re.Pattern[str]:
    return re.compile(r"[.!?…][\"”“»)\]*_]*\s+(?=[A-ZÀ-Þ„“»«\"({\[*_¿¡])")


def sentence_ends(text: str) -> list[int]:
    """Where each sentence of a paragraph ends, the last at the paragraph's end."""
    return [*(found.end() for found in _sentence_end().finditer(text)), len(text)]


def sentence_around(ends: Sequence[int], at: int) -> tuple[int, int]:
    """From where to where the sentence runs in which a place lies."""
    number = bisect_right(ends, at)
    return (ends[number - 1] if number else 0), ends[min(number, len(ends) - 1)]


def _is_bound(text: str, figure: Typed, start: int, end: int, language: str) -> bool:
    """Whether a figure is a bound or a difference, by the words right before and after it."""
    before = evened(text[max(start, figure.start - 16) : figure.start])
    after = evened(text[figure.end : min(end, figure.end + 14)])
    bounds, differences = words.BOUNDS.get(language), words.DIFFERENCES.get(language)
    if re.search(rf"[<>≤≥+]{GAPS}?\Z", before) or (bounds and re.search(rf"(?<!\w)(?i:{bounds}){GAPS}\Z", before)):
        return True
    return differences is not None and re.match(rf"{GAPS}(?i:{differences})(?!\w)", after) is not None


def _slack(figure: Typed, before: str, language: str) -> Decimal:
    """How far off a figure may be: half its last digit; after "about" half its last digit that isn't 0."""
    about, before = words.ABOUT.get(language), evened(before)
    value = figure.values[0]
    if re.search(rf"[~≈]{GAPS}?\Z", before) or (about and re.search(rf"(?<!\w)(?i:{about}){GAPS}\Z", before)):
        return half_digit(value.normalize())
    return half_digit(value)


def _is_backed(figure: Typed, groups: _Groups, slack: Decimal) -> bool:
    low, high = min(figure.values) - slack, max(figure.values) + slack
    return any(low <= _in_unit(k, figure) <= high for group in groups for k in group)


def _is_comparable(typed: str, known: str) -> bool:
    """Whether values in two units can be held against each other."""
    if typed == known:
        return True
    if typed not in UNITS or known not in UNITS:
        return False
    return kind_of(typed) == kind_of(known) or (known == "mmH2O" and kind_of(typed) == "length")


def _in_unit(known: Known, figure: Typed) -> Decimal:
    """A known value in the figure's unit; a head of water may be typed in mm."""
    column = known.unit == "mmH2O" and figure.unit in UNITS and kind_of(figure.unit) == "length"
    found = in_unit(known.value, "mm" if column else known.unit, figure.unit)
    assert found is not None  # `_is_comparable` was asked before
    return found


def _kind(figure: Typed) -> str:
    return "money" if is_money(figure) else kind_of(figure.unit) if figure.unit in UNITS else figure.unit


def _distance(figure: Typed, value: Decimal) -> Decimal:
    return min(abs(number - value) for number in figure.values)


def _within(a: Decimal, b: Decimal, factor: Decimal) -> bool:
    return a > 0 and b > 0 and a <= b * factor and b <= a * factor
