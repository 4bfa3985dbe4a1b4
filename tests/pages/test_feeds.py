"""Feeds by RFC 4287 and the sitemap by Sitemaps 0.9; clauses are named beside each law, from memory."""

import datetime as dt
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from builders import SMALL, write
from page_reader import Page, pages_of

from sitegen.pages.machines import feeds
from sitegen.pipeline.build import build

ATOM = "{http://www.w3.org/2005/Atom}"
MAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
XHTML = "{http://www.w3.org/1999/xhtml}"
ADDRESS = "https://moorkamp.example/"
RFC3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


@pytest.fixture(scope="module", params=["de", "en"])
def feed(request: pytest.FixtureRequest, small_site: Path) -> ElementTree.Element:
    return ElementTree.fromstring((small_site / request.param / "feed.xml").read_bytes())


def one(node: ElementTree.Element, name: str) -> str:
    found = node.findall(ATOM + name)
    assert len(found) == 1, name
    return found[0].text or ""


def test_a_feed_has_exactly_one_of_what_it_must(feed: ElementTree.Element) -> None:
    """4.1.1: exactly one id, one title, one updated; at most one subtitle; an author unless every entry has one."""
    assert feed.tag == f"{ATOM}feed"
    assert one(feed, "id") and one(feed, "title")
    assert RFC3339.fullmatch(one(feed, "updated"))
    assert len(feed.findall(f"{ATOM}subtitle")) <= 1
    assert feed.findall(f"{ATOM}author") and one(feed.findall(f"{ATOM}author")[0], "name")


def test_a_feed_links_to_itself_once(feed: ElementTree.Element) -> None:
    """4.1.1: a link with rel="self" SHOULD be there, and it is the id; no two alternates of one type and language."""
    links = [(link.get("rel"), link.get("type"), link.get("hreflang")) for link in feed.findall(f"{ATOM}link")]
    assert len(links) == len(set(links))
    (own,) = (link.get("href") for link in feed.findall(f"{ATOM}link") if link.get("rel") == "self")
    assert own == one(feed, "id")


def test_every_entry_has_exactly_one_of_what_it_must(feed: ElementTree.Element) -> None:
    """4.1.2: exactly one id, title, updated; at most one published and summary; an alternate link where there is no content."""
    entries = feed.findall(f"{ATOM}entry")
    assert entries
    for entry in entries:
        assert one(entry, "title") and one(entry, "summary")
        assert RFC3339.fullmatch(one(entry, "updated")) and RFC3339.fullmatch(one(entry, "published"))
        assert one(entry, "published") <= one(entry, "updated")
        assert [
            link.get("href") for link in entry.findall(f"{ATOM}link") if link.get("rel", "alternate") == "alternate"
        ]


def test_ids_are_absolute_and_told_apart(feed: ElementTree.Element) -> None:
    """4.2.6: an id is an absolute IRI, and no two entries share one."""
    ids = [one(entry, "id") for entry in feed.findall(f"{ATOM}entry")]
    assert len(ids) == len(set(ids))
    assert all(id.startswith(ADDRESS) for id in (*ids, one(feed, "id")))


def test_the_feed_is_as_new_as_its_newest_entry(feed: ElementTree.Element) -> None:
    """4.2.15: updated is when something significant changed: the texts' own dates, newest first, never the clock's."""
    times = [one(entry, "updated") for entry in feed.findall(f"{ATOM}entry")]
    assert times == sorted(times, reverse=True)
    assert one(feed, "updated") == times[0]
    assert times[0].startswith("2026-10-"), "the dates are those of the texts"


def test_entries_lead_to_pages_of_the_edition(small_site: Path) -> None:
    """Each feed holds the texts of its language and no other's."""
    for tag in ("de", "en"):
        feed = ElementTree.fromstring((small_site / tag / "feed.xml").read_bytes())
        assert feed.get("{http://www.w3.org/XML/1998/namespace}lang") == tag
        for entry in feed.findall(f"{ATOM}entry"):
            assert (small_site / one(entry, "id").removeprefix(ADDRESS)).is_file()
            assert one(entry, "id").startswith(f"{ADDRESS}{tag}/")


@pytest.fixture(scope="module")
def urls(small_site: Path) -> dict[str, ElementTree.Element]:
    root = ElementTree.fromstring((small_site / "sitemap.xml").read_bytes())
    assert root.tag == f"{MAP}urlset"
    found = {node.findtext(f"{MAP}loc") or "": node for node in root}
    assert len(found) == len(list(root)), "each address once"
    return found


def test_the_sitemap_lists_every_page_and_no_other(urls: dict[str, ElementTree.Element], small_site: Path) -> None:
    """Sitemaps 0.9: loc is required and absolute; the pages for unknown addresses are none."""
    canonical = {
        link["href"] for page in pages_of(small_site) for link in page.all("link") if link.get("rel") == "canonical"
    }
    assert set(urls) == canonical


def test_a_large_sitemap_is_parted(
    urls: dict[str, ElementTree.Element], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sitemaps 0.9: at most 50,000 addresses a file; an index lists the parts, which hold together what one would."""
    monkeypatch.setattr(feeds, "MOST_IN_MAP", 7)
    assert build(write(tmp_path / "pub", SMALL), tmp_path / "site", tmp_path / "memory" / "store").published
    index = ElementTree.fromstring((tmp_path / "site" / "sitemap.xml").read_bytes())
    assert index.tag == f"{MAP}sitemapindex"
    parts = [(node.tag, node.findtext(f"{MAP}loc") or "") for node in index]
    files = [loc.removeprefix(ADDRESS) for _, loc in parts]
    assert {tag for tag, _ in parts} == {f"{MAP}sitemap"}
    assert sorted(files) == sorted(path.name for path in (tmp_path / "site").glob("sitemap-*.xml"))
    found = [ElementTree.fromstring((tmp_path / "site" / file).read_bytes()) for file in files]
    assert len(found) > 2 and all(0 < len(part) <= 7 for part in found)
    written = [ElementTree.tostring(node) for part in found for node in part]
    assert written == [ElementTree.tostring(node) for node in urls.values()]


def test_the_largest_sitemap_of_many_languages_stays_below_its_bound() -> None:
    """Sitemaps 0.9: at most 50 MB (52,428,800 bytes) a file, with long addresses too."""
    line = len(feeds._url("x" * 150, tuple(("de-CH", "x" * 150) for _ in range(11)), dt.date(2026, 1, 1)))
    assert feeds.MOST_LINKS // (2 + 10) * line < 52_428_800


def test_the_order_within_url_is_that_of_the_schema(urls: dict[str, ElementTree.Element]) -> None:
    """Sitemaps 0.9, the XML schema: loc comes first, then lastmod; what other name spaces add comes last."""
    for node in urls.values():
        names = [child.tag for child in node]
        assert names == [name for name in (f"{MAP}loc", f"{MAP}lastmod") if name in names] + [
            f"{XHTML}link"
        ] * names.count(f"{XHTML}link")


def test_lastmod_is_a_date_that_a_text_gave(urls: dict[str, ElementTree.Element]) -> None:
    """Sitemaps 0.9: a date in W3C form; only where a text says when it changed."""
    found = {
        address: node.findtext(f"{MAP}lastmod") for address, node in urls.items() if node.findtext(f"{MAP}lastmod")
    }
    assert f"{ADDRESS}de/reviews/tarn.html" in found
    assert all(dt.date.fromisoformat(value or "") <= dt.date(2026, 10, 20) for value in found.values())


def test_alternates_are_those_of_the_page(urls: dict[str, ElementTree.Element], small_site: Path) -> None:
    """A sitemap and a page never disagree about translations; each entry lists itself among them."""
    pages: dict[str, Page] = {}
    for page in pages_of(small_site):
        for link in page.all("link"):
            if link.get("rel") == "canonical":
                pages[link["href"]] = page
    for address, node in urls.items():
        listed = {link.get("hreflang"): link.get("href") for link in node.findall(f"{XHTML}link")}
        shown = {link["hreflang"]: link["href"] for link in pages[address].all("link") if "hreflang" in link}
        assert listed == shown
        assert address in listed.values()


def test_robots_names_the_sitemap(small_site: Path) -> None:
    """RFC 9309, 2.2: groups of user-agent and rules; the sitemap's address is absolute."""
    lines = (small_site / "robots.txt").read_text().split("\n")
    assert lines[:2] == ["User-agent: *", "Allow: /"]
    assert f"Sitemap: {ADDRESS}sitemap.xml" in lines


def test_a_publication_without_texts_has_a_valid_feed(tmp_path: Path) -> None:
    """No entry yet: updated is still there (4.1.1), and nothing depends on the clock."""
    from sitegen.pipeline.build import build

    files: dict[str, str | bytes | None] = {name: None for name in SMALL if name.startswith(("reviews", "guides"))}
    assert build(write(tmp_path / "pub", files), tmp_path / "site", None).published
    feed = ElementTree.fromstring((tmp_path / "site" / "de" / "feed.xml").read_bytes())
    assert not feed.findall(f"{ATOM}entry")
    assert RFC3339.fullmatch(one(feed, "updated"))
