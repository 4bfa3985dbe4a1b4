"""The comparison page of a round: every entrant in every measure, and what may be said of the differences."""

from collections.abc import Iterator
from dataclasses import replace

from sitegen.figures.answers.orders import use_name
from sitegen.figures.answers.picks import best_sentence, fact_sentences
from sitegen.figures.charts.chart_spec import StagesChart
from sitegen.figures.charts.charts import direction_text, order_cells
from sitegen.figures.charts.claim_chart import claim_figures
from sitegen.figures.charts.decline_chart import decline_figures
from sitegen.figures.forms.dates import period
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.numbers import listing, money
from sitegen.figures.wording.cells import cell_text, until_text, word_cell
from sitegen.figures.wording.changes import change_sentences
from sitegen.figures.wording.claims import claims_table, verdicts_table
from sitegen.figures.wording.graders import grader_sentences
from sitegen.figures.wording.rigs import touched_sentences
from sitegen.figures.wording.washing import washing_tables
from sitegen.findings.comparison.comparison import Doubt
from sitegen.findings.found import Compared, Measured, RoundFindings
from sitegen.pages.parts import parts
from sitegen.pages.parts.limits import cant_tell
from sitegen.pages.parts.orders import choices, order_notes, use_orders
from sitegen.pages.parts.round_charts import round_charts
from sitegen.pages.parts.wetted import wetted_views
from sitegen.pages.plan.plan import METHOD, PRODUCT, REVIEW, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.structured import datasets, item_list
from sitegen.pages.views import Byline, Cell, Chart, Entry, Head, RoundPage, Step, Table
from sitegen.problems import Problems
from sitegen.records.measured.round import tested_version

MOST_LIMITS = 6  # in sight; the rest stands with the evidence


def round_page(sheet: Sheet, problems: Problems) -> RoundPage:
    """The view of a round."""
    findings = sheet.site.findings[sheet.page.id]
    round = findings.round
    publication = sheet.site.publication
    title, summary = sheet.say(round.title), sheet.say(round.summary)
    entries = _entrants(sheet, findings, problems)
    data = parts.data_links(sheet, findings)
    nodes = [item_list(sheet, title, entries), *datasets(sheet, title, summary, data)]
    frame = make_frame(sheet, title=title, description=summary or title, structured=nodes, sortable=True)
    washed, charts = _drawn(sheet, findings)
    samples = tuple(s for e in round.entrants for s in publication.samples_of(e.product.id))
    published = round.published or round.end
    limits = cant_tell(sheet, findings)
    return RoundPage(
        frame=frame,
        summary=summary,
        picture=parts.record_picture(sheet, round.photo, lazy=False),
        facts=tuple(_facts(sheet, findings)),
        conditions=sheet.say(round.conditions),
        byline=Byline(
            author=publication.settings.author, published=parts.moment(sheet.edition, published) if published else None
        ),
        disclosure=parts.disclosure(sheet, samples),
        cautions=parts.cautions(sheet, round),
        choices=choices(sheet, findings),
        key_facts=fact_sentences(sheet.edition, findings),
        table=comparison_table(sheet, findings),
        full_table=full_table(sheet, findings),
        letters_note=parts.letters_note(sheet, findings),
        washing=washing_tables(sheet.edition, findings),
        washing_charts=washed,
        differences=tuple(_differences(sheet, findings)),
        charts=charts,
        orders=use_orders(sheet, findings, len(washed) + len(charts)),
        order_notes=order_notes(sheet, findings),
        verdicts=verdicts_table(sheet.edition, findings),
        claims=claims_table(sheet.edition, findings, findings.claims, with_product=True),
        rig_notes=_rig_notes(sheet, findings),
        graders=grader_sentences(sheet.edition, findings),
        wetted=wetted_views(sheet, round.id),
        changes=_changes(sheet, findings),
        cant_tell=limits[:MOST_LIMITS],
        further_limits=limits[MOST_LIMITS:],
        entrants=entries,
        methods=parts.method_links(sheet, findings),
        data=data,
        data_licence=parts.data_licence(sheet),
    )


def _drawn(sheet: Sheet, findings: RoundFindings) -> tuple[tuple[Chart, ...], tuple[Chart, ...]]:
    """The first chart of what washing did, which stands in sight, and all others, which are evidence."""
    figures = (
        *round_charts(sheet, findings),
        *decline_figures(sheet.edition, findings),
        *claim_figures(sheet.edition, findings),
    )
    charts = tuple(sheet.chart(figure, number) for number, figure in enumerate(figures, 1))
    staged = [number for number, figure in enumerate(figures) if isinstance(figure.spec, StagesChart)][:1]
    washed = tuple(charts[number] for number in staged)
    return washed, tuple(chart for number, chart in enumerate(charts) if number not in staged)


def _facts(sheet: Sheet, findings: RoundFindings) -> Iterator[Step]:
    round, lang = findings.round, sheet.edition.lang
    yield Step(name=sheet.t("Entrants"), value=lang.plural("{n} product", "{n} products", len(round.entrants)))
    if round.start and round.end:
        yield Step(name=sheet.t("Period"), value=period(lang, round.start, round.end))
    if round.where:
        yield Step(name=sheet.t("Place"), value=sheet.say(round.where))
    stages = [sheet.edition.stage(stage) for stage in round.stages]
    if len(stages) > 1:
        yield Step(name=sheet.t("Stages"), value=listing(lang, stages))


def _rig_notes(sheet: Sheet, findings: RoundFindings) -> tuple[str, ...]:
    """The state of the rigs in the days of the round, as far as readings are touched."""
    touched = touched_sentences(sheet.edition, findings.touched, sheet.site.rigs)
    served = {ref.id for judged in sheet.site.rigs.values() for ref in judged.rig.protocols}
    used = {measured.protocol.id for measured in findings.measured}
    if touched or not served & used:
        return touched
    return (sheet.t("On no day of this round's readings was a logged rig out of order."),)


def _changes(sheet: Sheet, findings: RoundFindings) -> tuple[str, ...]:
    """What washing did to each entrant, a line an entrant."""
    lines = []
    for changed in findings.changes:
        sentences = change_sentences(sheet.edition, changed)
        if sentences:
            lines.append(f"{sheet.edition.product(changed.product)}. {' '.join(sentences)}")
    return tuple(lines)


def comparison_table(sheet: Sheet, findings: RoundFindings) -> Table:
    """All entrants with one plain figure a cell, in the order for the first use where there is one."""
    order = sheet.site.orders.get(findings.round.id)
    products = [entrant.product.id for entrant in findings.round.entrants]
    note = ""
    if order is not None and order.uses:
        placed = [place.product for place in order.uses[0].places]
        products = [*placed, *(product for product in products if product not in placed)]  # some have no place
        name = use_name(sheet.edition, findings.round.uses, order.uses[0].use)
        note = sheet.t("In the order for this use: {use}.", use=name)
    caption = sheet.t("All entrants of the round: {title}", title=sheet.say(findings.round.title))
    rows = tuple(_row(sheet, findings, product, plain=True) for product in products)
    return Table(caption=caption, heads=_heads(sheet, findings), rows=rows, note=note, sortable=True)


def full_table(sheet: Sheet, findings: RoundFindings) -> Table:
    """All entrants in the round's order, every figure with its interval, its letters and how it was got."""
    rows = tuple(_row(sheet, findings, entrant.product.id, plain=False) for entrant in findings.round.entrants)
    return Table(caption=sheet.t("Every figure with its interval"), heads=_heads(sheet, findings), rows=rows)


def _heads(sheet: Sheet, findings: RoundFindings) -> tuple[Head, ...]:
    edition = sheet.edition
    heads = [Head(text=sheet.t("Product"))]
    for measured in findings.measured:
        several = len(findings.stages_of(measured.protocol.id)) > 1
        path = sheet.site.plan.path(Page(METHOD, measured.protocol.id), sheet.tag)
        heads.append(
            Head(
                text=edition.head(measured.protocol.id),
                number=True,
                href=sheet.href(path) if path else "",
                unit=_beside_head(edition, measured, several),
            )
        )
    return (*heads, Head(text=sheet.t("Price"), number=True))


def _beside_head(edition: Edition, measured: Measured, several: bool) -> str:
    """What tells columns of one protocol apart; else to which share a time counts, and which direction is better."""
    along = measured.protocol.along
    if several:
        return edition.stage(measured.measure.stage)
    direction = direction_text(edition, measured.protocol)
    return f"{until_text(edition, along.shares[0])}; {direction}" if along and along.shares else direction


def _row(sheet: Sheet, findings: RoundFindings, product: str, *, plain: bool) -> tuple[Cell, ...]:
    edition = sheet.edition
    record = sheet.site.publication.products[product]
    pages = (_review_page(sheet, product), Page(PRODUCT, product))
    path = next((found for page in pages if page and (found := sheet.site.plan.path(page, sheet.tag))), None)
    href = sheet.href(path) if path else ""
    cells = [Cell(text=record.name, literal=True, href=href, sort=record.name.casefold())]
    for entry in findings.compared:
        worded = word_cell(edition, entry.measured, entry.measured.cell(product))
        if plain:
            text = cell_text(edition, entry.measured, entry.measured.cell(product))
            cells.append(Cell(text=text, number=True, sort=worded.sort))
        else:
            letters, note = entry.letters.get(product, ""), worded.small_print
            cells.append(Cell(text=worded.value, number=True, letters=letters, note=note, sort=worded.sort))
    return (*cells, _price(sheet, findings, product))


def _price(sheet: Sheet, findings: RoundFindings, product: str) -> Cell:
    entrant = next(e for e in findings.round.entrants if e.product.id == product)
    version = tested_version(entrant, sheet.site.publication.products)
    if version is None or version.price is None:
        return Cell(text="\u2013", number=True)
    text = money(sheet.edition.lang, version.price.amount, version.price.currency)
    return Cell(text=text, number=True, sort=f"{version.price.amount:f}")


def _review_page(sheet: Sheet, product: str) -> Page | None:
    found = sheet.site.publication.reviews_of(product)
    return Page(REVIEW, found[0]) if found else None


def _entrants(sheet: Sheet, findings: RoundFindings, problems: Problems) -> tuple[Entry, ...]:
    """The entrants with their reviews; those without one lead to their product page."""
    found = []
    for entrant in findings.round.entrants:
        product = sheet.site.publication.products[entrant.product.id]
        page = _review_page(sheet, product.id)
        entry = parts.review_entry(sheet, page.id, problems, picture=False) if page else None
        path = sheet.site.plan.path(Page(PRODUCT, product.id), sheet.tag)
        if entry is None and path is not None:
            entry = Entry(title=product.name, href=sheet.href(path), summary="", note=product.maker)
        if entry is not None:
            found.append(replace(entry, summary=""))
    return tuple(found)


def _differences(sheet: Sheet, findings: RoundFindings) -> Iterator[str]:
    """For each measure, in a sentence, how many pairs could be told apart and who stands alone at the better end."""
    for entry in findings.compared:
        if (
            entry.comparison is None
            or Doubt.CANNOT_SHOW_A_DIFFERENCE in entry.comparison.reasons
            or not entry.comparison.pairs
        ):
            continue
        yield _difference(sheet, entry)


def _difference(sheet: Sheet, entry: Compared) -> str:
    assert entry.comparison is not None
    lang = sheet.edition.lang
    pairs = entry.comparison.pairs
    apart = sum(pair.distinct for pair in pairs)
    name = sheet.edition.measure(entry.measured.measure)
    counted = lang.plural(
        "{name}: {apart} of {n} pair clearly differs.",
        "{name}: {apart} of {n} pairs clearly differ.",
        len(pairs),
        name=name,
        apart=apart,
    )
    if entry.measured.protocol.better == "neither":
        return counted
    leaders = [c for c in order_cells(entry.measured) if "a" in entry.letters.get(c.product, "")]
    if len(leaders) == 1:
        return f"{counted} {best_sentence(sheet.edition, entry.measured, leaders[0])}"
    names = listing(lang, [sheet.edition.product(cell.product) for cell in leaders])
    return f"{counted} {sheet.t('Ahead, with no clear difference between them: {products}.', products=names)}"
