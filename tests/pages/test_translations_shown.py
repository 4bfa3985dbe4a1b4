"""What a translation takes from its lead text, and a text that is shown in another edition."""

from pathlib import Path

from builders import REVIEW_DE, write

from sitegen.pipeline.build import build


def made(folder: Path, files: dict[str, str | bytes | None]) -> Path:
    """The site of the small publication with these files."""
    result = build(write(folder / "pub", files), folder / "site")
    assert result.published, list(result.problems)
    return folder / "site"


def test_a_translation_without_a_day_shows_that_of_its_lead_text(tmp_path: Path) -> None:
    """On its page and in the list, where it stands among the others by that day."""
    site = made(tmp_path, {})
    for page in ("reviews/tarn.html", "reviews/index.html"):
        assert "October 4, 2026" in (site / "en" / page).read_text(), page


def test_a_text_keeps_the_number_forms_of_its_language(tmp_path: Path) -> None:
    """The German title of a review that has no English text: a German decimal comma on the English page of the product."""
    title = REVIEW_DE.replace("title: Tarn 3", 'title: "Tarn 3, {mass interval}"')
    site = made(tmp_path, {"reviews/tarn/de.md": title, "reviews/tarn/en.md": None})
    page = (site / "en" / "products" / "tarn.html").read_text()
    shown = page[page.index("Tarn 3, (") :].partition("</a>")[0]
    assert "," in shown.partition("(")[2] and "." not in shown
