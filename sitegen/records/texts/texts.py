"""Reviews, guides and the about page: front matter and text, one file for each language."""

import datetime as dt
from typing import TYPE_CHECKING, Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.fields import FAILED, RecordOf, Ref, fail, placed, written
from sitegen.records.fields.kinds import (
    DAY,
    LINE,
    NO_PROSE,
    PROSE,
    STAGE,
    TITLE,
    Ident,
    ListOf,
    PairsOf,
    Pattern,
    Prose,
)
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.ledger import Sample
from sitegen.records.measured.round import Measure, MeasureOf
from sitegen.records.product import CareKey, Claim, Detail, Finish, PhotoPath, Price
from sitegen.records.texts.first_published import FirstPublished
from sitegen.text.markdown import Body
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar

if TYPE_CHECKING:
    from sitegen.text.csv_rows import Cell

SLUG = Pattern(r"[a-z0-9][a-z0-9\-]{0,79}", "lower-case letters, digits and hyphens", "walking-trousers")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPhoto:
    """A photo of a text, described in the text's language."""

    file: Ref = written(PhotoPath(), "the picture's path below photos/")
    alt: Prose = written(PROSE, "what the picture shows, for readers who can't see it")
    caption: Prose = written(PROSE, "the caption", default=NO_PROSE)
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionNote:
    """What was corrected, and when."""

    date: dt.date = written(DAY, "the day of the correction")
    text: Prose = written(PROSE, "what was wrong and is now right")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class TextHead:
    """The front matter that every text has."""

    title: Prose = written(TITLE, "the title, in the text's language")
    summary: Prose = written(PROSE, "what it is and for whom, in two sentences", default=NO_PROSE)
    date: dt.date | None = written(DAY, "when it was published", default=None)
    updated: dt.date | None = written(DAY, "when it was last changed", default=None)
    slug: str = written(SLUG, "the last part of its address", default="")
    photos: tuple[TextPhoto, ...] = written(
        ListOf(RecordOf(TextPhoto, "a photo")), "pictures; the first one opens the page", default=()
    )
    translator: str = written(LINE, "who translated it", default="")
    place: Place = placed()
    slug_place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewHead(TextHead):
    """The words of a review's front matter; the facts that all languages share are in ReviewFacts."""

    good: tuple[Prose, ...] = written(ListOf(PROSE), "what was good", default=())
    less_good: tuple[Prose, ...] = written(ListOf(PROSE), "what was less good", default=())
    suits: Prose = written(PROSE, "which kind of reader it suits", default=NO_PROSE)
    corrections: tuple[CorrectionNote, ...] = written(
        ListOf(RecordOf(CorrectionNote, "a correction")), "corrections, oldest first", default=()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewFacts:
    """What is true of a review in every language; stands in the lead's front matter or in data.yaml."""

    product: Ref | None = written(Ident("a product"), "the reviewed product", default=None)
    version: Ref | None = written(Ident("a version"), "the tested version", default=None)
    round: Ref | None = written(Ident("a round"), "the round it was tested in", default=None)
    first_published: FirstPublished | None = written(
        RecordOf(FirstPublished, "a first publication"), "where it appeared first, if not here", default=None
    )
    key: tuple[tuple[Measure, Place], ...] = written(
        ListOf(MeasureOf(), most=5), "the figures that its page shows first, at most five", default=()
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True)
class StagedValues:
    """The values of one protocol at one stage, as written in a review's front matter; text for yes or no."""

    stage: Stage
    values: "tuple[Cell, ...]"


@dataclass(frozen=True, slots=True)
class MeasuredOf:
    """Readings as a value, a list of values, or one list for each stage.

    The values stay as written here; they are read by the same function as a CSV's.
    """

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A tuple of StagedValues."""
        if not isinstance(node, Mapping):
            cells = _cells(node, name, problems)
            return FAILED if cells is FAILED else (StagedValues(NEW, cells),)
        staged = []
        for entry in node.entries:
            stage = STAGE.take(entry.key, name, problems)
            cells = _cells(entry.value, f"{name}.{entry.key.text}", problems)
            if stage is FAILED or cells is FAILED:
                return FAILED
            staged.append(StagedValues(stage, cells))
        return tuple(staged)

    def schema(self) -> dict[str, Any]:
        """A value, an array of values, or an object with one of these for each stage."""
        value = {"type": ["number", "string", "boolean"]}
        values = {"anyOf": [value, {"type": "array", "items": value}]}
        return {"anyOf": [value, values, {"type": "object", "additionalProperties": values}], "examples": ["412.0 g"]}


def _cells(node: Node, name: str, problems: Problems) -> Any:
    items = node.items if isinstance(node, Listing) else (node,)
    if not items or not all(isinstance(item, Scalar) and item.text for item in items):
        return fail(node, name, "a value, or a list of values such as [412.0 g, 411.5 g]", problems)
    from sitegen.text.csv_rows import Cell  # few reviews carry their own readings

    return tuple(Cell(item.text, item.place) for item in items if isinstance(item, Scalar))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortFacts:
    """The short form: a review that carries its own product, readings and sample."""

    name: str = written(LINE, "the product's name")
    maker: str = written(LINE, "who makes it")
    kind: str = written(LINE, "what kind of thing it is", default="")
    measured: tuple[tuple[Ref, tuple[StagedValues, ...]], ...] = written(
        PairsOf(Ident("a protocol"), MeasuredOf()), "readings by protocol"
    )
    sample: Sample = written(RecordOf(Sample, "a sample"), "how the sample came and went")
    care: tuple[Ref, ...] = written(ListOf(CareKey()), "care words", default=())
    care_edition: str = written(LINE, "edition of the care labelling standard", default="")
    finish: Finish | None = written(RecordOf(Finish, "finish"), "finish chemistry by the maker's word", default=None)
    price: Price | None = written(RecordOf(Price, "price"), "the price", default=None)
    claims: tuple[Claim, ...] = written(ListOf(RecordOf(Claim, "a claim")), "the maker's figures", default=())
    details: tuple[Detail, ...] = written(
        ListOf(RecordOf(Detail, "a detail")), "further rows of the spec table", default=()
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text in one language."""

    lang: str
    head: TextHead
    body: Body
    file: str
