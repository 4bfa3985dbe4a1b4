"""What machines read: an Atom feed for each edition (RFC 4287), the sitemap (Sitemaps 0.9), robots.txt (RFC 9309)."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from html import escape as for_markup
from io import BytesIO
from itertools import islice

from sitegen.datatypes import dataclass
from sitegen.figures.answers.prose import fill_prose
from sitegen.figures.forms.dates import rfc3339
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import GUIDE, HOME, REVIEW, Page
from sitegen.pages.plan.standing import alternates, counts
from sitegen.pages.site import Sheet, Site
from sitegen.pages.theme.frame import block_hash
from sitegen.problems import Problems
from sitegen.records.texts.text_files import Guide

MOST_IN_MAP = 50_000  # addresses of a sitemap (Sitemaps 0.9)
MOST_LINKS = 250_000  # addresses and alternates of a sitemap: at 150 bytes each 38 of the 50 MB that it may have
NEWEST = 40  # entries of a feed: a reader that looks in once a month misses none
_EPOCH = dt.date(1970, 1, 1)


def escape(text: str) -> str:
    """A text between tags. The standard library's own for XML loads its network client with it: 30 ms at each start."""
    return for_markup(text, quote=False)


def quoteattr(text: str) -> str:
    """An attribute's value with its quotes."""
    return f'"{for_markup(text)}"'


@dataclass(frozen=True, slots=True)
class _Item:
    title: str
    address: str
    summary: str
    published: dt.date
    updated: dt.date
    credit: str = ""
    via: str = ""


def atom(site: Site, tag: str, problems: Problems) -> bytes:
    """The feed of one edition: reviews and guides, newest first; dates are those of the texts, never the clock's."""
    sheet = Sheet(site, site.editions[tag], Page(HOME), site.plan.path(Page(HOME), tag) or "")
    settings = site.publication.settings
    items = sorted(_items(sheet, problems), key=lambda item: (item.updated, item.address), reverse=True)[:NEWEST]
    here, home = site.plan.absolute(f"{tag}/feed.xml"), site.plan.absolute(sheet.path)
    updated = max((item.updated for item in items), default=_EPOCH)
    lines = [
        '<?xml version="1.0" encoding="utf-8"?>',
        f'<feed xmlns="http://www.w3.org/2005/Atom" xml:lang={quoteattr(tag)}>',
        f"<id>{escape(here)}</id>", f"<title>{escape(sheet.say(settings.name))}</title>",
        *([f"<subtitle>{escape(sheet.say(settings.tagline))}</subtitle>"] if settings.tagline else []),
        f"<updated>{rfc3339(updated)}</updated>",
        f'<link rel="self" type="application/atom+xml" href={quoteattr(here)}/>',
        f'<link rel="alternate" type="text/html" href={quoteattr(home)}/>',
        f"<author><name>{escape(settings.author)}</name></author>",
        *(line for item in items for line in _entry(item)), "</feed>", "",
    ]  # fmt: skip
    return "\n".join(lines).encode()


def _entry(item: _Item) -> Iterator[str]:
    yield f"<entry><id>{escape(item.address)}</id><title>{escape(item.title)}</title>"
    yield f'<link rel="alternate" type="text/html" href={quoteattr(item.address)}/>'
    yield f"<published>{rfc3339(item.published)}</published><updated>{rfc3339(item.updated)}</updated>"
    if item.via:
        yield f'<link rel="via" href={quoteattr(item.via)}/>'
    if item.credit:
        yield f"<rights>{escape(item.credit)}</rights>"
    yield f"<summary>{escape(item.summary)}</summary></entry>"


def _items(sheet: Sheet, problems: Problems) -> Iterator[_Item]:
    publication = sheet.site.publication
    groups: tuple[tuple[str, Mapping[str, Guide]], ...] = ((REVIEW, publication.cards), (GUIDE, publication.guides))
    for kind, group in groups:
        for id, guide in group.items():
            text, path = guide.text(sheet.tag), sheet.site.plan.path(Page(kind, id), sheet.tag)
            day = parts.published_day(text, guide.texts) if text else None
            if text is None or path is None or day is None:
                continue
            values = parts.text_values(sheet, id if kind == REVIEW else "", text)
            title, summary = (fill_prose(prose, values, problems) for prose in (text.head.title, text.head.summary))
            own = Sheet(sheet.site, sheet.edition, Page(kind, id), path)
            credit = parts.first_credit(own, text)
            via = credit.href if credit else ""
            said = f"{credit.text} {credit.note}".strip() if credit else ""
            yield _Item(
                title, sheet.site.plan.absolute(path), summary or title, day, text.head.updated or day, said, via
            )


def sitemaps(site: Site) -> dict[str, Callable[[Problems], bytes]]:
    """What makes the sitemap, by path; where one would be too large, an index of several."""
    most = min(MOST_IN_MAP, MOST_LINKS // (2 + len(site.plan.tags)))
    parts = range(0, len(site.plan.paths) + 1, most)  # and the page that offers the languages
    if len(parts) == 1:
        return {"sitemap.xml": partial(_sitemap, site, 0, most)}
    made = {f"sitemap-{number}.xml": partial(_sitemap, site, start, most) for number, start in enumerate(parts, 1)}
    return {"sitemap.xml": partial(_map_of_maps, site, tuple(made)), **made}


def _map_of_maps(site: Site, paths: tuple[str, ...], problems: Problems) -> bytes:
    lines = [
        '<?xml version="1.0" encoding="utf-8"?>',
        '<sitemapindex xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">',
        *(f"<sitemap><loc>{escape(site.plan.absolute(path))}</loc></sitemap>" for path in paths), "</sitemapindex>", "",
    ]  # fmt: skip
    return "\n".join(lines).encode()


def _sitemap(site: Site, start: int, most: int, problems: Problems) -> bytes:
    """Of so many pages those that count, with their alternates; `lastmod` only where a text says when it changed."""
    written = BytesIO()  # lines in a list, and these joined, took five times the room of all addresses

    def line(text: str) -> None:
        written.write(f"{text}\n".encode())

    line('<?xml version="1.0" encoding="utf-8"?>')
    line('<urlset xmlns="http://www.sitemaps.org/schemas/sitemap/0.9" xmlns:xhtml="http://www.w3.org/1999/xhtml">')
    empty = written.tell()
    if start == 0:
        line(_top(site))
    # Before the pages of the plan stands the one that offers the languages, so each is one further on.
    for (page, tag), path in islice(site.plan.paths.items(), max(start - 1, 0), start + most - 1):
        sheet = Sheet(site, site.editions[tag], page, path)
        if counts(sheet):
            line(_url(site.plan.absolute(path), alternates(sheet), _changed(site, page, tag)))
    if written.tell() == empty:  # the schema wants one at least
        line(_top(site))
    line("</urlset>")
    return written.getvalue()


def _top(site: Site) -> str:
    homes = [(tag, site.plan.absolute(site.plan.path(Page(HOME), tag) or "")) for tag in site.plan.tags]
    return _url(site.plan.address, (*homes, ("x-default", site.plan.address)), None)


def _url(address: str, others: tuple[tuple[str, str], ...], changed: dt.date | None) -> str:
    links = "".join(
        f'<xhtml:link rel="alternate" hreflang={quoteattr(tag)} href={quoteattr(other)}/>' for tag, other in others
    )
    lastmod = f"<lastmod>{changed.isoformat()}</lastmod>" if changed else ""
    return f"<url><loc>{escape(address)}</loc>{lastmod}{links}</url>"


def _changed(site: Site, page: Page, tag: str) -> dt.date | None:
    groups: dict[str, Mapping[str, Guide]] = {REVIEW: site.publication.cards, GUIDE: site.publication.guides}
    group = groups.get(page.kind)
    guide = group.get(page.id) if group and page.id else None
    text = guide.text(tag) if guide else None
    return (text.head.updated or text.head.date) if text else None


def robots(site: Site) -> bytes:
    """Everybody may read everything; the sitemap is named."""
    return f"User-agent: *\nAllow: /\n\nSitemap: {site.plan.absolute('sitemap.xml')}\n".encode()


def response_headers(site: Site) -> bytes:
    """The headers that a host should send where it can; the pages do without."""
    policy = (
        f"default-src 'none'; img-src 'self'; style-src 'self' {block_hash(site.assets.style)}; "
        f"script-src 'self' {block_hash(site.assets.script)}; connect-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )
    lines = [
        "/*", "  X-Content-Type-Options: nosniff", "  Referrer-Policy: no-referrer",
        f"  Content-Security-Policy: {policy}", "/assets/*", "  Cache-Control: public, max-age=31536000, immutable",
    ]  # fmt: skip
    return ("\n".join(lines) + "\n").encode()
