"""What earlier rounds tell of an instrument's scatter: GUM 4.2.4, and repeatability in ISO 5725-2.

Rounds share what they know where they name the same instrument for a protocol. Only earlier ones count, so that a new
round changes no figure that was published.
"""

from collections.abc import Iterable, Mapping

from sitegen.findings.statistics.pooling import Pooled, join
from sitegen.findings.statistics.uncertainty import mean_and_spread
from sitegen.records.measured.protocol import INSTRUMENT, Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Round


def earlier_rounds(rounds: Mapping[str, Round]) -> dict[str, tuple[str, ...]]:
    """For each round that names an instrument, the rounds that began before it and used it, by id.

    A round without its first day neither has nor is an earlier one.
    """
    users: dict[tuple[str, str], list[Round]] = {}
    for round in rounds.values():
        for ref, instrument in round.instruments:
            if instrument.name and round.start is not None:
                users.setdefault((ref.id, instrument.name), []).append(round)
    found: dict[str, set[str]] = {}
    for group in users.values():
        group.sort(key=lambda one: (str(one.start), one.id))
        for later in group:
            before = {one.id for one in group if one.start and later.start and one.start < later.start}
            if before:
                found.setdefault(later.id, set()).update(before)
    return {id: tuple(sorted(before)) for id, before in found.items()}


def earlier_scatter(
    round: Round,
    earlier: Iterable[Round],
    readings: Mapping[str, tuple[Reading, ...]],
    protocols: Mapping[str, Protocol],
) -> dict[str, Pooled]:
    """By protocol whose scatter is the instrument's, what `earlier` rounds tell of it, in the protocol's unit.

    `readings` by round. Readings of one product at one stage of one round are repeats of one another.
    """
    groups: dict[tuple[str, ...], list[Reading]] = {}
    for one in earlier:
        shared = {
            ref.id
            for ref, instrument in one.instruments
            if instrument.name and _name(round, ref.id) == instrument.name and _is_instruments(ref.id, protocols)
        }
        for reading in readings.get(one.id, ()) if shared else ():
            if reading.protocol in shared and reading.value is not None:
                key = (reading.protocol, one.id, reading.product, reading.stage.text)
                groups.setdefault(key, []).append(reading)
    spreads: dict[str, list[Pooled]] = {}
    for (protocol, *_), group in groups.items():
        s = mean_and_spread([reading.value for reading in group if reading.value is not None])[1]
        if s is not None:
            spreads.setdefault(protocol, []).append(Pooled(s=s, dof=len(group) - 1))
    return {protocol: pooled for protocol, found in spreads.items() if (pooled := join(found)) is not None}


def _name(round: Round, protocol: str) -> str:
    instrument = round.instrument(protocol)
    return instrument.name if instrument else ""


def _is_instruments(id: str, protocols: Mapping[str, Protocol]) -> bool:
    return id in protocols and protocols[id].scatter == INSTRUMENT
