"""One edition of a publication: its language, and how words of a record are chosen for it."""

from collections.abc import Callable, Mapping
from dataclasses import field
from decimal import Decimal
from typing import Any, Protocol, TypeVar, cast

from sitegen.datatypes import dataclass
from sitegen.figures.forms import numbers
from sitegen.figures.forms.language import Language
from sitegen.figures.forms.typography import keep_units
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import CURVE
from sitegen.records.measured.protocol import Protocol as ProtocolRecord
from sitegen.records.measured.round import Measure
from sitegen.records.product import Product

T = TypeVar("T")
MOST_AT_HAND = 400


class Lookups(Protocol):
    """Who wants to know what is looked up in the edition's mappings."""

    def noting(self, make: Callable[[], T]) -> tuple[T, Any]:
        """What `make` makes, and what it looked up."""

    def note_again(self, looked_up: Any) -> None:
        """That what was made so is used once more."""


class _Nobody:
    def noting(self, make: Callable[[], T]) -> tuple[T, Any]:
        return make(), None

    def note_again(self, looked_up: Any) -> None:
        return None


NO_LOOKUPS: Lookups = _Nobody()


@dataclass(frozen=True, slots=True)
class Edition:
    """A language with the publication's lead language, in which words without a language are written."""

    lang: Language
    lead: str
    products: Mapping[str, Product]
    protocols: Mapping[str, ProtocolRecord]
    names: Mapping[str, str] = field(default_factory=dict)  # of products, where they are known without looking at each
    lookups: Lookups = field(default=NO_LOOKUPS, compare=False, repr=False)
    _made: dict[tuple[str, int], tuple[object, Any, Any]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def once(self, what: str, of: object, make: Callable[[], T]) -> T:
        """`make()`, made once for `what` of this very object: a round's findings are worded for each of its entrants' pages.

        Pages of one round are made one after another, so few are at hand. Halved the time that charts take.
        """
        found = self._made.get((what, id(of)))
        if found is not None and found[0] is of:
            self.lookups.note_again(found[2])
            return cast(T, found[1])
        if len(self._made) >= MOST_AT_HAND:
            self._made.clear()
        made, looked_up = self.lookups.noting(make)
        self._made[what, id(of)] = (of, made, looked_up)  # the object too: no other can have its id then
        return made

    @property
    def tag(self) -> str:
        """The edition's language tag."""
        return self.lang.tag

    def say(self, words: Words | None) -> str:
        """The best text for this edition; empty for none."""
        return keep_units(words.text(self.lang.tag, self.lead)) if words else ""

    def product(self, id: str) -> str:
        """A product's name."""
        if id in self.names:
            return self.names[id]
        return self.products[id].name if id in self.products else id

    def protocol(self, id: str) -> str:
        """A protocol's name."""
        return self.say(self.protocols[id].name)

    def head(self, id: str) -> str:
        """A protocol's short name, for the head of a column."""
        protocol = self.protocols[id]
        return self.say(protocol.short or protocol.name)

    def stage(self, stage: Stage) -> str:
        """A stage in the edition's words."""
        t = self.lang
        if stage == NEW:
            return t.text("new")
        if stage.reproofed:
            return t.text("re-proofed")
        n = stage.washes
        if stage.heated:
            return t.plural("after {n} wash and heat", "after {n} washes and heat", n)
        return t.plural("after {n} wash", "after {n} washes", n)

    def measure(self, measure: Measure) -> str:
        """A measure's name, with its stage where it isn't `new`."""
        name = self.protocol(measure.protocol)
        return f"{name}, {self.stage(measure.stage)}" if measure.stage != NEW else name

    def grade(self, grades: tuple[Decimal, ...]) -> str:
        """One grade, or the two middle ones; not as a range, for `3-4` is a grade between two."""
        low, high = (numbers.ordinal_grade(self.lang, grade) for grade in (grades[0], grades[-1]))
        return low if len(grades) == 1 else self.lang.text("{low} or {high}", low=low, high=high)

    def unit_along(self, protocol: ProtocolRecord) -> str:
        """The unit in which a protocol's finding is given: a curve's finding is a time."""
        return protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit


def within(edition: Edition, text: str) -> str:
    """A name as it stands within a sentence: with a small first letter but in German, and but for abbreviations."""
    if edition.tag.split("-")[0] == "de" or text[1:2].isupper():
        return text
    return text[:1].lower() + text[1:]


def capital(text: str) -> str:
    """The text with a capital first letter, as a title begins."""
    return text[:1].upper() + text[1:]
