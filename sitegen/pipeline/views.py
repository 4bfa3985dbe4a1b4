"""A publication whose records are looked up one by one, so that whoever reads one is known to depend on that one alone.

To everybody else it is the `Publication` of `sitegen.records`. `everything` is all that was read, `shown` what may be
shown on the session's day.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from dataclasses import replace
from functools import cache, partial
from typing import Any, TypeVar, cast

from sitegen.pipeline import reading
from sitegen.pipeline.demand import derived, node, report, session
from sitegen.pipeline.inputs import DAY
from sitegen.problems import Problems
from sitegen.records.ledger import Sample
from sitegen.records.measured.doubtful import check_ends, check_far
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Round
from sitegen.records.names.index import Index
from sitegen.records.product import Product
from sitegen.records.publication import Publication, products_measured, take_tables
from sitegen.records.texts.embargo import ABOUT, GUIDE, REVIEW, Waiting, ledger_on, waiting_on
from sitegen.records.texts.first_published import FirstPublished
from sitegen.records.texts.text_files import Days, Guide, Review, days_of, with_bodies

K = TypeVar("K")
V = TypeVar("V")


class Lookup(Mapping[K, V]):
    """A mapping that holds nothing: keys and records are looked up when somebody asks."""

    def __init__(self, keys: Callable[[], Iterable[K]], item: Callable[[K], V | None]) -> None:
        """`item` gives None for a key that isn't there."""
        self._keys, self._item = keys, item

    def __getitem__(self, key: K) -> V:
        found = self._item(key) if key in self else None
        if found is None:
            raise KeyError(key)
        return found

    def __contains__(self, key: object) -> bool:
        return key in self._keys()  # type: ignore[operator]

    def __iter__(self) -> Iterator[K]:
        return iter(tuple(self._keys()))

    def __len__(self) -> int:
        return len(tuple(self._keys()))


class Photos(Set[str]):
    """The files below photos/, asked for one by one."""

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and name.startswith("photos/") and reading.has_file(name)

    def __iter__(self) -> Iterator[str]:
        return iter(reading.names_below("photos"))

    def __len__(self) -> int:
        return len(reading.names_below("photos"))


# All that was read


@derived
def product_ids() -> dict[str, None]:
    """All products that can be used: those of files, and those that short reviews imply."""
    of_files = [id for id in reading.product_files() if reading.product_file(id) is not None]
    return dict.fromkeys(sorted({*of_files, *reading.shorts()}))


@derived
def product(id: str) -> Product | None:
    """A product, by its file or by the review that implies it."""
    found = reading.product_file(id) if id in reading.product_files() else None
    short = reading.review_short(id) if found is None else None
    return short.product if short is not None else found


@derived
def product_name(id: str) -> str | None:
    """A product's name."""
    found = product(id)
    return found.name if found is not None else None


@derived
def version_names(id: str) -> tuple[str, ...] | None:
    """The versions of a product, as they are written."""
    found = product(id)
    return tuple(version.id.id for version in found.versions) if found is not None else None


@derived
def round_ids() -> dict[str, None]:
    """All rounds that can be used, those that short reviews imply among them."""
    of_files = [id for id in reading.round_files() if reading.round_file(id) is not None]
    return dict.fromkeys(sorted({*of_files, *reading.shorts()}))


@derived
def round_of(id: str) -> Round | None:
    """A round, by its file or by the review that implies it."""
    found = reading.round_file(id) if id in reading.round_files() else None
    short = reading.review_short(id) if found is None else None
    return short.round if short is not None else found


@derived
def reviewed_of(id: str) -> tuple[str, str] | None:
    """The product and the round that a review names; empty where it names none."""
    found = reading.review_card(id)
    if found is None:
        return None
    product, round = (ref.id if ref is not None else "" for ref in (found.facts.product, found.facts.round))
    return product, round


@derived
def first_published_of(id: str) -> FirstPublished | None:
    """Where a review appeared first, if not here."""
    found = reading.review_card(id)
    return found.facts.first_published if found is not None else None


@derived
def published_elsewhere() -> dict[str, None]:
    """The reviews that appeared elsewhere first."""
    return dict.fromkeys(id for id in reading.review_ids() if first_published_of(id) is not None)


@derived
def measured(id: str) -> tuple[str, ...]:
    """The products of which a round has a value."""
    return products_measured(readings(id))


@derived
def days_of_review(id: str) -> Days:
    """The days of a review's texts."""
    found = reading.review_card(id)
    return days_of(found) if found is not None else ()


@derived
def all_samples() -> tuple[Sample, ...]:
    """The samples of the ledger, and those that short reviews imply."""
    implied = (reading.review_short(id) for id in reading.shorts())
    return (*reading.ledger().samples, *(short.sample for short in implied if short is not None))


def _review(id: str) -> Review | None:
    card = reading.review_card(id)
    return with_bodies(card, partial(reading.body, "review", id)) if card is not None else None


def _guide(id: str) -> Guide | None:
    card = reading.guide_card(id)
    return with_bodies(card, partial(reading.body, "guide", id)) if card is not None else None


def _about() -> Guide | None:
    card = reading.about_card()
    return with_bodies(card, partial(reading.body, "about", "about")) if card is not None else None


@derived
def readings(id: str) -> tuple[Reading, ...]:
    """The readings of a round, from its tables or from its short form."""
    reading.with_own_units()
    problems, publication = Problems(), everything()
    if id in reading.round_files():
        folder = reading.folder_of(reading.names_below(f"rounds/{id}"), problems)
        taken = take_tables(folder, publication.rounds[id], publication.protocols, publication.products)
    else:
        short = reading.review_short(id)
        taken = short.readings if short is not None else ()
        check_far(publication.rounds[id], taken, publication.protocols, publication.products, problems)
    check_ends(taken, publication.protocols, reading.highest(), problems)
    report(problems)
    return taken


# What may be shown on the day


@derived
def withheld() -> Waiting:
    """What waits beyond the day."""
    session().note(node(DAY))
    return waiting_on(everything(), reading.context().sources.day)


@derived
def shown_product_ids() -> dict[str, None]:
    """The products that may be shown."""
    return {id: None for id in product_ids() if id not in withheld().gone}


@derived
def shown_round_ids() -> dict[str, None]:
    """The rounds that may be shown."""
    return {id: None for id in round_ids() if id not in withheld().gone}


@derived
def shown_measured(id: str) -> tuple[str, ...]:
    """The products of which a round has a value; a round that waits counts as not measured yet."""
    return () if id in withheld().unmeasured else measured(id)


@derived
def rounds_with_page() -> tuple[str, ...]:
    """The rounds that have a page: those with a reading, but for what a review carries itself."""
    return tuple(id for id in shown_round_ids() if not cast(Round, round_of(id)).single and shown_measured(id))


@derived
def shown_review_ids() -> dict[str, None]:
    """The reviews that may be shown."""
    return {id: None for id in reading.review_ids() if (REVIEW, id) not in withheld().hidden}


@derived
def shown_guide_ids() -> dict[str, None]:
    """The guides that may be shown."""
    return {id: None for id in reading.guide_ids() if (GUIDE, id) not in withheld().hidden}


@derived
def waiting_texts(kind: str, id: str) -> tuple[str, ...]:
    """The languages in which a text waits."""
    return tuple(sorted(lang for what, of, lang in withheld().texts if (what, of) == (kind, id)))


@derived
def shown_samples() -> tuple[Sample, ...]:
    """The samples of what may be shown."""
    gone = withheld().gone
    session().note(node(DAY))
    shown = tuple(s for s in all_samples() if s.product is None or s.product.id not in gone)
    return ledger_on(shown, reading.context().sources.day)


ALL, SHOWN = "all", "shown"


@derived
def index_of(scope: str, what: str) -> dict[str, Any]:
    """What belongs to what: `what` is one of the tables of `Index`, over all records or those that may be shown."""
    publication = everything() if scope == ALL else shown()
    return dict(getattr(_gathered(publication), what))


def _gathered(publication: Publication) -> Index:
    return Index(publication.samples, publication.rounds, publication.reviewed, publication.names, publication.measured)


@derived
def indexed(scope: str, what: str, key: str) -> Any:
    """The entry of one key in such a table."""
    return index_of(scope, what).get(key, "" if what == "latest" else ())


@derived
def doubtful_rounds(product: str) -> tuple[str, ...]:
    """The rounds of which any may be the latest that measured a product; none where one is known to be."""
    return _gathered(everything()).doubtful(product)


class _Index(Index):
    """What belongs to what, looked up by key."""

    def __init__(self, scope: str) -> None:
        super().__init__((), {}, {}, {}, {})
        tables = ("samples", "rounds", "reviews", "named", "latest")
        vars(self).update({what: _Defaulted(partial(indexed, scope, what)) for what in tables})

    def doubtful(self, product: str) -> tuple[str, ...]:
        return doubtful_rounds(product)


class _Defaulted(Mapping[str, V]):
    """By key what is looked up; nothing is known of which keys there are, and nobody asks."""

    def __init__(self, item: Callable[[str], V]) -> None:
        self._item = item

    def __getitem__(self, key: str) -> V:
        return self._item(key)

    def __contains__(self, key: object) -> bool:
        return True

    def __iter__(self) -> Iterator[str]:
        raise LookupError("this index is looked up by key")

    def __len__(self) -> int:
        raise LookupError("this index is looked up by key")


class _View(Publication):
    """A Publication whose fields are functions: each is called when somebody asks for the field."""

    __slots__ = ()


def _without_waiting(kind: str, id: str, guide: Guide) -> Guide:
    gone = waiting_texts(kind, id)
    return replace(guide, texts=tuple(text for text in guide.texts if text.lang not in gone)) if gone else guide


def _shown_review(id: str) -> Review | None:
    found = _review(id)
    return cast(Review, _without_waiting("review", id, found)) if found is not None else None


def _shown_card(id: str) -> Review | None:
    found = reading.review_card(id)
    return cast(Review, _without_waiting(REVIEW, id, found)) if found is not None else None


def _shown_guide(id: str) -> Guide | None:
    found = _guide(id)
    return _without_waiting("guide", id, found) if found is not None else None


def _shown_about() -> Guide | None:
    found = _about()
    return _without_waiting(ABOUT, "", found) if found is not None and (ABOUT, "") not in withheld().hidden else None


def _names_of_files() -> tuple[str, ...]:
    return reading.names_below("")


@derived
def shown_follows(file: str) -> Any:
    """What a translation follows; nothing where its lead waits, for its notes would speak of it."""
    return None if file in withheld().unfollowed else reading.follows_of(file)


_COMMON: dict[str, Callable[[], Any]] = {
    "settings": reading.usable_settings,
    "stock": reading.stock,
    "protocols": reading.protocols,
    "rigs": lambda: Lookup(reading.rig_ids, reading.rig),
    "photos": Photos,
    "files": _names_of_files,
    "terms": reading.terms,
    "addresses": reading.addresses,
}
_ALL: dict[str, Callable[[], Any]] = _COMMON | {
    "products": lambda: Lookup(product_ids, product),
    "rounds": lambda: Lookup(round_ids, round_of),
    "readings": lambda: Lookup(round_ids, readings),
    "samples": all_samples,
    "reviews": lambda: Lookup(reading.review_ids, _review),
    "cards": lambda: Lookup(reading.review_ids, reading.review_card),
    "guides": lambda: Lookup(reading.guide_ids, _guide),
    "about": _about,
    "held": lambda: (),
    "measured": lambda: Lookup(round_ids, measured),
    "days": lambda: Lookup(reading.review_ids, days_of_review),
    "names": lambda: Lookup(product_ids, product_name),
    "versions": lambda: Lookup(product_ids, version_names),
    "reviewed": lambda: Lookup(reading.review_ids, reviewed_of),
    "short": lambda: frozenset(reading.shorts()),
    "elsewhere": lambda: Lookup(published_elsewhere, first_published_of),
    "follows": lambda: Lookup(reading.follows, reading.follows_of),
    "known_index": lambda: _Index(ALL),
}
_SHOWN: dict[str, Callable[[], Any]] = _ALL | {
    "products": lambda: Lookup(shown_product_ids, product),
    "rounds": lambda: Lookup(shown_round_ids, round_of),
    "readings": lambda: Lookup(shown_round_ids, readings),
    "samples": shown_samples,
    "reviews": lambda: Lookup(shown_review_ids, _shown_review),
    "cards": lambda: Lookup(shown_review_ids, _shown_card),
    "guides": lambda: Lookup(shown_guide_ids, _shown_guide),
    "about": _shown_about,
    "held": lambda: withheld().held,
    "measured": lambda: Lookup(shown_round_ids, shown_measured),
    "days": lambda: Lookup(shown_review_ids, days_of_review),
    "shown_rounds": rounds_with_page,
    "names": lambda: Lookup(shown_product_ids, product_name),
    "versions": lambda: Lookup(shown_product_ids, version_names),
    "reviewed": lambda: Lookup(shown_review_ids, reviewed_of),
    "short": lambda: frozenset(id for id in reading.shorts() if (REVIEW, id) not in withheld().hidden),
    "elsewhere": lambda: Lookup(lambda: published_elsewhere().keys() & shown_review_ids().keys(), first_published_of),
    "follows": lambda: Lookup(reading.follows, shown_follows),
    "known_index": lambda: _Index(SHOWN),
}


def asked_for(ask: Callable[[], Any]) -> property:
    """A property that is looked up whenever somebody asks."""
    return property(lambda _: ask())


def _view(fields: Mapping[str, Callable[[], Any]]) -> Publication:
    """A Publication with these fields."""
    made: dict[str, Any] = {name: asked_for(ask) for name, ask in fields.items()}
    return cast(Publication, object.__new__(type("PublicationView", (_View,), {"__slots__": (), **made})))


@cache
def everything() -> Publication:
    """All that was read of the publication of the open session."""
    return _view(_ALL)


@cache
def shown() -> Publication:
    """What may be shown of it on the session's day."""
    return _view(_SHOWN)


__all__ = ["Lookup", "everything", "shown"]
