"""A publication as it may be shown on a day: texts that still wait are not in it, so no page can let them slip.

The day is an input like any file. The same files and the same day give the same site.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from sitegen.records.keeping import Altered
from sitegen.records.publication import Held, Publication
from sitegen.records.references import used_photos
from sitegen.records.text_files import Days, Guide, days_of

V = TypeVar("V")
G = TypeVar("G", bound=Guide)
REVIEW, GUIDE, ABOUT, ROUND = "review", "guide", "about", "round"
NO_DAY = dt.date.min
"""No day is said: every embargo holds, and a text does not wait for the day that it is dated."""


def as_of(publication: Publication, day: dt.date) -> Publication:
    """The publication without what waits beyond `day`: under an embargo, or because it is dated later.

    A page that waits in some editions loses the texts of these. One that waits in all goes altogether; if a review
    carries its own product and readings, these go with it. A round that waits counts as not measured yet, so that it has
    no page and is nobody's latest; its readings stay for the reviews that name it.
    """
    held = tuple(_held(publication, day))
    if not held:
        return publication
    waiting = {(entry.kind, entry.id, entry.edition) for entry in held}
    reviews = {
        id: _without(publication.reviews[id], REVIEW, waiting) for id in {e.id for e in held if e.kind == REVIEW}
    }
    guides = {id: _without(guide, GUIDE, waiting) for id, guide in publication.guides.items()}
    about = _without(publication.about, ABOUT, waiting) if publication.about else None
    hidden = {id for id, review in reviews.items() if _is_hidden(review, REVIEW, publication, waiting)}
    entered = {e.product.id for round in publication.rounds.values() if not round.single for e in round.entrants}
    gone = (hidden & publication.short) - entered
    shown = replace(
        publication, reviews=Altered(publication.reviews, hidden, reviews), held=held,
        guides={id: guide for id, guide in guides.items() if not _is_hidden(guide, GUIDE, publication, waiting)},
        about=None if about is None or _is_hidden(about, ABOUT, publication, waiting) else about,
        follows=_but(publication.follows, set(_unfollowed(publication, waiting))),
        products=Altered(publication.products, gone), names=_but(publication.names, gone),
        versions=_but(publication.versions, gone),
        reviewed=_but(publication.reviewed, hidden), days=_but(publication.days, hidden),
        short=publication.short - hidden,
        elsewhere=_but(publication.elsewhere, hidden),
        outline=f"{publication.outline} {held}" if publication.outline else "",
        rounds=_but(publication.rounds, gone),
        readings=Altered(publication.readings, gone),
        measured=_but(publication.measured, gone | {entry.id for entry in held if entry.kind == ROUND}),
        samples=tuple(s for s in publication.samples if s.product is None or s.product.id not in gone),
    )  # fmt: skip
    return replace(shown, pictures=tuple(used_photos(shown)))


def _but(named: Mapping[str, V], gone: set[str]) -> dict[str, V]:
    return {id: value for id, value in named.items() if id not in gone}


def _held(publication: Publication, day: dt.date) -> Iterator[Held]:
    tags = publication.settings.tags
    dated: list[tuple[str, str, Days]] = [(REVIEW, id, days) for id, days in publication.days.items()]
    dated += [(GUIDE, id, days_of(guide)) for id, guide in publication.guides.items()]
    dated += [(ABOUT, "", days_of(publication.about))] if publication.about else []
    for kind, id, days in dated:
        first = publication.elsewhere.get(id) if kind == REVIEW else None
        for tag in tags:
            embargo = first.until(tag) if first is not None else None
            until = max(embargo or NO_DAY, _own_day(days, tag, tags[0]) if day != NO_DAY else NO_DAY)
            if until > day:
                yield Held(kind, id, tag, until)
    for round in publication.rounds.values():
        if day != NO_DAY and round.published is not None and round.published > day:
            yield from (Held(ROUND, round.id, tag, round.published) for tag in tags)


def _own_day(days: Days, tag: str, lead: str) -> dt.date:
    """The day of the text in an edition; a translation without one appears with the lead."""
    known = dict(days)
    return known.get(tag) or known.get(lead) or NO_DAY


def _is_hidden(guide: Guide, kind: str, publication: Publication, waiting: set[tuple[str, str, str]]) -> bool:
    """Whether no edition shows it."""
    id = "" if kind == ABOUT else guide.id
    return not guide.texts or all((kind, id, tag) in waiting for tag in publication.settings.tags)


def _unfollowed(publication: Publication, waiting: set[tuple[str, str, str]]) -> Iterator[str]:
    """The translations whose lead waits: what still shows can't follow it, its notes would speak of it."""
    lead = publication.settings.lead
    for kind, id, edition in waiting:
        if edition == lead and kind != ROUND:
            groups: dict[str, Mapping[str, Guide]] = {REVIEW: publication.cards, GUIDE: publication.guides}
            holder = groups[kind][id] if kind in groups else publication.about
            yield from (text.file for text in holder.texts) if holder else ()


def _without(guide: G, kind: str, waiting: set[tuple[str, str, str]]) -> G:
    id = "" if kind == ABOUT else guide.id
    kept = tuple(text for text in guide.texts if (kind, id, text.lang) not in waiting)
    return guide if len(kept) == len(guide.texts) else replace(guide, texts=kept)
