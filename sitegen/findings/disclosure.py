"""What the ledger lets one say of a sample: facts in the order of telling, never a word more.

A fact is the key of a stock sentence with the values that fill it. What the ledger doesn't hold gives
no fact, so no sentence; what must be there has been asked for when the ledger was read.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field

from sitegen.datatypes import dataclass
from sitegen.records.fields.words import Words
from sitegen.records.ledger import BOUGHT, KEPT, SELF, Sample
from sitegen.records.settings import Settings
from sitegen.records.texts.first_published import FirstPublished

_WEAK = frozenset({"benefit.some", "preview.facts_only", "preview.full_text"})
_SHARED = ("preview.facts_only", "preview.full_text")  # said once of all products that they hold for
_TAKEN = {"paid": "takes_pay", "affiliate": "takes_commission", "advertising": "takes_advertising"}


@dataclass(frozen=True, slots=True)
class Fact:
    """The key of a sentence and what fills its places: texts, dates, words; `product` is always an id, or several."""

    key: str
    values: Mapping[str, str | dt.date | Words | tuple[str, ...]] = field(default_factory=dict)


def sample_facts(sample: Sample) -> tuple[Fact, ...]:
    """Everything that may be said of one sample, in order.

    Sources: the duties listed by advertising codes (who supplied it, on what terms, what was seen before
    publication); which facts are asked for is common practice, no source.
    """
    return tuple(_facts(sample))


def _facts(sample: Sample) -> Iterator[Fact]:
    product = sample.product.id if sample.product else ""
    role = sample.role or SELF  # bought, and not said where
    yield Fact(f"obtained.{sample.obtained}.{role}", {"product": product, "from": sample.source})
    if sample.received:
        yield Fact("received", {"date": sample.received})
    if sample.selected_by and not sample.own:
        yield Fact(f"selected_by.{sample.selected_by}")
    if not sample.own:
        yield from _terms(sample, product)
    elif sample.benefit is not None and not sample.no_benefit:
        yield Fact("benefit.some", {"product": product, "what": sample.benefit})
    yield from _end(sample)


def _terms(sample: Sample, product: str) -> Iterator[Fact]:
    """On what terms a supplier gave it. That nothing was given is said only where it wasn't paid for."""
    if sample.shipping and sample.obtained != BOUGHT:
        yield Fact(f"shipping.{sample.shipping}")
    if sample.benefit is not None and not sample.no_benefit:
        yield Fact("benefit.some", {"product": product, "what": sample.benefit})
    elif sample.no_benefit and sample.obtained != BOUGHT:
        yield Fact("benefit.none")
    if sample.preview == "none":
        yield Fact("preview.none")
    elif sample.preview:
        yield Fact(f"preview.{sample.preview}", {"product": product})


def _end(sample: Sample) -> Iterator[Fact]:
    """What became of it: gone back, used up, still here, or ours."""
    given = sample.obtained == KEPT
    if isinstance(sample.returned, dt.date):
        yield Fact("returned.gift" if given else "returned.plain", {"date": sample.returned})
    elif sample.used_up is not None:
        yield Fact("used_up.lent" if sample.lent else "used_up.here", {"what": sample.used_up})
    elif sample.lent:
        yield Fact("not_yet_returned.due", {"due": sample.due}) if sample.due else Fact("not_yet_returned.plain")
    elif given:
        yield Fact("kept")
    if sample.receipt:
        yield Fact("receipt", {"what": sample.receipt})


def short_facts(samples: Iterable[Sample]) -> tuple[Fact, ...]:
    """How each sample came and what became of it, with whatever weakens independence: near the top of a page."""
    return together(fact for sample in samples for fact in sample_facts(sample) if _is_short(fact))


def _is_short(fact: Fact) -> bool:
    kind = fact.key.partition(".")[0]
    return fact.key in _WEAK or kind in {"obtained", "returned", "not_yet_returned", "used_up", "kept"}


def weak_facts(samples: Iterable[Sample], first: FirstPublished | None, settings: Settings) -> tuple[Fact, ...]:
    """Whatever weakens independence: what the publication takes, an outlet's fee, then benefits and previews."""
    policies = [fact for fact in independence_facts(settings) if fact.key.partition(".")[2] in _TAKEN.values()]
    fee = [Fact("fee", {"from": first.outlet})] if first is not None and first.fee else []
    return (
        *policies,
        *fee,
        *together(fact for sample in samples for fact in sample_facts(sample) if fact.key in _WEAK),
    )


def together(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """The facts with each that several products share said once, with all of them, where it stood last.

    >>> shown = [Fact("preview.full_text", {"product": product}) for product in ("halde", "tarn", "halde")]
    >>> [(fact.key, fact.values["product"]) for fact in together(shown)]
    [('preview.full_text_several', ('halde', 'tarn'))]
    """
    told = tuple(facts)
    last = {fact.key: place for place, fact in enumerate(told) if fact.key in _SHARED}
    products = {key: tuple(dict.fromkeys(str(f.values["product"]) for f in told if f.key == key)) for key in last}
    found = []
    for place, fact in enumerate(told):
        if fact.key not in last:
            found.append(fact)
        elif place == last[fact.key]:
            of = products[fact.key]
            found.append(Fact(f"{fact.key}_several", {"product": of}) if len(of) > 1 else fact)
    return tuple(found)


def independence_facts(settings: Settings, *, disclosed_pay: bool = False) -> tuple[Fact, ...]:
    """What the publication takes and doesn't take: all three denials together, or each by itself.

    `disclosed_pay`: a benefit or a fee is disclosed somewhere in the publication, which a denial has to except.
    """
    policies = settings.policies
    if policies is None:
        return ()
    if settings.independent and not disclosed_pay:
        return (Fact("independence.combined"),)
    answers = {"paid": policies.paid, "affiliate": policies.affiliate, "advertising": policies.advertising}
    denials = {key: key for key in answers} | ({"paid": "paid_else"} if disclosed_pay else {})
    return tuple(Fact(f"independence.{_TAKEN[key] if taken else denials[key]}") for key, taken in answers.items())


def pay_is_disclosed(samples: Iterable[Sample], elsewhere: Iterable[FirstPublished]) -> bool:
    """Whether any sample came with a benefit, or an outlet paid for any text."""
    with_benefit = any(sample.benefit is not None and not sample.no_benefit for sample in samples)
    return with_benefit or any(first.fee for first in elsewhere)


def count_samples(samples: Iterable[Sample]) -> dict[str, int]:
    """How many samples were obtained in each way (`own`: own gear), and what became of lent ones.

    Of lent ones: `returned`, `used_up`, or still here (`not_back`).
    """
    count: dict[str, int] = {}
    for sample in samples:
        kinds = ["own" if sample.own else sample.obtained]
        if sample.lent and isinstance(sample.returned, dt.date):
            kinds.append("returned")
        elif sample.lent:
            kinds.append("used_up" if sample.used_up is not None else "not_back")
        for kind in kinds:
            count[kind] = count.get(kind, 0) + 1
    return count
