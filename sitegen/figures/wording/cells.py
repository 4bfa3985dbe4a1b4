"""One finding in words: its value, how it spreads, why it is missing."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial

from sitegen.datatypes import dataclass
from sitegen.figures.forms import numbers
from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import Edition
from sitegen.findings.found import Cell, CurveSummary, Measured
from sitegen.findings.statistics.censored import CensoredSummary, censored_times
from sitegen.findings.statistics.curve import RunTime
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.findings.statistics.rounding import round_plainly
from sitegen.findings.statistics.yes_no import ShareSummary

MINUTES_AS_HOURS = Decimal(120)  # from two hours on, a run time reads better in hours and minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Worded:
    """A finding as text. `value` with unit and interval, `plain` to stand alone in a sentence or a table.

    `spread` says how sure it is, `note` what is missing, `sort` is a plain key; `mark` says on which days the rig was out
    of order.
    """

    value: str
    plain: str = ""
    spread: str = ""
    note: str = ""
    sort: str = ""
    mark: str = ""

    @property
    def small_print(self) -> str:
        """What stands below the value in a table."""
        return "; ".join(filter(None, (self.note or self.spread, self.mark)))


def word_cell(edition: Edition, measured: Measured, cell: Cell) -> Worded:
    """The finding of a cell in the edition's words."""
    return edition.once("cell", cell, lambda: _word_cell(edition, measured, cell))


def _word_cell(edition: Edition, measured: Measured, cell: Cell) -> Worded:
    note = missing_note(edition, cell)
    summary = cell.summary
    if summary is None:
        missing = edition.lang.text("missing")
        return Worded(value=missing, plain=missing, note=note)
    if isinstance(summary, RatioSummary):
        worded = _word_ratio(edition, summary, measured.protocol.unit)
    elif isinstance(summary, CensoredSummary):
        worded = _word_censored(edition, summary, partial(_quantity_text, edition, measured.protocol.unit), times=False)
    elif isinstance(summary, GradeSummary):
        worded = _word_grades(edition, summary)
    elif isinstance(summary, ShareSummary):
        worded = _word_share(edition, summary)
    else:
        worded = _word_curve(edition, summary, edition.unit_along(measured.protocol))
    return replace(worded, plain=worded.plain or worded.value, note=note, mark=rig_mark(edition, cell))


def rig_mark(edition: Edition, cell: Cell) -> str:
    """On which of a cell's days the rig was out of order; empty where on none."""
    dates = numbers.listing(edition.lang, [date_text(edition.lang, day) for day in cell.days_out])
    return edition.lang.text("rig out of order on {date}", date=dates) if dates else ""


def cell_text(edition: Edition, measured: Measured, cell: Cell) -> str:
    """The plain finding for a table whose head names the measure: of a grade its number alone."""
    if isinstance(cell.summary, GradeSummary):
        return edition.grade(cell.summary.median)
    return word_cell(edition, measured, cell).plain


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
    plain = numbers.quantity(t, round_plainly(summary.mean, summary.expanded, summary.resolution), unit)
    return Worded(value=value, plain=plain, spread=spread, sort=f"{summary.mean:.9g}")


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
    until = until_text(edition, first.share)
    sort = f"{time_of(first.runs) or 0.0:.9g}"
    if any(run.time is None for run in first.runs):
        worded = _word_censored(
            edition, censored_times(first.runs), partial(_time_of_decimal, edition, unit), times=True
        )
        return Worded(value=worded.value, spread="; ".join(filter(None, (until, worded.spread))), sort=sort)
    runs = t.plural("{n} run", "{n} runs", len(first.runs))
    spread = t.text("until {share} of the start; {runs}", share=_share_text(edition, first.share), runs=runs)
    return Worded(value=times_text(edition, first.runs, unit), spread=spread, sort=sort)


def _word_censored(
    edition: Edition, summary: CensoredSummary, text: Callable[[Decimal], str], *, times: bool
) -> Worded:
    """What is known of the middle reading; how many readings went beyond which limit, and the others."""
    t = edition.lang
    if summary.median is not None:
        value = t.text("{value} (middle reading)", value=text(summary.median))
    elif summary.median_above is not None and summary.median_below is not None:
        value = t.text("{low} to {high}", low=text(summary.median_above), high=text(summary.median_below))
    elif summary.median_above is not None:
        value = _above_text(edition, text(summary.median_above), times)
    elif summary.median_below is not None:
        value = t.text("less than {value}", value=text(summary.median_below))
    else:
        value = t.text("between the limits")
    parts = [*_beyond_texts(edition, summary, text, times)]
    if summary.exact:
        others = numbers.listing(t, [text(value) for value in summary.exact])
        parts.append(t.plural("the other {list}", "the others {list}", len(summary.exact), list=others))
    return Worded(value=value, spread="; ".join(parts), sort=f"{middle_of(summary) or 0.0:.9g}")


def _beyond_texts(
    edition: Edition, summary: CensoredSummary, text: Callable[[Decimal], str], times: bool
) -> Iterator[str]:
    t = edition.lang
    for limit, count in Counter(summary.above).items():
        more = _above_text(edition, text(limit), times)
        yield t.text("{more} in {n} of {all}", more=more, n=count, all=summary.n)
    for limit, count in Counter(summary.below).items():
        less = t.text("less than {value}", value=text(limit))
        yield t.text("{more} in {n} of {all}", more=less, n=count, all=summary.n)


def _above_text(edition: Edition, value: str, times: bool) -> str:
    if times:
        return edition.lang.text("longer than {time}", time=value)
    return edition.lang.text("more than {value}", value=value)


def middle_of(summary: CensoredSummary) -> float | None:
    """By what readings beyond limits are ordered: their median, or the bound known of it."""
    found = next((x for x in (summary.median, summary.median_above, summary.median_below) if x is not None), None)
    return float(found) if found is not None else None


def time_of(runs: Sequence[RunTime]) -> float | None:
    """By what run times are ordered: their mean or, where a record ended first, what is known of the middle one."""
    known = [run.time for run in runs if run.time is not None]
    return middle_of(censored_times(runs)) if len(known) < len(runs) else sum(known) / len(known)


def _quantity_text(edition: Edition, unit: str, value: Decimal) -> str:
    return numbers.quantity(edition.lang, value, unit)


def _time_of_decimal(edition: Edition, unit: str, value: Decimal) -> str:
    return time_text(edition, float(value), unit)


def further_times(edition: Edition, measured: Measured, cell: Cell) -> tuple[str, ...]:
    """The times of a curve to the shares after the first, which the value gives; empty for other kinds of scale."""
    if not isinstance(cell.summary, CurveSummary):
        return ()
    unit, t = edition.unit_along(measured.protocol), edition.lang
    return tuple(
        f"{t.text('Time to {share} of the start', share=_share_text(edition, times.share))}: "
        f"{times_text(edition, times.runs, unit)}"
        for times in cell.summary.times[1:]
    )


def times_text(edition: Edition, runs: Sequence[RunTime], unit: str) -> str:
    """The mean time of all runs, or what is known of the middle one where a record ended first."""
    if any(run.time is None for run in runs):
        return _word_censored(edition, censored_times(runs), partial(_time_of_decimal, edition, unit), times=True).value
    return time_text(edition, sum(run.time or 0.0 for run in runs) / len(runs), unit)


def until_text(edition: Edition, share: Decimal) -> str:
    """To which share of the start, in %, a time counts."""
    return edition.lang.text("until {share} of the start", share=_share_text(edition, share))


def _share_text(edition: Edition, share: Decimal) -> str:
    return numbers.percent(edition.lang, share.normalize() if share % 1 else int(share))


def time_text(edition: Edition, time: float, unit: str) -> str:
    """A time as a reader takes it in: minutes, from two hours on hours and minutes."""
    if unit == "min" and time >= MINUTES_AS_HOURS:
        return numbers.duration(edition.lang, numbers.round_to(time, 0))
    return numbers.quantity(edition.lang, numbers.round_to(time, 1 if time < 100 and time % 1 else 0), unit)
