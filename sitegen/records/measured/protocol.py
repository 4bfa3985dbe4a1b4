"""protocols/ID.yaml: how a thing is measured, what the readings may be and what they can't tell."""

import itertools
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.fields import FAILED, RecordOf, Ref, placed, written
from sitegen.records.fields.kinds import LINE, METHOD, WORDS, YES_NO, Choice, Ident, ListOf, Number, unknown_unit
from sitegen.records.fields.units import UNITS, convert, known_unit, siblings
from sitegen.records.fields.words import Words
from sitegen.text.yaml_nodes import Node, Scalar

RATIO, ORDINAL, CURVE, YES_OR_NO = SCALES = ("ratio", "ordinal", "curve", "yes_no")
STANDARD, PRACTICE = BASES = ("standard", "common practice")
START = Decimal(30)  # s after switching on; ANSI/PLATO FL 1, from memory
DIRECTIONS = ("higher", "lower", "neither")
INSTRUMENT, SPECIMEN = SCATTERS = ("instrument", "specimen")


@dataclass(frozen=True, slots=True)
class UnitOf:
    """A unit of the table."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The table's spelling of the unit."""
        unit = known_unit(node.text) if isinstance(node, Scalar) else None
        if unit is None:
            return unknown_unit(node, name, node.text if isinstance(node, Scalar) else "", problems)
        return unit

    def schema(self) -> dict[str, Any]:
        """An enumeration of the units."""
        return {"enum": list(UNITS), "examples": ["g"]}


@dataclass(frozen=True, slots=True)
class SpanOf:
    """Two numbers, the lower first."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A pair of Decimals."""
        pair = ListOf(Number(), least=2, most=2).take(node, name, problems)
        if pair is not FAILED and pair[0] >= pair[1]:
            message = f"`{name}`: expected two numbers, the lower first, found {pair[0]} and {pair[1]}"
            problems.error("number-range", node.place, message)
            return FAILED
        return pair

    def schema(self) -> dict[str, Any]:
        """An array of two numbers."""
        return {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2, "examples": ["[20, 5000]"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """A grade of an ordinal scale; `also` is its name on a second scale."""

    grade: Decimal = written(Number(), "the grade")
    name: Words = written(WORDS, "what the specimen looks or feels like")
    also: Decimal | None = written(Number(), "the same grade on the second scale", default=None)
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A condition that each run must keep, with its limits in `unit`."""

    id: Ref = written(Ident("a condition"), "a short id, used in rig logs")
    name: Words = written(WORDS, "what it is called")
    unit: str = written(UnitOf(), "its unit", default="")
    low: Decimal | None = written(Number(), "the lower limit", default=None)
    high: Decimal | None = written(Number(), "the upper limit", default=None)
    ambient: bool = written(YES_NO, "whether the weather decides it, so that no control chart is drawn", default=False)
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """The x axis of a curve; `shares` are shares of the start in per cent whose time is a finding."""

    unit: str = written(UnitOf(), "the unit along the curve")
    name: Words = written(WORDS, "what runs along it")
    shares: tuple[Decimal, ...] = written(
        ListOf(Number(Decimal(1), Decimal(99))), "shares of the start, in %", default=()
    )
    place: Place = placed()

    def start(self, moments: Sequence[Decimal]) -> int:
        """The index of the point that is the start, from which axis, times and shares are counted.

        Over time that is the point at 30 s (ANSI/PLATO FL 1, from memory), without one the first, as is it over
        anything else.
        """
        if self.unit not in siblings("s"):
            return 0
        wanted = convert(START.quantize(Decimal("1e-9")), "s", self.unit)
        near = Decimal("1e-9") * max(Decimal(1), wanted)  # 0.00833333333 h is still half a minute
        return next((i for i, moment in enumerate(moments) if abs(moment - wanted) <= near), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol:
    """How one thing is measured. `scale` decides which findings its readings can support."""

    id: str
    stock: bool
    name: Words = written(WORDS, "what it is called")
    measures: Words = written(WORDS, "what it measures, in one sentence")
    basis: str = written(Choice(BASES), "whether it follows a standard or common practice")
    scale: str = written(Choice(SCALES), "the kind of scale")
    short: Words | None = written(WORDS, "a short name for column heads", default=None)
    standard: str = written(LINE, "the standard", default="")
    method: str = written(
        METHOD, "the key of the method, by which claims made by another one are told apart", default=""
    )
    related: tuple[str, ...] = written(ListOf(LINE), "related standards", default=())
    departs: Words | None = written(WORDS, "where the home bench departs from it", default=None)
    unit: str = written(UnitOf(), "the unit of the readings", default="")
    better: str = written(Choice(DIRECTIONS), "which direction is better", default="neither")
    scatter: str = written(
        Choice(SCATTERS),
        "whose the scatter of its readings is: the instrument's (one for all entrants) or the specimen's (each entrant's own)",
        default=SPECIMEN,
    )
    specimens: Decimal = written(
        Number(Decimal(1), Decimal(1000), whole=True), "how many specimens", default=Decimal(1)
    )
    after_washing: bool = written(YES_NO, "whether it is repeated at each stage", default=False)
    grades: tuple[Grade, ...] = written(ListOf(RecordOf(Grade, "a grade")), "all grades, in order", default=())
    also_called: Words | None = written(WORDS, "what the second scale is called", default=None)
    half_grades: bool = written(YES_NO, "whether half grades may be given", default=False)
    possible: tuple[Decimal, Decimal] | None = written(SpanOf(), "values outside are errors", default=None)
    lowest: Words | None = written(
        WORDS, "what whoever has the lowest value is, such as the lightest; unchanging, without a noun", default=None
    )
    highest: Words | None = written(WORDS, "likewise for the highest value", default=None)
    plausible: tuple[Decimal, Decimal] | None = written(SpanOf(), "values outside are questioned", default=None)
    resolution: Decimal | None = written(Number(positive=True), "resolution of the usual instrument", default=None)
    along: Along | None = written(RecordOf(Along, "along"), "the x axis of a curve", default=None)
    conditions: tuple[Condition, ...] = written(
        ListOf(RecordOf(Condition, "a condition")), "conditions with limits", default=()
    )
    steps: tuple[Words, ...] = written(ListOf(WORDS), "what is done, step by step", default=())
    cautions: tuple[Words, ...] = written(ListOf(WORDS), "cautions", default=())
    limits: tuple[Words, ...] = written(ListOf(WORDS), "what it can't tell", default=())
    place: Place = placed()

    def allowed_grades(self) -> frozenset[Decimal]:
        """Whole grades, and half grades between neighbours (never below the second lowest) where they may be given."""
        whole = sorted(g.grade for g in self.grades)
        halves = [(a + b) / 2 for a, b in itertools.pairwise(whole)] if self.half_grades else []
        return frozenset((*whole, *halves))

    def units(self) -> tuple[str, ...]:
        """The units in which its readings may be given."""
        return siblings(self.unit) if self.unit else ()


def check_protocol(protocol: Protocol, problems: Problems) -> None:
    """What one field alone can't tell: that the scale has what it needs."""
    place = protocol.place
    if protocol.basis == STANDARD and not protocol.standard:
        problems.error(
            "protocol-standard", place, "a protocol on the basis of a standard must name it", "add  standard: ISO …"
        )
    if protocol.scale in {RATIO, CURVE} and not protocol.unit:
        problems.error(
            "protocol-unit", place, f"a {protocol.scale} protocol needs a `unit`", "add a line such as  unit: g"
        )
    if protocol.scale == CURVE and protocol.along is None:
        problems.error("protocol-along", place, "a curve needs `along`: the unit and name of its x axis")
    if protocol.scale == ORDINAL:
        _check_grades(protocol, problems)


def _check_grades(protocol: Protocol, problems: Problems) -> None:
    values = [grade.grade for grade in protocol.grades]
    if len(values) < 2:
        problems.error("protocol-grades", protocol.place, "an ordinal protocol needs its `grades`, at least two")
    elif values not in (sorted(set(values)), sorted(set(values), reverse=True)):
        problems.error("protocol-grades", protocol.grades[0].place, "`grades` must stand in order, each once")
