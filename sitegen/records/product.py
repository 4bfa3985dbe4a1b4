"""products/ID.yaml: what a product is, in each of its versions, by its maker's word."""

import datetime as dt
import re
from decimal import Decimal
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.fields import RecordOf, Ref, fail, placed, written
from sitegen.records.fields.kinds import (
    DAY,
    LINE,
    METHOD,
    QUANTITY,
    STAGE,
    WORDS,
    Amount,
    Choice,
    Day,
    Ident,
    ListOf,
    Number,
    Pattern,
    Quantity,
)
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.fields.words import Words
from sitegen.text.yaml_nodes import Node, Scalar

BOUNDS = ("about", "at least", "at most")
ANSWER = "yes or no"  # stands where the unit does: a figure of 1 is no yes
ANSWERS = {"yes": Decimal(1), "no": Decimal(0)}


@dataclass(frozen=True, slots=True)
class Claimed:
    """A maker's figure with its unit; of a yes/no protocol `yes` or `no`."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """An Amount."""
        if isinstance(node, Scalar) and node.text in ANSWERS:
            return Amount(ANSWERS[node.text], ANSWER, node.place)
        return QUANTITY.take(node, name, problems)

    def schema(self) -> dict[str, Any]:
        """A number, or a string of number and unit, or a truth value."""
        return {"type": ["number", "string", "boolean"], "examples": ["412.0 g"]}


@dataclass(frozen=True, slots=True)
class CareKey:
    """A key of the care words, such as wash.30.mild."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Ref, checked later against the list of care words."""
        if isinstance(node, Scalar) and re.fullmatch(r"[a-z]+(\.[a-z0-9]+)*", node.text):
            return Ref(node.text, node.place)
        return fail(node, name, "a care word such as wash.30.mild", problems, code="care-unknown")

    def schema(self) -> dict[str, Any]:
        """A string."""
        return {"type": "string", "examples": ["wash.30.mild"]}


@dataclass(frozen=True, slots=True)
class PhotoPath:
    """A photo below photos/, by its path in the publication."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Ref whose id is the path."""
        text = node.text if isinstance(node, Scalar) else ""
        parts = text.split("/")
        if len(parts) < 2 or parts[0] != "photos" or any(p in {"", ".", ".."} or "\\" in p or ":" in p for p in parts):
            return fail(
                node, name, "the path of a picture below photos/", problems, "such as photos/trousers.jpg", "photo-path"
            )
        return Ref(text, node.place)

    def schema(self) -> dict[str, Any]:
        """A path string."""
        return {"type": "string", "pattern": "^photos/", "examples": ["photos/trousers.jpg"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo with what it shows (for readers who can't see it) and a caption."""

    file: Ref = written(PhotoPath(), "the picture's path below photos/")
    alt: Words = written(WORDS, "what the picture shows, for readers who can't see it")
    caption: Words | None = written(WORDS, "the caption", default=None)
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Finish chemistry by the maker's word, which a bench can't verify."""

    says: Words = written(WORDS, "what the maker says of the finish")
    source: Words = written(WORDS, "where the maker says it")
    date: dt.date = written(DAY, "when it was said or read")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """A price on a day."""

    amount: Decimal = written(Number(low=Decimal(0)), "the amount, such as 149.90")
    currency: str = written(Pattern("[A-Z]{3}", "a currency code (ISO 4217)", "EUR"), "the currency, in three letters")
    date: dt.date = written(DAY, "the day on which this was the price")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A figure that the maker states; `tolerance` may be a quantity or per cent of the claim."""

    protocol: Ref = written(Ident("a protocol"), "which protocol measures it")
    value: Amount = written(Claimed(), "the maker's figure with its unit, or yes or no")
    source: Words = written(WORDS, "where the maker states it")
    tolerance: Amount | None = written(
        Quantity(low=Decimal(0)), "the maker's tolerance, such as 3 % or 12 g", default=None
    )
    bound: str = written(
        Choice(BOUNDS),
        "whether the figure is meant as about, at least or at most; left out, the protocol's direction decides",
        default="",
    )
    stage: Stage = written(STAGE, "the stage for which it is claimed", default=NEW)
    method: str = written(METHOD, "the key of the method by which the maker measured, where it is another", default="")
    date: dt.date | None = written(DAY, "when it was read", default=None)
    place: Place = placed()

    def meant(self, better: str) -> str:
        """The bound; where none is given, at least if `higher` is `better`, at most if `lower` is, else about."""
        return self.bound or {"higher": "at least", "lower": "at most"}.get(better, "about")


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A further row of the spec table."""

    name: Words = written(WORDS, "what the row is called")
    value: Words = written(WORDS, "what stands in it")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version of a product: care, chemistry, price and claims belong to it, not to the name."""

    id: Ref = written(Ident("a version"), "the version's id, such as its year")
    since: str | dt.date | None = written(Day(month=True), "since when it is sold", default=None)
    care: tuple[Ref, ...] = written(ListOf(CareKey()), "keys of the care words", default=())
    care_edition: str = written(LINE, "the edition of the care labelling standard", default="")
    finish: Finish | None = written(RecordOf(Finish, "finish"), "finish chemistry by the maker's word", default=None)
    price: Price | None = written(RecordOf(Price, "price"), "the price", default=None)
    claims: tuple[Claim, ...] = written(ListOf(RecordOf(Claim, "a claim")), "the maker's figures", default=())
    details: tuple[Detail, ...] = written(
        ListOf(RecordOf(Detail, "a detail")), "further rows of the spec table", default=()
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A product with its versions, newest last. Its name is never translated."""

    id: str
    name: str = written(LINE, "the product's name as its maker writes it")
    maker: str = written(LINE, "who makes it")
    versions: tuple[Version, ...] = written(
        ListOf(RecordOf(Version, "a version"), least=1), "its versions, newest last"
    )
    kind: Words | None = written(WORDS, "what kind of thing it is", default=None)
    photo: Photo | None = written(RecordOf(Photo, "a photo"), "a picture of it", default=None)
    place: Place = placed()

    def version(self, id: str) -> Version | None:
        """A version by its id; the newest for an empty id."""
        if not id:
            return self.versions[-1]
        return next((v for v in self.versions if v.id.id == id), None)


def check_product(product: Product, care_words: frozenset[str], problems: Problems) -> None:
    """Versions are named once, and care words are those of the list."""
    seen: set[str] = set()
    for version in product.versions:
        if version.id.id in seen:
            problems.error("version-double", version.id.place, f"the version {quoted(version.id.id)} is listed twice")
        seen.add(version.id.id)
        for word in version.care:
            if word.id not in care_words:
                _unknown_care(word, care_words, problems)


def _unknown_care(word: Ref, care_words: frozenset[str], problems: Problems) -> None:
    hint = meant_or(word.id, care_words, "the words stand in content/care.yaml")
    problems.error("care-unknown", word.place, f"{quoted(word.id)} is no care word", hint)
