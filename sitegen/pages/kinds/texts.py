"""The pages of guides and the page about the publication."""

from typing import Any

from sitegen.figures.answers.prose import fill_prose
from sitegen.figures.answers.values import Values
from sitegen.pages.parts import parts
from sitegen.pages.parts.body import body_blocks, contents
from sitegen.pages.plan.plan import ABOUT, GUIDE, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.structured import dated, image_address, person, publisher, translations
from sitegen.pages.views import Link, TextPage
from sitegen.problems import Problems
from sitegen.records.texts.text_files import Guide
from sitegen.records.texts.texts import Text


def text_page(sheet: Sheet, problems: Problems) -> TextPage:
    """The view of a guide or of the about page."""
    publication = sheet.site.publication
    guide = publication.about if sheet.page.kind == ABOUT else publication.guides[sheet.page.id]
    assert guide is not None
    text = guide.text(sheet.tag) or guide.texts[0]
    values = parts.text_values(sheet, text=text)
    title, summary = (fill_prose(prose, values, problems) for prose in (text.head.title, text.head.summary))
    photo = text.head.photos[0] if text.head.photos else None
    nodes = [_node(sheet, guide, text, title, summary)] if sheet.page.kind == GUIDE else []
    return TextPage(
        frame=make_frame(sheet, title=title, description=summary, structured=nodes),
        byline=parts.byline(sheet, text, guide.texts),
        summary=summary,
        picture=parts.text_picture(sheet, photo, values, problems, lazy=False) if photo else None,
        body=body_blocks(sheet, text.body, values, problems, text.lang),
        contents=contents(text.body, values, problems),
        related=_related(sheet, parts.text_values(sheet), problems),
        text_lang="" if text.lang == sheet.tag else text.lang,
    )


def _related(sheet: Sheet, values: Values, problems: Problems) -> tuple[Link, ...]:
    """The other guides of the edition."""
    links = []
    for id, guide in sheet.site.publication.guides.items():
        text = guide.text(sheet.tag)
        path = sheet.site.plan.path(Page(GUIDE, id), sheet.tag)
        if text is not None and path is not None and Page(GUIDE, id) != sheet.page:
            links.append(Link(text=fill_prose(text.head.title, values, problems), href=sheet.href(path)))
    return tuple(links)


def _node(sheet: Sheet, guide: Guide, text: Text, title: str, summary: str) -> dict[str, Any]:
    node: dict[str, Any] = {
        "@type": "Article", "headline": title, "inLanguage": text.lang, "url": sheet.site.plan.absolute(sheet.path),
        "author": person(sheet.site.publication.settings.author), "publisher": publisher(sheet), "description": summary or title,
    }  # fmt: skip
    node |= dated(text.head.date or guide.texts[0].head.date, text.head.updated)
    if text.head.translator:
        node["translator"] = person(text.head.translator)
    if text.head.photos and (image := image_address(sheet, text.head.photos[0].file.id)):
        node["image"] = image
    return node | translations(sheet)
