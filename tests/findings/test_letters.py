"""Letter groups: their law, their order, and what they don't depend on."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.comparison.differences import compare_ratio
from sitegen.findings.comparison.letters import Lettered, letter_groups, letters_for

Round = tuple[dict[str, float], list[tuple[str, str]]]


@st.composite
def rounds(draw: st.DrawFn) -> Round:
    """Entrants with values (some equal) and any set of distinct pairs, lawful ones and odd ones alike."""
    names = draw(st.lists(st.sampled_from("klmnopqrst"), min_size=1, max_size=9, unique=True))
    values = {name: float(draw(st.integers(0, 5))) for name in names}
    pairs = [pair for pair in combinations(sorted(names), 2) if draw(st.booleans())]
    return values, pairs


def columns(lettered: tuple[Lettered, ...]) -> dict[str, frozenset[str]]:
    """Letter to the entrants that hold it."""
    letters = {letter for one in lettered for letter in one.letters}
    return {letter: frozenset(one.entrant for one in lettered if letter in one.letters) for letter in letters}


def obeys_the_law(lettered: tuple[Lettered, ...], distinct: list[tuple[str, str]]) -> None:
    """Two entrants share a letter if and only if they weren't told apart; no column lies inside another."""
    apart = {frozenset(pair) for pair in distinct}
    for one, other in combinations(lettered, 2):
        assert bool(set(one.letters) & set(other.letters)) is (frozenset((one.entrant, other.entrant)) not in apart)
    sets = list(columns(lettered).values())
    assert not any(a <= b for i, a in enumerate(sets) for j, b in enumerate(sets) if i != j)
    assert all(one.letters for one in lettered)


@given(rounds())
@settings(max_examples=200, deadline=None)
def test_sharing_a_letter_means_not_told_apart(case: Round) -> None:
    """The law of letter groups (Piepho 2004), for every pattern of distinct pairs, absorbed columns
    included.
    """
    obeys_the_law(letters_for(*case), case[1])


@given(rounds())
@settings(max_examples=60, deadline=None)
def test_the_law_holds_when_there_are_too_many_columns(case: Round) -> None:
    """Where letters run away, columns grown one by one obey the same law."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sitegen.findings.comparison.letters.MOST_COLUMNS", 0)
        obeys_the_law(letters_for(*case), case[1])


@given(rounds(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_order_of_entry_is_irrelevant(case: Round, random: object) -> None:
    """Entrants shuffled, pairs shuffled and turned round: the same letters in the same order."""
    values, pairs = case
    names, turned = list(values), [(b, a) for a, b in pairs]
    random.shuffle(names)  # type: ignore[attr-defined]
    random.shuffle(turned)  # type: ignore[attr-defined]
    assert letters_for({name: values[name] for name in names}, turned) == letters_for(values, pairs)


@given(rounds())
@settings(max_examples=60, deadline=None)
def test_letters_start_with_the_best(case: Round) -> None:
    """The first entrant is the best (ties by id) and holds 'a'; new letters appear in alphabetical order."""
    lettered = letters_for(*case)
    assert [one.entrant for one in lettered] == sorted(case[0], key=lambda name: (-case[0][name], name))
    first_seen = list(dict.fromkeys(letter for one in lettered for letter in one.letters))
    assert first_seen == sorted(first_seen) and first_seen[0] == "a"


def test_a_published_pattern() -> None:
    """Source: the pattern of Piepho 2004's introductory kind, recalled from memory and worked by hand: eight
    ordered means, each told apart from those more than three places away: a, ab … in a staircase."""
    names = "pqrstuvw"
    distinct = [(a, b) for a, b in combinations(names, 2) if names.index(b) - names.index(a) > 3]
    found = letters_for({name: -float(index) for index, name in enumerate(names)}, distinct)
    assert [one.text for one in found] == ["a", "ab", "abc", "abcd", "bcde", "cde", "de", "e"]


def test_lower_may_be_better() -> None:
    """For a mass the lightest comes first."""
    found = letters_for({"heavy": 900, "light": 300}, [("light", "heavy")], higher_first=False)
    assert [(one.entrant, one.text) for one in found] == [("light", "a"), ("heavy", "b")]


def test_the_handbooks_four_groups() -> None:
    """Source: NIST/SEMATECH e-Handbook 7.4.7.1: groups 3 and 2 alike, 4 and 1 alike, no others (from
    memory).
    """
    data = {
        "1": [6.9, 5.4, 5.8, 4.6, 4.0],
        "2": [8.3, 6.8, 7.8, 9.2, 6.5],
        "3": [8.0, 10.5, 8.1, 6.9, 9.3],
        "4": [5.8, 3.8, 6.1, 5.6, 6.2],
    }
    found = letter_groups(compare_ratio(data))
    assert [(one.entrant, one.text) for one in found] == [("3", "a"), ("2", "a"), ("4", "b"), ("1", "b")]


def test_more_than_26_letters() -> None:
    """Thirty entrants all told apart: a to z, then a2 to d2, each its own and readable when run together."""
    names = [f"p{index:02}" for index in range(30)]
    found = letters_for({name: -index for index, name in enumerate(names)}, combinations(names, 2))
    assert [one.text for one in found][24:] == ["y", "z", "a2", "b2", "c2", "d2"]
    assert Lettered(entrant="x", letters=("z", "a2")).text == "z a2"


def test_hundreds_of_entrants_are_lettered() -> None:
    """800 in a row, alike up to 40 places apart: 760 letters, by the law at the ends of each stretch."""
    names = [f"p{index:03}" for index in range(800)]
    distinct = [(names[i], names[j]) for i in range(800) for j in range(i + 41, 800)]
    found = letters_for({name: -index for index, name in enumerate(names)}, distinct)
    held = [set(one.letters) for one in found]
    assert len(columns(found)) == 760
    assert all(held[i] & held[i + 40] for i in range(760)) and not any(held[i] & held[i + 41] for i in range(759))


@pytest.mark.parametrize(
    ("values", "pairs", "named"),
    [
        ({"a": 1.0, "b": float("nan")}, [], "b"),
        ({"a": 1.0}, [("a", "ghost")], "ghost"),
        ({"a": 1.0}, [("a", "a")], "itself"),
    ],
)
def test_senseless_input_is_refused_by_name(values: dict[str, float], pairs: list[tuple[str, str]], named: str) -> None:
    """A value that isn't finite, an entrant nobody entered, an entrant told apart from itself."""
    with pytest.raises(ValueError, match=named):
        letters_for(values, pairs)


def test_no_entrants_no_letters() -> None:
    """An empty round has no letters, and one entrant has the first."""
    assert letters_for({}, []) == () and letters_for({"a": 1}, [])[0].text == "a"
