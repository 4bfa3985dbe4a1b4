"""Which pages there are, where each stands, and which are the same page in another language.

Addresses are files (`de/reviews/halde.html`), so that the finished folder works from a disk, below
a path and at the root of a host alike; only `index.html` is left out of canonical addresses.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from posixpath import dirname, relpath

from sitegen.records.publication import Publication
from sitegen.records.settings import SHOW_LEAD
from sitegen.records.text_files import Guide

HOME, CHOICE, MISSING, ABOUT, DISCLOSURE, FEED = "home", "choice", "missing", "about", "disclosure", "feed"
REVIEW, ROUND, GUIDE, METHOD, PRODUCT, RIG = "review", "round", "guide", "method", "product", "rig"
LISTS = {REVIEW: "reviews", ROUND: "rounds", GUIDE: "guides", METHOD: "methods", PRODUCT: "products", RIG: "rigs"}


@dataclass(frozen=True, slots=True, order=True)
class Page:
    """A page whatever its language; `id` is empty for pages of which there is one."""

    kind: str
    id: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """Every page of a site, by language, with its path in the finished folder."""

    address: str
    lead: str
    tags: tuple[str, ...]
    paths: Mapping[tuple[Page, str], str]
    by_page: Mapping[Page, tuple[str, ...]] = field(default_factory=dict)

    def path(self, page: Page, tag: str) -> str | None:
        """Where a page stands in an edition; None where the edition hasn't got it."""
        return self.paths.get((page, tag))

    def languages(self, page: Page) -> tuple[str, ...]:
        """The editions that have a page, in the publication's order."""
        return self.by_page.get(page, ())

    def best(self, page: Page, tag: str) -> tuple[str, str] | None:
        """Path and language of a page in the edition, or in the lead, or in any that has it."""
        for wanted in (tag, self.lead, *self.languages(page)):
            path = self.path(page, wanted)
            if path is not None:
                return path, wanted
        return None

    def absolute(self, path: str) -> str:
        """The public address of a path."""
        return self.address + (path.removesuffix("index.html") if path.endswith("index.html") else path)

    def in_edition(self, tag: str, kind: str) -> Iterator[Page]:
        """The pages of one kind that an edition has, by id."""
        return (page for page, languages in self.by_page.items() if page.kind == kind and page.id and tag in languages)


def relative(from_path: str, to_path: str) -> str:
    """The address of one path as written on another page.

    >>> relative("de/reviews/halde.html", "photos/halde-800.webp")
    '../../photos/halde-800.webp'
    """
    return relpath(to_path, dirname(from_path) or ".")


def make_plan(publication: Publication) -> Plan:
    """The plan of a publication's site."""
    settings = publication.settings
    paths: dict[tuple[Page, str], str] = {}
    for tag in settings.tags:
        paths |= {(page, tag): f"{tag}/{path}" for page, path in _edition_pages(publication, tag)}
    by_page: dict[Page, tuple[str, ...]] = {}
    for page, tag in paths:
        by_page[page] = (*by_page.get(page, ()), tag)
    return Plan(settings.address, settings.lead, settings.tags, paths, by_page)


def _edition_pages(publication: Publication, tag: str) -> Iterator[tuple[Page, str]]:
    yield Page(HOME), "index.html"
    if publication.about and _has_text(publication, publication.about, tag):
        yield Page(ABOUT), "about.html"
    yield Page(DISCLOSURE), "disclosure.html"
    yield from _records(publication, tag)


def _records(publication: Publication, tag: str) -> Iterator[tuple[Page, str]]:
    groups: dict[str, list[tuple[str, str]]] = {
        REVIEW: [(id, _slug(review, tag)) for id, review in publication.reviews.items() if _has_text(publication, review, tag)],
        ROUND: [(id, id) for id, round in publication.rounds.items() if not round.single],
        GUIDE: [(id, _slug(guide, tag)) for id, guide in publication.guides.items() if _has_text(publication, guide, tag)],
        METHOD: [(id, id.replace("_", "-")) for id in used_protocols(publication)],
        PRODUCT: [(id, id.replace("_", "-")) for id in publication.products],
        RIG: [(id, id.replace("_", "-")) for id in publication.rigs],
    }
    for kind, entries in groups.items():
        if entries:
            yield Page(kind), f"{LISTS[kind]}/index.html"
        for id, slug in entries:
            yield Page(kind, id), f"{LISTS[kind]}/{slug}.html"


def used_protocols(publication: Publication) -> tuple[str, ...]:
    """The protocols that any round uses, in order of id."""
    used = {entry.protocol.id for round in publication.rounds.values() for entry in round.protocols}
    return tuple(id for id in sorted(publication.protocols) if id in used)


def _has_text(publication: Publication, guide: Guide, tag: str) -> bool:
    return guide.text(tag) is not None or publication.settings.missing_texts == SHOW_LEAD


def _slug(guide: Guide, tag: str) -> str:
    text = guide.text(tag) or guide.texts[0]
    return text.head.slug or guide.id
