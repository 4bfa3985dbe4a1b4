"""What a translator must leave as it is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.editions.following.placeholders import TEXT, difference, pieces, protected

MARKDOWN = st.text(alphabet='ab {}[]()!`"\\<>:/#\n', max_size=40)


@given(MARKDOWN)
def test_the_pieces_of_any_text_are_the_text(text: str) -> None:
    """Nothing is lost or invented, whatever is open or unbalanced."""
    assert "".join(piece.text for piece in pieces(text)) == text


@given(MARKDOWN)
def test_opened_and_closed_pieces_nest(text: str) -> None:
    """So they can be written as XML elements."""
    depth = 0
    for piece in pieces(text):
        depth += {"open": 1, "close": -1}.get(piece.kind, 0)
        assert depth >= 0
    assert depth == 0


@given(MARKDOWN)
def test_a_text_keeps_what_it_keeps(text: str) -> None:
    """No text differs from itself."""
    assert difference(text, text) == ((), ())


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("{mass} and {spray after 3 washes}", ["{mass}", "{spray after 3 washes}"]),
        (r"\{mass} is a word", []),
        ("[the rig](rig:spray)", ["](rig:spray)"]),
        ('![A seam](photos/a.jpg "The {mass}")', ["![", '](photos/a.jpg "', "{mass}"]),
        ("`a {b}` and <https://x.example/>", ["`a {b}`", "<https://x.example/>"]),
        ("## On {mass}", ["##", "{mass}"]),
        ("[open {a", []),
    ],
)  # fmt: skip
def test_what_is_protected(text: str, kept: list[str]) -> None:
    """Values, addresses, code, heading marks; words of links, captions and titles are the translator's."""
    assert sorted(protected(text).elements()) == sorted(kept)
    assert all(
        word not in "".join(p.text for p in pieces(text) if p.kind == TEXT) for word in kept if word not in ("##", "![")
    )


def test_missing_and_extra_pieces_are_named() -> None:
    """Counted, so that one of two alike is missed."""
    assert difference("{mass} {mass} {price}", "{mass} {prise}") == (("{mass}", "{price}"), ("{prise}",))
