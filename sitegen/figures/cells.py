"""One finding in words: its value, how it spreads, why it is missing."""

from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.figures import numbers
from sitegen.figures.edition import Edition
from sitegen.findings.found import Cell, CurveSummary, Measured, ShareTimes
from sitegen.findings.ordinal import GradeSummary
from sitegen.findings.ratio import RatioSummary
from sitegen.findings.yes_no import ShareSummary

MINUTES_AS_HOURS = Decimal(120)  # from two hours on, a run time reads better in hours and minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Worded:
    """A finding as text. `value` with unit, `spread` says how sure, `note` what is missing, `sort` a plain key."""

    value: str
    spread: str = ""
    note: str = ""
    sort: str = ""


def word_cell(edition: Edition, measured: Measured, cell: Cell) -> Worded:
    """The finding of a cell in the edition's words."""
    return edition.once("cell", cell, lambda: _word_cell(edition, measured, cell))


def _word_cell(edition: Edition, measured: Measured, cell: Cell) -> Worded:
    note = missing_note(edition, cell)
    summary = cell.summary
    if summary is None:
        return Worded(value=edition.lang.text("missing"), note=note)
    if isinstance(summary, RatioSummary):
        worded = _word_ratio(edition, summary, measured.protocol.unit)
    elif isinstance(summary, GradeSummary):
        worded = _word_grades(edition, summary)
    elif isinstance(summary, ShareSummary):
        worded = _word_share(edition, summary)
    else:
        worded = _word_curve(edition, summary, edition.unit_along(measured.protocol))
    return Worded(value=worded.value, spread=worded.spread, note=note, sort=worded.sort)


def missing_note(edition: Edition, cell: Cell) -> str:
    """Why readings are missing, in words; empty where none is."""
    reason = "; ".join(edition.say(words) for words in cell.missing)
    if not reason:
        return ""
    if cell.summary is None:
        return edition.lang.text("Not measured: {reason}", reason=reason)
    return edition.lang.plural(
        "{n} reading is missing: {reason}", "{n} readings are missing: {reason}", cell.came - cell.used, reason=reason
    )


def _word_ratio(edition: Edition, summary: RatioSummary, unit: str) -> Worded:
    t = edition.lang
    value = numbers.estimate(t, summary.shown, summary.shown_expanded, unit)
    spread = (
        t.plural("mean of {n} reading", "mean of {n} readings", summary.n) if summary.n > 1 else t.text("one reading")
    )
    return Worded(value=value, spread=spread, sort=f"{summary.mean:.9g}")


def _word_grades(edition: Edition, summary: GradeSummary) -> Worded:
    t = edition.lang
    value = t.text("grade {grade}", grade=edition.grade(summary.median))
    if summary.n == 1:
        spread = t.text("one specimen")
    elif summary.low == summary.high:
        spread = t.plural("{n} specimen, all equal", "{n} specimens, all equal", summary.n)
    else:
        low, high = (numbers.ordinal_grade(t, g) for g in (summary.low, summary.high))
        spread = t.plural(
            "median of {n} specimen, {low} to {high}",
            "median of {n} specimens, {low} to {high}",
            summary.n,
            low=low,
            high=high,
        )
    middle = sum(summary.median) / len(summary.median)
    return Worded(value=value, spread=spread, sort=f"{middle:f}")


def _word_share(edition: Edition, summary: ShareSummary) -> Worded:
    t = edition.lang
    value = t.text("{yes} of {n}", yes=summary.yes, n=summary.n)
    low, high = (numbers.round_to(100 * share, 0) for share in (summary.low, summary.high))
    spread = t.text("true share {range} ({level})", range=numbers.span(t, low, high, "%"), level=numbers.percent(t, 95))
    return Worded(value=value, spread=spread, sort=f"{summary.share:.6f}")


def _word_curve(edition: Edition, summary: CurveSummary, unit: str) -> Worded:
    t = edition.lang
    if not summary.times:
        return Worded(value=t.text("see the chart"))
    first = summary.times[0]
    share = _share_text(edition, first.share)
    value, time = _word_times(edition, first, unit)
    if any(run.time is None for run in first.runs):
        return Worded(value=value, spread=t.text("until {share} of the start", share=share), sort=f"{time:.9g}")
    runs = t.plural("{n} run", "{n} runs", len(first.runs))
    spread = t.text("until {share} of the start; {runs}", share=share, runs=runs)
    return Worded(value=value, spread=spread, sort=f"{time:.9g}")


def further_times(edition: Edition, measured: Measured, cell: Cell) -> tuple[str, ...]:
    """The times of a curve to the shares after the first, which the value gives; empty for other kinds of scale."""
    if not isinstance(cell.summary, CurveSummary):
        return ()
    unit, t = edition.unit_along(measured.protocol), edition.lang
    return tuple(
        f"{t.text('Time to {share} of the start', share=_share_text(edition, times.share))}: "
        f"{_word_times(edition, times, unit)[0]}"
        for times in cell.summary.times[1:]
    )


def _word_times(edition: Edition, times: ShareTimes, unit: str) -> tuple[str, float]:
    """The mean time of all runs, or how long at least where one never fell so far; as text and as number."""
    known = [run.time for run in times.runs if run.time is not None]
    if len(known) < len(times.runs):
        longest = max(run.longer_than or 0.0 for run in times.runs)
        return edition.lang.text("longer than {time}", time=time_text(edition, longest, unit)), longest
    mean = sum(known) / len(known)
    return time_text(edition, mean, unit), mean


def _share_text(edition: Edition, share: Decimal) -> str:
    return numbers.percent(edition.lang, share.normalize() if share % 1 else int(share))


def time_text(edition: Edition, time: float, unit: str) -> str:
    """A time as a reader takes it in: minutes, from two hours on hours and minutes."""
    if unit == "min" and time >= MINUTES_AS_HOURS:
        return numbers.duration(edition.lang, numbers.round_to(time, 0))
    return numbers.quantity(edition.lang, numbers.round_to(time, 1 if time < 100 and time % 1 else 0), unit)
