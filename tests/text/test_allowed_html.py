"""HTML that a publication allows in its texts: what stays is harmless and balanced, what goes is told where it stood.

The references: the library that is the sanitiser (a second pass changes nothing), lxml and Python's own parser as
readers of the outcome, and the attacks of `hostile_payloads.py` (OWASP, from memory).
"""

import re
import time
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import nh3
import pytest
from builders import SMALL, write
from hostile_payloads import PAYLOADS
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import html as reference

from sitegen.pipeline.build import build, check
from sitegen.place import Place
from sitegen.problems import Problems, Severity
from sitegen.text.allowed_html import ATTRIBUTES, BLOCKS, OPENING, RUNNING
from sitegen.text.markdown import Body, ImageSlot, LinkSlot, Piece, ValueSlot, parse_body

ALLOWED = RUNNING | BLOCKS
OURS = {"h2", "h3", "h4", "h5", "h6", "pre", "hr", "div", "img"}  # what Markdown makes besides
VOID = {"br", "hr", "img"}
NOWHERE = Place("x.md", 1, 1)


def read(text: str) -> tuple[Body, Problems]:
    """A text with HTML allowed, and what is told of it."""
    problems = Problems()
    return parse_body(text, 1, "x.md", problems, html=True), problems


def shown(body: Body) -> str:
    """The pieces as HTML, with a plain word for each value."""
    return "".join(map(_shown, body.html))


def _shown(piece: Piece) -> str:
    if isinstance(piece, LinkSlot):
        return f'<a href="{escape(piece.href)}">'
    if isinstance(piece, str):
        return piece
    return "value" if isinstance(piece, ValueSlot) else '<img alt="">'


def told(text: str) -> list[tuple[str, int, int, str]]:
    return [(p.code, p.place.line, p.place.column, p.message) for p in read(text)[1]]


class Balance(HTMLParser):
    """Whether each element is closed in turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.names: set[str] = set()
        self.attributes: set[tuple[str, str]] = set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {(tag, name) for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_comment(self, data: str) -> None:
        self.wrong.append("comment")

    def handle_decl(self, decl: str) -> None:
        self.wrong.append("declaration")

    def handle_pi(self, data: str) -> None:
        self.wrong.append("instruction")


def check_harmless(text: str) -> None:
    """The law of this file, for one text."""
    body, problems = read(text)
    out = shown(body)
    found = Balance(out)
    assert (found.wrong, found.open) == ([], [])
    assert found.names <= ALLOWED | OURS
    for name, attribute in found.attributes:
        made = {
            "h2": {"id"},
            "ol": {"start"},
            "pre": {"tabindex"},
            "div": {"class", "role", "tabindex", "aria-label"},
            "img": {"alt"},
        }
        made |= {"th": {"class", "scope"}, "td": {"class"}} | {key: {"id"} for key in ("h3", "h4", "h5", "h6")}
        assert attribute in ATTRIBUTES.get(name, frozenset()) | made.get(name, set()), (name, attribute)
    for node in reference.fragments_fromstring(f"<div>{out}</div>"):
        for inner in node.iter():
            assert inner.tag in ALLOWED | OURS
            assert not any(key.startswith("on") or key in {"style", "src", "srcdoc"} for key in inner.attrib)
            address = inner.get("href", "")
            assert re.match(
                r"(https?|mailto|review|guide|method|round|product|rig):|[^:]*$|[^:/?#]*[/?#]", address, re.IGNORECASE
            ), address
            assert not address.startswith(("//", "\\", "/\\"))
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for problem in problems:
        assert 1 <= problem.place.line <= len(lines)
        assert 1 <= problem.place.column <= len(lines[problem.place.line - 1]) + 1


WORDS = (
    "<b>|</b>|<i>|</i>|<table>|</table>|<tr>|</tr>|<td>|</td>|<td colspan=2>|<th scope=col>|</th>|<ul>|</ul>|<li>|</li>|"
    '<p>|</p>|<a href="https://a.example">|<a href=guide:care>|</a>|<a href=javascript:x>|<br>|</br>|<br/>|'
    '<abbr title="{mass}">|<abbr title=\'"&quot;<\'>|</abbr>|<script>|</script>|<style>|</style>|<img src=x onerror=x>|'
    "<svg>|</svg>|<math>|<details>|<summary>|</details>|<span lang=de dir=rtl>|<span lang='\"'>|</span>|<!-- x -->|<!--|-->|"
    '<?x?>|<!x>|<![CDATA[x]]>|<code>|</code>|`|*|**|_|[|](https://b.example)|](guide:care "t")|![|](photos/x.jpg)|{mass}|'
    "{|}|\\|&lt;|&#60;|&#xfdd0;|&quot;|&|<|>|\"|'|\n|\n\n|\n- |\n> |\n## |    | |x||\ufdd0|0|\u00a0|<B CLASS=x ONCLICK=y>|"
    "<b\nlang=de>|<template>|<noscript>|<textarea>|<plaintext>|<form>|<caption>|<tbody>|<figure>|<dl>|<dt>|<dd>|</dl>"
).split("|")
TABLE = "| a |\n|---|\n| b |\n"
GUEST = st.lists(
    st.sampled_from([*WORDS, TABLE, *PAYLOADS]) | st.text("<>/=\"'ab &;#\n{}", max_size=6), max_size=14
).map("".join)


@settings(max_examples=400, deadline=None)
@given(GUEST)
@example("<b><p>x</b><table><td>y")
@example("<a href=https://a.example>x [y](guide:care) z</a>")
@example("[<a href=https://a.example>x</a>](guide:care)")
@example("<abbr title='<a href=\"https://a.example\">'>x</abbr>")
@example('<abbr title="&#xfdd0;0&#xfdd0;">x</abbr>')
@example("<table><a href=https://a.example>x<tr><td>y</a></table>")
def test_whatever_goes_in_what_comes_out_is_harmless(text: str) -> None:
    """Only allowed elements and attributes, balanced, with addresses of the schemes that links may have."""
    check_harmless(text)


@pytest.mark.parametrize(
    "form", ["{}", "<b>{}", "x {} y", "- {}", "<table><tr><td>{}", "## {}", "<a href='https://a.example'>{}</a>"]
)
def test_no_known_attack_comes_through(form: str) -> None:
    """The same for each attack of the list, in each place."""
    for attack in PAYLOADS:
        check_harmless(form.replace("{}", attack))


@settings(max_examples=150, deadline=None)
@given(GUEST)
def test_a_second_pass_changes_nothing(text: str) -> None:
    """What comes out is what the sanitiser itself would leave alone (nh3, idempotence)."""
    body, _ = read(text)
    out = "".join(piece for piece in shown(body)).replace('<img alt="">', "")
    made = {"h2", "h3", "h4", "h5", "h6", "pre", "hr", "div"}
    attributes = {
        name: set(ATTRIBUTES.get(name, ())) | {"class", "scope", "start", "id", "tabindex", "role", "aria-label"}
        for name in ALLOWED | made
    }
    schemes = {"http", "https", "mailto", "review", "guide", "method", "round", "product", "rig"}
    once = nh3.clean(out, tags=set(ALLOWED | made), attributes=attributes, url_schemes=schemes, link_rel=None)
    again = nh3.clean(once, tags=set(ALLOWED | made), attributes=attributes, url_schemes=schemes, link_rel=None)
    assert again == once
    assert sorted(Balance(once).attributes) == sorted(Balance(out).attributes)
    assert Balance(once).names - {"tbody", "p"} == Balance(out).names - {"tbody", "p"}


@settings(max_examples=150, deadline=None)
@given(GUEST)
def test_blocks_are_the_same_with_and_without(text: str) -> None:
    """Editions are compared block by block: allowing HTML moves no border."""
    assert read(text)[0].paragraphs == parse_body(text, 1, "x.md", Problems()).paragraphs


@settings(max_examples=150, deadline=None)
@given(GUEST)
def test_nothing_goes_in_silence(text: str) -> None:
    """Where nothing is told, every tag that was written is there."""
    body, problems = read(text)
    if not [
        p for p in problems if p.code in {"html-taken", "html-open", "link-address", "image-address", "text-block"}
    ]:
        written = [tag.lower() for tag in re.findall(r"<([A-Za-z]+)(?=[\s/>])", "".join(TAGS.findall(text)))]
        found = re.findall(r"<([a-z]+)", shown(body))
        code = "`" in text or "    " in text or "\\" in text or "![" in text or "{" in text or "](" in text
        assert code or all(written.count(name) <= found.count(name) for name in set(written) & ALLOWED)


TAGS = re.compile(r"<[A-Za-z][A-Za-z0-9]*>")

TOLD = [
    ("x <script>y</script>", [("html-taken", 1, 3, "HTML was removed: '<script>'")]),
    ("a\nb <i onclick=\"x\">c</i>", [("html-taken", 2, 3, "HTML was removed: 'onclick' of '<i onclick=\"x\">'")]),
    ("> x <img src=y>", [("html-taken", 1, 5, "HTML was removed: '<img src=y>'")]),
    ("<b>x", [("html-open", 1, 1, "<b> is not closed where it should be, so it ends with what it stands in")]),
    ("<b><i>x</b>", [("html-open", 1, 4, "<i> is not closed where it should be, so it ends with what it stands in")]),
    ("x</b>", [("html-taken", 1, 2, "HTML was removed: '</b>' (it closes nothing that is open here)")]),
    ("<!-- x --> y", [("html-taken", 1, 1, "HTML was removed: '<!-- x -->'")]),
    ("x <table>", [("html-taken", 1, 3, "HTML was removed: '<table>'")]),
    ("<table><tr><td lang='\"'>x</td></tr></table>",
     [("html-taken", 1, 12, "HTML was removed: 'lang' of '<td lang='\"'>' (found '\"')")]),
    ("<a>x</a>", [("html-taken", 1, 1, "HTML was removed: '<a>' (it leads nowhere)")]),
    ("[<a href='https://a.example'>x</a>](guide:care)",
     [("html-taken", 1, 2, "HTML was removed: '<a href='https://a.example'>' (a link can't stand in a link)")]),
    ("<ul>\n<td>x</td>\n</ul>", [("html-taken", 1, 1, "HTML was removed: <td> can't stand in such a place")]),
    ("<b>x</b> <kbd>F1</kbd> H<sub>2</sub>O <time datetime=\"2026-10-04\">x</time>", []),
    ("<table>\n<tr><th scope=\"col\">a</th></tr>\n<tr><td>{mass}</td></tr>\n</table>", []),
    ("<dl><dt>a</dt><dd>b</dd></dl>", []),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TOLD)
def test_what_is_taken_away_is_told(text: str, expected: list[tuple[str, int, int, str]]) -> None:
    """Each with its place; what is whole and allowed brings no word. Nothing of it stops the publication."""
    assert told(text) == expected
    assert all(problem.severity is Severity.CAUTION and problem.hint for problem in read(text)[1])


SHOWN = [
    ("a <b>x</b> *y*", "<p>a <b>x</b> <em>y</em></p>\n"),
    ("<B>x</B>", "<p><b>x</b></p>\n"),
    ("<b>x *y</b> z*", "<p><b>x <em>y</em></b><em> z</em></p>\n"),
    ("<b>lone\n\nnext", "<p><b>lone</b></p>\n<p>next</p>\n"),
    ("<script>alert(1)</script>", "<p>alert(1)</p>\n"),
    ("`<b>` \\<b> &lt;b&gt;", "<p><code>&lt;b&gt;</code> &lt;b&gt; &lt;b&gt;</p>\n"),
    ("<details><summary>More</summary>\n{mass} *x*\n</details>", "<details><summary>More</summary>\nvalue <em>x</em>\n</details>\n"),
    ("- <kbd>x</kbd>", "<ul>\n<li><kbd>x</kbd></li>\n</ul>\n"),
    ("<span lang=de dir=ltr class=x>y</span>", '<p><span lang="de" dir="ltr">y</span></p>\n'),
    ("10\u00a0g <b>x</b>", "<p>10\u00a0g <b>x</b></p>\n"),
    ("a & b <i>c</i>", "<p>a &amp; b <i>c</i></p>\n"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), SHOWN)
def test_what_stays(text: str, expected: str) -> None:
    """Allowed tags are obeyed, Markdown and values go on around them."""
    assert shown(read(text)[0]) == expected


def test_values_and_links_work_around_it() -> None:
    """A guest's link is one like Markdown's, a value in a title is filled, a place is that of the file."""
    body, problems = read('<a href="review:tarn">**t**</a> <abbr title="{mass of fenn} g">{mass}</abbr>')
    slots = [piece for piece in body.html if not isinstance(piece, str)]
    assert slots == [
        LinkSlot("review:tarn", (), NOWHERE),
        ValueSlot("mass of fenn", NOWHERE),
        ValueSlot("mass", NOWHERE),
    ]
    assert [(slot.place.column, slot.place.width) for slot in slots] == [(1, 22), (33, 31), (64, 6)]
    assert not list(problems)


def test_headings_and_alternatives_hold_words_only() -> None:
    """An id, a table's name and a picture's alternative are plain text."""
    body, _ = read("## A <b>x</b>\n\n![a <b>y</b>](photos/p.jpg)\n")
    assert [(h.id, h.text) for h in body.headings] == [("a-x", "A x")]
    assert [piece.alt for piece in body.html if isinstance(piece, ImageSlot)] == [("a y",)]


@pytest.mark.parametrize(
    "text",
    [
        "<b>" * 16_000, "</b>" * 12_000, "<b><i>" * 8_000, "<i><b lang=aa></i>" * 2_700, "<a href=x>" * 5_000, "<table>" * 7_000,
        "<table>" + "<tr><td>" * 6_000, "<ul>" + "<li>" * 12_000, "<b>*x</b>*" * 5_000, "<!--" * 12_000, "<b " * 16_000,
        "<table><p>" + "<b><table>" * 4_000, "<span lang=" * 4_000, ("<b>x</b>" * 6_000 + "\n\n") * 2,
    ],
)  # fmt: skip
def test_time_and_size_are_bounded(text: str) -> None:
    """Neither nesting nor what is left open costs more than a moment, nor does it come out many times longer."""
    started = time.process_time()
    body, _ = read(text)
    assert time.process_time() - started < 5
    assert len(shown(body)) < 20 * len(text) + 10_000


def test_every_opening_belongs_to_the_blocks() -> None:
    """The lists fit each other: nothing that runs, loads, frames, styles or sends is on them."""
    assert OPENING <= BLOCKS and not RUNNING & BLOCKS and set(ATTRIBUTES) <= ALLOWED
    assert not ALLOWED & {
        "script",
        "style",
        "img",
        "svg",
        "math",
        "iframe",
        "object",
        "embed",
        "form",
        "input",
        "base",
        "meta",
        "link",
        "template",
    }
    assert not {name for names in ATTRIBUTES.values() for name in names} & {
        "style",
        "class",
        "id",
        "name",
        "src",
        "srcset",
        "action",
        "target",
        "rel",
    }


# The setting ----------------------------------------------------------------------------------------------------

REVIEW = SMALL["reviews/tarn/de.md"] + '\nAm <b>Berg</b> mit <i onclick="x">Wind</i>.\n'
ALLOW = SMALL["publication.yaml"] + "html_in_texts: allow list\n"


def test_the_setting_is_off_by_default(tmp_path: Path) -> None:
    """Without it tags are printed, which is told; with it they are obeyed, and only what went is told."""
    off = check(write(tmp_path / "off", {"reviews/tarn/de.md": REVIEW}))
    no = check(
        write(
            tmp_path / "no",
            {"reviews/tarn/de.md": REVIEW, "publication.yaml": SMALL["publication.yaml"] + "html_in_texts: no\n"},
        )
    )
    on = check(write(tmp_path / "on", {"reviews/tarn/de.md": REVIEW, "publication.yaml": ALLOW}))
    of_html = [[p for p in found if p.code.startswith("html")] for found in (off, no, on)]
    assert [[p.code for p in found] for found in of_html[:2]] == [["html-in-text"], ["html-in-text"]]
    assert [(p.code, p.place.line, p.place.column) for p in of_html[2]] == [
        ("html-taken", len(REVIEW.splitlines()), 20)
    ]


def test_what_is_kept_of_a_text_depends_on_the_setting(tmp_path: Path) -> None:
    """Turned on and off again with the same memory, a page is each time that of a clean build."""
    pub, seen = write(tmp_path / "pub", {"reviews/tarn/de.md": REVIEW}), []
    for setting in ("no", "allow list", "no"):
        write(
            pub,
            {
                "publication.yaml": SMALL["publication.yaml"] + f"html_in_texts: {setting}\n",
                "reviews/tarn/de.md": REVIEW,
            },
        )
        for to, memory in (("site", tmp_path / "memory" / "store"), (f"clean-{len(seen)}", None)):
            assert build(pub, tmp_path / to, memory).published
        page = (tmp_path / "site" / "de" / "reviews" / "tarn.html").read_text("utf-8")
        assert page == (tmp_path / f"clean-{len(seen)}" / "de" / "reviews" / "tarn.html").read_text("utf-8")
        seen.append(page)
    assert seen[0] == seen[2] != seen[1]
    assert "Am <b>Berg</b> mit <i>Wind</i>." in seen[1] and "Am &lt;b&gt;Berg&lt;/b&gt;" in seen[0]


def test_an_unknown_word_is_told(tmp_path: Path) -> None:
    """The setting is one of two words."""
    problems = check(write(tmp_path / "pub", {"publication.yaml": SMALL["publication.yaml"] + "html_in_texts: yes\n"}))
    assert ["expected one of: no, allow list" in problem.message for problem in problems] == [True]
