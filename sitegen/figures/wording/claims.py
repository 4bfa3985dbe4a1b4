"""The maker's figures against the findings, in words and as a table."""

import math
from collections.abc import Iterable, Iterator

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.messages import msgid
from sitegen.figures.wording.cells import time_text, times_text, until_text, word_cell
from sitegen.figures.wording.tables import Cell, Head, Table
from sitegen.findings.claiming.claims import RUN_TIME_SHARE, GradeVerdict, Outcome, Verdict
from sitegen.findings.found import CurveSummary, Judged, Measured, RoundFindings
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.findings.statistics.uncertainty import CALIBRATION
from sitegen.records.measured.protocol import ORDINAL, Protocol
from sitegen.records.product import ANSWER, Claim

OUTCOMES = {
    Outcome.HOLDS: msgid("Holds"),
    Outcome.DOES_NOT_HOLD: msgid("Does not hold"),
    Outcome.CANNOT_BE_TOLD: msgid("Cannot be told"),
}


def claimed_text(edition: Edition, claim: Claim, protocol: Protocol) -> str:
    """A claim as its maker wrote it: `about 412 g ± 3 %`, `at least 6 h`."""
    t = edition.lang
    if claim.value.unit == ANSWER:
        return t.text("yes") if claim.value.value else t.text("no")
    unit = claim.value.unit or edition.unit_along(protocol)
    value = numbers.quantity(t, claim.value.value, unit) if unit else numbers.number(t, claim.value.value)
    if protocol.scale == ORDINAL:
        value = t.text("grade {grade}", grade=value)
    if claim.tolerance is not None:
        value = f"{value} \u00b1 {numbers.quantity(t, claim.tolerance.value, claim.tolerance.unit or unit)}"
    bounds = {"at least": t.text("at least"), "at most": t.text("at most")}
    return f"{bounds[claim.bound]} {value}" if claim.bound in bounds else value


def outcome_text(edition: Edition, judged: Judged) -> str:
    """The verdict in one word or two."""
    return edition.lang.text(OUTCOMES[judged.verdict.outcome])


REFUSALS = {
    Reason.OTHER_VAPOUR_METHOD: msgid("measured by another method for water vapour; the two do not convert"),
    Reason.OTHER_PRESSURE: msgid("measured at another pressure drop; the two do not convert"),
    Reason.OTHER_RATE: msgid("measured at another rate; the two do not convert"),
    Reason.OTHER_SHARE: msgid("counted to another share of the start"),
    Reason.OTHER_CONDITIONS: msgid("measured under other conditions"),
    Reason.OTHER_MEASURAND: msgid("the maker measured something else"),
    Reason.UNKNOWN_METHOD: msgid("how the maker's method relates to this one is not known"),
}


def refusal_text(edition: Edition, judged: Judged) -> str:
    """Why a claim can't be held against the finding at all; empty where it can."""
    found = next(
        (REFUSALS[reason] for reason in judged.verdict.reasons if isinstance(reason, Reason) and reason in REFUSALS), ""
    )
    return edition.lang.text(found) if found else ""


def difference_text(edition: Edition, judged: Judged) -> str:
    """How far off the finding is, with its uncertainty; for grades how many specimens kept to the claim."""
    t, verdict = edition.lang, judged.verdict
    if isinstance(verdict, GradeVerdict):
        return _met_text(edition, verdict)
    if verdict.shown is None:
        return _off_without_uncertainty(edition, judged, verdict)
    plus = "+" if verdict.shown.value > 0 else ""
    text = numbers.estimate(t, verdict.shown.value, verdict.shown.uncertainty, judged.unit)
    return text.replace("(", f"({plus}", 1) if text.startswith("(") else plus + text


def _met_text(edition: Edition, verdict: GradeVerdict) -> str:
    """How many specimens met the claim, and how many of all might still miss it."""
    t, share = edition.lang, verdict.share
    if verdict.outcome is Outcome.DOES_NOT_HOLD:
        return t.text("{yes} of {n} specimens met it", yes=share.yes, n=share.n)
    miss = math.ceil(100 * verdict.may_miss)
    return t.text(
        "{yes} of {n} specimens met it; up to {miss} of 100 could miss it", yes=share.yes, n=share.n, miss=miss
    )


def _off_without_uncertainty(edition: Edition, judged: Judged, verdict: Verdict) -> str:
    if verdict.off is None:
        return "\u2013"
    sign = "+" if verdict.off > 0 else "\u2212" if verdict.off < 0 else ""
    return f"{sign}{time_text(edition, abs(verdict.off), judged.unit)}"


def claims_table(
    edition: Edition, findings: RoundFindings, claims: Iterable[Judged], *, with_product: bool, caption: str = ""
) -> Table | None:
    """Claims against measurements, a row for each; None where no claim could be judged."""
    t, claims = edition.lang, tuple(claims)
    rows = tuple(_row(edition, findings, judged, with_product) for judged in claims)
    if not rows:
        return None
    heads = [
        Head(text=t.text("Measure")),
        Head(text=t.text("Claimed"), number=True),
        Head(text=t.text("Measured"), number=True),
    ]
    heads += [Head(text=t.text("Difference"), number=True), Head(text=t.text("The claim"))]
    if with_product:
        heads = [Head(text=t.text("Product")), *heads]
    graded = any(isinstance(judged.verdict, GradeVerdict) for judged in claims)
    note = t.text(
        "A claim holds, or does not, only where the finding lies beyond the tolerance by more than its uncertainty; "
        "between the two it cannot be told."
    )
    if graded:
        note += " " + t.text("A claimed grade holds only where at most a third of all specimens could miss it.")
    note = " ".join((note, *_further_notes(edition, claims)))
    return Table(caption=caption or t.text("Claims against measurements"), heads=tuple(heads), rows=rows, note=note)


def verdicts_table(edition: Edition, findings: RoundFindings) -> Table | None:
    """What became of each claim, those that do not hold first; None where no claim could be judged."""
    t = edition.lang
    order = (Outcome.DOES_NOT_HOLD, Outcome.CANNOT_BE_TOLD, Outcome.HOLDS)
    claims = sorted(findings.claims, key=lambda judged: order.index(judged.verdict.outcome))
    if not claims:
        return None
    heads = (
        Head(text=t.text("Product")),
        Head(text=t.text("Claimed"), number=True),
        Head(text=t.text("Measured"), number=True),
        Head(text=t.text("The claim")),
    )
    return Table(
        caption=t.text("Makers' figures"), heads=heads, rows=tuple(_verdict_row(edition, findings, c) for c in claims)
    )


def _verdict_row(edition: Edition, findings: RoundFindings, judged: Judged) -> tuple[Cell, ...]:
    entry = findings.of(judged.measure)
    assert entry is not None
    protocol = entry.measured.protocol
    return (
        Cell(text=edition.product(judged.product), literal=True, note=edition.head(protocol.id)),
        Cell(text=claimed_text(edition, judged.claim, protocol), number=True),
        Cell(text=_measured_text(edition, entry.measured, judged, plain=True), number=True),
        Cell(text=outcome_text(edition, judged)),
    )


def _further_notes(edition: Edition, claims: Iterable[Judged]) -> Iterator[str]:
    """How plain figures are meant, and on whose word the verdicts rest, each where it applies."""
    t, claims = edition.lang, tuple(claims)
    bounds = {
        claim.claim.meant(edition.protocols[claim.measure.protocol].better) for claim in claims if not claim.claim.bound
    }
    if bounds - {"about"}:
        yield t.text(
            "A figure that the maker gives without at least or at most counts as at least where more is better and as at most where less is."
        )
    decided = [claim for claim in claims if claim.verdict.outcome is not Outcome.CANNOT_BE_TOLD]
    if any(_without_certificate(claim) for claim in decided):
        yield t.text(
            "Where the instrument has no calibration certificate, a verdict is right as far as the instrument is."
        )


def _without_certificate(judged: Judged) -> bool:
    summary = judged.cell.summary
    return isinstance(summary, RatioSummary) and all(part.name != CALIBRATION for part in summary.components)


def _row(edition: Edition, findings: RoundFindings, judged: Judged, with_product: bool) -> tuple[Cell, ...]:
    entry = findings.of(judged.measure)
    assert entry is not None
    measured: Measured = entry.measured
    source = edition.say(judged.claim.source)
    cells = [
        Cell(text=edition.measure(judged.measure)),
        Cell(text=claimed_text(edition, judged.claim, measured.protocol), number=True, note=source),
        Cell(
            text=_measured_text(edition, measured, judged, plain=False), number=True, note=_share_note(edition, judged)
        ),
        Cell(text=difference_text(edition, judged), number=True),
        Cell(text=outcome_text(edition, judged), note=refusal_text(edition, judged)),
    ]
    return (Cell(text=edition.product(judged.product), literal=True), *cells) if with_product else tuple(cells)


def _share_note(edition: Edition, judged: Judged) -> str:
    """To which share of the start a claimed time counts, where the page shows the time to another one."""
    summary = judged.cell.summary
    times = summary.times if isinstance(summary, CurveSummary) else ()
    if not any(entry.share == RUN_TIME_SHARE for entry in times) or times[0].share == RUN_TIME_SHARE:
        return ""
    return until_text(edition, RUN_TIME_SHARE)


def _measured_text(edition: Edition, measured: Measured, judged: Judged, *, plain: bool) -> str:
    """The finding that the claim was held against: of a curve the time to 10 % of the start."""
    summary = judged.cell.summary
    times = summary.times if isinstance(summary, CurveSummary) else ()
    runs = next((entry.runs for entry in times if entry.share == RUN_TIME_SHARE), ())
    if not runs:
        worded = word_cell(edition, measured, judged.cell)
        return worded.plain if plain else worded.value
    return times_text(edition, runs, judged.unit)  # never the time to another share in its place
