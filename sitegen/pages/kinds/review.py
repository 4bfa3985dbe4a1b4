"""The page of a review."""

from dataclasses import replace
from typing import Any

from sitegen.editorial.key_figures import key_figures
from sitegen.figures.answers.key_figures import KeyLine, word_key_figure
from sitegen.figures.answers.prose import fill_all, fill_prose
from sitegen.figures.answers.values import Values
from sitegen.figures.charts.own_charts import own_charts
from sitegen.figures.wording.changes import change_sentences
from sitegen.figures.wording.claims import claims_table
from sitegen.findings.found import RoundFindings
from sitegen.pages.parts import parts
from sitegen.pages.parts.body import body_blocks
from sitegen.pages.parts.claimed import claimed_values
from sitegen.pages.parts.limits import cant_tell
from sitegen.pages.parts.orders import order_sentences
from sitegen.pages.parts.wetted import wetted_views
from sitegen.pages.plan.plan import PRODUCT, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.structured import (
    datasets,
    dated,
    first_publication,
    image_address,
    person,
    product_node,
    publisher,
    translations,
)
from sitegen.pages.views import Block, Chart, Correction, Finding, Link, ReviewPage
from sitegen.problems import Problems
from sitegen.records.product import Product, Version
from sitegen.records.texts.text_files import Review
from sitegen.records.texts.texts import ReviewHead, Text


def review_page(sheet: Sheet, problems: Problems) -> ReviewPage:
    """The view of a review: what the text says, with what the readings support."""
    review = sheet.site.publication.reviews[sheet.page.id]
    text = review.text(sheet.tag) or review.texts[0]
    head = text.head
    assert isinstance(head, ReviewHead) and review.facts.product is not None
    product = sheet.site.publication.products[review.facts.product.id]
    values = parts.text_values(sheet, review.id, text)
    findings = sheet.site.findings.get(values.round)
    found = _findings(sheet, findings, product.id)
    body = body_blocks(sheet, text.body, values, problems, text.lang)
    photo = head.photos[0] if head.photos else None
    picture = (
        parts.text_picture(sheet, photo, values, problems, lazy=False)
        if photo
        else parts.record_picture(sheet, product.photo, lazy=False)
    )
    version = _version(review, findings, product)
    title, summary = fill_prose(head.title, values, problems), fill_prose(head.summary, values, problems)
    data = parts.data_links(sheet, findings) if findings else ()
    nodes = [_node(sheet, review, text, title, summary, product, found)]
    if findings and findings.round.single:  # other readings are described where the round is
        nodes += datasets(sheet, title, summary, data)
    frame = make_frame(sheet, title=title, description=summary, structured=nodes)
    return ReviewPage(
        frame=frame,
        byline=parts.byline(sheet, text, review.texts),
        summary=summary,
        maker=product.maker,
        product=sheet.link(Page(PRODUCT, product.id), product.name) or Link(text=product.name, href=""),
        picture=picture,
        disclosure=parts.disclosure(sheet, sheet.site.publication.samples_of(product.id)),
        cautions=parts.cautions(sheet, findings.round if findings else None),
        key=key_lines(sheet, review, findings, product.id),
        findings=found,
        letters_note=parts.letters_note(sheet, findings) if findings else "",
        good=fill_all(head.good, values, problems),
        less_good=fill_all(head.less_good, values, problems),
        suits=fill_prose(head.suits, values, problems),
        charts=_charts(sheet, findings, product.id, body),
        claims=claims_table(sheet.edition, findings, findings.claims_of(product.id), with_product=False)
        if findings
        else None,
        wetted=wetted_views(sheet, findings.round.id, product.id) if findings else (),
        body=body,
        specs=parts.spec_table(sheet, product, version),
        care=parts.care(sheet, product, version),
        order=_order(sheet, findings, product.id),
        cant_tell=cant_tell(sheet, findings, product.id) if findings else (),
        corrections=_corrections(sheet, head, values, problems),
        methods=parts.method_links(sheet, findings) if findings else (),
        data=data,
        data_licence=parts.data_licence(sheet),
        round=_round_link(sheet, findings),
        text_lang="" if text.lang == sheet.tag else text.lang,
    )


def _version(review: Review, findings: RoundFindings | None, product: Product) -> Version:
    """The tested version: as the review says, else as the round does, else the newest."""
    named = review.facts.version.id if review.facts.version else ""
    if not named and findings:
        entrant = next((e for e in findings.round.entrants if e.product.id == product.id), None)
        named = entrant.version.id if entrant and entrant.version else ""
    return product.version(named) or product.versions[-1]


def _findings(sheet: Sheet, findings: RoundFindings | None, product: str) -> tuple[Finding, ...]:
    if findings is None or not findings.round.has(product):
        return ()
    found = []
    for measured in findings.measured:
        cell = measured.cell(product)
        if cell.summary is not None or cell.missing:
            found.append(parts.finding(sheet, findings, measured, cell))
    return tuple(found)


def _order(sheet: Sheet, findings: RoundFindings | None, product: str) -> tuple[str, ...]:
    """What washing did to this product, and how it comes out for each use."""
    if findings is None:
        return ()
    changed = [change_sentences(sheet.edition, change) for change in findings.changes if change.product == product]
    return (*(" ".join(sentences) for sentences in changed if sentences), *order_sentences(sheet, findings, product))


def key_lines(sheet: Sheet, review: Review, findings: RoundFindings | None, product: str) -> tuple[KeyLine, ...]:
    """The figures that come first, each leading to its evidence."""
    if findings is None:
        return ()
    named = tuple(measure for measure, _ in review.facts.key)
    figures = key_figures(findings, product, named)
    return tuple(
        replace(word_key_figure(sheet.edition, figure), href=f"#{parts.finding_id(figure.measured)}")
        for figure in figures
    )


def _charts(sheet: Sheet, findings: RoundFindings | None, product: str, body: tuple[Block, ...]) -> tuple[Chart, ...]:
    """The charts that the author has placed nowhere."""
    if findings is None or not findings.round.has(product):
        return ()
    placed = {block.chart.id for block in body if block.chart is not None}
    figures = own_charts(sheet.edition, findings, product, claimed_values(findings))
    left = (figure for figure in figures if figure.id not in placed)
    return tuple(sheet.chart(figure, number) for number, figure in enumerate(left, len(body) + 1))


def _corrections(sheet: Sheet, head: ReviewHead, values: Values, problems: Problems) -> tuple[Correction, ...]:
    return tuple(
        Correction(date=parts.moment(sheet.edition, note.date), text=fill_prose(note.text, values, problems))
        for note in head.corrections
    )


def _round_link(sheet: Sheet, findings: RoundFindings | None) -> Link | None:
    if findings is None or findings.round.single:
        return None
    return sheet.link(Page(ROUND, findings.round.id), sheet.say(findings.round.title))


def _node(
    sheet: Sheet, review: Review, text: Text, title: str, summary: str, product: Product, findings: tuple[Finding, ...]
) -> dict[str, Any]:
    """The review as structured data: no rating, since the page gives none."""
    node: dict[str, Any] = {
        "@type": "Review", "name": title, "inLanguage": text.lang, "url": sheet.site.plan.absolute(sheet.path),
        "author": person(sheet.site.publication.settings.author), "publisher": publisher(sheet), "description": summary or title,
        "itemReviewed": product_node(sheet, product.id, findings, description=sheet.say(product.kind)),
    }  # fmt: skip
    node |= dated(text.head.date or review.texts[0].head.date, text.head.updated)
    node |= translations(sheet) | first_publication(sheet, text.lang)
    if text.head.translator:
        node["translator"] = person(text.head.translator)
    if text.head.photos and (image := image_address(sheet, text.head.photos[0].file.id)):
        node["image"] = image
    return node
