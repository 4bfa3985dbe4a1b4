"""How the order of a round depends on what the reader does, and how sure it is."""

from sitegen.editorial.picks import picks
from sitegen.figures.answers.orders import (
    any_weights_sentences,
    leader_sentences,
    pareto_sentences,
    place_sentence,
    shares_figure,
    tradeoff_figure,
    unordered_sentences,
    use_name,
    use_table,
    value_sentence,
)
from sitegen.figures.answers.picks import pick_sentences
from sitegen.figures.charts.charts import ChartFigure
from sitegen.figures.forms.edition import capital
from sitegen.findings.found import RoundFindings
from sitegen.findings.ranking import ordered
from sitegen.findings.ranking.ordered import ValueForMoney
from sitegen.pages.site import Sheet
from sitegen.pages.views import Choice, UseOrder


def order_sentences(sheet: Sheet, findings: RoundFindings, product: str) -> tuple[str, ...]:
    """For one entrant: a sentence for each use."""
    order = sheet.site.orders.get(findings.round.id)
    if order is None or not findings.round.has(product):
        return ()
    edition, uses = sheet.edition, findings.round.uses
    return tuple(place_sentence(edition, use, product, use_name(edition, uses, use.use)) for use in order.uses)


def choices(sheet: Sheet, findings: RoundFindings) -> tuple[Choice, ...]:
    """Which for what: a pick for each use."""
    order = sheet.site.orders.get(findings.round.id)
    if order is None:
        return ()
    edition, uses = sheet.edition, findings.round.uses
    return tuple(
        Choice(use=capital(use_name(edition, uses, pick.use)), sentences=pick_sentences(edition, pick))
        for pick in picks(order, uses)
    )


def use_orders(sheet: Sheet, findings: RoundFindings, charted: int) -> tuple[UseOrder, ...]:
    """For the whole round: an order for each use, with its table and its charts; `charted` charts stand before them."""
    order = sheet.site.orders.get(findings.round.id)
    if order is None:
        return ()
    found = []
    for use, toppling, value in zip(order.uses, order.topplings, order.value, strict=True):
        name = use_name(sheet.edition, findings.round.uses, use.use)
        sentences = (*leader_sentences(sheet.edition, use, toppling), value_sentence(sheet.edition, value))
        table = use_table(sheet.edition, use, sheet.t("Order for: {use}", use=name))
        figures = _figures(sheet, findings, use, value, name)
        charts = tuple(sheet.chart(figure, number) for number, figure in enumerate(figures, charted + 1))
        charted += len(charts)
        kept = tuple(sentence for sentence in sentences if sentence)
        found.append(UseOrder(name=capital(name), sentences=kept, table=table, charts=charts))
    return tuple(found)


def order_notes(sheet: Sheet, findings: RoundFindings) -> tuple[str, ...]:
    """What holds beyond the uses: over all weights, in everything at once, and what has no order."""
    order = sheet.site.orders.get(findings.round.id)
    if order is None:
        return ()
    spread = any_weights_sentences(sheet.edition, order.any_weights) if order.any_weights else ()
    return (
        *spread,
        *pareto_sentences(sheet.edition, order),
        *unordered_sentences(sheet.edition, order, findings.round.uses),
    )


def _figures(
    sheet: Sheet, findings: RoundFindings, order: ordered.UseOrder, value: ValueForMoney, name: str
) -> list[ChartFigure]:
    """How often each entrant takes each place, and worth against price, for one use."""
    currency = sheet.site.currencies.get(findings.round.id, "")
    trade = tradeoff_figure(sheet.edition, value, order, currency, name) if currency else None
    return [shares_figure(sheet.edition, order, name), *([trade] if trade is not None else [])]
