"""What may be said of a sample: every fact the ledger holds, no other, in the order of telling."""

import datetime as dt
from dataclasses import replace
from itertools import product

import pytest
from small_records import small_publication

from sitegen.findings.disclosure import count_samples, independence_facts, sample_facts, short_facts
from sitegen.problems import Problems
from sitegen.records import ledger
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.words import plain_words
from sitegen.records.ledger import OBTAINED, ROLES, Sample, check_sample
from sitegen.records.publication import Publication
from sitegen.records.settings import Policies

PLACE = Sample(obtained="bought").place


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def keys(sample: Sample) -> list[str]:
    return [fact.key for fact in sample_facts(sample)]


LENT = Sample(
    obtained="loaned", product=Ref("tarn", PLACE), source="Wollgras", role="maker", selected_by="supplier", received=dt.date(2026, 8, 3),
    shipping="us", benefit=plain_words("none"), preview="none", returned="not yet",
)  # fmt: skip


def test_facts_stand_in_the_order_of_telling() -> None:
    """How it came, when, who chose it, who paid its way, what else was given, who read before, what became of it."""
    assert keys(LENT) == [
        "obtained.loaned.maker", "received", "selected_by.supplier", "shipping.us", "benefit.none", "preview.none", "not_yet_returned.plain",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "last"),
    [
        ({"returned": dt.date(2026, 10, 20)}, "returned.plain"),
        ({"due": dt.date(2026, 11, 30)}, "not_yet_returned.due"),
        ({"used_up": plain_words("cut up for the test"), "returned": None}, "used_up.lent"),
        ({"receipt": "R-1"}, "receipt"),
    ],
)
def test_the_end_is_told(change: dict[str, object], last: str) -> None:
    """Gone back, due, used up, or still here: one of them, as the ledger has it."""
    assert keys(replace(LENT, **change))[-1] == last  # type: ignore[arg-type]


def test_what_the_ledger_does_not_hold_is_not_said() -> None:
    """No sentence about shipping, benefit or preview of a sample of which nothing is known but that it was bought."""
    assert keys(Sample(obtained="bought", product=Ref("tarn", PLACE))) == ["obtained.bought.self"]


def test_a_benefit_is_never_kept_silent() -> None:
    """Anything but none is told, in the ledger's own words."""
    facts = {fact.key: fact for fact in sample_facts(replace(LENT, benefit=plain_words("a hotel night")))}
    assert "benefit.none" not in facts
    assert facts["benefit.some"].values["what"] == plain_words("a hotel night")


def test_every_sample_that_passes_the_check_has_its_sentences(small: Publication) -> None:
    """No pair of origin and role that the ledger accepts lacks a stock sentence; no pair with a sentence is refused."""
    for obtained, role in product(OBTAINED, ROLES):
        lent = obtained in {"loaned", "borrowed_private"} and role != "self"
        who = "us" if role == "self" else "supplier"
        sample = replace(LENT, obtained=obtained, role=role, selected_by=who, receipt="R-1")
        sample = sample if lent else replace(sample, returned=None)
        problems = Problems()
        check_sample(sample, problems)
        has_sentence = f"obtained.{obtained}.{role}" in small.stock.sentences
        assert ("sample-role" not in {p.code for p in problems}) is has_sentence, (obtained, role)
        if has_sentence:
            assert not problems.has_errors, list(problems)
            assert set(keys(sample)) <= set(small.stock.sentences)


def test_a_sentence_with_a_name_needs_the_name(small: Publication) -> None:
    """Where the stock sentence names the supplier, a sample without one is refused; readers and lenders stay unnamed."""
    for obtained, role in product(OBTAINED, ROLES):
        words = small.stock.sentences.get(f"obtained.{obtained}.{role}")
        if words is None:
            continue
        problems = Problems()
        check_sample(replace(LENT, obtained=obtained, role=role, source="", receipt="R-1"), problems)
        asked = [p for p in problems if p.code == "disclosure-fact" and "`from`" in p.message]
        assert bool(asked) is ("{from}" in words.text("en", "en")), (obtained, role)


def test_private_notes_are_in_no_fact() -> None:
    """A private note, a serial number: no fact holds them."""
    noted = replace(LENT, private="SECRET", serial="SECRET")
    assert "SECRET" not in repr([(fact.key, dict(fact.values)) for fact in sample_facts(noted)])


def test_the_short_form_tells_how_it_came_and_went() -> None:
    """Two facts a sample near the top of a page."""
    assert {fact.key.partition(".")[0] for fact in short_facts([LENT])} == {"obtained", "not_yet_returned"}


@pytest.mark.parametrize("taken", list(product((True, False), repeat=3)))
def test_independence_is_claimed_only_as_far_as_it_goes(taken: tuple[bool, bool, bool], small: Publication) -> None:
    """All three denied: one sentence. Otherwise each by itself, what is taken said too."""
    policies = Policies(paid=taken[0], affiliate=taken[1], advertising=taken[2])
    found = [fact.key for fact in independence_facts(replace(small.settings, policies=policies))]
    if not any(taken):
        assert found == ["independence.combined"]
    else:
        names = (("takes_pay", "paid"), ("takes_commission", "affiliate"), ("takes_advertising", "advertising"))
        assert found == [f"independence.{n[not yes]}" for n, yes in zip(names, taken, strict=True)]
    assert set(found) <= set(small.stock.sentences)
    assert independence_facts(replace(small.settings, policies=None)) == ()


def test_samples_are_counted_by_what_is_still_here(small: Publication) -> None:
    """One bought, one lent and not back; a used-up or returned sample is not waited for."""
    assert count_samples(small.samples) == {"loaned": 1, "bought": 1, "not_back": 1}
    back = replace(LENT, returned=dt.date(2026, 10, 1))
    gone = replace(LENT, returned=None, used_up=plain_words("cut up"))
    assert count_samples([back, gone]) == {"loaned": 2, "returned": 1, "used_up": 1}
    assert ledger.NOT_YET == "not yet"
