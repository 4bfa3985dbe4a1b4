"""One grammar for `{path}`: whoever reads a text sees the same values in it."""

import pytest

from sitegen.editions.following.placeholders import protected
from sitegen.editions.typed.figure_reader import BLANK, running_text
from sitegen.pages.plan.slugs import slug_of
from sitegen.problems import Problems
from sitegen.text.markdown import ValueSlot, parse_body
from sitegen.text.value_grammar import VALUE_OR_BRACE, tidy_path

WRITTEN = {
    "{mass}": "mass",
    "{mass at\nwash_3}": "mass at wash_3",
    "{" + "m" * 200 + "}": "m" * 200,
    "{" + "m" * 201 + "}": "",
    "{mass [g]}": "",
    "{mass\nat\nwash_3}": "",
    "{}": "",
    r"\{mass}": "",
}


@pytest.mark.parametrize("text", WRITTEN)
def test_a_value_is_the_same_to_everybody(text: str) -> None:
    """Rendering, front matter, translation and figures typed by hand agree on what is a value and what is text."""
    path = WRITTEN[text]
    body = parse_body(f"Weighs {text} here.", 1, "reviews/a/en.md", Problems())
    assert [piece.path for piece in body.html if isinstance(piece, ValueSlot)] == ([path] if path else [])
    assert [tidy_path(found[2]) for found in VALUE_OR_BRACE.finditer(text) if found[2]] == ([path] if path else [])
    assert list(protected(f"Weighs {text} here.")) == ([f"{{{path}}}"] if path else [])
    assert (BLANK in running_text(f"Weighs {text} here.")) == bool(path)
    assert (slug_of(f"Weighs {text} here", "en", "x") == "weighs-here") == (path != "" or text == "{}")
