"""What of a publication waits beyond a day, so that no page can let it slip.

The day is an input like any file. The same files and the same day give the same site.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace

from sitegen.datatypes import dataclass
from sitegen.records.ledger import NOT_YET, Sample
from sitegen.records.publication import Held, Publication
from sitegen.records.texts.text_files import Days, Guide, days_of

REVIEW, GUIDE, ABOUT, ROUND = "review", "guide", "about", "round"
NO_DAY = dt.date.min
"""No day is said: every embargo holds, and a text does not wait for the day that it is dated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What waits: texts by kind of page, id and language; pages of which nothing may be shown, by kind and id.

    `gone` are the products and rounds that only a hidden review carries. A round in `unmeasured` counts as not measured
    yet, so that it has no page and is nobody's latest; its readings stay for the reviews that name it. `unfollowed` are
    translations whose lead waits: notes about what they follow would speak of it.
    """

    held: tuple[Held, ...] = ()
    texts: frozenset[tuple[str, str, str]] = frozenset()
    hidden: frozenset[tuple[str, str]] = frozenset()
    gone: frozenset[str] = frozenset()
    unmeasured: frozenset[str] = frozenset()
    unfollowed: frozenset[str] = frozenset()


def waiting_on(publication: Publication, day: dt.date) -> Waiting:
    """What of a publication waits beyond `day`: under an embargo, or because it is dated later.

    A page that waits in some editions loses the texts of these. One that waits in all goes altogether; if a review
    carries its own product and readings, these go with it.
    """
    held = tuple(_held(publication, day))
    waiting = frozenset((entry.kind, entry.id, entry.edition) for entry in held)
    hidden = frozenset(
        (kind, id) for kind, id in {(e.kind, e.id) for e in held if e.kind != ROUND}
        if _is_hidden(_holder(publication, kind, id), kind, publication, waiting)
    )  # fmt: skip
    entered = {e.product.id for round in publication.rounds.values() if not round.single for e in round.entrants}
    return Waiting(
        held=held,
        texts=waiting,
        hidden=hidden,
        gone=frozenset({id for kind, id in hidden if kind == REVIEW and id in publication.short} - entered),
        unmeasured=frozenset(entry.id for entry in held if entry.kind == ROUND),
        unfollowed=frozenset(_unfollowed(publication, waiting)),
    )


def _holder(publication: Publication, kind: str, id: str) -> Guide | None:
    groups: dict[str, Mapping[str, Guide]] = {REVIEW: publication.reviews, GUIDE: publication.guides}
    return groups[kind][id] if kind in groups else publication.about


def ledger_on(samples: tuple[Sample, ...], day: dt.date) -> tuple[Sample, ...]:
    """The ledger as it stood on `day`: a day to come is no day on which a sample came or went back."""
    if day == NO_DAY:
        return samples  # the ledger's days can't be judged
    return tuple(_sample_on(sample, day) for sample in samples)


def _sample_on(sample: Sample, day: dt.date) -> Sample:
    back, came = sample.returned, sample.received
    if isinstance(back, dt.date) and back > day:
        sample = replace(sample, returned=NOT_YET, due=back) if sample.lent else replace(sample, returned=None)
    return replace(sample, received=None) if came and came > day else sample


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


def _is_hidden(
    guide: Guide | None, kind: str, publication: Publication, waiting: frozenset[tuple[str, str, str]]
) -> bool:
    """Whether no edition shows it."""
    id = "" if kind == ABOUT or guide is None else guide.id
    texts = [text for text in guide.texts if (kind, id, text.lang) not in waiting] if guide is not None else []
    return not texts or all((kind, id, tag) in waiting for tag in publication.settings.tags)


def _unfollowed(publication: Publication, waiting: frozenset[tuple[str, str, str]]) -> Iterator[str]:
    """The translations whose lead waits: what still shows can't follow it, its notes would speak of it."""
    lead = publication.settings.lead
    for kind, id, edition in waiting:
        if edition == lead and kind != ROUND:
            holder = _holder(publication, kind, id)
            yield from (text.file for text in holder.texts) if holder is not None else ()
