"""A publication as it may be shown on a day: texts that still wait are not in it, so no page can let them slip.

The day is an input like any file. The same files and the same day give the same site.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from sitegen.records.publication import Held, Publication
from sitegen.records.text_files import Review


def as_of(publication: Publication, day: dt.date) -> Publication:
    """The publication without what waits beyond `day`.

    A review that waits in some editions loses the texts of these. One that waits in all goes altogether; if it
    carries its own product and readings, these go with it.
    """
    held = tuple(_held(publication, day))
    if not held:
        return publication
    waiting = {(entry.review, entry.edition) for entry in held}
    reviews = {id: _without(review, waiting) for id, review in publication.reviews.items()}
    shown = {
        id: review for id, review in reviews.items()
        if review.texts and not all((id, tag) in waiting for tag in publication.settings.tags)
    }  # fmt: skip
    # What still shows can't follow a lead that doesn't: its notes would speak of it.
    unfollowed = {
        text.file
        for id, review in publication.reviews.items()
        if (id, publication.settings.lead) in waiting
        for text in review.texts
    }
    gone = {id for id, review in reviews.items() if id not in shown and review.short}
    return replace(
        publication, reviews=shown, held=held,
        follows={name: follows for name, follows in publication.follows.items() if name not in unfollowed},
        products={id: product for id, product in publication.products.items() if id not in gone},
        rounds={id: round for id, round in publication.rounds.items() if id not in gone},
        readings={id: readings for id, readings in publication.readings.items() if id not in gone},
        samples=tuple(s for s in publication.samples if s.product is None or s.product.id not in gone),
    )  # fmt: skip


def _held(publication: Publication, day: dt.date) -> Iterator[Held]:
    for id, review in publication.reviews.items():
        for tag in publication.settings.tags if review.facts.first_published else ():
            assert review.facts.first_published is not None
            until = review.facts.first_published.until(tag)
            if until is not None and until > day:
                yield Held(id, tag, until)


def _without(review: Review, waiting: set[tuple[str, str]]) -> Review:
    kept = tuple(text for text in review.texts if (review.id, text.lang) not in waiting)
    return review if len(kept) == len(review.texts) else replace(review, texts=kept)
