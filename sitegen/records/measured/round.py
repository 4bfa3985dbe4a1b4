"""rounds/ID/round.yaml: a group of similar products tested together."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.fields.fields import FAILED, RecordOf, Ref, fail, place_at, placed, written
from sitegen.records.fields.kinds import (
    DAY,
    LINE,
    QUANTITY,
    STAGE,
    WORDS,
    Amount,
    Ident,
    ListOf,
    Number,
    PairsOf,
    Quantity,
    is_ident,
)
from sitegen.records.fields.photo_pair import PhotoPair
from sitegen.records.fields.stage import NEW, Stage, parse_stage
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import Protocol
from sitegen.records.product import Photo, Product, Version
from sitegen.text.yaml_nodes import Node, Scalar


@dataclass(frozen=True, slots=True, order=True)
class Measure:
    """A protocol at a stage: what a weight, a column or a value in the text refers to."""

    protocol: str
    stage: Stage = NEW

    @property
    def text(self) -> str:
        """The form in which an author writes it."""
        return self.protocol if self.stage == NEW else f"{self.protocol} {self.stage.text}"


def parse_measure(text: str) -> Measure | None:
    """Read `mass` or `spray after 3 washes`; None for anything else."""
    protocol, _, rest = " ".join(text.split()).partition(" ")
    stage = parse_stage(rest) if rest else NEW
    return Measure(protocol, stage) if stage is not None and is_ident(protocol) else None


@dataclass(frozen=True, slots=True)
class MeasureOf:
    """A protocol, optionally with a stage."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A (Measure, Place) pair, so that an unknown protocol can be shown where it stands."""
        measure = parse_measure(node.text) if isinstance(node, Scalar) else None
        if measure is None:
            return fail(node, name, "a protocol, or a protocol and a stage such as spray after 3 washes", problems)
        return measure, node.place

    def schema(self) -> dict[str, Any]:
        """A string."""
        return {"type": "string", "examples": ["spray after 3 washes"]}


@dataclass(frozen=True, slots=True)
class Named:
    """A name as it stands in the tables, with its place, so that one that isn't there can be shown where it stands."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Ref."""
        text = LINE.take(node, name, problems)
        return text if text is FAILED else Ref(text, node.place)

    def schema(self) -> dict[str, Any]:
        """A string."""
        return LINE.schema()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entrant:
    """A product in a round, in the version that was tested (the newest where none is named)."""

    product: Ref = written(Ident("a product"), "the product's id")
    version: Ref | None = written(Ident("a version"), "the tested version", default=None)
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundProtocol:
    """A protocol of a round; `stages` is empty where the round's own stages hold."""

    protocol: Ref = written(Ident("a protocol"), "the protocol's id")
    stages: tuple[Stage, ...] = written(ListOf(STAGE, unique=True), "the stages at which it was measured", default=())
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """The instrument of this bench for one protocol."""

    name: str = written(
        LINE, "which one it is; rounds that name the same one share how much its readings scatter", default=""
    )
    resolution: Amount | None = written(Quantity(positive=True), "the smallest step it shows", default=None)
    calibration: Amount | None = written(
        Quantity(low=Decimal(0)), "expanded uncertainty (k = 2) of its calibration", default=None
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchors:
    """The fixed values that are worth 0 and 100, so that adding a product changes nobody's score."""

    worth_0: Amount = written(QUANTITY, "the value that is worth 0")
    worth_100: Amount = written(QUANTITY, "the value that is worth 100")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What a reader does, with weights over measures; weights count by their shares."""

    id: Ref = written(Ident("a use"), "a short id")
    name: Words = written(WORDS, "what the reader does")
    weights: tuple[tuple[tuple[Measure, Place], Decimal], ...] = written(
        PairsOf(MeasureOf(), Number(Decimal(0))), "weights by protocol and stage"
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A round: entrants, protocols, stages, uses."""

    id: str
    title: Words = written(WORDS, "the round's title")
    entrants: tuple[Entrant, ...] = written(
        ListOf(RecordOf(Entrant, "an entrant", short="product"), least=1), "the products tested together"
    )
    protocols: tuple[RoundProtocol, ...] = written(
        ListOf(RecordOf(RoundProtocol, "a protocol of the round", short="protocol"), least=1), "what was measured"
    )
    summary: Words | None = written(WORDS, "what was compared and for whom", default=None)
    kind: Words | None = written(WORDS, "the kind of gear", default=None)
    start: dt.date | None = written(DAY, "the first day", key="from", default=None)
    end: dt.date | None = written(DAY, "the last day", key="to", default=None)
    published: dt.date | None = written(DAY, "when the round's page was published", key="date", default=None)
    where: Words | None = written(WORDS, "where it was measured", key="place", default=None)
    conditions: Words | None = written(WORDS, "the room, in words", default=None)
    photo: Photo | None = written(RecordOf(Photo, "a photo"), "a picture", default=None)
    stages: tuple[Stage, ...] = written(ListOf(STAGE, least=1, unique=True), "the stages, in order", default=(NEW,))
    instruments: tuple[tuple[Ref, Instrument], ...] = written(
        PairsOf(Ident("a protocol"), RecordOf(Instrument, "an instrument")), "instruments by protocol", default=()
    )
    anchors: tuple[tuple[tuple[Measure, Place], Anchors], ...] = written(
        PairsOf(MeasureOf(), RecordOf(Anchors, "anchors")), "fixed values worth 0 and 100", default=()
    )
    uses: tuple[Use, ...] = written(ListOf(RecordOf(Use, "a use")), "what readers do, with weights", default=())
    graders: tuple[Ref, ...] = written(
        ListOf(Named(), unique=True), "the graders, first the one whose grades are the finding", default=()
    )
    wanted: tuple[tuple[Ref, Decimal], ...] = written(
        PairsOf(Ident("a protocol"), Number()), "by protocol, the grade that should be kept after washing", default=()
    )
    photo_pairs: tuple[PhotoPair, ...] = written(
        ListOf(RecordOf(PhotoPair, "a photo pair")), "photos of specimens before and after the spray", default=()
    )
    limits: tuple[Words, ...] = written(ListOf(WORDS), "what this round can't say", default=())
    cautions: tuple[Words, ...] = written(ListOf(WORDS), "cautions for whoever uses such gear", default=())
    single: bool = False
    place: Place = placed()

    def has(self, product: str) -> bool:
        """Whether a product is an entrant."""
        return any(entrant.product.id == product for entrant in self.entrants)

    def instrument(self, protocol: str) -> Instrument | None:
        """The instrument declared for a protocol."""
        return next((found for ref, found in self.instruments if ref.id == protocol), None)


def tested_version(entrant: Entrant, products: Mapping[str, Product]) -> Version | None:
    """The version of an entrant that was tested."""
    product = products.get(entrant.product.id)
    return product.version(entrant.version.id if entrant.version else "") if product else None


def stages_of(round: Round, protocol: Protocol) -> tuple[Stage, ...]:
    """The stages at which a round measures by a protocol: its own, the round's, or the first alone."""
    for entry in round.protocols:
        if entry.protocol.id == protocol.id and entry.stages:
            return entry.stages
    return round.stages if protocol.after_washing else round.stages[:1]


def anchors_of(round: Round, measure: Measure) -> Anchors | None:
    """The anchors of a measure: its own, else those that its protocol has without a stage."""
    found = {entry: anchors for (entry, _), anchors in round.anchors}
    return found.get(measure) or found.get(Measure(measure.protocol, NEW))


def check_round(round: Round, node: Node, problems: Problems) -> None:
    """What one field alone can't tell: doubles, dates in order, weights that sum to something."""
    _check_doubles([e.product for e in round.entrants], "the product", problems)
    _check_doubles([p.protocol for p in round.protocols], "the protocol", problems)
    _check_doubles([use.id for use in round.uses], "the use", problems)
    if round.start and round.end and round.end < round.start:
        problems.error(
            "round-dates", place_at(node, "to"), f"the round ends ({round.end}) before it begins ({round.start})"
        )
    for use in round.uses:
        if sum(weight for _, weight in use.weights) <= 0:
            problems.error("weights-nothing", use.place, "the weights of a use must sum to more than nothing")


def _check_doubles(refs: list[Ref], what: str, problems: Problems) -> None:
    seen: dict[str, Ref] = {}
    for ref in refs:
        if ref.id in seen:
            first = seen[ref.id].place
            problems.error("double", ref.place, f"{what} {quoted(ref.id)} is listed twice (first in line {first.line})")
        seen[ref.id] = ref
