"""Everything that a publication's data say of a product: readings, findings, claims, prices, each with its place."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import combinations

from sitegen.datatypes import dataclass
from sitegen.editions.following.parity import in_unit
from sitegen.editions.typed.figure_reader import GRADE
from sitegen.findings.found import Cell, CurveSummary, Measured, RoundFindings
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.place import Place
from sitegen.records.measured.protocol import CURVE, ORDINAL, Protocol
from sitegen.records.product import ANSWER, Claim
from sitegen.records.publication import Publication

PRICE = "price"


@dataclass(frozen=True, slots=True)
class Known:
    """A value that the data hold: of which protocol, and where it is written (None for derived ones)."""

    protocol: str
    value: Decimal
    unit: str
    place: Place | None = None

    @property
    def text(self) -> str:
        """The value as data files write it."""
        return f"grade {self.value:f}" if self.unit == GRADE else f"{self.value:f} {self.unit}"


def known_values(
    publication: Publication, findings: Mapping[str, RoundFindings], product: str
) -> dict[str, tuple[Known, ...]]:
    """All values of a product, each once, by unit."""
    by_unit: dict[str, dict[tuple[str, Decimal], Known]] = {}
    for entry in (*_measured(publication, findings, product), *_stated(publication, product)):
        by_unit.setdefault(entry.unit, {}).setdefault((entry.protocol, entry.value), entry)
    return {unit: tuple(group.values()) for unit, group in by_unit.items()}


def units_of(publication: Publication, product: str) -> frozenset[str]:
    """The units in which anything of a product was measured, claimed or paid."""
    rounds = (publication.rounds[id] for id in publication.rounds_of(product))
    used = {entry.protocol.id for round in rounds for entry in round.protocols}
    versions = publication.products[product].versions
    used |= {claim.protocol.id for version in versions for claim in version.claims}
    protocols = [publication.protocols[id] for id in used if id in publication.protocols]
    along = {protocol.along.unit for protocol in protocols if protocol.along}
    prices = {version.price.currency for version in versions if version.price is not None}
    return frozenset({_unit(protocol) for protocol in protocols} | along | prices) - {""}


def _measured(publication: Publication, findings: Mapping[str, RoundFindings], product: str) -> Iterator[Known]:
    for id in publication.rounds_of(product):
        found = findings.get(id)
        if found is None:
            continue
        for reading in publication.readings.get(id, ()):
            value = reading.beyond.limit if reading.beyond else reading.value
            if reading.product == product and value is not None:
                protocol = publication.protocols[reading.protocol]
                yield Known(protocol.id, value, _unit(protocol), reading.place)
                if reading.along is not None and protocol.along:
                    yield Known(protocol.id, reading.along, protocol.along.unit, reading.place)
        for measured in found.measured:
            yield from _derived(measured, product)


def _unit(protocol: Protocol) -> str:
    return GRADE if protocol.scale == ORDINAL else protocol.unit


def _derived(measured: Measured, product: str) -> Iterator[Known]:
    """Means, spreads, uncertainties, run times, differences between entrants, and the protocol's conditions."""
    protocol = measured.protocol
    unit = protocol.along.unit if protocol.scale == CURVE and protocol.along else _unit(protocol)
    for cell in measured.cells:
        if cell.product == product:
            yield from (Known(protocol.id, number, unit) for number in _numbers(cell))
    means = [mean for cell in measured.cells if (mean := _mean(cell)) is not None]
    yield from (Known(protocol.id, abs(a - b), unit) for a, b in combinations(means, 2))
    for condition in protocol.conditions:
        limits = (condition.low, condition.high) if condition.unit else ()
        yield from (Known(protocol.id, limit, condition.unit) for limit in limits if limit is not None)


def _mean(cell: Cell) -> Decimal | None:
    if isinstance(cell.summary, RatioSummary):
        return Decimal(repr(cell.summary.mean))
    if isinstance(cell.summary, CurveSummary) and cell.summary.times and (summary := cell.summary.times[0].summary):
        return Decimal(repr(summary.mean))
    return None


def _numbers(cell: Cell) -> Iterator[Decimal]:
    yield from (value for _, values in cell.gradings for _, value in values)
    summaries = [cell.summary] if isinstance(cell.summary, RatioSummary) else []
    if isinstance(cell.summary, CurveSummary):
        summaries = [entry.summary for entry in cell.summary.times if entry.summary]
        for entry in cell.summary.times:
            yield from (Decimal(repr(run.time)) for run in entry.runs if run.time is not None)
    for summary in summaries:
        yield summary.shown
        yield from (
            Decimal(repr(number)) for number in (summary.mean, summary.s, summary.expanded) if number is not None
        )
        yield summary.high - summary.low


def _stated(publication: Publication, product: str) -> Iterator[Known]:
    """Claims, tolerances and prices of every version."""
    for version in publication.products[product].versions:
        for claim in version.claims:
            protocol = publication.protocols.get(claim.protocol.id)
            if protocol is not None and claim.value.unit != ANSWER:
                yield from _claimed(claim, claim.value.unit or _unit(protocol))
        if version.price is not None:
            yield Known(PRICE, version.price.amount, version.price.currency, version.price.place)


def _claimed(claim: Claim, unit: str) -> Iterator[Known]:
    id, value, tolerance = claim.protocol.id, claim.value.value, claim.tolerance
    yield Known(id, value, unit, claim.place)
    if tolerance is None:
        return
    width_unit = tolerance.unit or unit
    yield Known(id, tolerance.value, width_unit)
    share = width_unit == "%" and unit != "%"
    width = value * tolerance.value / 100 if share else in_unit(tolerance.value, width_unit, unit)
    if width is not None:
        yield from (Known(id, number, unit) for number in (width, value - width, value + width))
