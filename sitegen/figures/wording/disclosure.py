"""The facts of the ledger as sentences of one language."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from sitegen.figures.answers.ranks import counted
from sitegen.figures.forms import numbers
from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.forms.messages import msgid, plural_msgid
from sitegen.findings.disclosure import Fact, count_samples
from sitegen.records.fields.words import Words
from sitegen.records.ledger import Sample

# How samples came: said of the only sample, of one among others, of several among others. Lent ones come last, since what
# became of them follows.
_WAYS = {
    "bought": (msgid("bought"), *plural_msgid("one bought", "{n} bought")),
    "received_keep": (msgid("given to keep"), *plural_msgid("one given to keep", "{n} given to keep")),
    "own": (msgid("our own"), *plural_msgid("one of our own", "{n} of our own")),
    "loaned": (msgid("on loan"), *plural_msgid("one on loan", "{n} on loan")),
}
_ALL = {
    "bought": msgid("all bought"), "received_keep": msgid("all given to keep"), "own": msgid("all our own"),
    "loaned": msgid("all on loan"),
}  # fmt: skip
# What became of lent ones: said of the only one, of all, of one among others, of several among others.
_ENDS = {
    "returned": (msgid("it has gone back"), msgid("these have gone back"), "", ""),
    "not_back": (msgid("it is still here"), msgid("these are still here"),
                 *plural_msgid("one of these is still here", "{n} of these are still here")),
    "used_up": (msgid("it was used up in the test"), msgid("these were used up in the test"),
                *plural_msgid("one of these was used up in the test", "{n} of these were used up in the test")),
}  # fmt: skip


def word_fact(edition: Edition, fact: Fact, sentences: Mapping[str, Words]) -> str:
    """One fact as a sentence; KeyError for a key that no stock sentence has, which a test rules out."""
    values = {name: _word(edition, name, value) for name, value in fact.values.items()}
    return edition.say(sentences[fact.key]).format_map(values)


def _word(edition: Edition, name: str, value: str | dt.date | Words | tuple[str, ...]) -> str:
    if isinstance(value, tuple):
        return numbers.listing(edition.lang, [edition.product(product) for product in value])
    if isinstance(value, dt.date):
        return date_text(edition.lang, value)
    if isinstance(value, Words):
        return edition.say(value).rstrip(".")  # the sentence it is put into has a full stop of its own
    return edition.product(value) if name == "product" else value


def word_facts(edition: Edition, facts: Iterable[Fact], sentences: Mapping[str, Words]) -> tuple[str, ...]:
    """Facts as sentences, in order."""
    return tuple(word_fact(edition, fact, sentences) for fact in facts)


def count_text(edition: Edition, samples: Sequence[Sample]) -> str:
    """How many samples there are, how they were obtained, and what became of lent ones, in one sentence.

    Of lent ones, those that are still here or were used up are counted; the others have gone back.
    """
    t, count, n = edition.lang, count_samples(samples), len(samples)
    if not samples:
        return t.text("No samples yet.")
    said = {kind: count.get(kind, 0) for kind in _WAYS}
    said["loaned"] += count.get("borrowed_private", 0)
    ways = ", ".join(_way(edition, kind, of, n) for kind, of in said.items() if of)
    if said["loaned"]:
        became = _became(edition, count, said["loaned"])
        ways = t.text("{ways}; {became}", ways=ways, became=numbers.listing(t, became))
    return capital(t.plural("One sample: {ways}.", "{n} samples: {ways}.", n, n=counted(edition, n), ways=ways))


def _way(edition: Edition, kind: str, of: int, samples: int) -> str:
    """How many samples came in one way; without their number where all did."""
    t = edition.lang
    alone, one, several = _WAYS[kind]
    if of < samples:
        return t.plural(one, several, of, n=counted(edition, of))
    return t.text(alone) if of == 1 else t.text(_ALL[kind])


def _became(edition: Edition, count: Mapping[str, int], lent: int) -> list[str]:
    """What became of lent samples: said of all where it is the same, else of those that haven't gone back."""
    t = edition.lang
    found = []
    for kind, (alone, every, one, several) in _ENDS.items():
        of = count.get(kind, 0)
        if of == lent:
            return [t.text(alone if lent == 1 else every)]
        if of and one:
            found.append(t.plural(one, several, of, n=counted(edition, of)))
    return found
