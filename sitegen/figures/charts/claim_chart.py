"""The makers' figures against the measurements, each entrant in per cent of its own claim."""

from collections.abc import Iterable

from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.charts import ChartFigure, Wording, chart_figure
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.claims import claims_table, outcome_text
from sitegen.findings.claiming.claims import Outcome, Verdict
from sitegen.findings.found import Judged, RoundFindings
from sitegen.records.measured.round import Measure


def claim_figures(edition: Edition, findings: RoundFindings) -> tuple[ChartFigure, ...]:
    """A chart for each measure on which at least two claims can be put in per cent."""
    grouped: dict[Measure, list[Judged]] = {}
    for judged in findings.claims:
        if isinstance(judged.verdict, Verdict) and judged.verdict.off_percent is not None:
            grouped.setdefault(judged.measure, []).append(judged)
    return tuple(_figure(edition, findings, measure, claims) for measure, claims in grouped.items() if len(claims) > 1)


def _figure(edition: Edition, findings: RoundFindings, measure: Measure, claims: list[Judged]) -> ChartFigure:
    t = edition.lang
    claims = sorted(claims, key=lambda judged: (_off(judged), judged.product))
    spec = spec_of.ClaimsChart(rows=tuple(map(_row, claims)))
    name = edition.measure(measure)
    title = claims_title(edition, name, [judged.verdict.outcome for judged in claims])
    wording = Wording(
        title=title,
        description=_describe(edition, claims),
        x_title=t.text("{name}, in per cent of the claim", name=name),
        values={judged.product: outcome_text(edition, judged) for judged in claims},
    )
    table = claims_table(edition, findings, claims, with_product=True, caption=t.text("Chart data: {name}", name=title))
    assert table is not None
    caption = t.text(
        "The finding with its expanded uncertainty, as a share of what the maker claims, and what the claim allows."
    )
    id = f"chart-claims-{measure.text.replace(' ', '-')}"
    return chart_figure(edition, id, spec, wording, caption=caption, table=table)


def claims_title(edition: Edition, name: str, outcomes: list[Outcome]) -> str:
    """How many claims don't hold; else how many do; where none could be settled, that."""
    t, every = edition.lang, len(outcomes)
    hold, fail = outcomes.count(Outcome.HOLDS), outcomes.count(Outcome.DOES_NOT_HOLD)
    if not hold and not fail:
        return t.text("{name}: none of {all} claims could be settled", name=name, all=every)
    values = {"name": name, "all": every}
    if not fail:
        return t.plural("{name}: {n} of {all} claims holds", "{name}: {n} of {all} claims hold", hold, **values)
    return t.plural(
        "{name}: {n} of {all} claims does not hold", "{name}: {n} of {all} claims do not hold", fail, **values
    )


def _off(judged: Judged) -> float:
    assert isinstance(judged.verdict, Verdict) and judged.verdict.off_percent is not None
    return judged.verdict.off_percent


def _row(judged: Judged) -> spec_of.ClaimsRow:
    verdict = judged.verdict
    assert isinstance(verdict, Verdict)
    measured, wide, claim = 100 + _off(judged), verdict.off_percent_expanded, float(judged.value)
    low, high = (100 * end / claim if end is not None else None for end in (verdict.limits.low, verdict.limits.high))
    return spec_of.ClaimsRow(
        entrant=judged.product,
        measured=measured,
        low=measured - wide if wide is not None else None,
        high=measured + wide if wide is not None else None,
        tolerance_low=min(low, 100.0) if low is not None else None,
        tolerance_high=max(high, 100.0) if high is not None else None,
    )


def _describe(edition: Edition, claims: Iterable[Judged]) -> str:
    parts = []
    for judged in claims:
        share = numbers.percent(edition.lang, numbers.round_to(100 + _off(judged), 0))
        parts.append(f"{edition.product(judged.product)}: {share}, {outcome_text(edition, judged)}")
    return "; ".join(parts)
