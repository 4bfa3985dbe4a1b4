"""The Markdown that may be written: CommonMark and tables, `{path}` for a value, raw HTML only where it is asked for.

`412 g{meant}` says that a figure is meant as it stands, whatever the data and the other languages say;
the mark prints nothing.
"""

import re
from collections.abc import Callable
from functools import cache, lru_cache
from types import SimpleNamespace
from typing import Any

from markdown_it import MarkdownIt, helpers
from markdown_it.rules_inline import StateInline, autolink, html_inline, image, link

DEEPEST = 40  # levels of lists and quotes; the parser leaves out what is deeper, so that is reported

# A path may be wrapped onto a second line by an editor. The bound keeps a stray brace cheap.
# Within doubled braces there is none, for they mean something in other notations and half of one would be left.
VALUE = re.compile(r"(?<!\{)\{([^{}\[\]\\`\n]{0,200}(?:\n[^{}\[\]\\`\n]{0,200})?)\}(?!\})")
MEANT = "meant"
PLACED = ("chart", "table", "photos")
PLACEMENT = re.compile(rf"^({'|'.join(PLACED)}): ?(.*)$")
LITERAL_BRACE = "\ufdd0\ufdd0"  # noncharacters (Unicode 23.7, for internal use), as long as the `\{` they stand for
_LOCATED = ("link_open", "image", "html_inline")
_ESCAPE = re.compile(r"\\(.)")


def markdown_parser(html: bool = False) -> MarkdownIt:
    """The one parser, or the one that also knows tags, made on first use; it keeps nothing between texts.

    Tokens `value`, `link_open`, `image` and `html_inline` carry `meta["at"]` and `meta["end"]`: where they stand in the
    content of their inline token (those inside an image count from the start of its alternative text).
    """
    return _parser(html)


@cache
def _parser(html: bool) -> MarkdownIt:
    # Without blocks of HTML a text has the same paragraphs, whether tags are allowed or not: editions are compared by them.
    parser = MarkdownIt("commonmark", {"html": html, "maxNesting": DEEPEST}).enable("table").disable("html_block")
    # Joined texts would hide which '<' was escaped, and every address is judged by us, with its place.
    parser.disable("text_join")
    parser.validateLink = lambda url: True  # type: ignore[method-assign]
    parser.helpers = SimpleNamespace(  # type: ignore[assignment]
        parseLinkLabel=helpers.parseLinkLabel,
        parseLinkDestination=helpers.parseLinkDestination,
        parseLinkTitle=_link_title,
    )
    ruler = parser.inline.ruler
    ruler.before("escape", "value", _value)
    for name, rule in (("link", link), ("image", image), ("autolink", autolink), ("html_inline", html_inline)):
        ruler.at(name, _located(rule))
    return parser


def _value(state: StateInline, silent: bool) -> bool:
    """`{path}`; `{meant}` prints nothing; anything else that begins with a brace is text."""
    found = VALUE.match(state.src, state.pos, state.posMax) if state.src[state.pos] == "{" else None
    if found is None or not found[1].strip():
        return False
    if not silent and found[1].strip() != MEANT:
        token = state.push("value", "", 0)
        token.content = tidy_path(found[1])
        token.meta = {"at": state.pos, "end": found.end()}
    state.pos = found.end()
    return True


def tidy_path(written: str) -> str:
    """A path with single blanks: prose may break a line within it."""
    return " ".join(written.split())


def _located(rule: Callable[[StateInline, bool], bool]) -> Callable[[StateInline, bool], bool]:
    def located(state: StateInline, silent: bool) -> bool:
        start, before = state.pos, len(state.tokens)
        if not rule(state, silent):
            return False
        if not silent:
            made = next(t for t in state.tokens[before:] if t.type in _LOCATED)
            made.meta = {"at": start, "end": state.pos}
        return True

    return located


def _link_title(string: str, start: int, maximum: int, prev_state: Any = None) -> Any:
    """The library's reader of titles, but an escaped brace stays apart from one that begins a value."""
    return helpers.parseLinkTitle(_with_literal_braces(string), start, maximum, prev_state)


@lru_cache(maxsize=1)  # asked again for each link of one paragraph
def _with_literal_braces(string: str) -> str:
    if "\\{" not in string:
        return string
    return _ESCAPE.sub(lambda found: LITERAL_BRACE if found[1] == "{" else found[0], string)
