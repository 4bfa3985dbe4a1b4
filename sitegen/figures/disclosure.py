"""The facts of the ledger as sentences of one language."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from sitegen.figures.dates import date_text
from sitegen.figures.edition import Edition
from sitegen.findings.disclosure import Fact, count_samples
from sitegen.records.ledger import Sample
from sitegen.records.words import Words


def word_fact(edition: Edition, fact: Fact, sentences: Mapping[str, Words]) -> str:
    """One fact as a sentence; KeyError for a key that no stock sentence has, which a test rules out."""
    values = {name: _word(edition, name, value) for name, value in fact.values.items()}
    return edition.say(sentences[fact.key]).format_map(values)


def _word(edition: Edition, name: str, value: str | dt.date | Words) -> str:
    if isinstance(value, dt.date):
        return date_text(edition.lang, value)
    if isinstance(value, Words):
        return edition.say(value).rstrip(".")  # the sentence it is put into has a full stop of its own
    return edition.product(value) if name == "product" else value


def word_facts(edition: Edition, facts: Iterable[Fact], sentences: Mapping[str, Words]) -> tuple[str, ...]:
    """Facts as sentences, in order."""
    return tuple(word_fact(edition, fact, sentences) for fact in facts)


def count_text(edition: Edition, samples: Sequence[Sample]) -> str:
    """How many samples there are, how they were obtained, and what became of lent ones."""
    lang = edition.lang
    count = count_samples(samples)
    sentences = [lang.plural("{n} sample.", "{n} samples.", len(samples))]
    if count.get("bought"):
        sentences.append(lang.plural("{n} was bought.", "{n} were bought.", count["bought"]))
    if count.get("received_keep"):
        sentences.append(lang.plural("{n} was given to keep.", "{n} were given to keep.", count["received_keep"]))
    if count.get("own"):
        sentences.append(lang.plural("{n} is our own.", "{n} are our own.", count["own"]))
    lent = count.get("loaned", 0) + count.get("borrowed_private", 0)
    if lent:
        sentences.append(lang.plural("{n} came on loan.", "{n} came on loan.", lent))
    if count.get("returned"):
        sentences.append(lang.plural("{n} has gone back.", "{n} have gone back.", count["returned"]))
    if count.get("used_up"):
        used = lang.plural("{n} was used up in the test.", "{n} were used up in the test.", count["used_up"])
        sentences.append(used)
    if count.get("not_back"):
        still = lang.plural("{n} has not gone back yet.", "{n} have not gone back yet.", count["not_back"])
        sentences.append(still)
    return " ".join(sentences)
