"""Texts become pieces of HTML in which values, pictures and links keep their places."""

import pickle
import time
from collections.abc import Callable

import pytest
from bs4 import BeautifulSoup
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from sitegen.place import Place
from sitegen.problems import Problems, Severity
from sitegen.text.markdown import Body, ImageSlot, LinkSlot, Piece, ValueSlot, parse_body
from sitegen.text.markdown_pieces import Parts

NOWHERE = Place("", 0, 0)


def body(text: str) -> Body:
    problems = Problems()
    found = parse_body(text, 1, "x.md", problems)
    assert [p.message for p in problems] == []
    return found


def said(text: str, printed: Callable[..., str], first_line: int = 1) -> str:
    problems = Problems()
    parse_body(text, first_line, "x.md", problems)
    return printed(problems, text, first_line)


def value(path: str) -> ValueSlot:
    return ValueSlot(path, NOWHERE)


def html(found: Body) -> str:
    """The pieces with something visible for each slot."""
    return "".join(map(_shown, found.html))


def _shown(piece: Piece) -> str:
    if isinstance(piece, str):
        return piece
    if isinstance(piece, ValueSlot):
        return f"{{{piece.path}}}"
    if isinstance(piece, LinkSlot):
        return f"<a {piece.href}>"
    return f"<img {piece.src}>"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("a\nb\n\nc", "<p>a\nb</p>\n<p>c</p>\n", id="4.8 paragraphs"),
        pytest.param("a  \nb\\\nc", "<p>a<br>\nb<br>\nc</p>\n", id="6.7 hard breaks"),
        pytest.param(r"\*a\* \\ \q", "<p>*a* \\ \\q</p>\n", id="2.4 escapes"),
        pytest.param("&auml; &#35; &nope;", "<p>ä # &amp;nope;</p>\n", id="2.5 entities"),
        pytest.param("*a* **b** `c*`", "<p><em>a</em> <strong>b</strong> <code>c*</code></p>\n", id="6.2"),
        pytest.param("> a\n> b", "<blockquote>\n<p>a\nb</p>\n</blockquote>\n", id="5.1 quotes"),
        pytest.param("- a\n- b", "<ul>\n<li>a</li>\n<li>b</li>\n</ul>\n", id="5.3 tight list"),
        pytest.param("- a\n\n- b", "<ul>\n<li><p>a</p>\n</li>\n<li><p>b</p>\n</li>\n</ul>\n", id="5.3 loose list"),
        pytest.param("7) a", '<ol start="7">\n<li>a</li>\n</ol>\n', id="5.2 numbered from seven"),
        pytest.param("    <x>", '<pre tabindex="0"><code>&lt;x&gt;\n</code></pre>\n', id="4.4 indented code"),
        pytest.param("```\n{a}\n```", '<pre tabindex="0"><code>{a}\n</code></pre>\n', id="4.5 fenced code"),
        pytest.param("***", "<hr>\n", id="4.1 rule"),
        pytest.param("~~a~~ 'b' -- c", "<p>~~a~~ &#x27;b&#x27; -- c</p>\n", id="nothing is prettified"),
        pytest.param('a < b & "c"', "<p>a &lt; b &amp; &quot;c&quot;</p>\n", id="escaped"),
    ],
)
def test_text_follows_commonmark(text: str, expected: str) -> None:
    """CommonMark 0.31, the section in the id (numbers from memory)."""
    assert html(body(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("m {mass}.", ("<p>m ", value("mass"), ".</p>\n"), id="in a text"),
        pytest.param("{spray after 3\n  washes}", ("<p>", value("spray after 3 washes"), "</p>\n"), id="wrapped"),
        pytest.param("*{mass}*", ("<p><em>", value("mass"), "</em></p>\n"), id="in emphasis"),
        pytest.param("## M {mass}", ('<h2 id="m-mass">M ', value("mass"), "</h2>\n"), id="in a heading"),
        pytest.param(
            "[a {mass}](guide:care)",
            ("<p>", LinkSlot("guide:care", (), NOWHERE), "a ", value("mass"), "</a></p>\n"),
            id="in a link's text",
        ),
        pytest.param(
            '[a](guide:care "t {mass} \\{x}")',
            ("<p>", LinkSlot("guide:care", ("t ", value("mass"), " {x}"), NOWHERE), "a</a></p>\n"),
            id="in a link's title",
        ),
        pytest.param(
            'x ![a {mass} *b*](p.jpg "{price}")',
            ("<p>x ", ImageSlot("p.jpg", ("a ", value("mass"), " b"), (value("price"),), NOWHERE), "</p>\n"),
            id="in a picture's words",
        ),
        pytest.param(
            "x ![a\nb ![c {mass}](q.jpg)](p.jpg)",
            ("<p>x ", ImageSlot("p.jpg", ("a b c ", value("mass")), (), NOWHERE), "</p>\n"),
            id="in a picture within a picture's words",
        ),
        pytest.param(r"\{mass} {", ("<p>{mass} {</p>\n",), id="a literal brace, an unclosed one"),
        pytest.param("`{mass}` {} { }", ("<p><code>{mass}</code> {} { }</p>\n",), id="code, nothing inside"),
        pytest.param("{2 {mass}", ("<p>{2 ", value("mass"), "</p>\n"), id="the inner brace counts"),
        pytest.param("&#123;mass}", ("<p>{mass}</p>\n",), id="an entity is literal"),
        pytest.param("{ a\n\nb}", ("<p>{ a</p>\n<p>b}</p>\n",), id="not over paragraphs"),
    ],
)
def test_braces_name_values(text: str, expected: tuple[Piece, ...]) -> None:
    """`{path}` is a slot wherever words stand, and only there."""
    assert body(text).html == expected


def test_a_body_can_be_named_without_being_loaded() -> None:
    """What a body names is known before anybody looks into it; looked into, it is what is loaded, once."""
    whole = body("## A {mass}\n\nx [y](guide:care) ![z](p.jpg)\n\nw")
    loads: list[int] = []

    def load() -> Parts:
        loads.append(1)
        return whole.parts()

    kept = whole.naming(load)
    assert kept.named == whole.named != () and not loads
    assert kept == whole and hash(kept) == hash(whole)
    assert (kept.html, kept.headings, kept.paragraphs) == (whole.html, whole.headings, whole.paragraphs)
    assert loads == [1]
    assert pickle.loads(pickle.dumps(kept, 5)) == whole


def test_a_body_that_is_not_at_hand_says_so() -> None:
    """Where only what a text names was taken along, nobody can mistake it for an empty text; kept, it is as it was."""
    bare = pickle.loads(pickle.dumps(body("x [y](guide:care)").naming(), 5))
    assert [piece.href for piece in bare.named if isinstance(piece, LinkSlot)] == ["guide:care"]
    with pytest.raises(LookupError, match="not at hand"):
        bare.html  # noqa: B018


@pytest.mark.parametrize("text", ["x {mass", "x {mass\n\nb}", "{mass {mass}"])
def test_a_forgotten_brace_is_told(text: str) -> None:
    """A brace before a word is nearly always the beginning of a value: it is printed as it stands, and that is said."""
    problems = Problems()
    parse_body(text, 1, "x.md", problems)
    told = [(p.code, p.severity, p.place.column, p.place.width) for p in problems]
    assert told == [("brace-open", Severity.CAUTION, text.find("{") + 1, len("{mass"))]


@pytest.mark.parametrize("text", [r"x \{mass", "x { mass", "`{mass`", "&#123;mass"])
def test_a_literal_brace_is_not_told(text: str) -> None:
    """What is written as a plain brace is one."""
    assert body(text).html


def test_slots_know_their_place() -> None:
    """In quotes, lists, tables and after line breaks: the place is that of the file."""
    text = (
        "## {a} b\n\nx\n{c d}\n\n> - y {e}\n>   z {f}\n\n| {g} | h |\n|--|--|\n| {g} | {g} |\n\n"
        "![{i}](p.jpg)\nt [{j}](guide:k)\n\n> lazy\n{l}\n"
    )
    found = parse_body(text, 11, "x.md", Problems())
    places: dict[str, list[tuple[int, int, int]]] = {}
    for piece in found.html:
        for slot in (piece, *(piece.alt if isinstance(piece, ImageSlot) else ())):
            if isinstance(slot, ValueSlot):
                places.setdefault(slot.path, []).append((slot.place.line, slot.place.column, slot.place.width))
    lines = text.split("\n")
    for path, found_at in places.items():
        for line, column, width in found_at:
            assert lines[line - 11][column - 1 : column - 1 + width] == f"{{{path}}}"
    # the heading's value stands in the heading, in the region's name and in the caption
    assert places["a"] == [(11, 4, 3)] * 3
    assert places["g"] == [(19, 3, 3), (21, 3, 3), (21, 9, 3)]
    assert set(places) == {"a", "c d", "e", "f", "g", "i", "j", "l"}


def test_a_picture_alone_is_a_block() -> None:
    """A picture (or several) alone in a paragraph stands outside any <p>; one in a text doesn't."""
    found = body("![a](p.jpg)\n![b](q%20r.jpg)\n\nx ![c](s.jpg)")
    slots = [piece for piece in found.html if isinstance(piece, ImageSlot)]
    assert [(slot.src, slot.block) for slot in slots] == [
        ("p.jpg", True),
        ("q r.jpg", True),
        ("s.jpg", False),
    ]
    assert html(found).count("<p>") == 1


@pytest.mark.parametrize(
    "href",
    [
        "https://a.example/x?y=1&z=2",
        "http://a.example",
        "mailto:post@a.example",
        "review:fjellrinn",
        "guide:care#wash",
        "method:drying_time",
        "round:trousers-2026",
        "../x/",
        "#readings",
    ],
)
def test_safe_addresses_become_slots(href: str) -> None:
    """The page finds out where an internal address leads."""
    assert body(f"[a]({href})").html[1] == LinkSlot(href, (), NOWHERE)


def test_reference_links_and_autolinks_are_links_too() -> None:
    """CommonMark 6.3 and 6.5 (numbers from memory)."""
    found = body('[a]\n<https://b.example>\n\n[a]: https://a.example "t {v}"\n')
    assert [piece for piece in found.html if isinstance(piece, LinkSlot)] == [
        LinkSlot("https://a.example", ("t ", value("v")), NOWHERE),
        LinkSlot("https://b.example", (), NOWHERE),
    ]


KNOWN = "http:, https:, mailto:, review:, guide:, method:, round:, product:, rig:"
FAULTS = [
    pytest.param(
        "x [a](javascript:alert(1))",
        f"x.md:7:3: error: expected an address that begins with one of {KNOWN}, "
        "found 'javascript:alert(1)' [link-address]\n"
        "    7 | x [a](javascript:alert(1))\n"
        "      |   ^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "   hint: link to https://…, mailto:… or a page's id",
        id="a script",
    ),
    pytest.param(
        "[a](reviews:x)",
        f"x.md:7:1: error: expected an address that begins with one of {KNOWN}, found "
        f"'reviews:x' [link-address]\n"
        "    7 | [a](reviews:x)\n"
        "      | ^^^^^^^^^^^^^^\n"
        "   hint: did you mean review:x?",
        id="a slip in an internal word",
    ),
    pytest.param(
        "[a](review:Fjell)",
        "x.md:7:1: error: expected review: and an id, found 'review:Fjell' [link-address]\n"
        "    7 | [a](review:Fjell)\n"
        "      | ^^^^^^^^^^^^^^^^^\n"
        "   hint: write it like review:fjellrinn, in small letters",
        id="no id",
    ),
    pytest.param(
        "[a](//b.example)",
        "x.md:7:1: error: expected a whole address, found '//b.example' [link-address]\n"
        "    7 | [a](//b.example)\n"
        "      | ^^^^^^^^^^^^^^^^\n"
        "   hint: write https://b.example",
        id="no scheme",
    ),
    pytest.param(
        "[a]()",
        "x.md:7:1: error: this link has no address [link-address]\n"
        "    7 | [a]()\n"
        "      | ^^^^^\n"
        "   hint: write it between the round brackets: (https://…) or (review:…)",
        id="no address",
    ),
    pytest.param(
        "![a](https://b.example/p.jpg)",
        "x.md:7:1: error: expected the file of a picture in the publication, "
        "found 'https://b.example/p.jpg' [image-address]\n"
        "    7 | ![a](https://b.example/p.jpg)\n"
        "      | ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "   hint: put the picture into photos/ and write photos/ and its name",
        id="a picture from elsewhere",
    ),
    pytest.param(
        "> ![](p.jpg)",
        "x.md:7:3: error: this picture has no text for those who can't see it [image-alt]\n"
        "    7 | > ![](p.jpg)\n"
        "      |   ^^^^^^^^^^\n"
        "   hint: say between the brackets what it shows: ![Water beading on the sleeve](p.jpg)",
        id="no text alternative",
    ),
    pytest.param(
        "# Title",
        "x.md:7:1: error: a text has no heading of level 1: the title stands in the front "
        "matter [heading-level]\n"
        "    7 | # Title\n"
        "      | ^^^^^^^\n"
        "   hint: begin with ## here",
        id="a heading of level 1",
    ),
    pytest.param(
        "## A\n\n#### B",
        "x.md:9:1: error: expected a heading of level 3 at most, found level 4 [heading-level]\n"
        "    9 | #### B\n"
        "      | ^^^^^^\n"
        "   hint: write ### B",
        id="a skipped level",
    ),
    pytest.param(
        "| a |\n|---|\n| b |",
        "x.md:7:1: caution: this table has no name, because no heading stands above it [table-name]\n"
        "    7 | | a |\n"
        "      | ^^^^^\n"
        "   hint: write a heading above the table, such as ## Readings in the rain",
        id="a table without a name",
    ),
    pytest.param(
        "a \\<b> <i>c</i>",
        "x.md:7:8: caution: HTML is printed as it stands here: '<i>' [html-in-text]\n"
        "    7 | a \\<b> <i>c</i>\n"
        "      |        ^^^\n"
        "   hint: use Markdown, such as *word* or a table; for a plain < write \\<",
        id="HTML",
    ),
]


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_faults_are_told_where_they_stand(text: str, expected: str, printed: Callable[..., str]) -> None:
    """Each with its whole print; the text begins on line 7 of its file."""
    assert said(text, printed, 7) == expected


@pytest.mark.parametrize(
    "address",
    [
        "JaVaScRiPt:alert(1)",
        "javascript&colon;alert(1)",
        "&#106;avascript:alert(1)",
        "vbscript:x",
        "data:text/html,x",
        "<javascript:alert(1)>",
        "file:///etc/passwd",
    ],
)
@pytest.mark.parametrize("form", ["[a]({})", "[a]\n\n[a]: {}", "![a]({})"])
def test_no_unsafe_address_comes_through(address: str, form: str) -> None:
    """Whatever its disguise: a problem, and no link."""
    problems = Problems()
    found = parse_body(form.format(address), 1, "x.md", problems)
    assert problems.has_errors
    assert not any(isinstance(piece, LinkSlot) for piece in found.html)


def test_raw_html_is_never_html() -> None:
    """Tags of a guest text are printed, not obeyed."""
    found = parse_body("<script>x</script>\n\na <img src=x onerror=y> b\n", 1, "x.md", Problems())
    assert html(found) == ("<p>&lt;script&gt;x&lt;/script&gt;</p>\n<p>a &lt;img src=x onerror=y&gt; b</p>\n")


def test_headings_have_ids_of_their_own() -> None:
    """Folded to ASCII, unique, also against an id that looks like a numbered one; never empty."""
    found = body("## Größe & Maß\n## A\n## A\n## A 2\n### *b* `c` {d}\n## 重さ\n")
    assert [(h.level, h.text, h.id) for h in found.headings] == [
        (2, "Größe & Maß", "grosse-mass"),
        (2, "A", "a"),
        (2, "A", "a-2"),
        (2, "A 2", "a-2-2"),
        (3, "b c {d}", "b-c-d"),
        (2, "重さ", "section"),
    ]
    assert found.headings[4].words == ("b c ", value("d"))


def test_a_table_is_named_after_its_heading() -> None:
    """A region that scrolls by keyboard needs a name (WAI-ARIA 1.2, region); columns have a scope."""
    table = "| | g |\n|:-|-:|\n| x | 1 |\n"
    soup = BeautifulSoup(html(body(f'## A "b"\n\n{table}\ny\n\n{table}')), "html.parser")
    regions = soup.select("div.scroller[role=region][tabindex='0']")
    assert [region["aria-label"] for region in regions] == ['A "b"', 'A "b" (2)']
    assert [caption.text for caption in soup.select("table > caption")] == ['A "b"', 'A "b" (2)']
    assert [(cell.text, cell["scope"]) for cell in regions[0].select("th")] == [("g", "col")]
    assert [cell["class"] for cell in regions[0].select("tbody td")] == [["to-left"], ["to-right"]]


def test_paragraphs_are_the_top_level_blocks() -> None:
    """Each with its source and its line, so that editions can be compared."""
    found = parse_body("## A\n\nb\nc\n\n- d\n- e\n\n\n> f\n", 5, "x.md", Problems())
    assert [(p.text, p.place.line) for p in found.paragraphs] == [
        ("## A", 5),
        ("b\nc", 7),
        ("- d\n- e", 10),
        ("> f", 14),
    ]


def test_a_body_travels_between_processes() -> None:
    """It is immutable and can be pickled."""
    found = body("## A {b}\n\n![c](d.jpg) [e](guide:f)\n")
    assert pickle.loads(pickle.dumps(found)) == found
    assert hash(found) == hash(body("\n## A {b}\n\n![c](d.jpg) [e](guide:f)\n"))


@pytest.mark.parametrize(
    "text",
    [
        ">" * 40_000,
        "> " * 20_000 + "a",
        "[" * 40_000,
        "![" * 20_000,
        "*a **" * 8_000,
        "`a``" * 10_000,
        "{a" * 20_000,
        "[a](" * 10_000,
        '[a](b "\\{' * 5_000,
        ("[" * 400 + "\n\n") * 20,
        ("[" * 400 + "\n\n") * 5_000,
        "".join("  " * n + "- a\n" for n in range(150)),
        "|a|\n|-|\n" + "|x|\n" * 3_000,
    ],
)
def test_time_is_bounded(text: str) -> None:
    """Neither nesting nor unclosed marks cost more than a moment (measured: 0.4 s at most)."""
    started = time.process_time()
    parse_body(text, 1, "x.md", Problems())
    assert time.process_time() - started < 5


def test_what_is_too_deep_or_too_long_is_said(printed: Callable[..., str]) -> None:
    """Nothing of a text is left out in silence."""
    assert said(">" * 30 + " a", printed) == ""
    assert "x.md:1:1: error: lists and quotes stand inside one another more than 20 times [text-depth]" in said(
        ">" * 60 + " a", printed
    )
    assert said("a\n\n" + "bb\n" * 30_000, printed) == (
        "x.md:3:1: error: expected at most 50,000 characters in one paragraph, list or table, found more "
        "[text-block]\n"
        "    3 | bb\n"
        "      | ^\n"
        "   hint: divide it by blank lines"
    )
    assert said("b\n\n" * 50_000, printed) == ""
    assert said("b\n\n" * 50_000 + " \n## c", printed) == (
        "x.md:100002:1: error: expected at most 50,000 lines in a text, found more [text-lines]\n"
        "100002 | ## c\n"
        "       | ^\n"
        "   hint: make several texts of it"
    )


@pytest.mark.parametrize(
    "text", [">" * 60 + " a", "- " * 60 + "a", "> - " * 40 + "a\n\n# b", "a\n\n" + "> 1. " * 40 + "*b* {mass}"]
)
def test_of_what_is_too_deep_nothing_stands_open(text: str) -> None:
    """Reading stops inside blocks that never end then, so none of them is handed on: what is made of a text is balanced."""
    problems = Problems()
    found = parse_body(text, 1, "x.md", problems)
    assert found.html == () and [p.code for p in problems if p.code == "text-depth"] == ["text-depth"]


MARKS = st.text(st.sampled_from("ab*_`[]()!>-#|\\&<\n \"'"), max_size=40)


@settings(max_examples=200, deadline=None)
@given(MARKS)
def test_words_are_those_of_the_reference_renderer(text: str) -> None:
    """The visible words equal those of the library's own renderer (which CommonMark's own examples test)."""
    reference = MarkdownIt("commonmark", {"html": False}).enable("table").render(text)
    found = parse_body(text, 1, "x.md", Problems())
    pieces = [piece for piece in found.html if isinstance(piece, str)]
    ours = BeautifulSoup("".join(pieces), "html.parser")
    for caption in ours.select("caption"):
        caption.decompose()
    theirs = BeautifulSoup(reference, "html.parser")
    assert "".join(ours.text.split()) == "".join(theirs.text.split())
