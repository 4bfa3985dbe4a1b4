"""An edition written from right to left, whose interface words are borrowed from English: `ar`, without a catalogue."""

import re
from pathlib import Path

import pytest
from builders import SMALL, write
from lxml import html

from sitegen.pipeline.build import build

ARABIC: dict[str, str | bytes | None] = {
    "publication.yaml": SMALL["publication.yaml"]
    .replace("{de: Prüfstelle Moorkamp, en: Moorkamp Bench}", "{en: Moorkamp Bench, ar: منصة موركامب}")
    .replace("lead: de", "lead: en")
    .replace("editions: [en]", "editions: [ar]"),
    "reviews/tarn/de.md": None,
    "reviews/tarn/en.md": SMALL["reviews/tarn/de.md"]
    .replace("Eine leichte Hose.", "A light pair.")
    .replace("guide:care", "round:trousers"),
    "reviews/tarn/ar.md": """\
---
title: "تارن 3: سروال خفيف للمشي"
summary: سروال خفيف يزن {mass} ويجف بسرعة.
good: ["يبقى جافاً حتى {spray after 3 washes}"]
translator: ليلى
---
## على الجبل

يزن السروال {mass}، ويقول الصانع إن وزنه {mass claimed}. السعر {price}.
""",
    "guides/care/de.md": None,
    "guides/care/en.md": SMALL["guides/care/de.md"].replace("Pflege", "Care"),
    "about/de.md": None,
    "about/en.md": "---\ntitle: About us\n---\nA bench.\n",
}

LRI, FSI, PDI = "\u2066", "\u2068", "\u2069"  # UAX 9, 2.4: explicit directional isolates


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The publication with an Arabic edition, built."""
    folder = tmp_path_factory.mktemp("rtl")
    result = build(write(folder / "pub", ARABIC), folder / "site", None)
    assert result.published, list(result.problems)
    return folder / "site"


@pytest.fixture(scope="module")
def review(made: Path) -> html.HtmlElement:
    """The Arabic review; its title has no Latin letter, so it stands at its id."""
    return html.fromstring((made / "ar/reviews/tarn.html").read_bytes())


def test_every_page_of_the_edition_runs_from_right_to_left(made: Path) -> None:
    """lang and dir stand on the root of each page, and on no page of the English edition."""
    for tag, direction in (("ar", "rtl"), ("en", "ltr")):
        pages = sorted((made / tag).rglob("*.html"))
        assert len(pages) > 8
        for path in pages:
            root = html.fromstring(path.read_bytes())
            assert (root.get("lang"), root.get("dir")) == (tag, direction), path


def test_numbers_with_units_keep_their_order(review: html.HtmlElement) -> None:
    """Each is isolated (UAX 9), in prose and findings; otherwise "412.0 g" would come out as "g 412.0"."""
    text = review.text_content()
    assert f"{LRI}(412.0 ± 1.4)\u00a0g{PDI}".replace(" ± ", "\u00a0±\u00a0") in text
    assert FSI in text  # money runs by its own first letter
    found = [match.start() for match in re.finditer(r"[\d)]\u00a0(?:g|min)\b", text)]
    assert len(found) > 10 and [at for at in found if text.rfind(LRI, 0, at) <= text.rfind(PDI, 0, at)] == []


def test_an_edition_from_left_to_right_has_no_isolates(made: Path) -> None:
    """Where they do nothing they aren't written."""
    assert not [p for p in (made / "en").rglob("*.html") if any(mark in p.read_text() for mark in (LRI, FSI, PDI))]


def test_borrowed_words_say_that_they_are_english(review: html.HtmlElement) -> None:
    """WCAG 2.2, 3.1.2: headings, links and labels that are English are marked; the author's Arabic and names aren't."""
    marked = {"".join(e.itertext()) for e in review.xpath("//*[@lang='en'][not(@hreflang)]")}
    assert {"Key figures", "Reviews", "Disclosure", "Author", "Maker"} <= marked
    wanted = {"Key figures", "The evidence", "The review", "Corrections"}
    headings = [h for h in review.xpath("//main//h2") if h.text and h.text.strip() in wanted]
    assert len(headings) == 4 and all(h.get("lang") == "en" for h in headings)
    assert not [text for text in marked if any("\u0600" <= letter <= "\u06ff" for letter in text)]
    assert "Tarn 3" not in marked and review.xpath("//h1/@lang") == []


def test_charts_are_drawn_for_the_direction(made: Path, review: html.HtmlElement) -> None:
    """The drawing differs from the English one, and each line without an Arabic letter is isolated."""
    english = html.fromstring(next((made / "en/reviews").glob("t*.html")).read_bytes())
    arabic, latin = review.xpath("//figure[@class='drawing']//svg"), english.xpath("//figure[@class='drawing']//svg")
    assert len(arabic) == len(latin) > 0
    places = [[(t.get("x"), t.get("transform")) for t in svgs[0].iter("{*}text", "text")] for svgs in (arabic, latin)]
    assert places[0] != places[1]
    lines = [t.text_content() for t in arabic[0].iter("text") if t.text_content().strip()]
    assert lines and all(line.startswith(LRI) and line.endswith(PDI) for line in lines)


def test_the_style_sheet_knows_no_left_and_right(made: Path) -> None:
    """The layout mirrors because it is written in logical properties (CSS Logical Properties 1); only lines in
    another script are told to begin where the page begins."""
    style = next((made / "assets").glob("theme-*.css")).read_text()
    sides = r"(?:margin|padding|border)-(?:left|right)\s*:|(?<![\w-])(?:left|right)\s*:|float\s*:\s*(?:left|right)|text-align\s*:\s*left"
    assert re.findall(sides, style) == []
    assert all("[dir=" in line for line in style.splitlines() if "text-align: right" in line)
