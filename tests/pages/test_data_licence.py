"""The licence of the readings: beside every download and in the structured data, as it was given, in the page's language."""

import json
from pathlib import Path
from typing import Any

import pytest
from builders import MINIMAL, SMALL, write
from page_reader import Page, pages_of

from sitegen.pipeline.build import build
from sitegen.records.fields.words import Words
from sitegen.records.settings import Settings

ADDRESS = "https://moorkamp.example/"
TERMS = "https://terms.example/by/4.0/?lang=de&x=1"
OFFERING = {"de/rounds/wanderhosen-2026.html", "de/reviews/tarn.html", "de/rigs/scale.html"}
SENTENCES = {"de": "Lizenz dieser Daten: ", "en": "Licence of these data: "}


def pages_with(folder: Path, licence: str, base: dict[str, str] = SMALL) -> dict[str, Page]:
    settings = base["publication.yaml"].replace("data_licence: CC BY 4.0\n", "")
    given = f"{settings}data_licence: {licence}\n" if licence else settings
    built = build(write(folder / "pub", {"publication.yaml": given}, base=base), folder / "site", None)
    assert built.published, list(built.problems)
    return {page.path: page for page in pages_of(folder / "site")}


def datasets(page: Page) -> list[dict[str, Any]]:
    found = [json.loads(text) for attrs, text in page.scripts if attrs.get("type") == "application/ld+json"]
    nodes = [node for data in found for node in (data if isinstance(data, list) else [data])]
    return [node for node in nodes if node["@type"] == "Dataset"]


def offers(page: Page) -> bool:
    return any(link.endswith(".csv") for link in page.links())


@pytest.mark.parametrize("licence", ["CC BY 4.0", "<b>mine</b> & yours"])
def test_a_name_stands_beside_every_download_and_nowhere_else(licence: str, tmp_path: Path) -> None:
    """Once on each page that offers readings, in its language, as text; a page without downloads is silent."""
    pages = pages_with(tmp_path, f'"{licence}"')
    assert {path for path, page in pages.items() if offers(page)} >= OFFERING
    for path, page in pages.items():
        said = SENTENCES.get(path.partition("/")[0], "?") + licence
        assert page.plain.count(said) == offers(page), path
        assert licence not in [attrs.get("href") for attrs in page.all("a")]
        assert not [attrs for attrs in page.all("a") if attrs.get("rel") == "license"], path


def test_an_address_is_a_link(tmp_path: Path) -> None:
    """The whole line leads there, and says so to machines (HTML Living Standard, 4.6.7, link type license)."""
    for path, page in pages_with(tmp_path, TERMS).items():
        links = [attrs["href"] for attrs in page.all("a") if attrs.get("rel") == "license"]
        assert links == [TERMS] * offers(page), path
        assert not offers(page) or SENTENCES[path[:2]] + TERMS in page.plain


def test_without_one_nothing_is_said(tmp_path: Path) -> None:
    """Neither on a page nor to machines; the data set is described all the same."""
    pages = pages_with(tmp_path, "")
    assert not any(sentence in page.plain for page in pages.values() for sentence in SENTENCES.values())
    (node,) = datasets(pages["de/rounds/wanderhosen-2026.html"])
    assert "license" not in node and node["distribution"]


@pytest.mark.parametrize(
    ("licence", "told"), [("CC BY 4.0", {"@type": "CreativeWork", "name": "CC BY 4.0"}), (TERMS, TERMS)]
)
def test_a_data_set_is_described_where_it_lives(licence: str, told: object, tmp_path: Path) -> None:
    """On the page of its round or rig (schema.org Dataset, DataDownload): the files are those that the page links to."""
    pages = pages_with(tmp_path, licence)
    for path, page in pages.items():
        nodes = datasets(page)
        assert len(nodes) == (offers(page) and "/reviews/" not in path), path
        for node in nodes:
            assert node["license"] == told and node["url"] == ADDRESS + path and node["description"]
            files = [file["contentUrl"] for file in node["distribution"]]
            assert all((tmp_path / "site" / file.removeprefix(ADDRESS)).is_file() for file in files)
            assert len(files) == sum(link.endswith(".csv") for link in page.links())


def test_a_review_with_its_own_readings_describes_them(tmp_path: Path) -> None:
    """Its round has no page, so its data set is the review's."""
    page = pages_with(tmp_path, "CC0 1.0", dict(MINIMAL))["de/reviews/tarn.html"]
    (node,) = datasets(page)
    assert node["license"]["name"] == "CC0 1.0" and "Lizenz dieser Daten: CC0 1.0" in page.plain
    assert {file["encodingFormat"] for file in node["distribution"]} == {"text/csv"}


@pytest.mark.parametrize(
    "licence",
    [
        "javascript:alert(1)",
        "//terms.example/x",
        "https://",
        "https://a:b@terms.example/",
        "see https://terms.example/",
    ],
)
def test_only_a_whole_address_is_one(licence: str) -> None:
    """Whatever a browser would run, guess at or send names to is a text."""
    settings = Settings(
        name=Words((("de", "x"),)),
        lead="de",
        address=ADDRESS,
        author="x",
        data_licence=licence,
        place=None,  # type: ignore[arg-type]
    )
    assert settings.licence_address == ""
