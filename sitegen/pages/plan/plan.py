"""Which pages there are, where each stands, and which are the same page in another language.

Reviews, guides and rounds stand at their title in the edition's language, all else at its id; a recorded
address stays whatever becomes of the title.
Addresses are files (`de/reviews/halde.html`), so that the finished folder works from a disk, below
a path and at the root of a host alike; only `index.html` is left out of canonical addresses.
"""

from collections.abc import Iterator, Mapping
from dataclasses import field
from typing import NamedTuple

from sitegen.datatypes import dataclass
from sitegen.figures.forms.term_forms import own_word
from sitegen.pages.plan.slugs import slug_of
from sitegen.records.measured.round import Round
from sitegen.records.publication import Publication
from sitegen.records.settings import SHOW_LEAD
from sitegen.records.texts.text_files import Guide
from sitegen.records.texts.texts import Text

HOME, CHOICE, MISSING, ABOUT, DISCLOSURE, FEED = "home", "choice", "missing", "about", "disclosure", "feed"
GLOSSARY = "glossary"
REVIEW, ROUND, GUIDE, METHOD, PRODUCT, RIG = "review", "round", "guide", "method", "product", "rig"
LISTS = {REVIEW: "reviews", ROUND: "rounds", GUIDE: "guides", METHOD: "methods", PRODUCT: "products", RIG: "rigs"}


class Page(NamedTuple):
    """A page whatever its language; `id` is empty for pages of which there is one.

    A tuple, since it is a key that is looked up, hashed and compared for every link.
    """

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
    moved: Mapping[str, tuple[Page, str]] = field(
        default_factory=dict
    )  # former paths: the page, and the edition they were in

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
    # Both are plain paths below one folder, so this need not ask for the working folder as `relpath` does (ten times faster).
    here, there = from_path.split("/")[:-1], to_path.split("/")
    shared = 0
    while shared < min(len(here), len(there) - 1) and here[shared] == there[shared]:
        shared += 1
    return "../" * (len(here) - shared) + "/".join(there[shared:])


def make_plan(publication: Publication) -> Plan:
    """The plan of a publication's site. Recorded addresses stay; where former ones lead on is added by `with_moves`."""
    settings = publication.settings
    recorded = publication.addresses.current()
    paths: dict[tuple[Page, str], str] = {}
    for tag in settings.tags:
        for page, path in _edition_pages(publication, tag):
            known = recorded.get((page.kind, page.id, tag)) if not _chosen(publication, page, tag) else None
            paths[page, tag] = known.path if known else f"{tag}/{path}"
    by_page: dict[Page, tuple[str, ...]] = {}
    for page, tag in paths:
        by_page[page] = (*by_page.get(page, ()), tag)
    return Plan(settings.address, settings.lead, settings.tags, paths, by_page)


def _edition_pages(publication: Publication, tag: str) -> Iterator[tuple[Page, str]]:
    yield Page(HOME), "index.html"
    held = {(entry.kind, entry.id) for entry in publication.held if entry.edition == tag}
    if publication.about and (ABOUT, "") not in held and _has_text(publication, publication.about, tag):
        yield Page(ABOUT), "about.html"
    yield Page(DISCLOSURE), "disclosure.html"
    if any(own_word(term, tag, publication.settings.lead) for term in publication.terms.values()):
        yield Page(GLOSSARY), "glossary.html"
    for kind, entries in _records(publication, tag).items():
        shown = [
            (id, slug) for id, slug in entries if (kind, id) not in held and not _goes(publication, kind, id, held)
        ]
        if shown:
            yield Page(kind), f"{LISTS[kind]}/index.html"
        for id, slug in shown:
            yield Page(kind, id), f"{LISTS[kind]}/{slug}.html"


def _goes(publication: Publication, kind: str, id: str, held: set[tuple[str, str]]) -> bool:
    """Whether a page goes with a review that waits: that of a product which it carries itself."""
    return kind == PRODUCT and id in publication.short and (REVIEW, id) in held


def _records(publication: Publication, tag: str) -> dict[str, list[tuple[str, str]]]:
    """The pages with an id, by kind: texts and rounds by their title in the edition's language, the others by their id."""
    return {
        REVIEW: [
            (id, _slug(review, tag)) for id, review in publication.cards.items() if _has_text(publication, review, tag)
        ],
        ROUND: [
            (id, _round_slug(publication.rounds[id], tag, publication.settings.lead)) for id in publication.shown_rounds
        ],
        GUIDE: [
            (id, _slug(guide, tag)) for id, guide in publication.guides.items() if _has_text(publication, guide, tag)
        ],
        METHOD: [(id, id_slug(id)) for id in used_protocols(publication)],
        PRODUCT: [(id, id_slug(id)) for id in publication.products],
        RIG: [(id, id_slug(id)) for id in publication.rigs],
    }


def used_protocols(publication: Publication) -> tuple[str, ...]:
    """The protocols that any round uses, in order of id."""
    used = {entry.protocol.id for round in publication.rounds.values() for entry in round.protocols}
    return tuple(id for id in sorted(publication.protocols) if id in used)


def _has_text(publication: Publication, guide: Guide, tag: str) -> bool:
    return guide.text(tag) is not None or publication.settings.missing_texts == SHOW_LEAD


def _slug(guide: Guide, tag: str) -> str:
    text = guide.text(tag) or guide.texts[0]
    return text.head.slug or slug_of(text.head.title.text, text.lang, guide.id)


def _round_slug(round: Round, tag: str, lead: str) -> str:
    title, lang = round.title.choose(tag, lead)
    return slug_of(title, lang, round.id)


def _chosen(publication: Publication, page: Page, tag: str) -> bool:
    """Whether the author has given a text's slug, which then counts more than what was recorded."""
    text = text_of(publication, page, tag)
    return text is not None and bool(text.head.slug)


def text_of(publication: Publication, page: Page, tag: str) -> Text | None:
    """The text that a page of an edition shows: its own, else the lead's; None for pages without a text."""
    group: Mapping[str, Guide] = {REVIEW: publication.cards, GUIDE: publication.guides}.get(page.kind, {})
    holder = publication.about if page.kind == ABOUT else group.get(page.id)
    return (holder.text(tag) or holder.texts[0]) if holder else None


def id_slug(id: str) -> str:
    """An id as the last part of an address."""
    return id.replace("_", "-")
