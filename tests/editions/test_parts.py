"""The parts of a text: the same by both ways of reading, and known by their fingerprints."""

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.editions.following.freshness import texts_of
from sitegen.editions.following.parts import blocks_of, kind_of, mark, parts_of, parts_of_file
from sitegen.pipeline.build import read
from sitegen.problems import Problems
from sitegen.text.front_matter import split_front_matter
from sitegen.text.markdown import parse_body
from sitegen.text.source import read_source

LINES = st.sampled_from(
    [
        "",
        "Words here.",
        "## Heading",
        "- item",
        "  more",
        "    code",
        "> said",
        "```",
        "| a | b |",
        "|---|---|",
        "1. one",
        "---",
        "[a]: b",
        "{mass} x",
        "===",
    ]
)


@given(st.lists(LINES, max_size=14))
def test_blocks_are_those_that_the_pages_are_made_of(lines: list[str]) -> None:
    """The quick reader of blocks agrees with the full one, text for text and place for place."""
    body = "\n".join(lines)
    full = parse_body(body, 5, "x.md", Problems()).paragraphs
    assert [(p.text, p.place) for p in full] == list(blocks_of(body, 5, "x.md"))


def test_the_demo_reads_alike_by_both_ways(repository: Path) -> None:
    """What the command compares is what the pages compare."""
    root = repository / "demo_site"
    publication = read(root, Problems())
    assert publication is not None
    texts = [text for _, _, guide in texts_of(publication) for text in guide.texts]
    assert len(texts) > 20
    for text in texts:
        source = read_source(root, text.file, Problems())
        front = split_front_matter(source, Problems()) if source else None
        assert front is not None
        assert [(p.key, p.mark, p.place) for p in parts_of(text)] == [
            (p.key, p.mark, p.place) for p in parts_of_file(front, text.file)
        ]


def test_a_mark_is_blake2b_of_the_tidied_text() -> None:
    """Reference: hashlib's BLAKE2b (RFC 7693) with a digest of six bytes."""
    assert mark("Grüße {mass}") == hashlib.blake2b("Grüße {mass}".encode(), digest_size=6).hexdigest()


@given(st.lists(st.text(alphabet="abcü{}*", min_size=1, max_size=8), min_size=1, max_size=12), st.data())
def test_wrapping_lines_changes_no_mark(words: list[str], data: st.DataObject) -> None:
    """Where a paragraph is broken into lines is no part of what it says."""
    breaks = data.draw(st.lists(st.sampled_from([" ", "\n", "  \n"]), min_size=len(words), max_size=len(words)))
    assert mark(" ".join(words)) == mark("".join(map("".join, zip(words, breaks))))


def test_a_no_break_space_is_part_of_the_text() -> None:
    """The author's no-break space between number and unit is a change worth following."""
    assert mark("412 g") != mark("412\u00a0g")


@pytest.mark.parametrize(
    ("block", "kind"),
    [("## a", "heading 2"), ("a\n===", "heading 1"),
     ("- a\n- b", "list"), ("3) a", "list"), ("> a", "quotation"), ("```\na\n```", "code"),
     ("a | b\n--- | ---\n1 | 2", "table"), ("***", "rule"), ("![a](b.jpg)", "picture"),
     ("![a](b.jpg) and words", "paragraph"), ("*a* b", "paragraph")],
)  # fmt: skip
def test_kinds_of_blocks(block: str, kind: str) -> None:
    """The block structures of CommonMark 0.31, chapters 4 and 5, and tables, by how they begin."""
    assert kind_of(block) == kind
