"""Disclosure over all that a ledger can hold: nothing that weakens independence is hidden, nothing contradicts it."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest
from small_records import edition, small_publication

from sitegen.figures.wording.disclosure import count_text, word_facts
from sitegen.findings.disclosure import independence_facts, pay_is_disclosed, sample_facts, short_facts, weak_facts
from sitegen.problems import Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.words import plain_words
from sitegen.records.ledger import NOT_YET, OBTAINED, ROLES, Sample, check_sample
from sitegen.records.publication import Publication
from sitegen.records.settings import Policies
from sitegen.records.texts.embargo import NO_DAY, ledger_on
from sitegen.records.texts.first_published import FirstPublished

CAME, BACK, DUE = dt.date(2026, 8, 3), dt.date(2026, 10, 20), dt.date(2026, 11, 30)
PLACE = Sample(obtained="bought").place
ENDS: tuple[dict[str, object], ...] = (
    {}, {"returned": BACK}, {"returned": NOT_YET}, {"returned": NOT_YET, "due": DUE}, {"used_up": plain_words("cut up")},
    {"returned": BACK, "used_up": plain_words("cut up")}, {"returned": dt.date(2026, 1, 1)},
)  # fmt: skip

# Pairs of turns of phrase in English of which no page may hold both (common practice, no source: read by a person).
CONTRADICTIONS = (
    (r"(?<!could have )(?:may keep|at our own expense)", r"has not gone back"), ("may keep", "sent"),
    ("may keep", "used (?:the sample )?up"), (r"sent .*back on", r"not gone back"), (r"sent .*back on", r"used (?:the sample )?up"),
    ("not gone back", "used (?:the sample )?up"),
    ("still here", "(?:sent|gone) .*back on|used (?:the sample )?up|our own"),
    ("our own private gear", r"lent|on loan|[Ss]upplier|gave us|not gone back"),
    ("our own expense", r"lent us|free of charge|borrowed"), ("No money and no other benefit", "we also received"),
    ("did not see the text", "was shown"), (r"^Nobody pays|[.] Nobody pays", r"we also received|paid us|take payment"),
    ("nobody pays for a review", "take payment"), (r"[Nn]o link", "Some links"), (r"(?<!pages )carry no advertising", r"pages carry advertising"),
    ("Nobody outside", ""),
)  # fmt: skip


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def samples() -> Iterator[Sample]:
    """Every sample that the ledger accepts, by how it came, from whom, on what terms and what became of it."""
    terms = product(
        ("us", "supplier"),
        ("", "us", "supplier"),
        (None, "none", "a hotel night"),
        ("", "none", "facts_only", "full_text"),
    )
    for (who, shipping, benefit, preview), obtained, role, end in product(list(terms), OBTAINED, ROLES, ENDS):
        sample = Sample(
            id="T1", product=Ref("tarn", PLACE), obtained=obtained, role=role, source="Wollgras", selected_by=who, received=CAME,
            shipping=shipping, benefit=None if benefit is None else plain_words(benefit), preview=preview,
            receipt="R-1" if obtained == "bought" else "", **end,  # type: ignore[arg-type]
        )  # fmt: skip
        problems = Problems()
        check_sample(sample, problems)
        if not problems.has_errors:
            yield sample


def first(fee: bool) -> FirstPublished:
    return FirstPublished(
        outlet="Hangbote", date=CAME, language="de", terms=plain_words("with leave"), fee=fee, place=PLACE
    )


def test_no_page_contradicts_itself_or_hides_what_weakens_it(small: Publication) -> None:
    """Every sample by every policy and fee, in English: no contradictory pair; benefit, preview, fee and pay near the top."""
    words, stock, settings = edition(small), small.stock.sentences, small.settings
    accepted = list(samples())
    assert len(accepted) > 1_000
    policies = [None, *(Policies(paid=p, affiliate=a, advertising=d) for p, a, d in product((True, False), repeat=3))]
    settings_of = [replace(settings, policies=taken) for taken in policies]
    elsewhere = (None, first(fee=False), first(fee=True))
    said: dict[tuple[int, int, bool], str] = {}
    for sample in accepted:
        own = word_facts(words, sample_facts(sample), stock)
        top = " ".join([*word_facts(words, short_facts([sample]), stock), count_text(words, [sample])])
        disclosed = pay_is_disclosed([sample], ())
        for n, known in enumerate(settings_of):
            for m, at in enumerate(elsewhere):
                pay = disclosed or (at is not None and at.fee)
                if (n, m, pay) not in said:
                    weak = word_facts(words, weak_facts((), at, known), stock)
                    denied = word_facts(words, independence_facts(known, disclosed_pay=pay), stock)
                    said[n, m, pay] = " ".join([*weak, "|", *denied])
                page = " ".join([top, said[n, m, pay].partition("|")[0], *own, said[n, m, pay].partition("|")[2]])
                near_top = f"{top} {said[n, m, pay].partition('|')[0]}"
                assert not contradiction(page), page
                assert unsaid(sample, known.policies, at, near_top) == [], near_top


def contradiction(page: str) -> str:
    """The first pair of turns that a page holds both of."""
    for one, other in CONTRADICTIONS:
        if other and re.search(one, page) and re.search(other, page):
            return f"{one} / {other}"
    return ""


def unsaid(sample: Sample, policies: Policies | None, at: FirstPublished | None, near_top: str) -> list[str]:
    """What weakens independence, and isn't near the top."""
    weak = {
        "we also received: a hotel night": sample.benefit is not None and not sample.no_benefit,
        "was shown the whole text": sample.preview == "full_text" and not sample.own,
        "was shown the facts": sample.preview == "facts_only" and not sample.own,
        "Hangbote published this text first and paid us": at is not None and at.fee,
        "We take payment": policies is not None and policies.paid,
        "Some links": policies is not None and policies.affiliate,
        "These pages carry advertising": policies is not None and policies.advertising,
        "free of charge": sample.obtained == "received_keep",
    }
    return [said for said, holds in weak.items() if holds and said not in near_top]


def test_of_two_samples_nothing_that_weakens_independence_is_lost(small: Publication) -> None:
    """Every pair of what was seen and given with samples of two products: each product is named with what holds for it."""
    words, stock = edition(small), small.stock.sentences
    lent = [sample for sample in samples() if sample.obtained == "loaned" and sample.role == "maker"]
    kinds = list({(s.preview, s.no_benefit): s for s in lent}.values())
    assert len(kinds) == 6
    for one, other in product(kinds, repeat=2):
        pair = (one, replace(other, id="T2", product=Ref("halde", PLACE)))
        for facts in (short_facts(pair), weak_facts(pair, None, small.settings)):
            said = word_facts(words, facts, stock)
            for sample in pair:
                assert sample.product is not None
                name = words.product(sample.product.id)
                expected = {
                    "also received: a hotel night": not sample.no_benefit,
                    "shown the facts": sample.preview == "facts_only",
                    "shown the whole text": sample.preview == "full_text",
                }
                for turn, holds in expected.items():
                    assert any(turn in sentence and name in sentence for sentence in said) == holds, said
            seen = [sentence for sentence in said if "shown the" in sentence]
            assert len(seen) == len({sample.preview for sample in pair} - {"none"})


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr"])
def test_each_weakening_fact_has_its_own_sentence_in_each_language(tag: str, small: Publication) -> None:
    """All at once: as many different sentences as facts, whole, with the outlet and the benefit put in."""
    sample = replace(
        next(s for s in samples() if s.preview == "full_text" and s.obtained == "loaned"),
        benefit=plain_words("a hotel night"),
    )
    settings = replace(small.settings, policies=Policies(paid=True, affiliate=True, advertising=True))
    said = word_facts(edition(small, tag), weak_facts([sample], first(fee=True), settings), small.stock.sentences)
    assert len(set(said)) == 6
    assert "Hangbote" in " ".join(said) and "a hotel night" in " ".join(said)


def test_a_day_to_come_is_no_day_of_return() -> None:
    """As of a day before the one in the ledger a sample hasn't gone back, or come; on that day it has."""
    sample = next(s for s in samples() if s.obtained == "loaned" and s.returned == BACK)
    (before,) = ledger_on((sample,), BACK - dt.timedelta(days=1))
    assert before.returned == NOT_YET and before.due == BACK and before.received == CAME
    assert ledger_on((sample,), BACK) == (sample,)
    (earlier,) = ledger_on((sample,), CAME - dt.timedelta(days=1))
    assert earlier.received is None
    assert ledger_on((sample,), NO_DAY) == (sample,)
