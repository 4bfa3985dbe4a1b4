"""What surrounds every page: title, languages, navigation, trail, policy, structured data."""

import base64
import hashlib
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from sitegen.figures.forms.messages import msgid
from sitegen.pages.plan.plan import (
    ABOUT,
    CHOICE,
    DISCLOSURE,
    GLOSSARY,
    GUIDE,
    HOME,
    LISTS,
    METHOD,
    MISSING,
    PRODUCT,
    REVIEW,
    RIG,
    ROUND,
    Page,
)
from sitegen.pages.plan.standing import alternates, canonical, is_own
from sitegen.pages.shared_links import properties
from sitegen.pages.site import Sheet
from sitegen.pages.theme.structured import breadcrumbs, to_script
from sitegen.pages.views import Frame, Link

LIST_TITLES = {
    REVIEW: msgid("Reviews"), ROUND: msgid("Rounds"), GUIDE: msgid("Guides"),
    METHOD: msgid("Methods"), PRODUCT: msgid("Products"), RIG: msgid("The rigs"),
}  # fmt: skip
LIST_LINKS = {REVIEW: msgid("All reviews"), ROUND: msgid("All rounds"), GUIDE: msgid("All guides")}
_NAVIGATION = (REVIEW, ROUND, GUIDE, METHOD)


def policy(*inline: str) -> str:
    """The policy that each page carries in itself, so that it holds from any static host and from a disk.

    Only the inline blocks given may run (CSP Level 3, hash sources), and nothing else that runs, frames or
    sends. Where styles and pictures may come from is left to the header in `response-headers.txt`: `'self'`
    has no meaning for a page that is opened from a disk.
    """
    allowed = " ".join(map(block_hash, inline)) or "'none'"
    return (
        f"script-src {allowed}; object-src 'none'; frame-src 'none'; worker-src 'none'; media-src 'none'; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'"
    )


@lru_cache(maxsize=256)
def block_hash(block: str) -> str:
    """The source expression that allows exactly this inline block."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(block.encode()).digest()).decode()}'"


def description_of(sheet: Sheet, description: str) -> str:
    """What a page says of itself, as short as search engines show it; of one without words what the publication says."""
    settings = sheet.site.publication.settings
    return _clip(description or sheet.say(settings.tagline) or sheet.say(settings.name))


def make_frame(
    sheet: Sheet,
    *,
    title: str,
    description: str,
    structured: Iterable[dict[str, Any]] = (),
    parents: Iterable[Page] | None = None,
    sortable: bool = False,
) -> Frame:
    """The frame of an ordinary page of an edition; `sortable` where a table can be sorted by the script."""
    site, plan = sheet.site, sheet.site.plan
    settings = site.publication.settings
    name = sheet.say(settings.name)
    home = plan.path(Page(HOME), sheet.tag) or ""
    trail = _trail(sheet, title, parents)
    nodes = [*structured, *([breadcrumbs(sheet, trail)] if trail else [])]
    is_home = sheet.page.kind == HOME
    data, script = to_script(nodes), site.assets.script if sortable else ""
    tagline = sheet.say(settings.tagline)
    said = description_of(sheet, description)
    return Frame(
        kind=sheet.page.kind if sheet.page.id or sheet.page.kind not in LISTS else "list",
        lang=sheet.tag,
        direction=sheet.edition.lang.direction,
        title=title,
        document_title=(f"{name}: {tagline}" if tagline else name) if is_home else f"{title} \u2013 {name}",
        description=said,
        canonical=canonical(sheet),
        alternates=alternates(sheet),
        stylesheet=sheet.href(site.assets.stylesheet),
        inline_style=Markup(""),
        script=Markup(script),
        icon=sheet.href(site.assets.icon),
        feed=sheet.href(f"{sheet.tag}/feed.xml"),
        feed_title=sheet.t("Feed of {name}", name=name),
        site_name=name,
        tagline=tagline,
        home=sheet.href(home),
        nav=navigation(sheet),
        languages=languages(sheet),
        trail=trail,
        structured=Markup(data),
        csp=policy(*filter(None, (data, script))),
        noindex=not is_own(sheet, sheet.tag),
        colophon=colophon(sheet),
        footer=footer(sheet),
        properties=properties(sheet, title, said),
    )


def _clip(text: str, longest: int = 300) -> str:
    """A description no longer than a search result shows, cut at a word."""
    text = " ".join(text.split())
    return text if len(text) <= longest else text[:longest].rsplit(" ", 1)[0] + "\u2026"


def navigation(sheet: Sheet) -> tuple[Link, ...]:
    """The main ways through an edition."""
    pages = [(Page(kind), sheet.t(LIST_TITLES[kind])) for kind in _NAVIGATION]
    pages += [
        (Page(GLOSSARY), sheet.t("Glossary")),
        (Page(DISCLOSURE), sheet.t("Disclosure")),
        (Page(ABOUT), sheet.t("About")),
    ]
    found = []
    for page, text in pages:
        path = sheet.site.plan.path(page, sheet.tag)
        if path is not None:
            current = page == sheet.page or (page.kind == sheet.page.kind and not page.id)
            found.append(Link(text=text, href=sheet.href(path), current=current))
    return tuple(found)


def languages(sheet: Sheet) -> tuple[Link, ...]:
    """The editions: this page in each, or where an edition lacks it that edition's front page."""
    plan = sheet.site.plan
    if len(plan.tags) < 2:
        return ()
    found = []
    for tag in plan.tags:
        path = plan.path(sheet.page, tag) or plan.path(Page(HOME), tag) or ""
        lang = sheet.site.editions[tag].lang
        found.append(Link(text=lang.name, href=sheet.href(path), lang=tag, current=tag == sheet.tag))
    return tuple(found)


def _trail(sheet: Sheet, title: str, parents: Iterable[Page] | None) -> tuple[Link, ...]:
    """The way from the front page to here; none on the front page itself."""
    if sheet.page.kind in {HOME, CHOICE, MISSING}:
        return ()
    steps = [Link(text=sheet.t("Home"), href=sheet.href(sheet.site.plan.path(Page(HOME), sheet.tag) or ""))]
    if sheet.page.id and sheet.page.kind in LISTS:
        parents = parents if parents is not None else (Page(sheet.page.kind),)
    for page in parents or ():
        path = sheet.site.plan.path(page, sheet.tag)
        if path is not None:
            steps.append(Link(text=sheet.t(LIST_TITLES[page.kind]), href=sheet.href(path)))
    return (*steps, Link(text=title, href="", current=True))


def colophon(sheet: Sheet) -> tuple[str, ...]:
    """The closing lines: who answers for it, and how the pages treat their reader."""
    settings = sheet.site.publication.settings
    lines = [f"{sheet.say(settings.name)}: {settings.author}"]
    if settings.bench:
        lines[0] += f", {sheet.say(settings.bench)}"
    if settings.contact:
        lines.append(sheet.t("Contact: {address}", address=settings.contact))
    lines.append(sheet.t("No cookies, no counting, no request to other hosts: nobody watches you read."))
    return tuple(lines)


def footer(sheet: Sheet) -> tuple[Link, ...]:
    """Further ways, below every page."""
    pages = [
        (Page(PRODUCT), sheet.t("Products")),
        (Page(RIG), sheet.t("The rigs")),
        (Page(DISCLOSURE), sheet.t("Disclosure")),
    ]
    found = [
        Link(text=text, href=sheet.href(path))
        for page, text in pages
        if (path := sheet.site.plan.path(page, sheet.tag))
    ]
    return (*found, Link(text=sheet.t("Feed"), href=sheet.href(f"{sheet.tag}/feed.xml")))


def bare_frame(sheet: Sheet, *, title: str, description: str, style: str, base: str, choice: bool) -> Frame:
    """The frame of the page that offers the languages, or of the one for unknown addresses.

    The latter is served at any address, so it carries its style and links from the root of the host.
    """
    site = sheet.site
    name = sheet.say(site.publication.settings.name)
    plan = site.plan
    home_pages = [(tag, plan.absolute(plan.path(Page(HOME), tag) or "")) for tag in plan.tags]
    return Frame(
        kind=sheet.page.kind,
        lang=sheet.tag,
        direction=sheet.edition.lang.direction,
        title=title,
        document_title=name if choice else f"{title} \u2013 {name}",
        description=_clip(description),
        canonical=plan.address if choice else "",
        alternates=(*home_pages, ("x-default", plan.address)) if choice else (),
        stylesheet=sheet.href(site.assets.stylesheet),
        inline_style=Markup("" if choice else style),
        script=Markup(""),
        icon=sheet.href(site.assets.icon) if choice else "",
        feed="",
        feed_title="",
        site_name=name,
        tagline=sheet.say(site.publication.settings.tagline),
        home=base + (plan.path(Page(HOME), sheet.tag) or ""),
        nav=(),
        languages=(),
        trail=(),
        structured=Markup(""),
        csp=policy(),
        noindex=not choice,
        colophon=colophon(sheet),
        footer=(),
    )
