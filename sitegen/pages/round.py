"""The comparison page of a round: every entrant in every measure, and what may be said of the differences."""

from collections.abc import Iterator

from sitegen.figures.cells import word_cell
from sitegen.figures.changes import change_sentences
from sitegen.figures.charts import direction_text, order_cells
from sitegen.figures.claim_chart import claim_figures
from sitegen.figures.claims import claims_table
from sitegen.figures.dates import period
from sitegen.figures.decline_chart import decline_figures
from sitegen.figures.graders import grader_sentences
from sitegen.figures.numbers import listing, money
from sitegen.figures.rigs import touched_sentences
from sitegen.findings.comparison import Doubt
from sitegen.findings.found import Compared, RoundFindings
from sitegen.pages import parts
from sitegen.pages.frame import make_frame
from sitegen.pages.limits import cant_tell
from sitegen.pages.orders import order_notes, use_orders
from sitegen.pages.plan import METHOD, PRODUCT, REVIEW, Page
from sitegen.pages.round_charts import round_charts
from sitegen.pages.site import Sheet
from sitegen.pages.structured import datasets, item_list
from sitegen.pages.views import Byline, Cell, Entry, Head, RoundPage, Step, Table
from sitegen.pages.wetted import wetted_views
from sitegen.problems import Problems
from sitegen.records.round import tested_version


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
    figures = (
        *round_charts(sheet, findings),
        *decline_figures(sheet.edition, findings),
        *claim_figures(sheet.edition, findings),
    )
    samples = tuple(s for e in round.entrants for s in publication.samples_of(e.product.id))
    published = round.published or round.end
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
        table=comparison_table(sheet, findings),
        letters_note=parts.letters_note(sheet, findings),
        differences=tuple(_differences(sheet, findings)),
        charts=tuple(sheet.chart(figure, number) for number, figure in enumerate(figures, 1)),
        orders=use_orders(sheet, findings, len(figures)),
        order_notes=order_notes(sheet, findings),
        claims=claims_table(sheet.edition, findings, findings.claims, with_product=True),
        rig_notes=_rig_notes(sheet, findings),
        graders=grader_sentences(sheet.edition, findings),
        wetted=wetted_views(sheet, round.id),
        changes=_changes(sheet, findings),
        cant_tell=cant_tell(sheet, findings),
        entrants=entries,
        methods=parts.method_links(sheet, findings),
        data=data,
        data_licence=parts.data_licence(sheet),
    )


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
    """All entrants in the round's order, a column for each measure."""
    edition = sheet.edition
    heads = [Head(text=sheet.t("Product"))]
    for entry in findings.compared:
        measured = entry.measured
        stage = measured.measure.stage
        several = sum(m.protocol.id == measured.protocol.id for m in findings.measured) > 1
        path = sheet.site.plan.path(Page(METHOD, measured.protocol.id), sheet.tag)
        heads.append(
            Head(
                text=edition.head(measured.protocol.id),
                number=True,
                href=sheet.href(path) if path else "",
                unit=edition.stage(stage) if several else direction_text(edition, measured.protocol),
            )
        )
    heads.append(Head(text=sheet.t("Price"), number=True))
    rows = tuple(_row(sheet, findings, entrant.product.id) for entrant in findings.round.entrants)
    caption = sheet.t("All entrants of the round: {title}", title=sheet.say(findings.round.title))
    return Table(caption=caption, heads=tuple(heads), rows=rows, sortable=True)


def _row(sheet: Sheet, findings: RoundFindings, product: str) -> tuple[Cell, ...]:
    edition = sheet.edition
    page = next(
        (p for p in (_review_page(sheet, product), Page(PRODUCT, product)) if p and sheet.site.plan.path(p, sheet.tag)),
        None,
    )
    path = sheet.site.plan.path(page, sheet.tag) if page else None
    record = sheet.site.publication.products[product]
    cells = [
        Cell(
            text=record.name,
            note=record.maker,
            literal=True,
            href=sheet.href(path) if path else "",
            sort=record.name.casefold(),
        )
    ]
    for entry in findings.compared:
        cell = entry.measured.cell(product)
        worded = word_cell(edition, entry.measured, cell)
        cells.append(
            Cell(
                text=worded.value,
                number=True,
                letters=entry.letters.get(product, ""),
                note=worded.small_print,
                sort=worded.sort,
            )
        )
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
            found.append(entry)
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
        "{name}: {apart} of {n} pair could be told apart.",
        "{name}: {apart} of {n} pairs could be told apart.",
        len(pairs),
        name=name,
        apart=apart,
    )
    if entry.measured.protocol.better == "neither":
        return counted
    leaders = [c.product for c in order_cells(entry.measured) if "a" in entry.letters.get(c.product, "")]
    names = listing(lang, [sheet.edition.product(p) for p in leaders])
    if len(leaders) == 1:
        return f"{counted} {sheet.t('{product} stands alone at the better end.', product=names)}"
    return f"{counted} {sheet.t('At the better end, not to be told apart: {products}.', products=names)}"
