"""Pages at former addresses: each leads on at once, and says so to whoever still sees it.

A static host can't answer "moved", so a page does: by refresh (HTML Living Standard, 4.2.5.3), canonical link and
a plain link. They stand in no sitemap, feed or list.
"""

from html import escape

from sitegen.figures.answers.prose import fill_prose
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import METHOD, PRODUCT, REVIEW, RIG, text_of
from sitegen.pages.plan.standing import canonical
from sitegen.pages.site import Sheet, Site
from sitegen.pages.theme.frame import policy
from sitegen.problems import Problems

_FORM = """<!doctype html>
<html lang="{lang}" dir="{direction}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{heading}</title>
<meta name="robots" content="noindex">
<meta http-equiv="refresh" content="0; url={href}">
<link rel="canonical" href="{canonical}">
<link rel="icon" href="{icon}">
<link rel="stylesheet" href="{stylesheet}">
</head>
<body data-kind="moved">
<main id="content">
<h1>{heading}</h1>
<p><a href="{href}"{foreign}>{title}</a></p>
</main>
</body>
</html>
"""


def redirect(site: Site, path: str) -> bytes:
    """The page at a former address, in the language of the edition that it belonged to. Raises LookupError for any other."""
    page, tag = site.plan.moved[path]
    best = site.plan.best(page, tag)
    if best is None:
        raise LookupError(path)
    return _redirect(Sheet(site, site.editions[tag], page, path), *best).encode()


def _redirect(sheet: Sheet, path: str, tag: str) -> str:
    site = sheet.site
    target = Sheet(site, site.editions[tag], sheet.page, path)
    values = {
        "lang": sheet.tag, "direction": sheet.edition.lang.direction, "policy": policy(), "heading": sheet.t("This page has moved"),
        "href": sheet.href(path), "canonical": canonical(target), "icon": sheet.href(site.assets.icon),
        "stylesheet": sheet.href(site.assets.stylesheet), "title": title_of(target),
    }  # fmt: skip
    foreign = "" if tag == sheet.tag else f' lang="{tag}" hreflang="{tag}"'
    return _FORM.format_map({key: escape(value) for key, value in values.items()} | {"foreign": foreign})


def title_of(sheet: Sheet) -> str:
    """The title of a page that has an id."""
    publication, id = sheet.site.publication, sheet.page.id
    text = text_of(publication, sheet.page, sheet.tag)
    if text is not None:
        values = parts.text_values(sheet, id if sheet.page.kind == REVIEW else "", text)
        return fill_prose(text.head.title, values, Problems())  # faults were told by the page itself
    if sheet.page.kind == PRODUCT:
        return sheet.edition.product(id)
    if sheet.page.kind == METHOD:
        return sheet.edition.protocol(id)
    return sheet.say(publication.rigs[id].name if sheet.page.kind == RIG else publication.rounds[id].title)
