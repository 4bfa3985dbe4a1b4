"""What a style sheet would fetch from elsewhere is found, however it is written; what it may hold is let through.

Grammar after CSS Syntax Module Level 3 (from memory): comments, strings, escapes and addresses are its own examples' kinds.
"""

import tracemalloc
from pathlib import Path

import pytest
from builders import write
from hypothesis import given
from hypothesis import strategies as st

from sitegen.figures.forms.language import open_language
from sitegen.pages.theme.theme import ThemeError, open_theme, stylesheet
from sitegen.pipeline.build import build
from sitegen.text.style_sheets import LARGEST_SHEET, MOST_FAULTS, style_faults

ROOT = Path(__file__).parents[2]
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
        'a { b: url(/**/"//x") }',
        "a { b: \\000075rl(//x) }",
        "a { b: \\75\r\nrl(//x) }",
        "a { b: url(ht\\9tps://x) }",
        'a { b: url("/\t/x") }',
        'a { b: url("\\1 //x") }',
        'a { b: url("\\\\host/x\\\\") url("\\\\\\\\host") }',
        "a { b: image-set(({)} '//x') }",
        "a { b: image-set(url(x) 1x, '//x' 2x) }",
        "a { b: image-set(--f() 1x) }",
        "a { b: src(attr(x)) }",
        "a { --x: '//x'; b: image-set(v\\61r(--x) 1x) }",
        "a { b: '\\\n'url(//x) }",
        "<!-- @import '//x' -->",
        "@import src('//x');",
        "@import url(data:text/css,x);",
        "\ufeffa { b: url(//x) }",
        "a { b: url(//x",
        "a { b: url('//x'",
        "a { color: red\u2028}",
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
        "p { background: url(\\\\paper.png) }",
        "p { --paper: url(paper.png); background: var(--paper) }",
        "p { background: image-set('paper.png' 1x type('image/png')) }",
        "@font-face { src: local('https://x'), url(x.woff2) format('woff2'); unicode-range: U+0-7F }",
        "p::after { content: '<\\\\/style>' }",
        "a#url(//x)",
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


def test_the_place_counts_signs_not_bytes() -> None:
    """Wide letters, tabs and escapes before an address count one column for each sign that was typed."""
    (fault,) = style_faults("/* é漢\U0001f9e5 */\tp { b: u\\72 l(//x) }")
    assert (fault.line, fault.column) == (1, 18)
    (imported,) = style_faults("p {}\n  @import\n  'https://x';")
    assert (imported.line, imported.column) == (3, 3)


@pytest.mark.parametrize(
    "sheet", ["p {}\n/* </style> */", "p {}\n'</STYLE '", "p {}\n   </sTyLe><script src=//x>", "p {}\nurl(</style)"]
)
def test_no_sheet_ends_the_element_it_stands_in(sheet: str) -> None:
    """HTML reads a style element to the next `</style`, whatever CSS makes of it (HTML Standard, 13.2.5.3; from memory),
    and the page for what isn't found carries its sheet within itself.
    """
    (fault,) = style_faults(sheet)
    assert fault.line == 2 and "would end the sheet" in fault.message


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


@st.composite
def spellings(draw: st.DrawFn, word: str) -> str:
    """A word as CSS lets it be written: in either case, each letter plain or escaped in one of three ways."""
    letters = []
    for letter in word:
        plain = letter.swapcase() if draw(st.booleans()) else letter
        ways = [plain, f"\\{ord(plain):x} ", f"\\{ord(plain):06x}"]
        letters.append(draw(st.sampled_from(ways if plain in "abcdefABCDEF" else [*ways, f"\\{plain}"])))
    return "".join(letters)


FOREIGN = (
    st.sampled_from(["https:", "http:", "ws:", ""]).flatmap(spellings).map(lambda scheme: f"{scheme}//x.example/y")
)
GAPS = st.sampled_from(["", " ", "\n", "\t", "\f"])
QUOTES = st.sampled_from(["'", '"'])


@given(st.lists(HARMLESS).map(" ".join), spellings("url"), FOREIGN, GAPS, st.one_of(st.just(""), QUOTES))
def test_a_foreign_address_is_found_in_any_spelling(before: str, word: str, address: str, gap: str, quote: str) -> None:
    """Whatever harmless things stand before it, the address is told at the column of its function, or of its quote."""
    sheet = f"{before} {word}({gap}{quote}{address}{quote}{gap})"
    (fault,) = style_faults(sheet)
    at = len(before) + 1 + (len(f"{word}({gap}") if quote else 0)
    line = sheet.count("\n", 0, at) + 1
    assert (fault.line, fault.column) == (line, at - sheet.rfind("\n", 0, at))


@given(spellings("import"), FOREIGN, GAPS, QUOTES)
def test_a_foreign_import_is_found_in_any_spelling(word: str, address: str, gap: str, quote: str) -> None:
    """So is the address of `@import`, which needs no function."""
    assert style_faults(f"@{word}{gap}{quote}{address}{quote};")
    assert style_faults(f"@{word}{gap}{quote}more.css{quote};") == ()


def test_a_build_with_a_foreign_sheet_publishes_nothing(tmp_path: Path) -> None:
    """The author's own sheet stops the build at its line and column, and the published folder isn't touched."""
    folder = write(
        tmp_path / "pub", {"theme/extra.css": "h1 { color: #123 }\n\n  @import 'https://x.example/y.css';\n"}
    )
    problems = build(folder, tmp_path / "site", None).problems
    assert [(p.code, str(p.place)) for p in problems.errors] == [("theme", "theme/extra.css:3:11")]
    assert not (tmp_path / "site").exists()


def test_a_sheet_within_its_bounds_is_published(tmp_path: Path) -> None:
    """What is let through stands in the site's sheet to the letter."""
    folder = write(tmp_path / "pub", {"theme/extra.css": "h1 { background: url(data:image/gif;base64,R0lGOA==) }"})
    assert not build(folder, tmp_path / "site", None).problems.has_errors
    (sheet,) = (tmp_path / "site" / "assets").glob("theme-*.css")
    assert sheet.read_text("utf-8").endswith("\nh1 { background: url(data:image/gif;base64,R0lGOA==) }")


def test_a_sheet_beyond_its_bound_is_refused_unread(tmp_path: Path) -> None:
    """A file with more bytes than the bound of characters could take (4 each: RFC 3629, section 3) costs no memory."""
    folder = write(tmp_path / "pub", {"theme/extra.css": ""})
    with (folder / "theme" / "extra.css").open("r+b") as sheet:
        sheet.truncate(64 * LARGEST_SHEET)
    theme = open_theme(
        ROOT / "themes" / "bench", folder / "theme", open_language("en", ROOT / "content" / "catalogues")
    )
    tracemalloc.start()
    try:
        with pytest.raises(ThemeError, match="expected at most 1,048,576 characters, found more") as told:
            stylesheet(theme)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert (told.value.path, told.value.line, told.value.column) == (folder / "theme" / "extra.css", 1, 1)
    assert most < 16 * LARGEST_SHEET


@pytest.mark.parametrize("sign", ["x", "é", "漢", "\U0001f9e5"])
def test_the_bound_of_a_sheet_counts_characters(sign: str, tmp_path: Path) -> None:
    """A sheet at its bound is taken, whatever its characters take in bytes; with one more it is refused."""
    folder = write(tmp_path / "pub", {"theme/extra.css": sign * LARGEST_SHEET})
    theme = open_theme(
        ROOT / "themes" / "bench", folder / "theme", open_language("en", ROOT / "content" / "catalogues")
    )
    assert sign.encode() in stylesheet(theme)
    (folder / "theme" / "extra.css").write_text(sign * LARGEST_SHEET, "utf-8-sig")
    assert sign.encode() in stylesheet(theme)
    (folder / "theme" / "extra.css").write_text(sign * (LARGEST_SHEET + 1), "utf-8")
    with pytest.raises(ThemeError, match="expected at most 1,048,576 characters, found more"):
        stylesheet(theme)


@pytest.mark.parametrize("sheet", ["p { color: red } /* </style><script> */", "p::after { content: '</STYLE>' }"])
def test_a_sheet_can_t_end_the_element_that_carries_it(sheet: str) -> None:
    """HTML ends a style element at the first `</style`, wherever that stands (HTML Living Standard, 13.2.5.3; from memory)."""
    (fault,) = style_faults(sheet)
    assert fault.column == sheet.lower().index("</style") + 1


def test_no_page_is_broken_out_of(tmp_path: Path) -> None:
    """A sheet that would end its element in 404.html stops the build, though a browser's style sheet reader sees a comment."""
    sheet = "/* </style><img src=//x.example/y> */"
    told = build(write(tmp_path / "pub", {"theme/extra.css": sheet}), tmp_path / "site", None).problems.errors
    assert [(p.code, str(p.place)) for p in told] == [("theme", "theme/extra.css:1:4")]
