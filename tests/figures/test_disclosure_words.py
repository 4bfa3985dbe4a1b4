"""The ledger in sentences: every fact a whole sentence in each language, nothing left unfilled, nothing private."""

import datetime as dt

import pytest
from small_records import edition, small_publication

from sitegen.figures.wording.disclosure import count_text, word_fact, word_facts
from sitegen.findings.disclosure import Fact, independence_facts, sample_facts
from sitegen.records.fields.words import plain_words
from sitegen.records.ledger import Sample
from sitegen.records.publication import Publication

LANGUAGES = ("en", "de", "nl", "fr")


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


@pytest.mark.parametrize("tag", LANGUAGES)
def test_every_sample_is_told_in_whole_sentences(tag: str, small: Publication) -> None:
    """One sentence a fact, each ending in a full stop, no place left open, names and dates put in."""
    words = edition(small, tag)
    for sample in small.samples:
        facts = sample_facts(sample)
        told = word_facts(words, facts, small.stock.sentences)
        assert len(told) == len(facts)
        assert all(sentence.endswith(".") and not {"{", "}"} & set(sentence) for sentence in told)
        assert "2026" in " ".join(told)
    assert "Wollgras" in word_facts(words, sample_facts(small.samples[0]), small.stock.sentences)[0]


def test_the_sentences_in_english(small: Publication) -> None:
    """Read once by a person: what came, how, on what terms, where it is."""
    assert word_facts(edition(small), sample_facts(small.samples[0]), small.stock.sentences) == (
        "The maker, Wollgras, lent us the sample of Tarn 3 for the test.",
        "It reached us on August 3, 2026.",
        "The supplier chose the sample, so it may have been hand-picked.",
        "The supplier paid for shipping.",
        "No money and no other benefit came with the sample.",
        "The supplier did not see the text before it appeared.",
        "The sample has not gone back yet; the agreed date of return is November 30, 2026.",
    )


@pytest.mark.parametrize("tag", LANGUAGES)
def test_every_stock_sentence_can_be_filled(tag: str, small: Publication) -> None:
    """Given all values that facts carry, no sentence has a place that nothing fills."""
    values = {name: name.upper() for name in ("product", "from", "date", "due", "what", "maker")}
    for key in small.stock.sentences:
        assert "{" not in word_fact(edition(small, tag), Fact(key, values), small.stock.sentences), key


def test_braces_in_a_makers_name_are_harmless(small: Publication) -> None:
    """A supplier called {x} is a name: it is put in as it is, and fills nothing."""
    fact = Fact("obtained.loaned.maker", {"product": "tarn", "from": "{date} {0} {from.__class__}"})
    assert "{date} {0} {from.__class__}" in word_fact(edition(small), fact, small.stock.sentences)


@pytest.mark.parametrize("tag", LANGUAGES)
def test_independence_is_one_sentence(tag: str, small: Publication) -> None:
    """All three denials in one breath."""
    assert len(word_facts(edition(small, tag), independence_facts(small.settings), small.stock.sentences)) == 1


def sample(obtained: str, **more: object) -> Sample:
    return Sample(obtained=obtained, **{"role": "shop"} | more)  # type: ignore[arg-type]


LENT, BACK = sample("loaned", returned="not yet"), sample("loaned", returned=dt.date(2026, 10, 20))
BOUGHT, GIVEN, OWN = sample("bought"), sample("received_keep"), sample("borrowed_private", role="self")
USED = sample("loaned", used_up=plain_words("cut up"))
BORROWED = sample("borrowed_private", role="reader", returned="not yet")


@pytest.mark.parametrize(
    ("samples", "said"),
    [
        ([], "No samples yet."),
        ([BOUGHT], "One sample: bought."),
        ([GIVEN], "One sample: given to keep."),
        ([LENT], "One sample: on loan; it is still here."),
        ([USED], "One sample: on loan; it was used up in the test."),
        ([BOUGHT, LENT], "Two samples: one bought, one on loan; it is still here."),
        ([BACK, BACK], "Two samples: all on loan; these have gone back."),
        ([BOUGHT, *[BACK] * 6, LENT], "Eight samples: one bought, seven on loan; one of these is still here."),
        ([*[BACK] * 3, BORROWED, LENT], "Five samples: all on loan; two of these are still here."),
        (
            [OWN, GIVEN, GIVEN, BACK, LENT, USED],
            "Six samples: two given to keep, one of our own, three on loan; one of these is still here and one of "
            "these was used up in the test.",
        ),
        ([*[BOUGHT] * 12, BACK], "13 samples: twelve bought, one on loan; it has gone back."),
    ],
)
def test_samples_are_counted_in_one_sentence(samples: list[Sample], said: str, small: Publication) -> None:
    """How many, how they came, how many lent ones aren't back; counts below thirteen in words."""
    assert count_text(edition(small), samples) == said


def test_the_count_in_other_languages(small: Publication) -> None:
    """Read once by a person who speaks them."""
    samples = [BOUGHT, *[BACK] * 6, LENT]
    assert {tag: count_text(edition(small, tag), samples) for tag in ("de", "nl", "fr")} == {
        "de": "Acht Muster: eins gekauft, sieben geliehen; von diesen ist noch eins hier.",
        "nl": "Acht exemplaren: één gekocht, zeven in bruikleen; daarvan is er nog één hier.",
        "fr": "Huit exemplaires\u00a0: un acheté, sept prêtés\u202f; l’un de ceux-ci est encore chez nous.",
    }


def test_words_of_the_ledger_that_end_in_a_full_stop_get_no_second_one(small: Publication) -> None:
    """A benefit written as a sentence ends the sentence it is put into once."""
    fact = Fact("benefit.some", {"product": "tarn", "what": plain_words("two stuff sacks.")})
    assert word_fact(edition(small), fact, small.stock.sentences).endswith("two stuff sacks.")
    assert not word_fact(edition(small), fact, small.stock.sentences).endswith("..")
