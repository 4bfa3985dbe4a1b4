"""The facts of the ledger as sentences of one language."""

import datetime as dt
from collections.abc import Iterable, Mapping

from sitegen.figures.dates import date_text
from sitegen.figures.edition import Edition
from sitegen.findings.disclosure import Fact
from sitegen.records.words import Words


def word_fact(edition: Edition, fact: Fact, sentences: Mapping[str, Words]) -> str:
    """One fact as a sentence; KeyError for a key that no stock sentence has, which a test rules out."""
    values = {name: _word(edition, name, value) for name, value in fact.values.items()}
    return edition.say(sentences[fact.key]).format_map(values)


def _word(edition: Edition, name: str, value: str | dt.date | Words) -> str:
    if isinstance(value, dt.date):
        return date_text(edition.lang, value)
    if isinstance(value, Words):
        return edition.say(value)
    return edition.product(value) if name == "product" else value


def word_facts(edition: Edition, facts: Iterable[Fact], sentences: Mapping[str, Words]) -> tuple[str, ...]:
    """Facts as sentences, in order."""
    return tuple(word_fact(edition, fact, sentences) for fact in facts)
