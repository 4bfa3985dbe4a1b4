"""A publication as it may be shown on a day: texts that still wait are not in it, so no page can let them slip.

The day is an input like any file. The same files and the same day give the same site.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from sitegen.records.keeping import Altered
from sitegen.records.ledger import NOT_YET, Sample
from sitegen.records.publication import Held, Publication
from sitegen.records.references import used_photos
from sitegen.records.text_files import Review

V = TypeVar("V")


def as_of(publication: Publication, day: dt.date) -> Publication:
    """The publication without what waits beyond `day`, with its ledger as it stood then.

    A review that waits in some editions loses the texts of these. One that waits in all goes altogether; if it
    carries its own product and readings, these go with it.
    """
    publication = _with_ledger_of(publication, day)
    held = tuple(_held(publication, day))
    if not held:
        return publication
    waiting = {(entry.review, entry.edition) for entry in held}
    reviews = {id: _without(publication.reviews[id], waiting) for id in {entry.review for entry in held}}
    hidden = {
        id for id, review in reviews.items()
        if not review.texts or all((id, tag) in waiting for tag in publication.settings.tags)
    }  # fmt: skip
    # What still shows can't follow a lead that doesn't: its notes would speak of it.
    unfollowed = {
        text.file
        for id in reviews
        if (id, publication.settings.lead) in waiting
        for text in publication.cards[id].texts
    }
    gone = hidden & publication.short
    shown = replace(
        publication, reviews=Altered(publication.reviews, hidden, reviews), held=held,
        follows={name: follows for name, follows in publication.follows.items() if name not in unfollowed},
        products=Altered(publication.products, gone), names=_but(publication.names, gone),
        versions=_but(publication.versions, gone),
        reviewed=_but(publication.reviewed, hidden), short=publication.short - hidden,
        elsewhere=_but(publication.elsewhere, hidden),
        outline=f"{publication.outline} {held}" if publication.outline else "",
        rounds={id: round for id, round in publication.rounds.items() if id not in gone},
        readings=Altered(publication.readings, gone),
        samples=tuple(s for s in publication.samples if s.product is None or s.product.id not in gone),
    )  # fmt: skip
    return replace(shown, pictures=tuple(used_photos(shown)))


def _with_ledger_of(publication: Publication, day: dt.date) -> Publication:
    """The publication with its ledger as it stood on `day`: a day to come is no day on which a sample came or went back."""
    if day == dt.date.min:
        return publication  # no day was given: every embargo holds, but the ledger's days can't be judged
    samples = tuple(_sample_of(sample, day) for sample in publication.samples)
    if samples == publication.samples:
        return publication
    outline = f"{publication.outline} {samples}" if publication.outline else ""
    return replace(publication, samples=samples, known_index=None, outline=outline)


def _sample_of(sample: Sample, day: dt.date) -> Sample:
    back, came = sample.returned, sample.received
    if isinstance(back, dt.date) and back > day:
        sample = replace(sample, returned=NOT_YET, due=back) if sample.lent else replace(sample, returned=None)
    return replace(sample, received=None) if came and came > day else sample


def _but(named: Mapping[str, V], gone: set[str]) -> dict[str, V]:
    return {id: value for id, value in named.items() if id not in gone}


def _held(publication: Publication, day: dt.date) -> Iterator[Held]:
    for id, first in publication.elsewhere.items():
        for tag in publication.settings.tags:
            until = first.until(tag)
            if until is not None and until > day:
                yield Held(id, tag, until)


def _without(review: Review, waiting: set[tuple[str, str]]) -> Review:
    kept = tuple(text for text in review.texts if (review.id, text.lang) not in waiting)
    return review if len(kept) == len(review.texts) else replace(review, texts=kept)
