"""The order of a round in words, tables and charts: for each use, over all weights, by price, by trade-off."""

from collections.abc import Iterable, Mapping

from sitegen.figures.charts import chart_spec as spec_of
from sitegen.figures.charts.charts import ChartFigure, Wording, chart_figure
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.wording.tables import Cell, Head, Table
from sitegen.findings.ranking.ordered import (
    AnyWeights,
    Beside,
    Change,
    OrderReason,
    Placed,
    RoundOrder,
    Toppling,
    UseOrder,
    ValueForMoney,
)
from sitegen.records.measured.round import Measure, Use, parse_measure

SHOWN_RANKS = 3  # of the shares of ranks, how many a table has columns for


def measure_text(edition: Edition, text: str) -> str:
    """A measure by its author's form (`spray after 3 washes`) in the edition's words."""
    measure = parse_measure(text)
    return edition.measure(measure if measure is not None else Measure(text))


def use_name(edition: Edition, uses: Iterable[Use], id: str) -> str:
    """A use's name."""
    return next((edition.say(use.name) for use in uses if use.id.id == id), id)


def score_text(edition: Edition, placed: Placed) -> str:
    """A score with its expanded uncertainty, in whole points of 100."""
    score, wide = (numbers.round_to(x, 0) for x in (placed.score, placed.expanded))
    return numbers.estimate(edition.lang, score, wide, "").replace("(", "").replace(")", "")


def hundredths(share: float) -> int:
    """A share of draws as a whole number of a hundred; 100 only where it was every draw."""
    whole = round(100 * share)
    return 99 if whole == 100 and share < 1 else 1 if whole == 0 and share > 0 else whole


def place_sentence(edition: Edition, order: UseOrder, product: str, use: str) -> str:
    """One entrant in one use: its score, how often it is first, and with whom it is level; or why it has no place."""
    t = edition.lang
    placed = order.of(product)
    if placed is None:
        once = next((one.measures for one in order.beside if one.product == product), ())
        return t.text("{use}: no place in the order. {why}", use=capital(use), why=_read_once(edition, once))
    sentences = [
        t.text(
            "{use}: worth {score} of 100, first in {n} of 100 draws.",
            use=capital(use),
            score=score_text(edition, placed),
            n=hundredths(placed.first_share),
        )
    ]
    if placed.level_with:
        names = numbers.listing(t, [edition.product(p) for p in placed.level_with])
        sentences.append(t.text("It can't be told from {products}.", products=names))
    if placed.missing:
        sentences.append(t.text("Not measured: {measures}.", measures=_measures(edition, placed.missing)))
    return " ".join(sentences)


def beside_sentence(edition: Edition, beside: Iterable[Beside]) -> str:
    """Who has no place in an order, and what was measured too seldom for one."""
    beside = tuple(beside)
    names = numbers.listing(edition.lang, [edition.product(one.product) for one in beside])
    once = dict.fromkeys(measure for one in beside for measure in one.measures)
    why = _read_once(edition, once)
    return edition.lang.text("Without a place in this order: {products}. {why}", products=names, why=why)


def _read_once(edition: Edition, measures: Iterable[str]) -> str:
    return edition.lang.text(
        "Measured once, so how much it scatters is not known: {measures}.",
        measures=_measures(edition, measures),
    )


def _measures(edition: Edition, measures: Iterable[str]) -> str:
    return numbers.listing(edition.lang, [measure_text(edition, measure) for measure in measures])


def leader_sentences(edition: Edition, order: UseOrder, toppling: Toppling | None) -> tuple[str, ...]:
    """Who is first for a use, how surely, and what change of one weight would topple it."""
    t = edition.lang
    first = order.first
    sentences = [
        t.text(
            "{product} is first in {n} of 100 draws.",
            product=edition.product(first.product),
            n=hundredths(first.first_share),
        )
    ]
    if first.level_with:
        names = numbers.listing(t, [edition.product(p) for p in first.level_with])
        sentences.append(t.text("It can't be told from {products}.", products=names))
    sentences.append(_weights_sentence(edition, order))
    if order.beside:
        sentences.append(beside_sentence(edition, order.beside))
    if toppling is not None:
        sentences.append(_toppling(edition, toppling))
    return tuple(sentences)


def _weights_sentence(edition: Edition, order: UseOrder) -> str:
    t = edition.lang
    parts = [
        f"{measure_text(edition, m)} {numbers.percent(t, numbers.round_to(100 * w, 0))}"
        for m, w in order.weights
        if w > 0
    ]
    return t.text("Weights: {weights}.", weights="; ".join(parts))


def _toppling(edition: Edition, toppling: Toppling) -> str:
    t = edition.lang
    if toppling.smallest is None:
        return t.text("No change of a single weight puts another entrant first.")
    return _change(edition, toppling.smallest)


def _change(edition: Edition, change: Change) -> str:
    t = edition.lang
    was, tips = (numbers.number(t, numbers.round_to(x, 1)) for x in (change.was, change.tips_at))
    return t.text(
        "{product} would come first if this weight went from {was} past {tips}: {measure}.",
        product=edition.product(change.product),
        measure=measure_text(edition, change.measure),
        was=was,
        tips=tips,
    )


def use_table(edition: Edition, order: UseOrder, caption: str) -> Table:
    """All entrants for one use: score, and how often each takes the first places."""
    t = edition.lang
    ranks = min(SHOWN_RANKS, len(order.places))
    heads = [Head(text=t.text("Product")), Head(text=t.text("Worth of 100"), number=True)]
    heads += [
        Head(text=t.text("place {n}", n=rank), unit=t.text("of 100 draws"), number=True) for rank in range(1, ranks + 1)
    ]
    heads.append(Head(text=t.text("Level with")))
    rows = tuple(_use_row(edition, placed, ranks) for placed in order.places)
    note = t.text(
        "Shares from {draws} seeded draws over the measurement uncertainty; each is off by at most {error}. "
        "A missing reading widens the worth and never counts as nothing; a few specimens say little about all, so grades spread widely.",
        draws=numbers.number(t, order.draws),
        error=numbers.percent(t, numbers.round_to(100 * order.share_error, 0)),
    )
    return Table(caption=caption, heads=tuple(heads), rows=rows, note=note)


def _use_row(edition: Edition, placed: Placed, ranks: int) -> tuple[Cell, ...]:
    level = ", ".join(edition.product(p) for p in placed.level_with) or "\u2013"
    missing = ", ".join(measure_text(edition, m) for m in placed.missing)
    note = edition.lang.text("not measured: {measures}", measures=missing) if missing else ""
    return (
        Cell(text=edition.product(placed.product), literal=True),
        Cell(text=score_text(edition, placed), number=True, note=note, sort=f"{placed.score:.4f}"),
        *(Cell(text=str(hundredths(share)), number=True, sort=f"{share:.4f}") for share in placed.ranks[:ranks]),
        Cell(text=level, literal=True),
    )


def shares_figure(edition: Edition, order: UseOrder, name: str) -> ChartFigure:
    """Shares of ranks for one use as stacked rows; ranks beyond the eighth are taken together."""
    t = edition.lang
    rows = tuple(spec_of.SharesRow(entrant=p.product, shares=_few(p.ranks)) for p in order.places)
    spec = spec_of.SharesChart(rows=rows)
    first = order.first
    title = t.text(
        "{use}: {product} is first in {n} of 100 draws",
        use=capital(name),
        product=edition.product(first.product),
        n=hundredths(first.first_share),
    )
    described = "; ".join(f"{edition.product(p.product)} {hundredths(p.first_share)}" for p in order.places)
    wording = Wording(
        title=title,
        description=t.text("First of 100 draws: {list}.", list=described),
        x_title=t.text("Share of draws at each place, in per cent"),
        values={p.product: score_text(edition, p) for p in order.places},
    )
    caption = t.text("How often each entrant takes each place when the readings are redrawn within their uncertainty.")
    table = use_table(edition, order, t.text("Chart data: {name}", name=capital(name)))
    return chart_figure(edition, f"chart-order-{order.use}", spec, wording, caption=caption, table=table)


def _few(ranks: tuple[float, ...]) -> tuple[float, ...]:
    most = spec_of.MOST_RANKS
    return ranks if len(ranks) <= most else (*ranks[: most - 1], sum(ranks[most - 1 :]))


def any_weights_sentences(edition: Edition, any_weights: AnyWeights) -> tuple[str, ...]:
    """For readers who share none of the uses: who can be first at all, and for whom."""
    t = edition.lang
    sentences = []
    for entrant in any_weights.entrants:
        if entrant.central is None or entrant.first_share < 0.01:
            continue
        heaviest = sorted(entrant.central, key=lambda pair: (-pair[1], pair[0]))[:2]
        wanted = numbers.listing(t, [measure_text(edition, measure) for measure, _ in heaviest])
        sentences.append(
            t.text(
                "{product} is first in {n} of 100 draws over all weights, most often where these weigh most: {measures}.",
                product=edition.product(entrant.product),
                n=hundredths(entrant.first_share),
                measures=wanted,
            )
        )
    never = [edition.product(e.product) for e in any_weights.entrants if e.first_share < 0.01]
    if never:
        sentences.append(
            t.text("Hardly ever first, whatever the weights: {products}.", products=numbers.listing(t, never))
        )
    return tuple(sentences)


def pareto_sentences(edition: Edition, order: RoundOrder) -> tuple[str, ...]:
    """Who is beaten by nobody in everything, and who surely is."""
    t = edition.lang
    if order.pareto is None:
        return ()
    members = numbers.listing(t, [edition.product(p) for p in order.pareto.members])
    sentences = [
        t.text(
            "No other entrant is at least as good in everything and better in something: {products}.", products=members
        )
    ]
    for entrant in order.pareto.entrants:
        if entrant.surely_by:
            by = numbers.listing(t, [edition.product(p) for p in entrant.surely_by])
            sentences.append(
                t.text(
                    "{product} is surely matched or beaten in everything by {products}.",
                    product=edition.product(entrant.product),
                    products=by,
                )
            )
    return tuple(sentences)


def value_sentence(edition: Edition, value: ValueForMoney) -> str:
    """Whom nobody beats at the same price or less, cheapest first."""
    t = edition.lang
    if not value.members:
        return ""
    shares = {one.product: hundredths(one.share) for one in value.entrants}
    names = [
        t.text("{product} (in {n} of 100 simulated repeats)", product=edition.product(id), n=shares[id])
        for id in value.members
    ]
    return t.text(
        "Value for money: nothing at the same price or less does as well as {products}.",
        products=numbers.listing(t, names),
    )


def tradeoff_figure(
    edition: Edition, value: ValueForMoney, order: UseOrder, currency: str, name: str
) -> ChartFigure | None:
    """Worth for a use against price, with those joined whom nobody beats at the same price or less."""
    if len(value.entrants) < 3:
        return None
    t = edition.lang
    placed = {place.product: place for place in order.places}
    points = tuple(_trade_point(value, placed[one.product], float(one.price)) for one in value.entrants)
    prices = {entrant.product: numbers.money(t, entrant.price, currency) for entrant in value.entrants}
    worths = {one.product: score_text(edition, placed[one.product]) for one in value.entrants}
    title = t.text("{use}: worth against price", use=capital(name))
    wording = Wording(
        title=title,
        description="; ".join(f"{edition.product(id)}: {price}, {worths[id]}" for id, price in prices.items()),
        x_title=t.text("Price in {currency} (lower is better)", currency=currency),
        y_title=t.text("Worth of 100"),
        values=prices,
        keys={
            "unbeaten": t.text("by its score, nothing at the same price or less does as well"),
            "beaten": t.text("by their scores, another does as well for no more"),
        },
    )
    return chart_figure(
        edition,
        f"chart-price-{order.use}",
        spec_of.TradeoffChart(points=points, x_better="lower"),
        wording,
        caption=value_sentence(edition, value),
        table=_prices_table(edition, prices, worths, t.text("Chart data: {name}", name=title)),
    )


def _trade_point(value: ValueForMoney, placed: Placed, price: float) -> spec_of.TradePoint:
    return spec_of.TradePoint(
        entrant=placed.product,
        x=price,
        y=placed.score,
        y_low=placed.low,
        y_high=placed.high,
        unbeaten=placed.product in value.members,
    )


def _prices_table(edition: Edition, prices: Mapping[str, str], worths: Mapping[str, str], caption: str) -> Table:
    t = edition.lang
    heads = (
        Head(text=t.text("Product")),
        Head(text=t.text("Price"), number=True),
        Head(text=t.text("Worth of 100"), number=True),
    )
    rows = tuple(
        (
            Cell(text=edition.product(id), literal=True),
            Cell(text=price, number=True),
            Cell(text=worths[id], number=True),
        )
        for id, price in prices.items()
    )
    return Table(caption=caption, heads=heads, rows=rows)


def unordered_sentences(edition: Edition, order: RoundOrder, uses: Iterable[Use]) -> tuple[str, ...]:
    """Uses for which no order can be given, and why."""
    t = edition.lang
    uses = tuple(uses)
    causes = {
        "no_anchors": t.text("the values worth 0 and 100 are not declared"), "bad_anchors": t.text("the declared values worth 0 and 100 can't hold"),
        "not_in_the_round": t.text("it weighs what this round does not measure"), "nothing_measured": t.text("nothing that it weighs was measured"),
        "no_weights": t.text("its weights sum to nothing"),
        "read_once": t.text("what it weighs was measured once only, so how much it scatters is not known"),
    }  # fmt: skip
    return tuple(
        t.text(
            "{use}: no order, since {cause}.",
            use=capital(use_name(edition, uses, one.use)),
            cause=f"{causes[one.reason.value]} ({_measures(edition, one.measures)})"
            if one.reason is OrderReason.READ_ONCE
            else causes[one.reason.value],
        )
        for one in order.unordered
    )
