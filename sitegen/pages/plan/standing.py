"""How a page stands towards others: which address is the original's, and which pages are the same in another language.

A page counts to search engines where it has a text of its own and its original is here. Else it is left out of
the sitemap and of the alternates on every page, so that nothing said of it contradicts anything else.
"""

from sitegen.pages.plan.plan import HOME, REVIEW, Page, text_of
from sitegen.pages.site import Sheet
from sitegen.records.texts.first_published import FirstPublished


def first_published(sheet: Sheet) -> FirstPublished | None:
    """Where a review appeared first, if it was not here."""
    review = sheet.site.publication.cards.get(sheet.page.id) if sheet.page.kind == REVIEW else None
    return review.facts.first_published if review else None


def original_elsewhere(sheet: Sheet) -> str:
    """The address of the original that the terms of a first publication point to; empty where the page is its own."""
    first, text = first_published(sheet), text_of(sheet.site.publication, sheet.page, sheet.tag)
    return first.address if first is not None and text is not None and first.is_original_of(text.lang) else ""


def canonical(sheet: Sheet) -> str:
    """The address of the original: the page's own, or that at the outlet of a first publication."""
    return original_elsewhere(sheet) or sheet.site.plan.absolute(sheet.path)


def is_own(sheet: Sheet, tag: str) -> bool:
    """Whether an edition's page has a text of its own, not the lead's shown for want of one."""
    text = text_of(sheet.site.publication, sheet.page, tag)
    return text is None or text.lang == tag


def counts(sheet: Sheet) -> bool:
    """Whether search engines should list the page."""
    return is_own(sheet, sheet.tag) and not original_elsewhere(sheet)


def own_languages(sheet: Sheet) -> tuple[str, ...]:
    """The editions that have the page with a text of their own."""
    return tuple(tag for tag in sheet.site.plan.languages(sheet.page) if is_own(sheet, tag))


def alternates(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """The same page in every edition where it counts, with x-default: the lead's, for front pages the choice of languages.

    None for a page that doesn't count itself: alternates must name each other, and no other page names it.
    """
    site, plan = sheet.site, sheet.site.plan
    if not counts(sheet):
        return ()
    paths = {tag: plan.path(sheet.page, tag) or "" for tag in plan.languages(sheet.page)}
    found = [
        (tag, plan.absolute(path))
        for tag, path in paths.items()
        if counts(Sheet(site, site.editions[tag], sheet.page, path))
    ]
    if sheet.page == Page(HOME):
        return (*found, ("x-default", plan.address))
    default = next((address for tag, address in found if tag == plan.lead), found[0][1])
    return (*found, ("x-default", default))
