"""What pages say of themselves where links to them are shared, held to the Open Graph protocol (ogp.me, from memory)."""

import io
import re
from html import unescape
from pathlib import Path

import pytest
from PIL import Image

from sitegen.disk.shared_pictures import broken, shared_picture
from sitegen.pages.shared_links import HEIGHT, WIDTH

REQUIRED = ("og:title", "og:type", "og:image", "og:url")
ADDRESS = "https://moorkamp.example/"


def properties(page: Path) -> dict[str, str]:
    found = re.findall(r'<meta property="([^"]+)" content="([^"]*)">', page.read_text("utf-8"))
    return {name: unescape(content) for name, content in found}


@pytest.fixture(scope="module")
def shared(small_site: Path) -> list[Path]:
    """Front pages, reviews, rounds and guides of each edition."""
    kinds = ("*/index.html", "*/reviews/*.html", "*/rounds/*.html", "*/guides/*.html")
    found = [page for kind in kinds for page in small_site.glob(kind)]
    return [page for page in found if page.name != "index.html" or page.parent.parent == small_site]


def test_each_shared_page_has_the_required_properties(shared: list[Path], small_site: Path) -> None:
    """Title, type, picture and address; addresses are absolute, and the locale has a language and a territory."""
    assert len(shared) >= 4
    for page in shared:
        said = properties(page)
        assert all(said.get(name) for name in REQUIRED), page
        assert said["og:url"].startswith(ADDRESS) and said["og:image"].startswith(ADDRESS)
        assert said["og:type"] == ("website" if page.name == "index.html" else "article")
        assert re.fullmatch(r"[a-z]{2,3}_[A-Z]{2}", said["og:locale"])
        assert said["og:locale"][:2] == page.relative_to(small_site).parts[0]


def test_each_picture_is_there_in_the_size_that_the_page_names(shared: list[Path], small_site: Path) -> None:
    """A PNG of 1200 × 630 below 60 kB, one for each page and language; no page loads it."""
    for page in shared:
        said = properties(page)
        file = small_site / said["og:image"].removeprefix(ADDRESS)
        with Image.open(file) as picture:
            assert (picture.format, *picture.size) == ("PNG", WIDTH, HEIGHT)
            assert picture.size == (int(said["og:image:width"]), int(said["og:image:height"]))
            assert not picture.info
        assert file.stat().st_size < 60_000
        assert not re.search(r'(?:src|srcset|href)="[^"]*shared/', page.read_text("utf-8"))
    assert len({properties(page)["og:image"] for page in shared}) == len(shared)


def test_other_pages_have_none(small_site: Path) -> None:
    """A page without a picture has no property at all, since the protocol requires one."""
    for name in ("en/glossary.html", "en/reviews/index.html", "404.html", "index.html"):
        assert properties(small_site / name) == {}


def test_the_same_words_give_the_same_bytes_and_others_another_picture() -> None:
    """No clock and no chance in a picture; title, figure and words all show."""
    words = ("Halde", "268 g", "the lightest of eight", "Bench", "#2c5748")
    assert shared_picture(*words) == shared_picture(*words)
    changed = [shared_picture(*words[:n], f"{words[n]}s", *words[n + 1 :]) for n in range(4)]
    assert len({shared_picture(*words), *changed}) == 5


def test_long_words_stay_within_the_picture() -> None:
    """A title of 300 characters, or of one endless word, writes nothing into the right margin."""
    for title in ("a title of some words " * 15, "W" * 300):
        with Image.open(
            io.BytesIO(shared_picture(title, "9" * 80, "so it says " * 90, "B" * 200, "#2c5748"))
        ) as picture:
            seen = picture.convert("RGB")
        edge = seen.crop((WIDTH - 70, 0, WIDTH, HEIGHT)).getcolors()
        assert edge is not None and len(edge) == 1


def test_lines_are_broken_at_blanks() -> None:
    """Words stay whole while there is room; the last of too many lines ends in an ellipsis."""
    from PIL import ImageFont

    font = ImageFont.load_default(20)
    assert broken("one two", font, 10_000, 2) == ["one two"]
    lines = broken("one two three four five six", font, round(font.getlength("one two")), 2)
    assert lines[0] == "one two" and lines[1].endswith("\u2026") and len(lines) == 2
