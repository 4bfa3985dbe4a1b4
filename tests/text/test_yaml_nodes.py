"""YAML keeps its text and places; what can't be read is told in an author's words."""

import time
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.text import yaml_nodes
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import DEEPEST, Entry, Listing, Mapping, Node, Scalar, parse_yaml


def nodes(text: str) -> Node:
    problems = Problems()
    found = parse_yaml(Source("x.yaml", text, ""), problems)
    assert len(problems) == 0
    assert found is not None
    return found


def plain(node: Node) -> Any:
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Listing):
        return [plain(item) for item in node.items]
    return {entry.key.text: plain(entry.value) for entry in node.entries}


def scalars(node: Node) -> list[Scalar]:
    if isinstance(node, Scalar):
        return [node]
    if isinstance(node, Listing):
        return [found for item in node.items for found in scalars(item)]
    return [found for entry in node.entries for found in scalars(entry.value)]


def complaint(text: str, printed: Callable[..., str]) -> str:
    problems = Problems()
    parse_yaml(Source("x.yaml", text, ""), problems)
    return printed(problems, text)


@pytest.mark.parametrize(
    "written",
    [
        "412.0",
        "1412.50",
        "no",
        "on",
        "12:30",
        "2026-10-04",
        "0x1F",
        "0o17",
        "1_000",
        "null",
        "~",
        "True",
        ".inf",
    ],
)
def test_nothing_is_turned_into_a_value(written: str) -> None:
    """Every scalar keeps its text (YAML 1.2.2, 10.1 failsafe schema: all scalars are strings)."""
    assert nodes(f"a: {written}\n") == Mapping(
        (Entry(Scalar("a", Place("", 0, 0)), Scalar(written, Place("", 0, 0))),), Place("", 0, 0)
    )


def test_places_are_those_an_editor_shows() -> None:
    """Line and column from 1, width in characters, wide and accented ones counted once."""
    found = nodes('größe: "XL"\nlist:\n  - ä\n  - {k: v}\n')
    assert isinstance(found, Mapping)
    size, items = found.get("größe"), found.get("list")
    assert size == Scalar("XL", Place("", 0, 0), True)
    assert isinstance(items, Listing) and isinstance(items.items[1], Mapping)
    places = [size and size.place, items.place, items.items[0].place, items.items[1].entries[0].value.place]
    assert places == [
        Place("x.yaml", 1, 8, 4),
        Place("x.yaml", 3, 3, 1),
        Place("x.yaml", 3, 5, 1),
        Place("x.yaml", 4, 9, 1),
    ]


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [("a:\n", 1, 3), ("a: \n\nb: 1\n", 1, 3), ("- \n- b\n", 1, 2), ("? x\n:", 2, 2), ("- b\n-", 2, 2)],
)
def test_an_empty_value_stands_behind_its_key(text: str, line: int, column: int) -> None:
    """A problem with it is shown where the value should have been written."""
    [place] = [node.place for node in scalars(nodes(text)) if not node.text]
    assert (place.line, place.column) == (line, column)


def test_a_slice_counts_from_its_first_line() -> None:
    """Front matter is a slice of a file; its places and its problems are those of the file."""
    problems = Problems()
    found = parse_yaml(Source("x.md", "", ""), problems, first_line=5, text="a: 1\nb: c: d\n")
    assert found is None
    assert str(problems.errors[0].place) == "x.md:6:5"


@pytest.mark.parametrize("text", ["", "# only a comment\n", "---\n", "\n\n"])
def test_an_empty_file_is_an_empty_mapping(text: str) -> None:
    """Which keys are missing is for the records to say."""
    assert nodes(text) == Mapping((), Place("", 0, 0))
    assert nodes(text).place == Place("x.yaml", 1, 1)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        pytest.param("a: x\n  y\n\n  z\n", {"a": "x y\nz"}, id="7.3.3 plain, folded lines"),
        pytest.param('a: "x\\ty\\u00e9\\\n  z"\n', {"a": "x\ty\u00e9z"}, id="5.7 and 7.3.1 escapes"),
        pytest.param("a: 'it''s'\n", {"a": "it's"}, id="7.3.2 single quotes"),
        pytest.param("a: |\n  x\n   y\n", {"a": "x\n y\n"}, id="8.1.2 literal"),
        pytest.param("a: >-\n  x\n  y\n\n  z\n", {"a": "x y\nz"}, id="8.1.3 folded, 8.1.1.2 strip"),
        pytest.param("a: x#y # note\n", {"a": "x#y"}, id="6.6 comments need a blank"),
        pytest.param("{a: [b, c], 'd': e}\n", {"a": ["b", "c"], "d": "e"}, id="7.4 flow"),
        pytest.param("a:\nb:\n", {"a": "", "b": ""}, id="7.2 empty nodes"),
        pytest.param("a: &x [1]\nb: *x\n", {"a": ["1"], "b": ["1"]}, id="7.1 alias"),
        pytest.param("a:\n- b\n- c\n", {"a": ["b", "c"]}, id="8.2.1 list as deep as its key"),
        pytest.param("a: http://x.example/#y\n", {"a": "http://x.example/#y"}, id="7.3.3 colon within a word"),
    ],
)
def test_scalars_follow_the_standard(text: str, value: Any) -> None:
    """YAML 1.2.2, the production named in the id (numbers from memory)."""
    assert plain(nodes(text)) == value


FAULTS = [
    pytest.param(
        "title: Rain: a test\n",
        "x.yaml:1:12: error: expected one value after 'title:', found a second colon [yaml-syntax]\n"
        "    1 | title: Rain: a test\n"
        "      |            ^\n"
        '   hint: put the text in quotes: title: "Rain: a test"',
        id="colon in a text",
    ),
    pytest.param(
        "a: 1\n  b: 2\n",
        "x.yaml:2:3: error: 'b:' is indented deeper than the line above allows [yaml-syntax]\n"
        "    2 |   b: 2\n"
        "      |   ^\n"
        "   hint: start it in the same column as the key above, or leave the value of that key empty",
        id="indented too deep",
    ),
    pytest.param(
        "a:\n  - b\n c: 1\n",
        "x.yaml:3:2: error: this line begins in column 2, which fits no line above it [yaml-syntax]\n"
        "    3 |  c: 1\n"
        "      |  ^\n"
        "   hint: begin it in column 1 or deeper, as the line it belongs to",
        id="indentation that fits nothing",
    ),
    pytest.param(
        "a:\n\tb: 1\n",
        "x.yaml:2:1: error: expected blanks at the start of the line, found a tab [yaml-tab]\n"
        "    2 |     b: 1\n"
        "      | ^^^^\n"
        "   hint: indent with two blanks",
        id="tab",
    ),
    pytest.param(
        "a: b\n\tc\n",
        "x.yaml:2:1: error: expected blanks at the start of the line, found a tab [yaml-tab]\n"
        "    2 |     c\n"
        "      | ^^^^\n"
        "   hint: indent with two blanks",
        id="tab in a text that goes on",
    ),
    pytest.param(
        'a: "abc\nb: 1\n',
        'x.yaml:1:4: error: the quote " that opens here is never closed [yaml-syntax]\n'
        '    1 | a: "abc\n'
        "      |    ^\n"
        '   hint: close the text with "',
        id="quote never closed",
    ),
    pytest.param(
        'a: "abc\nb: "x"\n',
        'x.yaml:1:4: error: the quote " that opens here is closed only on line 2 [yaml-syntax]\n'
        '    1 | a: "abc\n'
        "      |    ^\n"
        '   hint: close the text with " on its own line',
        id="quote closed by the next one",
    ),
    pytest.param(
        "a: 'it's'\n",
        "x.yaml:1:8: error: the text ended at the quote ', but 's'' follows [yaml-syntax]\n"
        "    1 | a: 'it's'\n"
        "      |        ^^\n"
        "   hint: put the whole text in quotes; inside single quotes write ' twice",
        id="apostrophe in single quotes",
    ),
    pytest.param(
        'a: "\\d"\n',
        "x.yaml:1:5: error: in a text in double quotes a backslash begins a sign of its own, "
        "and this one is unknown [yaml-syntax]\n"
        '    1 | a: "\\d"\n'
        "      |     ^^\n"
        "   hint: write the text in single quotes, or double the backslash",
        id="backslash",
    ),
    pytest.param(
        "a: 1\nfoo\nb: 2\n",
        "x.yaml:2:1: error: expected 'key: value', found 'foo' [yaml-syntax]\n"
        "    2 | foo\n"
        "      | ^^^\n"
        "   hint: write a colon and a blank after the key; "
        "a longer text goes on in lines indented under its key",
        id="line without a colon",
    ),
    pytest.param(
        "a: 1\nfoo:bar\nb: 2\n",
        "x.yaml:2:1: error: expected 'key: value', found 'foo:bar' [yaml-syntax]\n"
        "    2 | foo:bar\n"
        "      | ^^^^^^^\n"
        "   hint: write foo: bar",
        id="colon without a blank",
    ),
    pytest.param(
        "foo:bar\nb: 2\n",
        "x.yaml:1:5: error: expected a blank after the colon [yaml-syntax]\n"
        "    1 | foo:bar\n"
        "      |     ^\n"
        "   hint: write foo: bar",
        id="colon without a blank in the first line",
    ),
    pytest.param(
        "a: [1, 2\nb: 3\n",
        "x.yaml:1:4: error: the bracket '[' that opens here is never closed [yaml-syntax]\n"
        "    1 | a: [1, 2\n"
        "      |    ^\n"
        "   hint: close it with ']'; a text that begins with '[' goes in quotes",
        id="open bracket",
    ),
    pytest.param(
        "a: [\n",
        "x.yaml:1:4: error: a value is missing at the end of the file [yaml-syntax]\n"
        "    1 | a: [\n"
        "      |    ^\n"
        "   hint: close what was opened, or delete it",
        id="bracket at the end",
    ),
    pytest.param(
        "a: [1 {2]\n",
        "x.yaml:1:7: error: expected ',' or ']' here [yaml-syntax]\n"
        "    1 | a: [1 {2]\n"
        "      |       ^\n"
        "   hint: put texts with , : [ ] { } in quotes",
        id="comma forgotten",
    ),
    pytest.param(
        "a: @x\n",
        "x.yaml:1:4: error: a text can't begin with '@' [yaml-syntax]\n"
        "    1 | a: @x\n"
        "      |    ^\n"
        '   hint: put it in quotes: "@x"',
        id="reserved sign",
    ),
    pytest.param(
        "a: *bold*\n",
        "x.yaml:1:4: error: a text can't begin with '*' [yaml-syntax]\n"
        "    1 | a: *bold*\n"
        "      |    ^\n"
        '   hint: put it in quotes: "*bold*"',
        id="asterisk",
    ),
    pytest.param(
        "a: >text\n",
        "x.yaml:1:4: error: a text can't begin with '>' [yaml-syntax]\n"
        "    1 | a: >text\n"
        "      |    ^\n"
        '   hint: put it in quotes: ">text"',
        id="greater than",
    ),
    pytest.param(
        "a: - b\n",
        "x.yaml:1:4: error: a list can't begin on the line of its key [yaml-syntax]\n"
        "    1 | a: - b\n"
        "      |    ^\n"
        "   hint: begin the list on the next line, indented; a text that begins with '-' goes in quotes",
        id="list beside its key",
    ),
    pytest.param(
        "- a\nb: 1\n",
        "x.yaml:2:1: error: expected a further item '- …', found 'b: 1' [yaml-syntax]\n"
        "    2 | b: 1\n"
        "      | ^\n"
        "   hint: begin the line with '- ', or indent it so that it belongs to the item above",
        id="key in a list",
    ),
    pytest.param(
        "a: 1\n- b\n",
        "x.yaml:2:1: error: expected a key, found an item of a list [yaml-syntax]\n"
        "    2 | - b\n"
        "      | ^\n"
        "   hint: indent the item deeper than the key it belongs to",
        id="item among keys",
    ),
    pytest.param(
        "  a: 1\nb: 2\n",
        "x.yaml:2:1: error: this line doesn't belong to what stands above it [yaml-syntax]\n"
        "    2 | b: 2\n"
        "      | ^\n"
        "   hint: begin all keys of the file in the same column, "
        "and give the file one list or one set of keys",
        id="first key indented",
    ),
    pytest.param(
        "a: ]\n",
        "x.yaml:1:4: error: expected a value, found ']' [yaml-syntax]\n"
        "    1 | a: ]\n"
        "      |    ^\n"
        "   hint: put a text with such a sign in quotes",
        id="closing bracket",
    ),
    pytest.param(
        "%YAML 2.0\n---\na: 1\n",
        "x.yaml:1:1: error: expected 'key: value' or '- item' here [yaml-syntax]\n"
        "    1 | %YAML 2.0\n"
        "      | ^\n"
        "   hint: compare this line with the one above it",
        id="directive",
    ),
    pytest.param(
        "a: x\x01\n",
        "x.yaml:1:5: error: found a character that can't stand in a YAML file [yaml-syntax]\n"
        "    1 | a: x␁\n"
        "      |     ^\n"
        "   hint: delete it",
        id="control character",
    ),
    pytest.param(
        "a: 1\nb: 2\na: 3\n",
        "x.yaml:3:1: error: 'a' is given twice; the first stands at x.yaml:1:1 [yaml-twice]\n"
        "    3 | a: 3\n"
        "      | ^\n"
        "   hint: keep one of the two",
        id="key twice",
    ),
    pytest.param(
        "? [a]\n: 1\n",
        "x.yaml:1:3: error: expected a word as key, found a list [yaml-key]\n"
        "    1 | ? [a]\n"
        "      |   ^\n"
        "   hint: put a word before the colon; a text with brackets or braces needs quotes",
        id="list as key",
    ),
    pytest.param(
        "{a: 1}: 2\n",
        "x.yaml:1:1: error: expected a word as key, found keys in braces [yaml-key]\n"
        "    1 | {a: 1}: 2\n"
        "      | ^\n"
        "   hint: put a word before the colon; a text with brackets or braces needs quotes",
        id="mapping as key",
    ),
    pytest.param(
        "a: &x {k: 1}\nb:\n  <<: *x\n",
        "x.yaml:3:3: error: expected a key, found '<<'; keys of another place can't be merged "
        "in [yaml-merge]\n"
        "    3 |   <<: *x\n"
        "      |   ^^\n"
        "   hint: write the keys out here",
        id="merge key",
    ),
    pytest.param(
        "---\na: 1\n---\nb: 1\n",
        "x.yaml:3:1: error: expected one document in a file, found a second one after '---' "
        "[yaml-documents]\n"
        "    3 | ---\n"
        "      | ^^^\n"
        "   hint: put it in a file of its own, or delete the line '---'",
        id="two documents",
    ),
    pytest.param(
        "a: !!python/object/apply:os.system [echo]\n",
        "x.yaml:1:4: error: expected a text, a list or keys, "
        "found the tag '!!python/object/apply:os.system' [yaml-tag]\n"
        "    1 | a: !!python/object/apply:os.system [echo]\n"
        "      |    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "   hint: delete it; if the text begins with '!', put it in quotes",
        id="tag that would run something",
    ),
    pytest.param(
        "a: &n !!str 1\n",
        "x.yaml:1:4: error: expected a text, a list or keys, found the tag '!!str' [yaml-tag]\n"
        "    1 | a: &n !!str 1\n"
        "      |    ^^^^^\n"
        "   hint: delete it; if the text begins with '!', put it in quotes",
        id="harmless tag behind an anchor",
    ),
    pytest.param(
        "a: !own!tag x\n",
        "x.yaml:1:4: error: expected a text, a list or keys, found the tag '!own!tag' [yaml-tag]\n"
        "    1 | a: !own!tag x\n"
        "      |    ^^^^^^^^\n"
        "   hint: delete it; if the text begins with '!', put it in quotes",
        id="tag of an unknown handle",
    ),
    pytest.param(
        "a: *x\n",
        "x.yaml:1:4: error: '*x' stands for a text marked '&x' further up, but there is none [yaml-alias]\n"
        "    1 | a: *x\n"
        "      |    ^^\n"
        '   hint: if it is meant as a text, put it in quotes: "*x"',
        id="alias of nothing",
    ),
    pytest.param(
        "a: &x [*x]\n",
        "x.yaml:1:8: error: '*x' stands for a text marked '&x' further up, but there is none [yaml-alias]\n"
        "    1 | a: &x [*x]\n"
        "      |        ^^\n"
        '   hint: if it is meant as a text, put it in quotes: "*x"',
        id="alias of itself",
    ),
]


@pytest.mark.parametrize(
    ("written", "character"),
    [
        ("\\0", "0000"), ("\\a", "0007"), ("\\b", "0008"), ("\\v", "000B"), ("\\f", "000C"), ("\\r", "000D"), ("\\e", "001B"), ("\\N", "0085"),
        ("\\L", "2028"), ("\\P", "2029"), ("\\x1b", "001B"), ("\\x9F", "009F"), ("\\u202E", "202E"), ("\\u202d", "202D"), ("\\uFFFE", "FFFE"),
        ("\\ufdd0", "FDD0"), ("\\U0001FFFF", "1FFFF"), ("\\U0010FFFE", "10FFFE"),
    ],
)  # fmt: skip
def test_no_escape_brings_what_no_file_may_hold(written: str, character: str, printed: Callable[..., str]) -> None:
    """An escape is no way round the check of control characters: reported where it stands, in values and in keys, and the
    text goes on without. The escapes are those of YAML 1.2.2, 5.7; noncharacters those of The Unicode Standard, 23.7.
    """
    problems = Problems()
    source = Source("x.yaml", f'a: "\\\\n \\t {written}x"\n"b{written}": "c\n  d{written}"\n', "")
    found = parse_yaml(source, problems)
    assert [str(problem.place) for problem in problems] == ["x.yaml:1:12", "x.yaml:2:3", "x.yaml:3:4"]
    assert {problem.code for problem in problems.errors} == {"control-character"}
    assert f"U+{character}, written '{written}'" in problems.errors[0].message
    assert plain(found) == {"a": "\\n \t \ufffdx", "b\ufffd": "c d\ufffd"}


def test_harmless_escapes_stay(printed: Callable[..., str]) -> None:
    """Tabs, line ends, blanks that don't break and marks of direction are text."""
    assert plain(nodes('a: "\\t\\n\\_\\u200f\\u2067\\u2069\\U0001F9E5"')) == {
        "a": "\t\n\xa0\u200f\u2067\u2069\U0001f9e5"
    }


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_faults_are_told_in_an_authors_words(text: str, expected: str, printed: Callable[..., str]) -> None:
    """Each trap has its own sentence, its place and a hint that can be typed."""
    assert complaint(text, printed) == expected


def test_a_billion_laughs_are_counted_not_made(printed: Callable[..., str]) -> None:
    """Nine aliases of nine aliases of … would be 10^9 texts; the count stops it."""
    lines = ["a: &a [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"{b}: &{b} [{', '.join(['*' + a] * 10)}]" for a, b in zip("abcdefgh", "bcdefghi", strict=True)]
    assert complaint("\n".join(lines), printed) == (
        "x.yaml:6:8: error: with all '*' references followed this file has more than 200,000 "
        "values [yaml-size]\n"
        "    6 | f: &f [*e, *e, *e, *e, *e, *e, *e, *e, *e, *e]\n"
        "      |        ^^\n"
        "   hint: write out what is needed instead of referring to it"
    )


@pytest.mark.parametrize(
    "text",
    ["[" * 200_000, "{a: " * 100_000, "- " * 100_000, "".join(" " * n + "a:\n" for n in range(2000))],
    ids=["brackets", "braces", "hyphens", "indentation"],
)
def test_depth_is_bounded_without_recursion(text: str, printed: Callable[..., str]) -> None:
    """Neither Python's stack nor much time is used up, whatever the nesting."""
    started = time.process_time()
    said = complaint(text, printed)
    assert "error: expected at most 60 levels of lists and keys inside one another, found more [yaml-depth]" in said
    assert time.process_time() - started < 3


def test_depth_counts_what_aliases_stand_for(printed: Callable[..., str]) -> None:
    """Deep pieces joined by aliases would be as deep for those who read them."""
    deep = "[" * 40 + "x" + "]" * 40
    said = complaint(f"a: &a {deep}\nb: {'[' * 30}*a{']' * 30}\n", printed)
    assert "x.yaml:2:34: error: with this reference followed there are more than 60 levels" in said
    assert complaint(f"a: &a {deep}\nb: [*a]\n", printed) == ""


def test_sixty_levels_are_allowed() -> None:
    """The limit is the one that is named."""
    nodes("[" * DEEPEST + "]" * DEEPEST)


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Cn")), max_size=20)
DOCUMENTS = st.recursive(
    TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS.filter(lambda t: t != "<<"), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=80, deadline=None)
@given(DOCUMENTS, st.booleans())
def test_texts_are_those_of_the_reference_library(document: Any, flow: bool) -> None:
    """What PyYAML writes and reads as strings (BaseLoader's scalars), this reads the same."""
    written = yaml.dump(document, allow_unicode=True, default_flow_style=flow, width=40)
    if "&" in written or "!!" in written:  # an alias or a tag is another test's
        return
    reference = yaml.load(written, yaml.BaseLoader)
    assert plain(nodes(written)) == reference


@pytest.mark.parametrize(
    "text",
    [
        "a: 1\nb:\n  - x\n  - {c: [d, 'e']}\nf: |\n  g\n  h\n",
        'k: "ä\n  b"\nl: &m [1]\nn: *m\n',
        "",
        "a: [",
        "a: b: c",
        "a:\n\tb: 1\n",
        "a: !!str b",
        "a: x\x01",
        "a: \ud800",
    ],
)
def test_the_pure_parser_gives_the_same(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where libyaml is missing, nodes and their places are the same, and faults are still problems."""
    source = Source("x.yaml", text, "")
    quick, quick_problems = parse_yaml(source, Problems()), Problems()
    parse_yaml(source, quick_problems)
    monkeypatch.setattr(yaml_nodes, "_Parser", yaml_nodes._PureParser)
    problems = Problems()
    pure = parse_yaml(source, problems)
    assert repr(pure) == repr(quick)
    assert [p.place.line for p in problems] == [p.place.line for p in quick_problems]
