"""Texts that try to be markup: in pages, charts, feed, sitemap, structured data and tables they stay what they say."""

import csv
import io
import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from builders import SMALL
from hostile_words import EVIL
from page_reader import Page, pages_of

from sitegen.pages.machines.open_data import _harmless
from sitegen.pages.theme.structured import to_script


@pytest.fixture(scope="module")
def pages(hostile_site: Path) -> list[Page]:
    return pages_of(hostile_site)


def test_no_page_gets_a_script_that_is_not_ours(pages: list[Page]) -> None:
    """Scripts are the theme's file or JSON-LD that parses; no text opens an element, an attribute or a template."""
    for page in pages:
        for attrs, text in page.scripts:
            if attrs.get("type") == "application/ld+json":
                json.loads(text)
            else:
                assert attrs.get("src") or "alert" not in text, page.path
        assert page.unbalanced == [] and page.open == [], page.path
        assert "49" not in [part.strip() for part in page.text], "a text was run as a template"
        assert not [attrs for _, attrs in page.tags if any(name.startswith("on") or '"' in name for name in attrs)]
        assert "alert(1)" not in page.html.replace("&lt;script&gt;alert(1)", "").replace(
            "\\u003cscript\\u003ealert(1)", ""
        )


def test_the_words_are_shown_as_they_were_written(pages: list[Page]) -> None:
    """Escaping loses nothing: a reader sees the very characters, brackets and quotes included."""
    shown = {page.path for page in pages if " ".join(EVIL.split()) in page.plain}
    assert {
        "de/index.html", "de/reviews/tarn.html", "de/products/tarn.html", "de/disclosure.html",
        "de/guides/care.html", "de/rigs/scale.html", "index.html",
    } <= shown  # fmt: skip
    assert [path for path in shown if path.startswith("de/rounds/") and not path.endswith("/index.html")]


def test_structured_data_holds_the_words(pages: list[Page]) -> None:
    """JSON-LD parses to the very text, though no `<` of it is in the page (HTML Living Standard, 4.12.1.3)."""
    page = next(page for page in pages if page.path == "de/reviews/tarn.html")
    (text,) = (text for attrs, text in page.scripts if attrs.get("type") == "application/ld+json")
    assert "<" not in text
    assert EVIL in [node.get("name") for node in json.loads(text)]


@pytest.mark.parametrize("text", ["</script>", "<!--", "]]>", "\u2028\u2029", "&lt;", '"\\', EVIL])
def test_nothing_ends_a_script_element(text: str) -> None:
    """Whatever a name holds, the block has no `<`, no `&` and no line end of JavaScript, and reads back the same."""
    block = to_script([{"@type": "Product", "name": text}])
    assert not set("<>&\u2028\u2029") & set(block)
    assert json.loads(block)["name"] == text


def test_charts_hold_the_words_as_text(hostile_site: Path) -> None:
    """The drawings inside a page are well-formed XML with the words as text."""
    pages = [page.html for page in pages_of(hostile_site)]
    drawings = [part.split("</svg>")[0] for html in pages for part in html.split("<svg")[1:]]
    assert drawings
    for drawing in drawings:
        root = ElementTree.fromstring(f"<svg{drawing}</svg>")
        assert not [node for node in root.iter() if node.tag.endswith(("script", "foreignObject"))]


def test_feed_and_sitemap_stay_well_formed(hostile_site: Path) -> None:
    """XML parsers take both, and the feed holds the title to the letter."""
    feed = ElementTree.fromstring((hostile_site / "de" / "feed.xml").read_bytes())
    atom = "{http://www.w3.org/2005/Atom}"
    assert EVIL in {title.text for title in feed.iter(f"{atom}title")}
    ElementTree.fromstring((hostile_site / "sitemap.xml").read_bytes())


FORMULAS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "=HYPERLINK(1)",
    "-x",
    "+49 30 1",
    "--5",
    "+-1",
    "-\u0665",
    "-1.",
    "\n=1",
    "\uff1d1",
]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_spreadsheet_runs_no_note(text: str) -> None:
    """A cell that a spreadsheet would run begins with an apostrophe (common practice: OWASP, CSV injection; from memory)."""
    harmless = _harmless(text)
    assert harmless.startswith("'") and harmless.replace("'", "") == text.replace("'", "")


@pytest.mark.parametrize("text", ["-1.5", "+2", "412.0", "-0.001", "", "seam tore", "a=b"])
def test_numbers_and_words_are_left_alone(text: str) -> None:
    """A negative number is a number."""
    assert _harmless(text) == text


def test_open_data_is_csv_of_what_was_read(small_site: Path) -> None:
    """RFC 4180 (2): rows end in CRLF, all have the header's cells; values keep their digits, missing ones their reason."""
    data = (small_site / "data" / "trousers" / "mass.csv").read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") == 7
    rows = list(csv.DictReader(io.StringIO(data.decode(), newline="")))
    written = list(csv.DictReader(io.StringIO(SMALL["rounds/trousers/mass.csv"])))
    assert [row["value"] for row in rows] == [row["value"] for row in written]
    assert {row["unit"] for row in rows} == {"g"}
    assert rows[-1]["note"] == "the seam tore"
    assert rows[0]["value"] == "412.0"
