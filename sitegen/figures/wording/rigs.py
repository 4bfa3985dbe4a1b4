"""The state of a rig in words and as control charts."""

from collections.abc import Iterable, Iterator, Mapping

from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.charts import ChartFigure, Wording, chart_figure, unit_symbol
from sitegen.figures.forms import numbers
from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.wording.tables import Cell, Head, Table
from sitegen.findings.found import Touched
from sitegen.findings.rigs.rig import ControlChart, Held, Order, RigDay
from sitegen.findings.rigs.rig_state import JudgedRig
from sitegen.records.measured.protocol import Condition


def limits_text(edition: Edition, condition: Condition) -> str:
    """A condition's limits: a range, or one of the two ends."""
    t = edition.lang
    if condition.low is not None and condition.high is not None:
        return numbers.span(t, condition.low, condition.high, condition.unit)
    if condition.low is not None:
        return t.text("at least {value}", value=numbers.quantity(t, condition.low, condition.unit))
    if condition.high is not None:
        return t.text("at most {value}", value=numbers.quantity(t, condition.high, condition.unit))
    return "\u2013"


def state_sentences(edition: Edition, judged: JudgedRig) -> tuple[str, ...]:
    """How many days are logged, on which the rig was out of order and why, and how firm the control limits are."""
    t, state = edition.lang, judged.state
    if not state.days:
        return (t.text("Nothing has been logged yet, so nothing can be said of its state."),)
    out = [day for day in state.days if day.order is Order.OUT]
    if out:
        sentences = [t.plural("{n} day is logged.", "{n} days are logged.", len(state.days))]
    else:
        sentences = [
            t.plural(
                "{n} day is logged; the rig was in order on it.",
                "{n} days are logged; the rig was in order on all of them.",
                len(state.days),
            )
        ]
    sentences += [day_sentence(edition, judged, day) for day in out]
    if any(chart.provisional for chart in state.limits):
        sentences.append(t.text("Control limits are provisional where fewer than 20 runs stand behind them."))
    sentences += _hint_sentences(edition, judged)
    return tuple(sentences)


def day_sentence(edition: Edition, judged: JudgedRig, day: RigDay) -> str:
    """One day out of order, with what was out and what is allowed."""
    causes = [_held(edition, judged, held) for held in day.out_of_tolerance]
    return edition.lang.text(
        "Out of order on {date}: {causes}.",
        date=date_text(edition.lang, day.date),
        causes=numbers.listing(edition.lang, causes),
    )


def _held(edition: Edition, judged: JudgedRig, held: Held) -> str:
    condition = judged.checks[held.check]
    value = numbers.quantity(edition.lang, numbers.round_to(held.value, _decimals(condition)), condition.unit)
    return edition.lang.text(
        "{check} {value} (allowed {limits})",
        check=edition.say(condition.name),
        value=value,
        limits=limits_text(edition, condition),
    )


def _decimals(condition: Condition) -> int:
    """One decimal more than the limits are written with."""
    ends = [c for c in (condition.low, condition.high) if c is not None]
    return 1 + max((-int(c.as_tuple().exponent) for c in ends), default=0)


def _hint_sentences(edition: Edition, judged: JudgedRig) -> Iterator[str]:
    """Days that were within the limits of the method and unusual for this rig."""
    out = {(day, held.check) for day, held in judged.state.out_of_tolerance}
    t = edition.lang
    hints = [
        t.text("{check} on {date}", check=edition.say(judged.checks[hint.check].name), date=date_text(t, hint.date))
        for hint in judged.state.hints
        if (hint.date, hint.check) not in out
    ]
    if hints:
        yield t.text(
            "Within the limits, but unusual for this rig, so worth a look: {hints}.", hints=numbers.listing(t, hints)
        )


def touched_sentences(
    edition: Edition, touched: Iterable[Touched], rigs: Mapping[str, JudgedRig], product: str = ""
) -> tuple[str, ...]:
    """The caution for readings that were taken on a day when their rig was out of order."""
    sentences = []
    for entry in touched:
        if product and product not in entry.products:
            continue
        names = numbers.listing(edition.lang, [edition.product(p) for p in entry.products])
        sentences.append(
            edition.lang.text(
                "{measure} ({products}): read on a day when the rig was out of order. {day}",
                measure=edition.measure(entry.measure),
                products=names,
                day=day_sentence(edition, rigs[entry.rig], entry.day),
            )
        )
    return tuple(sentences)


def control_figures(edition: Edition, judged: JudgedRig) -> tuple[ChartFigure, ...]:
    """A control chart for each check with at least two runs whose values vary."""
    charts = judged.state.limits
    return tuple(
        _control_figure(edition, judged, chart) for chart in charts if chart.lower is not None and len(chart.values) > 1
    )


def _control_figure(edition: Edition, judged: JudgedRig, chart: ControlChart) -> ChartFigure:
    condition = judged.checks[chart.check]
    flagged = {hint.run for hint in judged.state.hints if hint.check == chart.check}
    flagged |= {i for i, value in enumerate(chart.values) if not _within(condition, value)}
    name = capital(edition.say(condition.name))
    spec = _control_spec(chart, flagged)
    wording = _control_wording(edition, chart, condition, name, len(flagged), [run.label for run in spec.runs])
    caption = edition.lang.text(
        "Each run, with the centre line and limits at three sigma; allowed by the protocol: {limits}.",
        limits=limits_text(edition, condition),
    )
    table = _table(edition, chart, condition, name, flagged)
    return chart_figure(edition, f"chart-{chart.check}", spec, wording, caption=caption, table=table)


def _control_spec(chart: ControlChart, flagged: set[int]) -> spec_of.ControlChart:
    assert (
        chart.centre is not None
        and chart.lower is not None
        and chart.upper is not None
        and chart.range_upper is not None
    )
    runs = tuple(
        spec_of.Run(label=f"{day.isoformat()} {i}", value=value, flagged=i in flagged)
        for i, (day, value) in enumerate(zip(chart.dates, chart.values, strict=True))
    )
    return spec_of.ControlChart(
        runs=runs, centre=chart.centre, lower=chart.lower, upper=chart.upper, range_upper=chart.range_upper
    )


def _control_wording(
    edition: Edition, chart: ControlChart, condition: Condition, name: str, flagged: int, labels: list[str]
) -> Wording:
    t = edition.lang
    unit = unit_symbol(edition, condition.unit)
    kind = t.text("provisional limits") if chart.provisional else t.text("control limits")
    count = t.plural("{n} run flagged", "{n} runs flagged", flagged) if flagged else t.text("no run flagged")
    return Wording(
        title=t.text("{name}: {count}, {kind}", name=name, count=count, kind=kind),
        description=t.text(
            "{name}: allowed {limits}. {count}.",
            name=name,
            limits=limits_text(edition, condition),
            count=capital(count),
        ),
        y_title={
            "individual": t.text("{name} in {unit}", name=name, unit=unit) if unit else name,
            "moving_range": t.text("Step to the run before"),
        },
        values={},
        runs={label: date_text(t, day, "day") for label, day in zip(labels, chart.dates, strict=True)},
    )


def _within(condition: Condition, value: float) -> bool:
    low, high = condition.low, condition.high
    return (low is None or value >= float(low)) and (high is None or value <= float(high))


def _table(edition: Edition, chart: ControlChart, condition: Condition, name: str, flagged: set[int]) -> Table:
    t = edition.lang
    decimals = _decimals(condition)
    rows = tuple(
        (
            Cell(text=date_text(t, day, "medium")),
            Cell(text=numbers.quantity(t, numbers.round_to(value, decimals), condition.unit), number=True),
            Cell(text=t.text("flagged") if i in flagged else ""),
        )
        for i, (day, value) in enumerate(zip(chart.dates, chart.values, strict=True))
    )
    heads = (Head(text=t.text("Date")), Head(text=t.text("Value"), number=True), Head(text=t.text("Remark")))
    return Table(caption=t.text("Chart data: {name}", name=name), heads=heads, rows=rows)
