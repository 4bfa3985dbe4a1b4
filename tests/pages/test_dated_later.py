"""What is dated later waits for its day; a round that nobody measured in has no page."""

import datetime as dt
from pathlib import Path

import pytest
from builders import GUIDE_DE, MINIMAL, REVIEW_DE, REVIEW_EN, ROUND, write

from sitegen.cli import main
from sitegen.pipeline.build import build, check

BEFORE, DAY = dt.date(2027, 10, 15), dt.date(2027, 10, 16)
LATER = f"date: {DAY}"


def site(folder: Path, files: dict[str, str | bytes | None], day: dt.date = dt.date.min) -> Path:
    """The site built of the small publication with these files, on a day."""
    result = build(write(folder / "pub", files), folder / "site", day=day)
    assert result.published, list(result.problems)
    return folder / "site"


def said(made: Path, *marks: str) -> list[str]:
    """The files of a site whose name or contents hold one of the marks."""
    files = sorted(path for path in made.rglob("*") if path.is_file())
    names = {path.relative_to(made).as_posix(): path.read_bytes() for path in files}
    return [name for name, data in names.items() if any(mark in name or mark.encode() in data for mark in marks)]


@pytest.mark.parametrize(
    ("files", "marks", "pages"),
    [
        pytest.param(
            {
                "reviews/tarn/de.md": REVIEW_DE.replace("title: Tarn 3", "title: Geheimtipp").replace(
                    "date: 2026-10-04", LATER
                ),
                "reviews/tarn/en.md": REVIEW_EN.replace("title: Tarn 3", "title: Secret tip"),
            },
            ("Geheimtipp", "Secret tip"),
            {"de/reviews/tarn.html", "en/reviews/tarn.html", "de/feed.xml", "en/feed.xml", "de/index.html"},
            id="a review, and its translation without a day of its own",
        ),
        pytest.param(
            {"reviews/tarn/en.md": REVIEW_EN.replace("title: Tarn 3", f"title: Secret tip\n{LATER}")},
            ("Secret tip",),
            {"en/reviews/tarn.html", "en/feed.xml"},
            id="a translation alone",
        ),
        pytest.param(
            {"guides/care/de.md": GUIDE_DE.replace("Pflege", "Geheimnis").replace("date: 2026-10-01", LATER)},
            ("Geheimnis", "guides/care"),
            {"de/guides/care.html", "de/index.html", "sitemap.xml"},
            id="a guide",
        ),
        pytest.param(
            {"about/de.md": f"---\ntitle: Geheimnis\n{LATER}\n---\nText.\n"},
            ("Geheimnis",),
            {"de/about.html"},
            id="the page about the publication",
        ),
        pytest.param(
            {"rounds/trousers/round.yaml": f"{ROUND}{LATER}\n".replace("Wanderhosen 2026", "Geheimnis")},
            ("Geheimnis", "rounds/"),
            {"de/rounds/geheimnis.html", "de/index.html", "sitemap.xml"},
            id="a round",
        ),
    ],
)
def test_what_is_dated_later_waits_for_its_day(
    files: dict[str, str | bytes | None], marks: tuple[str, ...], pages: set[str], tmp_path: Path
) -> None:
    """Until the day no file of the site holds a word of it, of whatever kind; on the day it is there."""
    assert said(site(tmp_path / "a", files, BEFORE), *marks) == []
    assert pages <= set(said(site(tmp_path / "b", files, DAY), *marks))


def test_a_review_shows_its_figures_before_the_page_of_its_round(tmp_path: Path) -> None:
    """A round that waits keeps its readings for a review that names it, to be read and downloaded there."""
    made = site(tmp_path, {"rounds/trousers/round.yaml": f"{ROUND}{LATER}\n"}, BEFORE)
    assert "412.0" in (made / "data/trousers/mass.csv").read_text()
    page = (made / "de/reviews/tarn.html").read_text()
    assert "data/trousers/mass.csv" in page and "de/rounds" not in page and "/rounds/" not in page


def test_a_short_review_that_waits_takes_its_product_along(tmp_path: Path) -> None:
    """Product, readings and sample that a review carries itself appear with it."""
    files = {"reviews/tarn.md": MINIMAL["reviews/tarn.md"].replace("date: 2026-10-04", LATER)}
    pub = write(tmp_path / "pub", files, MINIMAL)
    assert build(pub, tmp_path / "before", day=BEFORE).published
    assert said(tmp_path / "before", "Tarn", "412.0", "R-1") == []
    assert build(pub, tmp_path / "after", day=DAY).published
    assert "data/tarn/mass.csv" in said(tmp_path / "after", "412.0")


def test_the_author_is_told_what_waits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A build names each text and round that it held back, and the day."""
    files: dict[str, str | bytes | None] = {
        "guides/care/de.md": GUIDE_DE.replace("date: 2026-10-01", LATER),
        "about/de.md": f"---\ntitle: Geheimnis\n{LATER}\n---\nText.\n",
    }
    pub = write(tmp_path / "pub", files)
    assert main(["build", str(pub), "--to", str(tmp_path / "site"), "--date", str(BEFORE)]) == 0
    printed = capsys.readouterr().out
    assert f"held back until {DAY}: the guide 'care' in de\n" in printed
    assert f"held back until {DAY}: the page about the publication in de\n" in printed


PLANNED = "title: {de: Geheimnis, en: Geheimnis}\nentrants: [tarn, fenn]\nprotocols: [mass]\nto: 2026-11-01\n"


@pytest.mark.parametrize(
    "table", [None, "product,specimen,value,note\n", "product,specimen,value,note\ntarn,1,,lost on the way\n"]
)
def test_a_round_without_a_reading_has_no_page(table: str | None, tmp_path: Path) -> None:
    """What is only planned stands on no page, in no list, feed or map of the site, and is no error."""
    files: dict[str, str | bytes | None] = {"rounds/planned/round.yaml": PLANNED, "rounds/planned/mass.csv": table}
    made = site(tmp_path, files)
    assert said(made, "Geheimnis", "planned") == []
    assert not check(tmp_path / "pub").has_errors
