"""Readings that are possible but far from what else is known of the same product: a digit or a unit went wrong."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

from sitegen.problems import Problems, quoted
from sitegen.records.fields.units import UnitMismatch, convert
from sitegen.records.measured.protocol import RATIO, Protocol
from sitegen.records.measured.round import Measure, Round
from sitegen.records.product import ANSWER, Product

if TYPE_CHECKING:
    from sitegen.records.measured.readings import Reading

FAR = 5  # times as much or as little; a digit too many is ten times, pounds for kilograms are 2.2; common practice, no source
FEWEST = 3  # readings of which the other two can outvote one
_HINT = "is a digit too many or too few, or the unit another?"


def check_far(
    round: Round,
    readings: "Iterable[Reading]",
    protocols: Mapping[str, Protocol],
    products: Mapping[str, Product],
    problems: Problems,
) -> None:
    """Question readings that are several times the maker's figure, or several times the middle of all specimens."""
    from statistics import median  # a millisecond to load, and few builds read readings

    groups: dict[tuple[str, Measure], list[Reading]] = {}
    for reading in readings:
        if reading.value is not None and protocols[reading.protocol].scale == RATIO:
            groups.setdefault((reading.product, Measure(reading.protocol, reading.stage)), []).append(reading)
    for (product, measure), group in groups.items():
        protocol = protocols[measure.protocol]
        known, what = _claimed(round, product, measure, protocol.unit, products), "the maker's figure"
        if known is None and len(group) >= FEWEST:
            known, what = Decimal(median(r.value for r in group if r.value is not None)), "the middle of its readings"
        for reading in group if known is not None else ():
            _question(reading, known or Decimal(0), what, protocol, problems)


def check_ends(
    readings: "Iterable[Reading]", protocols: Mapping[str, Protocol], highest: Mapping[str, Decimal], problems: Problems
) -> None:
    """Question readings that stand where a rig ends, and refuse those said to lie below that end or beyond it.

    `highest`: by protocol, the highest value that the rigs can show, in the protocol's unit.
    """
    for reading in readings:
        end = highest.get(reading.protocol)
        if end is None:
            continue
        unit = protocols[reading.protocol].unit
        if reading.value is not None and reading.value >= end:
            message = f"{reading.value:f} {unit} of {reading.product} is where the rig ends ({end:f} {unit})"
            hint = f"if it was still holding there, write >{end:f}: then it counts as at least that"
            problems.caution("reading-at-the-end", reading.place, message, hint)
        elif reading.beyond and (reading.beyond.limit > end if reading.beyond.above else reading.beyond.limit >= end):
            message = f"{quoted(reading.beyond.text)} {unit} can't be seen on a rig that ends at {end:f} {unit}"
            hint = f"a reading beyond the end is >{end:f}" if reading.beyond.limit >= end else ""
            problems.error("reading-beyond", reading.place, message, hint)


def _question(reading: "Reading", known: Decimal, what: str, protocol: Protocol, problems: Problems) -> None:
    value = reading.value
    low, high = protocol.plausible or (value, value)
    if value is None or low is None or high is None or not low <= value <= high:
        return  # what isn't plausible of anything has been questioned already
    if known > 0 and (value >= FAR * known or value * FAR <= known):
        message = f"{value:f} {protocol.unit} of {reading.product} is far from {what}, {known:f} {protocol.unit}"
        problems.caution("value-far", reading.place, message, _HINT)


def _claimed(
    round: Round, product: str, measure: Measure, unit: str, products: Mapping[str, Product]
) -> Decimal | None:
    entrant = next((e for e in round.entrants if e.product.id == product), None)
    record = products.get(product)
    version = record.version(entrant.version.id if entrant.version else "") if entrant and record else None
    for claim in version.claims if version else ():
        if Measure(claim.protocol.id, claim.stage) == measure and claim.value.unit != ANSWER:
            try:
                return convert(claim.value.value, claim.value.unit or unit, unit)
            except UnitMismatch:
                return None  # has been told at the claim
    return None
