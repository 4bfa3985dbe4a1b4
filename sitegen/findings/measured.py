"""What the readings of a round support, measure by measure: a cell for every entrant, also the empty ones."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from sitegen.findings.found import Cell, Curve, CurveSummary, Measured, ShareTimes, Summary
from sitegen.findings.grading.grade_rounds import with_scatter
from sitegen.findings.grading.graded_by import chosen, graders_in_order, others_count
from sitegen.findings.statistics.censored import summarise_censored
from sitegen.findings.statistics.curve import area_under, run_time, summarise_run_times
from sitegen.findings.statistics.ordinal import summarise_grades
from sitegen.findings.statistics.pooling import Pooled, Pooling, pool_spread
from sitegen.findings.statistics.ratio import summarise_ratio
from sitegen.findings.statistics.steps import find_steps
from sitegen.findings.statistics.uncertainty import Certificate
from sitegen.findings.statistics.yes_no import summarise_yes_no
from sitegen.records.fields.units import convert_step
from sitegen.records.measured.protocol import CURVE, INSTRUMENT, ORDINAL, RATIO, YES_OR_NO, Along, Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Measure, Round, stages_of

GRADED = {ORDINAL, YES_OR_NO}  # scales that a person judges; a balance or a clock reads alike in anybody's hands


def measures_of(round: Round, protocols: Mapping[str, Protocol]) -> tuple[Measure, ...]:
    """Every measure of a round: its protocols in the order written, each at its stages."""
    found = []
    for entry in round.protocols:
        protocol = protocols.get(entry.protocol.id)
        if protocol is not None:
            found += [Measure(protocol.id, stage) for stage in stages_of(round, protocol)]
    return tuple(found)


def measure_round(
    round: Round,
    readings: Iterable[Reading],
    protocols: Mapping[str, Protocol],
    earlier: Mapping[str, Pooled] | None = None,
    highest: Mapping[str, Decimal] | None = None,
) -> tuple[Measured, ...]:
    """The measures of a round with a summary for each entrant.

    `earlier`: by protocol, what earlier rounds on the same instrument tell of its scatter; `highest`: by protocol, the
    highest value that the rig can show. Both in the protocol's unit.
    """
    sorted_out: dict[tuple[str, Measure], list[Reading]] = {}
    by_protocol: dict[str, list[Reading]] = {}
    for reading in readings:
        sorted_out.setdefault((reading.product, Measure(reading.protocol, reading.stage)), []).append(reading)
        by_protocol.setdefault(reading.protocol, []).append(reading)
    products = [entrant.product.id for entrant in round.entrants]
    graders = {
        id: graders_in_order(of_it, [ref.id for ref in round.graders])
        for id, of_it in by_protocol.items()
        if protocols[id].scale in GRADED
    }
    return with_scatter(
        _measured(
            measure,
            protocols[measure.protocol],
            round,
            {p: sorted_out.get((p, measure), []) for p in products},
            graders.get(measure.protocol, ()),
            (earlier or {}).get(measure.protocol),
            (highest or {}).get(measure.protocol),
        )
        for measure in measures_of(round, protocols)
    )


def _measured(
    measure: Measure,
    protocol: Protocol,
    round: Round,
    by_product: Mapping[str, list[Reading]],
    graders: tuple[str, ...],
    earlier: Pooled | None,
    highest: Decimal | None,
) -> Measured:
    resolution = _resolution(protocol, round, by_product)
    pooling = None
    if protocol.scale == RATIO and protocol.scatter == INSTRUMENT and resolution is not None:
        groups = {id: [r.value for r in rows if r.value is not None] for id, rows in by_product.items()}
        pooling = pool_spread(groups, resolution, earlier)
    calibration = _calibration(protocol, round)
    cells = tuple(
        _cell(product, measure, protocol, readings, graders, resolution, calibration, pooling, highest)
        for product, readings in by_product.items()
    )
    present = {r.grader for readings in by_product.values() for r in readings}
    here = tuple(grader for grader in graders if grader in present)
    return Measured(
        measure=measure, protocol=protocol, cells=cells, pooling=pooling, graders=here, resolution=resolution
    )


def _resolution(protocol: Protocol, round: Round, by_product: Mapping[str, list[Reading]]) -> Decimal | None:
    """The instrument's: as the round declares it, as the protocol does, or as fine as the readings are written."""
    if protocol.scale not in {RATIO, CURVE}:
        return None
    instrument = round.instrument(protocol.id)
    if instrument and instrument.resolution:
        amount = instrument.resolution
        return convert_step(amount.value, amount.unit, protocol.unit) if amount.unit else amount.value
    if protocol.resolution:
        return protocol.resolution
    exponents = [int(r.value.as_tuple().exponent) for rs in by_product.values() for r in rs if r.value is not None]
    return Decimal(1).scaleb(min(exponents, default=0))


def _calibration(protocol: Protocol, round: Round) -> Certificate | None:
    instrument = round.instrument(protocol.id)
    if not instrument or not instrument.calibration:
        return None
    amount = instrument.calibration
    value = convert_step(amount.value, amount.unit, protocol.unit) if amount.unit else amount.value
    return Certificate(expanded=float(value))


def _cell(
    product: str,
    measure: Measure,
    protocol: Protocol,
    readings: Sequence[Reading],
    graders: tuple[str, ...],
    resolution: Decimal | None,
    calibration: Certificate | None,
    pooling: Pooling | None,
    highest: Decimal | None,
) -> Cell:
    used = chosen(readings, graders) if graders else tuple(readings)
    present = [r for r in used if r.value is not None or r.beyond is not None]
    summary = _summarise(protocol, present, resolution, calibration, pooling) if present else None
    return Cell(
        product=product,
        measure=measure,
        summary=summary,
        specimens=_by_specimen(present) if protocol.scale != CURVE else (),
        marked=all(r.specimen for r in present),
        gradings=_by_grader(readings, graders) if len(graders) > 1 else (),
        by_others=others_count(present, graders[0]) if graders else (),
        beyond=tuple((r.specimen or str(i), r.beyond) for i, r in enumerate(present, 1) if r.beyond is not None),
        at_limit=bool(present) and all(r.note is not None or _at_end(r, highest) for r in present),
        missing=tuple(dict.fromkeys(r.note for r in used if r not in present and r.note)),
        days=tuple(sorted({r.date for r in used if r.date})),
        came=len(used),
        used=len(present),
        short=max(0, int(protocol.specimens) - len(present)) if present and protocol.scale != CURVE else 0,
    )


def _by_grader(
    readings: Sequence[Reading], graders: Sequence[str]
) -> tuple[tuple[str, tuple[tuple[str, Decimal], ...]], ...]:
    found = ((g, _by_specimen([r for r in readings if r.grader == g and r.specimen])) for g in graders)
    return tuple((grader, values) for grader, values in found if values)


def _at_end(reading: Reading, highest: Decimal | None) -> bool:
    """Whether a reading stands where the rig ends."""
    return highest is not None and reading.value is not None and reading.value >= highest


def _by_specimen(readings: Sequence[Reading]) -> tuple[tuple[str, Decimal], ...]:
    return tuple((r.specimen or str(i), r.value) for i, r in enumerate(readings, 1) if r.value is not None)


def _summarise(
    protocol: Protocol,
    readings: Sequence[Reading],
    resolution: Decimal | None,
    calibration: Certificate | None,
    pooling: Pooling | None,
) -> Summary:
    values = tuple(r.value for r in readings if r.value is not None)
    beyond = [r.beyond for r in readings if r.beyond is not None]
    if beyond:
        return summarise_censored(
            values, [b.limit for b in beyond if b.above], [b.limit for b in beyond if not b.above]
        )
    if protocol.scale == RATIO:
        assert resolution is not None
        return summarise_ratio(values, resolution, calibration, pooling.pooled if pooling else None)
    if protocol.scale == ORDINAL:
        return summarise_grades(values, tuple(sorted(protocol.allowed_grades())))
    if protocol.scale == CURVE:
        return summarise_curves(protocol, readings, resolution or Decimal(1))
    return summarise_yes_no(tuple(value == 1 for value in values))


def curves_of(along: Along, readings: Iterable[Reading]) -> tuple[Curve, ...]:
    """The points of each specimen, in the order written, from the start on and counted from it."""
    points: dict[str, list[tuple[Decimal, Decimal]]] = {}
    for reading in readings:
        if reading.along is not None and reading.value is not None:
            points.setdefault(reading.specimen or "1", []).append((reading.along, reading.value))
    return tuple(_curve(along, specimen, pairs) for specimen, pairs in points.items())


def _curve(along: Along, specimen: str, pairs: Sequence[tuple[Decimal, Decimal]]) -> Curve:
    start = along.start([moment for moment, _ in pairs])
    return Curve(
        specimen=specimen,
        times=tuple(float(moment - pairs[start][0]) for moment, _ in pairs[start:]),
        values=tuple(float(value) for _, value in pairs[start:]),
    )


def summarise_curves(protocol: Protocol, readings: Sequence[Reading], resolution: Decimal) -> CurveSummary:
    """Run times to the protocol's shares, area and steps. Errors: those of `check_curve`, checked beforehand."""
    assert protocol.along is not None
    curves = curves_of(protocol.along, readings)
    times = []
    for share in protocol.along.shares:
        runs = tuple(run_time(c.times, c.values, share / 100) for c in curves)
        times.append(ShareTimes(share=share, runs=runs, summary=summarise_run_times(runs)))
    area = sum(area_under(c.times, c.values) for c in curves) / len(curves)
    steps = find_steps(curves[0].times, curves[0].values, resolution)
    return CurveSummary(curves=curves, times=tuple(times), area=area, steps=steps)
