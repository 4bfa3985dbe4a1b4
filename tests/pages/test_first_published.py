"""Reviews that somebody else published first: credit, the original's address, and embargoes that hold everywhere."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from builders import MINIMAL, SMALL, write
from lxml import etree, html

from sitegen.cli import main
from sitegen.pipeline.build import build

OUTLET = "https://hochweg.example/tarn-3?seite=1"
FIRST = """\
first_published:
  outlet: Hochweg
  date: 2026-09-20
  address: https://hochweg.example/tarn-3?seite=1
  language: de
  terms: {de: Nachdruck nach zwei Wochen., en: Reprint after two weeks.}
  fee: no
"""
NS = {"s": "http://www.sitemaps.org/schemas/sitemap/0.9", "a": "http://www.w3.org/2005/Atom"}
BEFORE, AFTER = dt.date(2026, 11, 30), dt.date(2026, 12, 1)
MARKS = ("Geheimtipp", "Secret tip", "geheimtipp", "secret-tip")


def review(more: str = "") -> dict[str, str | bytes | None]:
    """The small publication's review as one published first elsewhere, with titles that occur nowhere else."""
    german = SMALL["reviews/tarn/de.md"].replace("title: Tarn 3", "title: Geheimtipp").replace("slug: tarn\n", "")
    english = SMALL["reviews/tarn/en.md"].replace("title: Tarn 3", "title: Secret tip").replace("slug: tarn\n", "")
    return {"reviews/tarn/data.yaml": FIRST + more, "reviews/tarn/de.md": german, "reviews/tarn/en.md": english}


def site(folder: Path, files: dict[str, str | bytes | None], day: dt.date = dt.date.min) -> Path:
    result = build(write(folder / "pub", files), folder / "site", None, day=day)
    assert result.published, list(result.problems)
    return folder / "site"


def page(path: Path) -> html.HtmlElement:
    return html.fromstring(path.read_bytes())


def node(tree: html.HtmlElement) -> dict[str, Any]:
    """The review in a page's structured data."""
    data = json.loads(tree.xpath("//script[@type='application/ld+json']/text()")[0])
    found: dict[str, Any] = next(n for n in data if n["@type"] == "Review")
    return found


def listed(made: Path) -> set[str]:
    return set(etree.parse(made / "sitemap.xml").xpath("//s:loc/text()", namespaces=NS))


def alternates(tree: html.HtmlElement) -> dict[str, str]:
    return {x.get("hreflang"): x.get("href") for x in tree.xpath("//link[@rel='alternate'][@hreflang]")}


def test_the_page_credits_who_published_it_first(tmp_path: Path) -> None:
    """Outlet, day and terms stand on the page in its language with a link; a translation says that it is one."""
    made = site(tmp_path, review())
    note = page(made / "en/reviews/secret-tip.html").xpath("//p[@class='note'][a[contains(., 'Hochweg')]]")[0]
    assert (
        note.text_content().split()
        == "First published by Hochweg on September 20, 2026, translated with leave. Reprint after two weeks.".split()
    )
    assert note.xpath("a/@href") == [OUTLET]
    german = page(made / "de/reviews/geheimtipp.html").xpath("//p[@class='note'][a[contains(., 'Hochweg')]]")[0]
    assert "20. September 2026" in german.text_content() and "Nachdruck nach zwei Wochen." in german.text_content()


def test_machines_read_what_it_is_based_on(tmp_path: Path) -> None:
    """schema.org: the reprint is the same as the outlet's text (sameAs) and based on it, the translation is based on it only."""
    made = site(tmp_path, review())
    german, english = node(page(made / "de/reviews/geheimtipp.html")), node(page(made / "en/reviews/secret-tip.html"))
    work = {
        "@type": "CreativeWork", "inLanguage": "de", "datePublished": "2026-09-20", "url": OUTLET,
        "publisher": {"@type": "Organization", "name": "Hochweg"},
    }  # fmt: skip
    assert german["isBasedOn"] == work and german["sameAs"] == OUTLET
    assert english["isBasedOn"] == work and "sameAs" not in english
    assert english["translationOfWork"]["url"] == "https://moorkamp.example/de/reviews/geheimtipp.html"


def test_the_feed_names_the_source(tmp_path: Path) -> None:
    """RFC 4287: rel="via" (4.2.7.2) is the source, rights (4.2.10) the terms."""
    feed = etree.parse(site(tmp_path, review()) / "en" / "feed.xml")
    entry = feed.xpath("//a:entry[a:title='Secret tip']", namespaces=NS)[0]
    assert entry.xpath("a:link[@rel='via']/@href", namespaces=NS) == [OUTLET]
    assert "Reprint after two weeks." in entry.findtext("a:rights", namespaces=NS)


def test_without_such_terms_the_page_is_its_own_original(tmp_path: Path) -> None:
    """No `canonical: yes`: canonical, alternates and sitemap are those of any page."""
    made = site(tmp_path, review())
    german = page(made / "de/reviews/geheimtipp.html")
    own = "https://moorkamp.example/de/reviews/geheimtipp.html"
    assert german.xpath("//link[@rel='canonical']/@href") == [own] and own in listed(made)
    assert set(alternates(german)) == {"de", "en", "x-default"}


def test_an_original_elsewhere_is_named_and_nothing_contradicts_it(tmp_path: Path) -> None:
    """`canonical: yes`: the page in the original's language points there, stands in no sitemap and in no alternates;
    the translation stays its own original and names only itself. (A page that isn't canonical belongs into neither:
    Google Search help on canonical and hreflang; from memory.)"""
    made = site(tmp_path, review("  canonical: yes\n"))
    german, english = page(made / "de/reviews/geheimtipp.html"), page(made / "en/reviews/secret-tip.html")
    own = "https://moorkamp.example/en/reviews/secret-tip.html"
    assert german.xpath("//link[@rel='canonical']/@href") == [OUTLET]
    assert alternates(german) == {} and german.xpath("//meta[@name='robots']") == []
    assert english.xpath("//link[@rel='canonical']/@href") == [own]
    assert alternates(english) == {"en": own, "x-default": own}
    assert own in listed(made) and "https://moorkamp.example/de/reviews/geheimtipp.html" not in listed(made)
    links = {a.get("hreflang"): a.get("href") for a in english.xpath("//nav[@class='languages']//a")}
    assert links["de"] == "../../de/reviews/geheimtipp.html"  # readers still find both


def told(made: Path, *marks: str) -> list[str]:
    """The files in which any of the marks occurs, or whose name holds one."""
    found = []
    for path in sorted(p for p in made.rglob("*") if p.is_file()):
        name = path.relative_to(made).as_posix()
        if any(mark in name or mark.encode() in path.read_bytes() for mark in marks):
            found.append(name)
    return found


def test_an_embargo_keeps_a_review_out_of_everything(tmp_path: Path) -> None:
    """Until the day no file of the site, of whatever kind, holds a word of it; on the day it is there."""
    files = review("  embargo: 2026-12-01\n")
    assert told(site(tmp_path / "a", files, BEFORE), *MARKS) == []
    assert told(site(tmp_path / "c", files), *MARKS) == []
    after = told(site(tmp_path / "b", files, AFTER), *MARKS)
    assert {
        "de/reviews/geheimtipp.html",
        "en/reviews/secret-tip.html",
        "de/feed.xml",
        "sitemap.xml",
        "de/index.html",
    } <= set(after)


def test_an_embargo_can_hold_for_one_edition(tmp_path: Path) -> None:
    """The other edition appears, with no alternate, link or structured data that would tell of the one that waits."""
    files = review("  embargo: {de: 2026-12-01}\n")
    made = site(tmp_path, files, BEFORE)
    assert told(made, "Geheimtipp", "geheimtipp") == []
    english = page(made / "en/reviews/secret-tip.html")
    assert set(alternates(english)) == {"en", "x-default"} and "translationOfWork" not in node(english)
    assert english.xpath("//nav[@class='languages']//a[@hreflang='de']/@href") == ["../../de/index.html"]
    assert set(alternates(page(site(tmp_path / "later", files, AFTER) / "en/reviews/secret-tip.html"))) == {
        "de",
        "en",
        "x-default",
    }


@pytest.mark.parametrize("missing", ["leave out", "show lead"])
def test_an_edition_that_waits_shows_no_other_language_in_its_place(missing: str, tmp_path: Path) -> None:
    """Where missing texts are filled from the lead, a text that waits isn't missing: its page stays away."""
    files = review("  embargo: {en: 2026-12-01}\n")
    files["publication.yaml"] = SMALL["publication.yaml"] + f"missing_texts: {missing}\n"
    made = site(tmp_path, files, BEFORE)
    assert not list(made.glob("en/reviews/*.html"))
    assert [name for name in told(made, "Geheimtipp") if name.startswith("en/reviews")] == []


def test_a_review_that_waits_keeps_its_own_product_back(tmp_path: Path) -> None:
    """A short form carries product, readings and sample: none of them shows before the day, nor can they be downloaded."""
    text = MINIMAL["reviews/tarn.md"].replace("measured:", FIRST + "  embargo: 2026-12-01\nmeasured:")
    for day, there in ((BEFORE, False), (AFTER, True)):
        folder = write(tmp_path / str(day), {"reviews/tarn.md": text}, MINIMAL)
        assert build(folder, tmp_path / f"{day}-site", None, day=day).published
        found = told(tmp_path / f"{day}-site", "Tarn", "412.0", "R-1")
        assert ("de/products/tarn.html" in found) is there and ("data/tarn/mass.csv" in found) is there
        assert there or found == []


def test_a_former_address_tells_nothing_of_what_waits(tmp_path: Path) -> None:
    """A page that leads on would give the title away: it waits as well."""
    files = review("  embargo: 2026-12-01\n")
    files["addresses.yaml"] = (
        "review:\n  tarn:\n    de: de/reviews/geheimtipp.html\n    former:\n      - de/reviews/vorher.html\n"
    )
    assert not (site(tmp_path / "a", files, BEFORE) / "de/reviews/vorher.html").exists()
    assert (site(tmp_path / "b", files, AFTER) / "de/reviews/vorher.html").is_file()


def test_the_day_is_an_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--date` decides, the author is told what waits, and the same day gives the same bytes."""
    pub = write(tmp_path / "pub", review("  embargo: 2026-12-01\n"))
    made = []
    for name in ("one", "two"):
        assert main(["build", str(pub), "--to", str(tmp_path / name), "--date", "2026-11-30"]) == 0
        assert "held back until 2026-12-01: the review 'tarn' in de" in capsys.readouterr().out
        made.append(
            {
                p.relative_to(tmp_path / name): p.read_bytes()
                for p in sorted((tmp_path / name).rglob("*"))
                if p.is_file()
            }
        )
    assert made[0] == made[1]
    assert main(["build", str(pub), "--to", str(tmp_path / "one"), "--date", "2026-12-01"]) == 0
    assert "held back" not in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["build", str(pub), "--date", "1.12.2026"])
    assert "expected a day such as 2026-11-25, found '1.12.2026'" in capsys.readouterr().err


def test_a_text_shown_for_want_of_its_own_is_no_page_of_its_own(tmp_path: Path) -> None:
    """`missing_texts: show lead`: the page is there for readers with a note, and for search engines it isn't."""
    files: dict[str, str | bytes | None] = {
        "publication.yaml": SMALL["publication.yaml"] + "missing_texts: show lead\n", "reviews/tarn/en.md": None,
        "reviews/tarn/de.md": review()["reviews/tarn/de.md"],
    }  # fmt: skip
    made = site(tmp_path, files)
    tree = page(made / "en/reviews/geheimtipp.html")
    assert tree.get("lang") == "en" and tree.xpath("//h1/@lang") == ["de"]
    assert "This text exists only in German." in tree.xpath("string(//article/header)")
    assert tree.xpath("//meta[@name='robots']/@content") == ["noindex"] and alternates(tree) == {}
    assert "https://moorkamp.example/en/reviews/geheimtipp.html" not in listed(made)
    assert not {"translationOfWork", "workTranslation"} & set(node(tree))
    german = page(made / "de/reviews/geheimtipp.html")
    assert set(alternates(german)) == {"de", "x-default"} and "workTranslation" not in node(german)
