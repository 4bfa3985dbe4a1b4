"""The page of a product: what it is by its maker's word, and where it was tested."""

from sitegen.figures.answers.prose import fill_prose
from sitegen.figures.wording.claims import claims_table
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import REVIEW, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.structured import product_node
from sitegen.pages.views import Link, ProductPage
from sitegen.problems import Problems


def product_page(sheet: Sheet, problems: Problems) -> ProductPage:
    """The view of a product."""
    publication = sheet.site.publication
    product = publication.products[sheet.page.id]
    kind = sheet.say(product.kind)
    round = sheet.site.publication.round_of(product.id)
    findings = sheet.site.findings.get(round)
    samples = publication.samples_of(product.id)
    description = sheet.t(
        "{product} by {maker}: {kind}", product=product.name, maker=product.maker, kind=kind or sheet.t("product")
    )
    node = {
        "@type": "ItemPage", "name": product.name, "inLanguage": sheet.tag,
        "mainEntity": product_node(sheet, product.id, description=description),
    }  # fmt: skip
    cares = (parts.care(sheet, product, version) for version in reversed(product.versions))
    return ProductPage(
        frame=make_frame(sheet, title=product.name, description=description, structured=[node]),
        kind=kind,
        maker=product.maker,
        picture=parts.record_picture(sheet, product.photo, lazy=False),
        specs=parts.spec_table(sheet, product, product.versions[-1]),
        care=tuple(found for found in cares if found is not None),
        claims=claims_table(sheet.edition, findings, findings.claims_of(product.id), with_product=False)
        if findings
        else None,
        tested_in=_tested_in(sheet, product.id, problems),
        disclosure=parts.disclosure(sheet, samples) if samples else None,
    )


def _tested_in(sheet: Sheet, product: str, problems: Problems) -> tuple[Link, ...]:
    publication = sheet.site.publication
    pages = []
    for id in publication.reviews_of(product):
        review = publication.cards[id]
        text = review.text(sheet.tag) or review.texts[0]
        pages.append((Page(REVIEW, id), fill_prose(text.head.title, parts.text_values(sheet, id, text), problems)))
    rounds = (publication.rounds[id] for id in publication.rounds_of(product))
    pages += [(Page(ROUND, round.id), sheet.say(round.title)) for round in rounds if not round.single]
    links = (sheet.link(page, title) for page, title in pages)
    return tuple(link for link in links if link is not None)
