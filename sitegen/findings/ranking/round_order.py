"""The order of a round's entrants: for each use, over all weights, by trade-off and by price; one record."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from sitegen.findings.found import Measured, RoundFindings
from sitegen.findings.ranking.any_weights import rank_any_weights
from sitegen.findings.ranking.draws import SEED
from sitegen.findings.ranking.order import Weighting, rank_uses, read_once, score_draws
from sitegen.findings.ranking.ordered import (
    MeasureWorths,
    Missing,
    OrderReason,
    RoundOrder,
    Toppling,
    Unordered,
    UseOrder,
    ValueForMoney,
)
from sitegen.findings.ranking.pareto import find_pareto, value_for_money
from sitegen.findings.ranking.sensitivity import find_toppling
from sitegen.findings.ranking.worth import Line, Worth, WorthReason, line_between, worth_of
from sitegen.findings.ranking.worth_draws import DRAWS, Drawn, draw_worths, share_error
from sitegen.records.fields.units import convert
from sitegen.records.measured.protocol import CURVE, Protocol
from sitegen.records.measured.round import Anchors, Round, Use, anchors_of


def order_round(
    findings: RoundFindings, prices: Mapping[str, Decimal], *, seed: int = SEED, draws: int = DRAWS
) -> RoundOrder | None:
    """The order of a round; None with fewer than two entrants, or without a measure that has anchors.

    `prices` by product id, in one currency; who has none is named. Anchors of a protocol hold for all its
    stages that have none of their own. Anchors that can't hold are a reason, no error. Errors: ValueError for
    a price that isn't above zero, a seed below 0, fewer than 2 draws.
    """
    products = sorted({entrant.product.id for entrant in findings.round.entrants})
    measured = {entry.measure.text: entry for entry in findings.measured}
    lines, bad = _lines(findings)
    if len(products) < 2 or not (lines or findings.round.uses):
        return None
    weightings, unordered = _weightings(findings, lines, bad)
    used = [name for name in lines if _is_used(name, weightings, findings.round)]
    table = {name: _worths(measured[name], lines[name]) for name in used}
    if not used:
        return _without_draws(seed, draws, unordered)
    worths = {product: {name: table[name][product] for name in used} for product in products}
    weightings, unordered = _with_two_places(worths, weightings, unordered)
    drawn = draw_worths(worths, used, seed=seed, draws=draws)
    orders = rank_uses(worths, weightings, drawn)
    out = {one.product for one in read_once(worths, used)}
    known = {product: row for product, row in worths.items() if product not in out}
    whole = drawn.only(tuple(known))
    several = len(used) > 1 and len(known) > 1
    return RoundOrder(
        seed=seed,
        draws=draws,
        share_error=share_error(draws),
        worths=tuple(
            MeasureWorths(measure=name, line=lines[name], worths=tuple((p, table[name][p]) for p in products))
            for name in used
        ),
        uses=orders,
        unordered=unordered,
        any_weights=rank_any_weights(whole) if several else None,
        pareto=find_pareto(known, whole) if several else None,
        value=tuple(_value(use, order, prices, drawn) for use, order in zip(weightings, orders, strict=True)),
        topplings=tuple(_toppling(use, order, worths) for use, order in zip(weightings, orders, strict=True)),
        missing=tuple(_missing(worths, used)),
    )


def _with_two_places(
    worths: Mapping[str, Mapping[str, Worth]], weightings: tuple[Weighting, ...], unordered: tuple[Unordered, ...]
) -> tuple[tuple[Weighting, ...], tuple[Unordered, ...]]:
    """The uses for which at least two entrants have a place, and the others with the measures read once."""
    good, refused = [], list(unordered)
    for use in weightings:
        beside = read_once(worths, [measure for measure, weight in use.weights if weight])
        if len(worths) - len(beside) >= 2:
            good.append(use)
        else:
            once = {measure for one in beside for measure in one.measures}
            measures = tuple(measure for measure, _ in use.weights if measure in once)
            refused.append(Unordered(use=use.use, reason=OrderReason.READ_ONCE, measures=measures))
    return tuple(good), tuple(refused)


def _without_draws(seed: int, draws: int, unordered: tuple[Unordered, ...]) -> RoundOrder:
    return RoundOrder(
        seed=seed, draws=draws, share_error=share_error(draws), worths=(), uses=(), unordered=unordered,
        any_weights=None, pareto=None, value=(), topplings=(), missing=(),
    )  # fmt: skip


def _lines(findings: RoundFindings) -> tuple[dict[str, Line], set[str]]:
    """The anchors by measure, in the round's order, and the measures whose anchors can't hold."""
    lines: dict[str, Line] = {}
    bad: set[str] = set()
    for measured in findings.measured:
        anchors = anchors_of(findings.round, measured.measure)
        if anchors is None:
            continue
        try:
            lines[measured.measure.text] = line_of(anchors, measured.protocol)
        except ValueError:  # equal, the wrong way round, or a unit that measures something else
            bad.add(measured.measure.text)
    return lines, bad


def line_of(anchors: Anchors, protocol: Protocol) -> Line:
    """The anchors in the unit of the protocol's findings (a curve: its unit of time).

    Errors: ValueError as in `line_between`, and for a unit of another kind (`UnitMismatch`).
    """
    unit = protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit
    pair = [
        convert(amount.value, amount.unit or unit, unit) if unit else amount.value
        for amount in (anchors.worth_0, anchors.worth_100)
    ]
    return line_between(pair[0], pair[1], protocol.better)


def _weightings(
    findings: RoundFindings, lines: Mapping[str, Line], bad: set[str]
) -> tuple[tuple[Weighting, ...], tuple[Unordered, ...]]:
    good, refused = [], []
    for use in findings.round.uses:
        blame = _blame(findings, use, lines, bad)
        if blame is None:
            good.append(Weighting(use=use.id.id, weights=_weights(use, lines)))
        else:
            refused.append(Unordered(use=use.id.id, reason=blame[0], measures=blame[1]))
    return tuple(good), tuple(refused)


def _weights(use: Use, lines: Mapping[str, Line]) -> tuple[tuple[str, float], ...]:
    """Each measure once (`spray` and `spray new` are one); a weight of nothing needs no anchors."""
    found: dict[str, float] = {}
    for (measure, _), weight in use.weights:
        if measure.text in lines:
            found[measure.text] = found.get(measure.text, 0.0) + float(weight)
    return tuple(found.items())


def _blame(
    findings: RoundFindings, use: Use, lines: Mapping[str, Line], bad: set[str]
) -> tuple[OrderReason, tuple[str, ...]] | None:
    counted = [measure for (measure, _), weight in use.weights if weight > 0]
    if not counted:
        return OrderReason.NO_WEIGHTS, ()
    known = {entry.measure.text: entry for entry in findings.measured}
    for reason, at_fault in (
        (OrderReason.NOT_IN_THE_ROUND, [m.text for m in counted if m.text not in known]),
        (OrderReason.BAD_ANCHORS, [m.text for m in counted if m.text in bad]),
        (OrderReason.NO_ANCHORS, [m.text for m in counted if m.text not in lines]),
    ):
        if at_fault:
            return reason, tuple(at_fault)
    if all(cell.summary is None for measure in counted for cell in known[measure.text].cells):
        return OrderReason.NOTHING_MEASURED, tuple(measure.text for measure in counted)
    return None


def _is_used(name: str, weightings: Iterable[Weighting], round: Round) -> bool:
    """Whether some use weighs a measure. Where a round names no use, all of its measures count."""
    if not round.uses:
        return True
    return any(name == measure for use in weightings for measure, _ in use.weights)


def _worths(measured: Measured, line: Line) -> dict[str, Worth]:
    protocol = measured.protocol
    scale = tuple(sorted(protocol.allowed_grades()))
    whole = 100.0 if protocol.unit == "%" else 1.0
    return {cell.product: worth_of(cell.summary, line, scale, whole, measured.scatter) for cell in measured.cells}


def _value(use: Weighting, order: UseOrder, prices: Mapping[str, Decimal], drawn: Drawn) -> ValueForMoney:
    scores = {place.product: place.score for place in order.places}
    placed = drawn.only(tuple(scores))
    return value_for_money(use.use, scores, prices, score_draws(placed, use), placed.products)


def _toppling(use: Weighting, order: UseOrder, worths: Mapping[str, Mapping[str, Worth]]) -> Toppling:
    rows = {
        product: tuple(by_measure[measure].middle for measure, _ in use.weights)
        for product, by_measure in worths.items()
        if order.of(product) is not None
    }
    return find_toppling(use, rows, order.first.product)


def _missing(worths: Mapping[str, Mapping[str, Worth]], measures: Iterable[str]) -> Iterable[Missing]:
    told = (WorthReason.NOT_MEASURED, WorthReason.BEYOND_A_LIMIT, WorthReason.SPREAD_UNKNOWN)
    for measure in measures:
        for product in sorted(worths):
            for reason in worths[product][measure].reasons:
                if reason in told:
                    yield Missing(product=product, measure=measure, reason=reason)
