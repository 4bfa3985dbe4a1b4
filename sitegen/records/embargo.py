"""What of a publication waits beyond a day, so that no page can let it slip.

The day is an input like any file. The same files and the same day give the same site.
"""

import datetime as dt
from collections.abc import Iterator

from sitegen.datatypes import dataclass
from sitegen.records.publication import Held, Publication


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What waits: texts by kind of page, id and language; reviews, guides and rounds of which nothing may be shown.

    `unfollowed` are translations whose lead waits: notes about what they follow would speak of it. A review that
    carries its own readings takes the round and the product of its id with it.
    """

    held: tuple[Held, ...] = ()
    texts: frozenset[tuple[str, str, str]] = frozenset()
    reviews: frozenset[str] = frozenset()
    guides: frozenset[str] = frozenset()
    rounds: frozenset[str] = frozenset()
    unfollowed: frozenset[str] = frozenset()


def waiting_on(publication: Publication, day: dt.date) -> Waiting:
    """What of a publication waits beyond `day`: editions of reviews that are under an embargo.

    A review that waits in some editions loses the texts of these. One that waits in all goes altogether; if it
    carries its own product and readings, these go with it.
    """
    held = tuple(_held(publication, day))
    waiting = {(entry.review, entry.edition) for entry in held}
    reviews = {entry.review for entry in held}
    tags = publication.settings.tags
    hidden = {
        id for id in reviews
        if all((id, text.lang) in waiting for text in publication.reviews[id].texts)
        or all((id, tag) in waiting for tag in tags)
    }  # fmt: skip
    unfollowed = {
        text.file
        for id in reviews
        if (id, publication.settings.lead) in waiting
        for text in publication.reviews[id].texts
    }
    return Waiting(
        held=held,
        texts=frozenset(("review", id, tag) for id, tag in waiting),
        reviews=frozenset(hidden),
        rounds=frozenset(hidden & publication.short),
        unfollowed=frozenset(unfollowed),
    )


def _held(publication: Publication, day: dt.date) -> Iterator[Held]:
    for id, first in publication.elsewhere.items():
        for tag in publication.settings.tags:
            until = first.until(tag)
            if until is not None and until > day:
                yield Held(id, tag, until)
