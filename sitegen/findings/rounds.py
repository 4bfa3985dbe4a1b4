"""All findings of one round: measures, real differences, claims; one record that pages and terminal share."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from sitegen.findings.changing.changes import changes
from sitegen.findings.claiming import claims as judged
from sitegen.findings.claiming.grade_claims import judge_answers, judge_grades
from sitegen.findings.comparison.censored_differences import compare_censored
from sitegen.findings.comparison.comparison import Comparison, Doubt
from sitegen.findings.comparison.differences import compare_ratio
from sitegen.findings.comparison.grade_differences import compare_ordinal
from sitegen.findings.comparison.grade_pairs import compare_grades
from sitegen.findings.comparison.grade_scatter import step_of
from sitegen.findings.comparison.letters import letter_groups
from sitegen.findings.comparison.yes_no_differences import compare_yes_no
from sitegen.findings.found import Cell, Compared, CurveSummary, Judged, Measured, RoundFindings
from sitegen.findings.grading.grader_pairs import grader_pairs
from sitegen.findings.measured import measure_round
from sitegen.findings.reasons import Reason
from sitegen.findings.rigs.rig_state import JudgedRig, judge_rigs, touched_readings, with_days_out
from sitegen.findings.statistics.censored import CensoredSummary, censored_times, summarise_censored
from sitegen.findings.statistics.convertible import convertible
from sitegen.findings.statistics.curve import RunTime
from sitegen.findings.statistics.earlier import earlier_rounds, earlier_scatter
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.findings.statistics.yes_no import ShareSummary
from sitegen.records.fields.units import convert, convert_step
from sitegen.records.measured.protocol import CURVE, ORDINAL, RATIO, YES_OR_NO, Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.rig import highest_values
from sitegen.records.measured.round import Measure, Round, tested_version
from sitegen.records.product import ANSWER, Claim, Product

if TYPE_CHECKING:
    from sitegen.records.publication import Publication


def find_round(
    round: Round,
    readings: Iterable[Reading],
    protocols: Mapping[str, Protocol],
    products: Mapping[str, Product],
    rigs: Mapping[str, JudgedRig] | None = None,
    earlier: Mapping[str, Pooled] | None = None,
) -> RoundFindings:
    """All findings of a round; `rigs` are the bench's rigs with their states, `earlier` as in `measure_round`."""
    highest = highest_values((judged.rig for judged in (rigs or {}).values()), protocols)
    measured = with_days_out(measure_round(round, readings, protocols, earlier, highest), rigs or {})
    return RoundFindings(
        round=round,
        compared=tuple(compare(entry) for entry in measured),
        claims=tuple(judge_claims(round, measured, products)),
        changes=changes(measured, {ref.id: grade for ref, grade in round.wanted}),
        agreements=tuple(grader_pairs(measured)),
        touched=touched_readings(measured, rigs or {}),
    )


def round_findings(publication: "Publication", id: str) -> RoundFindings:
    """All findings of the round `id` of a publication that was read. Raises KeyError for an unknown round."""
    round, readings = publication.rounds[id], publication.readings
    rigs = judge_rigs(publication.rigs, publication.protocols)
    before = [publication.rounds[earlier] for earlier in earlier_rounds(publication.rounds).get(id, ())]
    scatter = earlier_scatter(round, before, readings, publication.protocols)
    return find_round(round, readings.get(id, ()), publication.protocols, publication.products, rigs, scatter)


def compare(measured: Measured) -> Compared:
    """The real differences between the entrants in one measure, as letter groups."""
    comparison = _comparison(measured)
    if comparison is None or not comparison.pairs or Doubt.CANNOT_SHOW_A_DIFFERENCE in comparison.reasons:
        # One letter for everybody would look like a finding; that nothing could be shown is said in words.
        return Compared(measured=measured, comparison=comparison, letters={})
    found = letter_groups(comparison, higher_first=measured.protocol.better != "lower")
    return Compared(measured=measured, comparison=comparison, letters={one.entrant: one.text for one in found})


def _comparison(measured: Measured) -> Comparison | None:
    protocol = measured.protocol
    limited = censored_of(measured) if protocol.scale in {RATIO, CURVE} else {}
    if any(one.above or one.below for one in limited.values()):
        pooled = measured.pooling.pooled if measured.pooling else None
        resolution = measured.resolution if protocol.scale == RATIO else None
        return (
            compare_censored(limited, resolution=resolution or Decimal(0), pooled=pooled) if len(limited) > 1 else None
        )
    groups: dict[str, list[float]] = {}
    for cell in measured.cells:
        values = _times(cell) if protocol.scale == CURVE else [float(v) for _, v in cell.specimens]
        if values:
            groups[cell.product] = values
    if len(groups) < 2:
        return None
    if protocol.scale == ORDINAL:
        return _compare_grades(groups, measured)
    if protocol.scale == YES_OR_NO:
        return compare_yes_no({name: [value == 1 for value in values] for name, values in groups.items()})
    if protocol.scale == RATIO:
        pooled = measured.pooling.pooled if measured.pooling else None
        return compare_ratio(groups, resolution=measured.resolution or Decimal(0), pooled=pooled)
    return compare_ratio(groups) if protocol.scale == CURVE else None


def censored_of(measured: Measured) -> dict[str, CensoredSummary]:
    """What is known of each entrant's readings or run times, where some of the measure went beyond a limit."""
    found = {}
    for cell in measured.cells:
        if isinstance(cell.summary, CensoredSummary):
            found[cell.product] = cell.summary
        elif isinstance(cell.summary, RatioSummary):
            found[cell.product] = summarise_censored(cell.summary.values, ())
        elif isinstance(cell.summary, CurveSummary) and cell.summary.times:
            found[cell.product] = censored_times(cell.summary.times[0].runs)
    return found


def _compare_grades(groups: dict[str, list[float]], measured: Measured) -> Comparison:
    """By the round's scatter; where there is too little to pool, by the exact tests alone."""
    if measured.scatter is not None:
        return compare_grades(groups, measured.scatter)
    found = compare_ordinal(groups)
    return replace(found, reasons=(*found.reasons, Doubt.TOO_LITTLE_TO_POOL))


def _times(cell: Cell) -> list[float]:
    if not isinstance(cell.summary, CurveSummary) or not cell.summary.times:
        return []
    return [run.time for run in cell.summary.times[0].runs if run.time is not None]


def judge_claims(round: Round, measured: Iterable[Measured], products: Mapping[str, Product]) -> Iterable[Judged]:
    """Every claim of the tested versions for which the round has a finding."""
    by_measure = {entry.measure: entry for entry in measured}
    for entrant in round.entrants:
        version = tested_version(entrant, products)
        for claim in version.claims if version else ():
            entry = by_measure.get(Measure(claim.protocol.id, claim.stage))
            found = _judge(claim, entry, entrant.product.id) if entry else None
            if found is not None:
                yield found


def _judge(claim: Claim, entry: Measured, product: str) -> Judged | None:
    cell, protocol = entry.cell(product), entry.protocol
    unit = protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit
    value = claim.value.value
    if unit and claim.value.unit != ANSWER:
        value = convert(value, claim.value.unit or unit, unit)
    if claim.method and protocol.method and cell.summary is not None:
        compared = convertible(claim.method, protocol.method)
        if not compared.allowed:
            refused = judged.refused_claim(compared.reason)
            return Judged(
                product=product, claim=claim, measure=entry.measure, unit=unit, value=value, verdict=refused, cell=cell
            )
        value = _on_scale(value, protocol) if compared.reason is Reason.SAME_SCALE else value
    verdict = _verdict(claim, value, unit, entry, cell)
    if verdict is None:
        return None
    return Judged(
        product=product, claim=claim, measure=entry.measure, unit=unit, value=value, verdict=verdict, cell=cell
    )


def _on_scale(value: Decimal, protocol: Protocol) -> Decimal:
    """A rating of the second scale as the grade that stands beside it; any other value stays as it is."""
    return next((grade.grade for grade in protocol.grades if grade.also == value), value)


def _verdict(
    claim: Claim, value: Decimal, unit: str, entry: Measured, cell: Cell
) -> judged.Verdict | judged.GradeVerdict | None:
    bound = judged.Bound(claim.meant(entry.protocol.better))
    if isinstance(cell.summary, GradeSummary):
        step = step_of(tuple(entry.protocol.allowed_grades()))
        return judge_grades(value, cell.summary.values, bound, scatter=entry.scatter, step=step)
    if isinstance(cell.summary, ShareSummary):
        return judge_answers(cell.summary.values, claimed=value != 0)
    stated = _stated(claim, value, unit, bound)
    if isinstance(cell.summary, RatioSummary):
        verdict = judged.judge_claim(stated, cell.summary)
        return judged.not_refused(verdict) if cell.at_limit else verdict
    if isinstance(cell.summary, CensoredSummary):
        return judged.judge_censored(stated, cell.summary)
    runs = _claimed_runs(cell)
    return judged.judge_run_times(stated, runs) if runs else None


def _claimed_runs(cell: Cell) -> tuple[RunTime, ...]:
    if not isinstance(cell.summary, CurveSummary):
        return ()
    return next((entry.runs for entry in cell.summary.times if entry.share == judged.RUN_TIME_SHARE), ())


def _stated(claim: Claim, value: Decimal, unit: str, bound: judged.Bound) -> judged.Claim:
    """The maker's figure in the finding's unit; its last digit is that of the figure as the maker wrote it."""
    written, tolerance = claim.value, claim.tolerance
    last = Decimal(1).scaleb(int(written.value.as_tuple().exponent))
    relative = tolerance is not None and tolerance.unit == "%" and unit != "%"
    width = None
    if tolerance is not None:
        width = tolerance.value if relative else convert_step(tolerance.value, tolerance.unit or unit, unit)
    return judged.Claim(
        value=value,
        bound=bound,
        bound_given=bool(claim.bound),
        tolerance=width,
        relative=relative,
        last_digit=convert_step(last, written.unit or unit, unit),
    )


def round_prices(round: Round, products: Mapping[str, Product]) -> tuple[dict[str, Decimal], str]:
    """Prices of the tested versions by product, in the round's commonest currency, and that currency.

    Amounts in other currencies are left out: nothing here converts money.
    """
    found = {}
    for entrant in round.entrants:
        version = tested_version(entrant, products)
        if version is not None and version.price is not None and version.price.amount > 0:
            found[entrant.product.id] = version.price
    count: dict[str, int] = {}
    for price in found.values():
        count[price.currency] = count.get(price.currency, 0) + 1
    currency = min(count, key=lambda c: (-count[c], c), default="")
    return {id: price.amount for id, price in found.items() if price.currency == currency}, currency
