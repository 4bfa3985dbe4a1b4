"""What the ledger lets one say of a sample: facts in the order of telling, never a word more.

A fact is the key of a stock sentence with the values that fill it. What the ledger doesn't hold gives
no fact, so no sentence; what must be there has been asked for when the ledger was read.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field

from sitegen.datatypes import dataclass
from sitegen.records.ledger import BOUGHT, NOT_YET, Sample
from sitegen.records.settings import Settings
from sitegen.records.words import Words

SELF = "self"


@dataclass(frozen=True, slots=True)
class Fact:
    """The key of a sentence and what fills its places: texts, dates, words; `product` is always an id."""

    key: str
    values: Mapping[str, str | dt.date | Words] = field(default_factory=dict)


def sample_facts(sample: Sample) -> tuple[Fact, ...]:
    """Everything that may be said of one sample, in order.

    Sources: the duties listed by advertising codes (who supplied it, on what terms, what was seen before
    publication); which facts are asked for is common practice, no source.
    """
    return tuple(_facts(sample))


def _facts(sample: Sample) -> Iterator[Fact]:
    product = sample.product.id if sample.product else ""
    role = sample.role or SELF
    yield Fact(f"obtained.{sample.obtained}.{role}", {"product": product, "from": sample.source})
    if sample.received:
        yield Fact("received", {"date": sample.received})
    if sample.selected_by:
        yield Fact(f"selected_by.{sample.selected_by}")
    if sample.shipping and sample.obtained != BOUGHT:
        yield Fact(f"shipping.{sample.shipping}")
    if sample.benefit is not None and sample.obtained != BOUGHT:
        yield Fact("benefit.none") if sample.no_benefit else Fact("benefit.some", {"what": sample.benefit})
    if sample.preview:
        yield Fact(f"preview.{sample.preview}")
    yield from _end(sample)


def _end(sample: Sample) -> Iterator[Fact]:
    """What became of it: gone back, used up, or still here."""
    if isinstance(sample.returned, dt.date):
        yield Fact("returned", {"date": sample.returned})
    elif sample.used_up is not None:
        yield Fact("used_up", {"what": sample.used_up})
    elif sample.returned == NOT_YET and sample.due:
        yield Fact("not_yet_returned.due", {"due": sample.due})
    elif sample.returned == NOT_YET:
        yield Fact("not_yet_returned.plain")
    if sample.receipt:
        yield Fact("receipt", {"what": sample.receipt})


def short_facts(samples: Iterable[Sample]) -> tuple[Fact, ...]:
    """The two facts that stand near the top of a page: how it came, and what became of it."""
    facts: list[Fact] = []
    for sample in samples:
        every = sample_facts(sample)
        facts += [
            fact
            for fact in every
            if fact.key.partition(".")[0] in {"obtained", "returned", "not_yet_returned", "used_up"}
        ]
    return tuple(facts)


def independence_facts(settings: Settings) -> tuple[Fact, ...]:
    """What the publication may say of its independence: all three denials together, or those that hold."""
    policies = settings.policies
    if policies is None:
        return ()
    if settings.independent:
        return (Fact("independence.combined"),)
    denied = {"paid": policies.paid, "affiliate": policies.affiliate, "advertising": policies.advertising}
    return tuple(Fact(f"independence.{key}") for key, taken in denied.items() if not taken)


def count_samples(samples: Iterable[Sample]) -> dict[str, int]:
    """How many samples were obtained in each way, and how many lent ones are still here (`not_back`)."""
    count: dict[str, int] = {}
    for sample in samples:
        count[sample.obtained] = count.get(sample.obtained, 0) + 1
        if sample.lent and not isinstance(sample.returned, dt.date) and sample.used_up is None:
            count["not_back"] = count.get("not_back", 0) + 1
    return count
