"""One edition of a publication: its language, and how words of a record are chosen for it."""

from collections.abc import Callable, Mapping
from dataclasses import field
from decimal import Decimal
from typing import Any, TypeVar, cast

from sitegen.datatypes import dataclass
from sitegen.figures import numbers
from sitegen.figures.language import Language
from sitegen.figures.typography import keep_units
from sitegen.records.product import Product
from sitegen.records.protocol import CURVE, Protocol
from sitegen.records.round import Measure
from sitegen.records.stage import NEW, Stage
from sitegen.records.words import Words

T = TypeVar("T")
MOST_KEPT = 400


@dataclass(frozen=True, slots=True)
class Edition:
    """A language with the publication's lead language, in which words without a language are written."""

    lang: Language
    lead: str
    products: Mapping[str, Product]
    protocols: Mapping[str, Protocol]
    names: Mapping[str, str] = field(default_factory=dict)  # of products, where they are known without looking at each
    kept: dict[tuple[str, int], tuple[object, Any]] = field(default_factory=dict, init=False, compare=False, repr=False)

    def once(self, what: str, of: object, make: Callable[[], T]) -> T:
        """`make()`, kept for `what` of this very object: a round's findings are worded for each of its entrants' pages.

        Pages of one round are made one after another, so few are kept. Halved the time that charts take.
        """
        found = self.kept.get((what, id(of)))
        if found is not None and found[0] is of:
            return cast(T, found[1])
        if len(self.kept) >= MOST_KEPT:
            self.kept.clear()
        made = make()
        self.kept[what, id(of)] = (of, made)  # the object too: while it is kept, no other can have its id
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
        """One grade, or the two middle ones as a range."""
        if len(grades) == 1:
            return numbers.ordinal_grade(self.lang, grades[0])
        return numbers.isolated(
            self.lang, f"{numbers.number(self.lang, grades[0])}\u2013{numbers.number(self.lang, grades[-1])}"
        )

    def unit_along(self, protocol: Protocol) -> str:
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
