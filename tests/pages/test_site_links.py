"""Pages as parts of a site: every link leads somewhere, every page says truly what it is in which language."""

import json
from pathlib import Path, PurePosixPath
from posixpath import dirname, join, normpath
from typing import Any
from urllib.parse import unquote, urldefrag, urlsplit

import pytest
from page_reader import Page, pages_of

ADDRESS = "https://moorkamp.example/"
OUTSIDE = {"http", "https", "mailto", "data"}


@pytest.fixture(scope="module")
def pages(small_site: Path) -> list[Page]:
    found = pages_of(small_site)
    assert len(found) > 30
    return found


def target(page: Page, link: str) -> tuple[str, str]:
    """The file and the fragment that a relative link leads to."""
    path, fragment = urldefrag(link)
    return (normpath(join(dirname(page.path), unquote(path))) if path else page.path), fragment


def test_every_relative_link_leads_to_a_file(pages: list[Page], small_site: Path) -> None:
    """From the disk, below a path, at the root of a host: addresses are relative and each is there."""
    missing = []
    for page in pages:
        for link in page.links():
            if urlsplit(link).scheme in OUTSIDE or page.path.endswith("404.html"):
                continue
            assert not link.startswith("/"), (page.path, link)
            path, _ = target(page, link)
            if not (small_site / path).is_file():
                missing.append((page.path, link))
    assert missing == []


def test_the_page_for_unknown_addresses_links_from_the_root(pages: list[Page], small_site: Path) -> None:
    """It is served at any depth, so a relative address on it would lead astray."""
    for page in pages:
        if not page.path.endswith("404.html"):
            continue
        links = [link for link in page.links() if not link.startswith("#")]
        assert links
        for link in links:
            assert link.startswith(("/", ADDRESS)), (page.path, link)
            path = urlsplit(link).path.removeprefix("/")
            assert (small_site / (path + "index.html" if path.endswith("/") or not path else path)).is_file(), link


def test_every_fragment_is_there_once(pages: list[Page]) -> None:
    """A link into a page leads to an id of it; no id stands twice (HTML Living Standard, 3.2.6, the id attribute)."""
    by_path = {page.path: page for page in pages}
    for page in pages:
        assert len(page.ids()) == len(set(page.ids())), page.path
        for link in page.links():
            if urlsplit(link).scheme in OUTSIDE or not urldefrag(link)[1]:
                continue
            path, fragment = target(page, link)
            assert fragment in by_path[path].ids(), (page.path, link)


def test_every_page_is_one_document(pages: list[Page]) -> None:
    """One h1, one title, one main, a language, elements closed in the order they were opened."""
    for page in pages:
        assert len(page.all("h1")) == 1, page.path
        assert len(page.all("main")) == 1 and len(page.all("title")) >= 1, page.path
        assert page.all("html")[0]["lang"], page.path
        assert page.unbalanced == [] and page.open == [], page.path
        assert page.html.lower().startswith("<!doctype html>")


def test_titles_tell_pages_apart(pages: list[Page]) -> None:
    """Two pages of one kind and language never carry the same title."""
    seen: dict[tuple[str, str], str] = {}
    for page in pages:
        title = page.html.split("<title>")[1].split("</title>")[0]
        assert seen.setdefault((dirname(page.path), title), page.path) == page.path


def public(path: str) -> str:
    return ADDRESS + (path.removesuffix("index.html") if path.endswith("index.html") else path)


def head(page: Page) -> tuple[str, dict[str, str]]:
    links = page.all("link")
    canonical = [link["href"] for link in links if link.get("rel") == "canonical"]
    others = {link["hreflang"]: link["href"] for link in links if link.get("rel") == "alternate" and "hreflang" in link}
    assert len(canonical) <= 1
    return (canonical[0] if canonical else ""), others


def test_canonical_addresses_are_the_pages_own(pages: list[Page]) -> None:
    """Every page but the one for unknown addresses names its one public address."""
    for page in pages:
        canonical, _ = head(page)
        assert canonical == ("" if page.path.endswith("404.html") else public(page.path))


def test_alternates_are_reciprocal(pages: list[Page]) -> None:
    """If A names B as its translation, B names A, with the language each is in, and itself; x-default is a page of the site."""
    heads = {head(page)[0]: (page, head(page)[1]) for page in pages if head(page)[0]}
    for canonical, (page, others) in heads.items():
        assert others, page.path
        assert others["x-default"] in heads
        for tag, address in others.items():
            if tag == "x-default":
                continue
            other, back = heads[address]
            assert other.all("html")[0]["lang"] == tag
            assert back == others, (page.path, other.path)
        assert canonical in others.values()


def nodes(page: Page) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for attrs, text in page.scripts:
        if attrs.get("type") == "application/ld+json":
            data = json.loads(text)
            found += data if isinstance(data, list) else [data]
    return found


def test_structured_data_is_json_of_this_site(pages: list[Page]) -> None:
    """Each block parses, names its context, and each address of the site in it is a page: the canonical one, or in trails the linked file."""
    canonical = {head(page)[0] for page in pages}
    kinds = set()
    for page in pages:
        for node in nodes(page):
            assert node["@context"] == "https://schema.org"
            kinds |= types(node)
            for address in addresses(node):
                assert address.removesuffix("index.html") in canonical or not address.endswith((".html", "/")), (
                    page.path,
                    address,
                )
    assert {"Review", "Product", "BreadcrumbList", "ItemList"} <= kinds


def types(value: Any) -> set[str]:
    if isinstance(value, dict):
        return {value["@type"]} | {kind for v in value.values() for kind in types(v)} if "@type" in value else set()
    return {kind for v in value for kind in types(v)} if isinstance(value, list) else set()


def addresses(value: Any) -> list[str]:
    if isinstance(value, dict):
        return [a for v in value.values() for a in addresses(v)]
    if isinstance(value, list):
        return [a for v in value for a in addresses(v)]
    return [value] if isinstance(value, str) and value.startswith(ADDRESS) else []


def test_breadcrumbs_count_from_one(pages: list[Page]) -> None:
    """Positions run 1, 2, 3 and the last step is the page itself (schema.org BreadcrumbList; from memory)."""
    for page in pages:
        for node in nodes(page):
            if node["@type"] == "BreadcrumbList":
                steps = node["itemListElement"]
                assert [step["position"] for step in steps] == list(range(1, len(steps) + 1))
                assert steps[-1]["item"] == head(page)[0]


def test_no_page_asks_another_host(pages: list[Page]) -> None:
    """No picture, script, style or typeface comes from elsewhere, and the policy in each page forbids it."""
    for page in pages:
        for tag, attrs in page.tags:
            for name in ("src", "srcset", "poster", "data"):
                assert "//" not in attrs.get(name, ""), (page.path, tag)
        assert [m for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy"], page.path
        assert not [attrs for tag, attrs in page.tags if any(name.startswith("on") for name in attrs)]


def test_pages_that_are_the_same_in_each_edition_are_in_each(pages: list[Page]) -> None:
    """Rounds, methods, products and the disclosure need no translated file: both editions have them."""
    paths = {page.path for page in pages}
    assert {"de/rounds/wanderhosen-2026.html", "en/rounds/walking-trousers-2026.html"} <= paths
    for path in ("methods/mass.html", "products/fenn.html", "disclosure.html", "index.html"):
        assert {f"de/{path}", f"en/{path}"} <= paths
    assert "en/guides/care.html" not in paths, "a guide without an English text is left out of that edition"
    assert PurePosixPath("index.html").name in paths
