"""The least that is a publication: four lines of settings and one review; and the traps of its notation."""

import re
from pathlib import Path

import pytest
from builders import MINIMAL, write
from page_reader import Page, pages_of

from sitegen.pipeline.build import build


def made(folder: Path, files: dict[str, str | bytes | None] | None = None) -> dict[str, Page]:
    built = build(write(folder / "pub", files or {}, base=MINIMAL), folder / "site", None)
    assert built.published, list(built.problems)
    return {page.path: page for page in pages_of(folder / "site")}


def test_four_lines_and_one_review_build(tmp_path: Path) -> None:
    """Settings of four lines and a review with measured front matter are a site: review, product, method, disclosure."""
    assert MINIMAL["publication.yaml"].count("\n") == 4 and len(MINIMAL) == 2
    pages = made(tmp_path)
    assert {
        "index.html",
        "de/index.html",
        "de/reviews/tarn.html",
        "de/methods/mass.html",
        "de/disclosure.html",
        "404.html",
    } <= set(pages)


def test_digits_stay_as_written(tmp_path: Path) -> None:
    """412.0 is not 412: the zero is a claim about the scale, and it is on the page, with the language's own comma."""
    page = made(tmp_path)["de/reviews/tarn.html"]
    assert "412,0" in page.plain


@pytest.mark.parametrize("lead", ["no", "nb", "en-GB", "sr-Latn"])
def test_a_language_code_is_a_word(lead: str, tmp_path: Path) -> None:
    """`no` is Norwegian and no denial (YAML 1.1 would have it false)."""
    settings = MINIMAL["publication.yaml"].replace("lead: de", f"lead: {lead}")
    pages = made(tmp_path, {"publication.yaml": settings})
    assert f"{lead}/reviews/tarn.html" in pages
    assert pages[f"{lead}/index.html"].all("html")[0]["lang"] == lead


def test_times_yes_and_numbers_stay_words(tmp_path: Path) -> None:
    """12:30 is no number to base sixty, `on` no truth, 007 and 1e3 no numbers (YAML 1.1 would have them so)."""
    review = MINIMAL["reviews/tarn.md"].replace("title: Tarn 3", "title: 12:30").replace("\nname: Tarn 3", "\nname: on")
    review = review.replace("maker: Wollgras", "maker: 007")
    pages = made(tmp_path, {"reviews/tarn.md": review})
    assert pages["de/reviews/tarn.html"].html.count("<h1>12:30</h1>") == 1
    assert "007" in pages["de/products/tarn.html"].plain
    assert re.search(r"<h1[^>]*>\s*on\s*<", pages["de/products/tarn.html"].html)


def test_stages_and_grades_in_the_short_form(tmp_path: Path) -> None:
    """Readings by stage, several specimens, another unit than the protocol's."""
    review = MINIMAL["reviews/tarn.md"].replace(
        "{mass: 412.0 g}",
        "{mass: [14.5 oz, 14.6 oz], spray: {new: [5, 4, 5], after 3 washes: [3, 3, 2]}, submersion_leak: [yes, no]}",
    )
    page = made(
        tmp_path,
        {
            "reviews/tarn.md": review.replace(
                "{mass}.", "{mass}, {spray after 3 washes}, {spray after 3 washes readings}."
            )
        },
    )
    text = page["de/reviews/tarn.html"].plain
    assert "Grad 3" in text and "oz" not in text


def test_windows_files_are_read_alike(tmp_path: Path) -> None:
    """A byte order mark and CRLF change no page."""
    plain = made(tmp_path / "a")
    marked = {name: b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode() for name, text in MINIMAL.items()}
    odd = made(tmp_path / "b", dict(marked))
    assert {path: page.html for path, page in plain.items()} == {path: page.html for path, page in odd.items()}
