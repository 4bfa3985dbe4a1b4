"""Texts in which HTML is obeyed, as far as into the HTML of a page.

What comes out is read by a form stricter than any browser's: each `<` begins a tag written in one fixed way, so every
parser must see the same tags. Laws: only elements, attributes and schemes of our lists, each element closed in turn,
and a size that grows with the text and not with its square.
"""

import atexit
import re
import shutil
import tempfile
from contextlib import ExitStack
from functools import cache
from html import unescape
from pathlib import Path

from sitegen.pages.parts.body import body_blocks
from sitegen.pages.parts.parts import text_values
from sitegen.pages.plan.plan import ABOUT, Page
from sitegen.pages.site import PictureFile, PictureSet, Sheet, Site
from sitegen.pipeline.build import opened
from sitegen.pipeline.site import site_without_drawings
from sitegen.problems import Problems
from sitegen.text.allowed_html import ATTRIBUTES, BLOCKS, RUNNING
from sitegen.text.markdown import parse_body
from sitegen.text.source import Source
from tests.builders import write
from tests.fuzz.laws import need
from tests.fuzz.targets import check_told, of_text
from tests.hostile_payloads import PAYLOADS

VOID = frozenset({"br", "hr", "img", "source"})
LONGEST = 3_500  # characters of a photo with all its addresses: the longest thing that few characters stand for
OURS: dict[str, frozenset[str]] = {
    **dict.fromkeys("h2 h3 h4 h5 h6".split(), frozenset({"id"})),
    "a": frozenset({"rel", "title", "lang", "hreflang", "class"}),
    "ol": frozenset({"start"}),
    "pre": frozenset({"tabindex"}),
    "div": frozenset({"class", "role", "tabindex", "aria-label"}),
    "figure": frozenset({"class"}),
    "picture": frozenset(),
    "source": frozenset({"type", "srcset", "sizes"}),
    "img": frozenset({"src", "srcset", "sizes", "width", "height", "alt", "loading"}),
    "th": frozenset({"class", "scope"}),
    "td": frozenset({"class"}),
    "hr": frozenset(),
}
"""What Markdown and our own pages make besides what guests may write."""

_PART = re.compile(r'<(/?)([a-z][a-z0-9]*)((?: [a-z-]+(?:="[^"<]*")?)*)>|([^<]+)')
_ATTRIBUTE = re.compile(r' ([a-z-]+)(?:="([^"<]*)")?')
# As browsers read it, blanks and controls before it dropped (URL Living Standard, 4.4).
_SCHEME = re.compile(r"[\x00-\x20]*([A-Za-z](?:[A-Za-z0-9+.-]|[\t\n\r])*):")


def _read(source: Source, problems: Problems) -> None:
    told = Problems()
    body = parse_body(source.text, 1, source.name, told, html=True)
    check_told(told, source.text.split("\n"), source.name)
    problems.extend(told)
    out = "".join(str(block.html) for block in body_blocks(_sheet(), body, text_values(_sheet()), Problems(), "de"))
    _check(out)
    need("\ufdd0" not in out, "no mark of ours comes out")
    shown = sum(map(len, source.text.split("\n"))) + 60
    need(len(out) <= 60 * shown + LONGEST * source.text.count("!["), "a page grows with its text", len(out), shown)


def _check(out: str) -> None:
    waiting: list[str] = []
    end = 0
    for found in _PART.finditer(out):
        need(found.start() == end, "each < begins a tag", out[end : end + 80])
        end = found.end()
        name = found[2]
        if not name:
            continue
        need(name in RUNNING | BLOCKS or name in OURS, "an element is one of ours", name)
        if found[1]:
            need(bool(waiting) and waiting.pop() == name, "each element is closed in turn", name)
            continue
        _check_attributes(name, found[3])
        if name not in VOID:
            waiting.append(name)
    need(end == len(out), "each < begins a tag", out[end : end + 80])
    need(not waiting, "each element is closed", waiting)


def _check_attributes(name: str, written: str) -> None:
    names = set()
    for key, value in _ATTRIBUTE.findall(written):
        need(key not in names, "an attribute stands once", name, key)
        names.add(key)
        need(key in ATTRIBUTES.get(name, ()) or key in OURS.get(name, ()), "an attribute is one of ours", name, key)
        if key in {"href", "src", "srcset"}:
            _check_address(unescape(value))


def _check_address(address: str) -> None:
    scheme = _SCHEME.match(address)
    known = scheme is None or re.sub(r"[\t\n\r]", "", scheme[1]).lower() in {"http", "https", "mailto"}
    need(known, "an address has one of our schemes", address)
    need(not re.match(r"[\x00-\x20]*[/\\]{2}", address), "an address names its scheme", address)


_PHOTO = PictureSet(400, 300, (PictureFile(400, "photos/x-400.webp", "photos/x-400.jpg"),))


@cache
def _sheet() -> Sheet:
    """The page that all texts are put into: of the small publication, with one picture in it. Its session stays open."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    _open.enter_context(opened(write(folder)))
    made_of = site_without_drawings()
    fields = {name: getattr(made_of, name) for name in Site.__dataclass_fields__}
    pictured = Site(**fields | {"pictures": {"photos/x.jpg": _PHOTO}})
    page = Page(ABOUT)
    return Sheet(pictured, made_of.editions["de"], page, made_of.plan.paths[page, "de"])


_open = ExitStack()


look = of_text("x.md", _read)

_TEXT = """\
## A <b>{mass of tarn}</b>

<details><summary>x</summary>y <a href="https://a.example/?a=1&amp;b">z</a> <time datetime=2026-10-04>t</time></details>

<table><caption>c</caption><tr><th scope=col colspan=2>a<td lang=de>b</table>

> - 1. *a* <i>**b**</i> [d](review:tarn "e {mass}") ![f](photos/x.jpg "g")

<figure><figcaption dir=rtl>![h](photos/x.jpg)</figcaption></figure>

| a | <kbd>k</kbd> |
|:--|--:|
| <abbr title="{mass}">1</abbr> | \\{ <!-- x --> |
"""
_NESTED = ("<b><i><u><s>" * 8 + "<p>x\n", "<table><tr><td>" * 12, "<ul><li>" * 20 + "x", "<dl><dt>" * 9 + "<dd>" * 9)


@cache
def seeds() -> tuple[str, ...]:
    """A sound text with most of what is allowed, deep ones, and known attacks, a few to a text."""
    attacks = [PAYLOADS[start : start + 12] for start in range(0, len(PAYLOADS), 12)]
    return (_TEXT, *_NESTED, *("\n\n".join(few)[:4000] for few in attacks))
