"""What a style sheet would fetch from elsewhere is found, however it is written; what it may hold is let through.

Grammar after CSS Syntax Module Level 3 (from memory): comments, strings, escapes and addresses are its own examples' kinds.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.text.style_sheets import LARGEST_SHEET, MOST_FAULTS, style_faults

ELSEWHERE = "https://elsewhere.example/x"


@pytest.mark.parametrize(
    "sheet",
    [
        "p { background: url(https://elsewhere.example/x) }",
        "p { background: url( 'https://elsewhere.example/x' ) }",
        'p { background: URL("HTTPS://elsewhere.example/x") }',
        "p { background: \\75rl(https://elsewhere.example/x) }",
        "p { background: u\\72 l(https://elsewhere.example/x) }",
        "p { background: url(//elsewhere.example/x) }",
        "p { background: url(/\\/elsewhere.example/x) }",
        'p { background: url("\\\\\\\\elsewhere.example") }',
        'p { background: url("ht\\\ntps://elsewhere.example/x") }',
        "p { background: url(\\68ttps://elsewhere.example/x) }",
        "p { background: url(data:text/html,x) }",
        "p { background: url(javascript:alert(1)) }",
        "@import 'https://elsewhere.example/x.css';",
        '@\\69mport "https://elsewhere.example/x.css";',
        "@IMPORT url(https://elsewhere.example/x.css);",
        "@import/**/'//elsewhere.example/x.css';",
        "@import '/x.css';",
        "p { background: image-set('https://elsewhere.example/x' 1x) }",
        "p { background: -webkit-image-set('https://elsewhere.example/x' 1x) }",
        "p { background: image-set(var(--x) 1x) }",
        "@font-face { src: url(https://elsewhere.example/x) }",
        "p { --x: url(https://elsewhere.example/x) }",
        "/* url(x) */ p { background: url(https://elsewhere.example/x) }",
        "p::after { content: '/*'; background: url(https://elsewhere.example/x); } /* */",
        "a { b: url(x y) }",
        "p { content: 'open",
        "p { color: red } /* open",
        "p { content: 'a\nb' }",
    ],
)
def test_what_asks_elsewhere_is_refused(sheet: str) -> None:
    """An address of another host is found through escapes, capitals, comments, quotes and functions; so is a sheet that
    browsers would read in two ways.
    """
    assert style_faults(sheet)


@pytest.mark.parametrize(
    "sheet",
    [
        "",
        "p { color: #123; margin: -1.5e3px 10% }",
        "p { background: url(paper.png) }",
        "p { background: url('../photos/a b.jpg') }",
        "p { background: url(data:image/png;base64,iVBORw0KGgo=) }",
        "@font-face { font-family: X; src: url(data:font/woff2;base64,d09GMg==) }",
        "@import 'more.css';",
        "/* https://elsewhere.example/x and url(//x) */ p { color: red }",
        "p::after { content: 'url(https://elsewhere.example/x)' }",
        "a[href^='https://'] { color: red }",
        "p { width: calc((1px + 2px) * 3); color: var(--ink) }",
        "@media (min-width: 40rem) { p { color: light-dark(#000, #fff) } }",
        "\\31 0 { color: red }",
    ],
)
def test_what_stays_within_the_site_is_let_through(sheet: str) -> None:
    """Paths, packed pictures and typefaces, and whatever only looks like an address."""
    assert style_faults(sheet) == ()


def test_a_fault_has_its_place() -> None:
    """Line and column of the address's beginning, whatever the line ends."""
    (fault,) = style_faults("p {}\r\n\r\na { b: c; background: url(//x) }")
    assert (fault.line, fault.column) == (3, 23)
    assert "'//x' lies elsewhere" in fault.message


def test_so_many_faults_are_told() -> None:
    """Of one sheet some faults are told; a sheet of no sensible size isn't read."""
    assert len(style_faults("a { b: url(//x) } " * 1000)) == MOST_FAULTS
    assert [fault.line for fault in style_faults("\n" * (LARGEST_SHEET + 1))] == [1]


TOKENS = [
    "url(",
    "@import ",
    "'",
    '"',
    "(",
    ")",
    "{",
    "}",
    "\\",
    "/*",
    "*/",
    "//x",
    "https://x",
    "\n",
    "a",
    " ",
    "image-set(",
    "\0",
    "\x80",
]


@given(st.text() | st.lists(st.sampled_from(TOKENS)).map("".join))
def test_any_text_is_read_to_its_end(sheet: str) -> None:
    """Never raises; each fault's place lies in the sheet."""
    lines = sheet.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for fault in style_faults(sheet):
        assert 1 <= fault.line <= len(lines) and 1 <= fault.column <= len(lines[fault.line - 1]) + 1


HARMLESS = st.sampled_from(
    [
        "p",
        "a:hover",
        "#id",
        ".class",
        "{",
        "}",
        "color: red;",
        "/* https://x */",
        "'//x'",
        "10px",
        "@media",
        "(min-width: 1px)",
    ]
)


@given(st.lists(HARMLESS).map(" ".join))
def test_harmless_pieces_in_any_order_have_no_faults(sheet: str) -> None:
    """Nothing is refused that asks for nothing."""
    assert style_faults(sheet) == ()
