"""From the plan to finished pages: each page's view, put through the theme."""

from collections.abc import Callable
from functools import cache
from importlib import import_module

from sitegen.pages.kinds.lists import choice_page, list_page, missing_page
from sitegen.pages.plan.plan import (
    ABOUT,
    CHOICE,
    DISCLOSURE,
    GLOSSARY,
    GUIDE,
    HOME,
    METHOD,
    PRODUCT,
    REVIEW,
    RIG,
    ROUND,
    Page,
)
from sitegen.pages.site import Sheet, Site
from sitegen.pages.theme.borrowed import mark_borrowed
from sitegen.pages.theme.theme import Theme, View, render
from sitegen.problems import Problems

# By name, since a build after one edit makes pages of one or two kinds: the files of the others, with what they use
# of the figures, take 2 ms to load.
_MAKERS = {
    REVIEW: "review.review_page", ROUND: "round.round_page", GUIDE: "texts.text_page", ABOUT: "texts.text_page",
    METHOD: "method.method_page", PRODUCT: "product.product_page", RIG: "rig.rig_page",
    DISCLOSURE: "ledger.disclosure_page", GLOSSARY: "glossary.glossary_page", HOME: "lists.home_page",
}  # fmt: skip


@cache
def _maker(kind: str) -> Callable[[Sheet, Problems], View]:
    file, name = _MAKERS[kind].split(".")
    maker: Callable[[Sheet, Problems], View] = getattr(import_module(f"sitegen.pages.kinds.{file}"), name)
    return maker


def round_shown(site: Site, page: Page) -> str:
    """The round whose findings a page shows; empty for none."""
    if page.kind == REVIEW and page.id:
        product, round = site.publication.reviewed[page.id]
        return round or site.publication.round_of(product)
    if page.kind == PRODUCT:
        return site.publication.round_of(page.id)
    return page.id if page.kind == ROUND else ""


def make_view(sheet: Sheet, problems: Problems) -> View:
    """What one page shows."""
    if sheet.page.kind in _MAKERS and (sheet.page.id or sheet.page.kind in {HOME, ABOUT, DISCLOSURE, GLOSSARY}):
        return _maker(sheet.page.kind)(sheet, problems)
    return list_page(sheet, problems)


Fill = Callable[[Theme, View], str]
"""Puts a view through its template. Raises ThemeError for a template at fault."""


def render_sheet(sheet: Sheet, theme: Theme, problems: Problems, fill: Fill = render) -> bytes:
    """One page as bytes. Raises ThemeError for a template at fault."""
    return mark_borrowed(fill(theme, make_view(sheet, problems)), sheet.edition.lang).encode()


def extra_page(sheet: Sheet, theme: Theme, fill: Fill = render) -> bytes:
    """The page that offers the languages, or one for unknown addresses. Raises ThemeError for a template at fault."""
    view = choice_page(sheet) if sheet.page.kind == CHOICE else missing_page(sheet, sheet.site.assets.style)
    return fill(theme, view).encode()
