"""Which paragraphs a translation follows, and what became of the others."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from translated import blocks, part

from sitegen.editions.following import freshness
from sitegen.editions.following.freshness import _steps, check_even, compare, pairs
from sitegen.editions.following.parts import Part
from sitegen.editions.following.record import caught_up, whole
from sitegen.problems import Problems
from sitegen.records.texts.follows import Follows, follows_text, take_follows
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import parse_yaml

LEAD = blocks("## Eins", "Zwei Wörter {mass}.", "Drei.", "Vier Wörter.")
OWN = blocks("## One", "Two words {mass}.", "Three.", "Four words.", name="en.md")


def recorded(lead: tuple[Part, ...], own: tuple[Part, ...]) -> Follows:
    """The record of a translation in step, as its file is read."""
    lines = whole(lead, own)
    assert lines is not None
    return read(follows_text("de", ("", ""), lines))


def read(text: str) -> Follows:
    """A record from its file's text."""
    problems = Problems()
    node = parse_yaml(Source("en.follows.yaml", text, ""), problems)
    follows = take_follows(node, problems) if node else None
    assert follows is not None and not len(problems)
    return follows


def told(lead: tuple[Part, ...], own: tuple[Part, ...], follows: Follows) -> list[tuple[str, str, str]]:
    """Changes as (what, lead's key, translation's key)."""
    return [(c.change, c.lead.key if c.lead else "", c.here.key if c.here else "") for c in compare(lead, own, follows)]


def test_what_is_recorded_is_in_step() -> None:
    """Nothing is behind right after the record."""
    assert compare(LEAD, OWN, recorded(LEAD, OWN)) == ()


def test_a_changed_paragraph_is_named_with_both_texts() -> None:
    """The lead's paragraph, how it began before, and the translation's paragraph."""
    now = blocks("## Eins", "Zwei Wörter {mass}.", "Drei und mehr.", "Vier Wörter.")
    (change,) = compare(now, OWN, recorded(LEAD, OWN))
    assert (change.change, change.before, change.touched) == ("changed", "Drei.", False)
    assert change.lead == now[2] and change.here == OWN[2]


def test_new_gone_and_moved_paragraphs() -> None:
    """A new paragraph moves nothing else; one that went elsewhere is moved, not gone and new."""
    follows = recorded(LEAD, OWN)
    assert told(blocks("## Eins", "Neu.", "Zwei Wörter {mass}.", "Drei.", "Vier Wörter."), OWN, follows) == [
        ("new", "text.2", "")
    ]
    assert told(blocks("## Eins", "Drei.", "Vier Wörter."), OWN, follows) == [("gone", "", "text.2")]
    assert told(blocks("## Eins", "Drei.", "Vier Wörter.", "Zwei Wörter {mass}."), OWN, follows) == [
        ("moved", "text.4", "text.2")
    ]


def test_front_matter_texts_are_compared_one_by_one() -> None:
    """A point put in first makes one new text, not a list of changed ones."""
    lead, own = (
        (part("title", "T"), part("good.1", "A"), part("good.2", "B")),
        (part("title", "t"), part("good.1", "a"), part("good.2", "b")),
    )
    now = (part("title", "T"), part("good.1", "New"), part("good.2", "A"), part("good.3", "B"))
    assert told(now, own, recorded(lead, own)) == [("new", "good.1", "")]


def test_a_paragraph_changed_in_both_is_marked_as_touched() -> None:
    """It may only lack its record; until then the reader is told."""
    now, own = (
        blocks("## Eins", "Anders.", "Drei.", "Vier Wörter."),
        blocks("## One", "Otherwise.", "Three.", "Four words."),
    )
    (change,) = compare(now, own, recorded(LEAD, OWN))
    assert change.touched


def test_catching_up_keeps_what_was_not_accepted() -> None:
    """Recording one of two changed paragraphs leaves the other behind, with its old beginning."""
    now = blocks("## Eins!", "Zwei Wörter {mass}.", "Drei!", "Vier Wörter.")
    follows = read(follows_text("de", ("", ""), caught_up(now, OWN, recorded(LEAD, OWN), {"text.3"})))
    assert [(c.lead.key, c.before) for c in compare(now, OWN, follows) if c.lead] == [("text.1", "## Eins")]


def test_catching_up_takes_a_new_paragraph_in_its_place() -> None:
    """A new paragraph with its translation in the same place is in step afterwards."""
    now = blocks("## Eins", "Neu.", "Zwei Wörter {mass}.", "Drei.", "Vier Wörter.")
    own = blocks("## One", "New.", "Two words {mass}.", "Three.", "Four words.")
    follows = read(follows_text("de", ("", ""), caught_up(now, own, recorded(LEAD, OWN), {"text.2"})))
    assert compare(now, own, follows) == ()


@given(
    st.lists(st.sampled_from("abcdef"), min_size=1, max_size=8),
    st.lists(st.sampled_from("abcdefgh"), min_size=1, max_size=8),
)
def test_every_paragraph_is_followed_changed_or_new(before: list[str], after: list[str]) -> None:
    """Whatever was rewritten: each paragraph of the lead comes once, and only equal ones count as followed."""
    lead, now = blocks(*before), blocks(*after)
    own = blocks(*(f"own {word} {number}" for number, word in enumerate(before)))
    follows = recorded(lead, own)
    found = pairs(now, own, follows)
    assert [pair.lead for pair in found] == list(now)
    assert all(
        (pair.then is not None and pair.lead is not None and pair.then.lead == pair.lead.mark)
        for pair in found
        if not pair.change
    )
    assert bool(compare(now, own, follows)) == (before != after)


def even(lead: tuple[Part, ...], own: tuple[Part, ...], follows: Follows | None = None) -> list[tuple[str, str, str]]:
    """The cautions as (code, place, message)."""
    problems = Problems()
    check_even(lead, own, follows, problems)
    assert not problems.has_errors
    return [(p.code, str(p.place), p.message) for p in problems]


def test_more_and_fewer_paragraphs_are_cautions_with_both_places() -> None:
    """The two places where the texts part ways."""
    fewer = blocks("## One", "Three.", "Four words.", name="en.md")
    assert even(LEAD, fewer) == [
        (
            "edition-paragraphs",
            "en.md:3:1",
            "this translation has fewer paragraphs than the lead (3, not 4); the two part ways here and at de.md:3:1",
        )
    ]
    (caution,) = even(LEAD, (*OWN, *blocks("Five.", name="en.md")))
    assert caution[0] == "edition-paragraphs" and "more paragraphs than the lead (5, not 4)" in caution[2]


def test_reordered_paragraphs_are_cautions_with_both_places() -> None:
    """Seen by values and links without a record, by the record's marks with one."""
    swapped = blocks("## One", "Three.", "Two words {mass}.", "Four words.", name="en.md")
    (caution,) = even(LEAD, swapped)
    assert caution[:2] == ("edition-order", "en.md:3:1") or caution[:2] == ("edition-order", "en.md:5:1")
    assert "de.md:" in caution[2]
    (caution,) = even(
        LEAD, blocks("## One", "Two words {mass}.", "Four words.", "Three.", name="en.md"), recorded(LEAD, OWN)
    )
    assert caution[:2] == ("edition-order", "en.md:5:1") and "en.md:7:1" in caution[2]


def test_a_translation_that_only_lags_is_not_uneven() -> None:
    """A paragraph that the lead got since is told once, as behind."""
    assert even((*LEAD, *blocks("Neu.")), OWN, recorded(LEAD, OWN)) == []


def test_a_broken_record_is_told_with_its_place() -> None:
    """A merge conflict or a slip of the hand in the file."""
    problems = Problems()
    text = 'lead: de\ntext:\n  - "0123456789ab 0123456789ab fine"\n  - "<<<<<<< mine"\n'
    node = parse_yaml(Source("guides/x/en.follows.yaml", text, ""), problems)
    assert node is not None and take_follows(node, problems) is None
    (problem,) = problems
    assert (problem.code, str(problem.place)) == ("follows-form", "guides/x/en.follows.yaml:4:5")
    assert "--record" in problem.hint


@given(st.text("abc", max_size=12), st.text("abc", max_size=12), st.sampled_from([0, 9, 1_000]))
def test_steps_lead_from_one_run_to_the_other(before: str, after: str, most: int) -> None:
    """They cover both without a gap, and what is said to be equal is, and nothing else."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(freshness, "MOST_COMPARED", most)
        steps = list(_steps(before, after))
    at = (0, 0)
    for what, a, b, c, d in steps:
        assert (a, c) == at and (b > a or d > c)
        assert (before[a:b] == after[c:d]) is (what == "equal")
        at = (b, d)
    assert at == (len(before), len(after))


def test_one_paragraph_among_very_many_like_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands before and behind a change is never compared each with each, however alike it is."""
    monkeypatch.setattr(freshness, "MOST_COMPARED", 0)
    lead = blocks(*["Eins."] * 3_000)
    own = blocks(*["One."] * 3_000, name="en.md")
    follows = recorded(lead, own)
    more = blocks(*["Eins."] * 1_000, "Neu.", *["Eins."] * 2_000)
    assert told(more, own, follows) == [("new", "text.1001", "")]
    (caution,) = even(more, own)
    assert "fewer paragraphs than the lead (3000, not 3001)" in caution[2]
