"""Addresses: slugs by each language's spelling, stable once recorded, former ones leading on, languages naming each other."""

import re
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import pytest
from builders import SMALL, write
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree, html

from sitegen.cli import main
from sitegen.pages.plan.slugs import LONGEST, slug_of
from sitegen.pipeline.build import build, check

ADDRESS = "https://moorkamp.example/"
NS = {
    "s": "http://www.sitemaps.org/schemas/sitemap/0.9",
    "x": "http://www.w3.org/1999/xhtml",
    "a": "http://www.w3.org/2005/Atom",
}


def without_slugs(text: str) -> str:
    """A text of the small publication that leaves its address to its title."""
    return re.sub(r"^slug: .*\n", "", text, flags=re.MULTILINE)


TITLED: dict[str, str | bytes | None] = {
    "reviews/tarn/de.md": without_slugs(SMALL["reviews/tarn/de.md"]).replace(
        "title: Tarn 3", 'title: "Größe zählt: die Tarn 3"'
    ),
    "reviews/tarn/en.md": without_slugs(SMALL["reviews/tarn/en.md"]).replace("title: Tarn 3", "title: Size matters"),
    "guides/care/de.md": without_slugs(SMALL["guides/care/de.md"]),
}
DE, EN = "de/reviews/groesse-zaehlt-die-tarn-3.html", "en/reviews/size-matters.html"


def site(folder: Path, files: Mapping[str, str | bytes | None] = MappingProxyType({})) -> Path:
    """The titled publication built anew in `folder`, which may hold an addresses.yaml already."""
    result = build(write(folder / "pub", {**TITLED, **files}), folder / "site", None)
    assert result.published, list(result.problems)
    return folder / "site"


def page(path: Path) -> html.HtmlElement:
    return html.fromstring(path.read_bytes())


def record(folder: Path, *more: str) -> str:
    assert main(["addresses", str(folder / "pub"), "--record", *more]) == 0
    return (folder / "pub" / "addresses.yaml").read_text()


def test_a_record_in_several_files_is_one(tmp_path: Path) -> None:
    """Some pages in addresses.yaml, others in files of the folder: the same site, and the files have all that is recorded."""
    whole = {
        "addresses.yaml": "review:\n  tarn:\n    de: de/reviews/tarn-x.html\n    former: de/reviews/x.html\n"
        "guide:\n  care:\n    de: de/guides/care-x.html\n    former: de/guides/x.html\n"
    }
    review, guide = (text.removeprefix("guide:") for text in whole["addresses.yaml"].split("guide:"))
    parted = {"addresses.yaml": None, "addresses/a.yaml": review, "addresses/b.yaml": f"guide:{guide}"}
    one, other = site(tmp_path / "one", whole), site(tmp_path / "other", parted)
    for folder in (one, other):
        assert (folder / "de/reviews/tarn-x.html").is_file() and (folder / "de/guides/x.html").is_file()
    files = {path.relative_to(one) for path in one.rglob("*") if path.is_file()}
    assert files == {path.relative_to(other) for path in other.rglob("*") if path.is_file()}
    assert all((one / path).read_bytes() == (other / path).read_bytes() for path in files)


# Spellings without marks: German by DIN 5007-2, Danish and Norwegian aa for å; both from memory. The rest: common practice, no source.
@pytest.mark.parametrize(
    ("title", "tag", "slug"),
    [
        ("Größe zählt: die Hose für Übermütige", "de", "groesse-zaehlt-die-hose-fuer-uebermuetige"),
        ("Größe zählt", "de-AT", "groesse-zaehlt"),
        ("Zoë’s coöperatie: één broek", "nl", "zoes-cooperatie-een-broek"),
        ("L’été, à l’œil nu", "fr", "lete-a-loeil-nu"),
        ("Årets bukser på Ærø", "da", "aarets-bukser-paa-aeroe"),
        ("Årets byxor på ön", "sv", "arets-byxor-pa-on"),
        ("Łódź: żółte spodnie", "pl", "lodz-zolte-spodnie"),
        ("Tarn 3 bei {mass claimed} und 1,5 Litern", "de", "tarn-3-bei-und-1-5-litern"),
        ("تارن: سروال خفيف", "ar", "the-id"),
        ("2026", "en", "the-id"),
        ("Index", "en", "the-id"),
    ],
)
def test_a_slug_is_the_title_as_its_language_spells_without_marks(title: str, tag: str, slug: str) -> None:
    """Letters fold by the language's convention; a title without a Latin letter leaves the id."""
    assert slug_of(title, tag, "the_id") == slug


@given(st.text(max_size=200), st.sampled_from(["de", "en", "ar", "da", "tr"]))
def test_every_title_gives_a_good_slug(title: str, tag: str) -> None:
    """Whatever a title holds: small Latin letters, digits and single hyphens, at most 60, never the name of a list."""
    slug = slug_of(title, tag, "x")
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", slug) and len(slug) <= LONGEST and slug != "index"


@pytest.mark.parametrize("title", ["Con", "AUX", "nul!", "Com1", "LPT9"])
def test_no_slug_is_a_device(title: str) -> None:
    """Windows keeps such names for devices (Microsoft, "Naming Files, Paths, and Namespaces"; from memory): the id stands in."""
    assert slug_of(title, "en", "tarn_3") == "tarn-3"


def test_an_address_chosen_as_a_device_is_told(tmp_path: Path) -> None:
    """Who writes such a slug is told where, and that nobody could copy the site there."""
    text = SMALL["reviews/tarn/de.md"]
    folder = write(tmp_path / "pub", {"reviews/tarn/de.md": re.sub(r"(?m)^slug: .*$", "slug: aux", text)})
    told = [p for p in check(folder) if p.code == "page-name"]
    line = text.splitlines().index(next(line for line in text.splitlines() if line.startswith("slug: "))) + 1
    assert [(str(p.place), p.message) for p in told] == [
        (
            f"reviews/tarn/de.md:{line}:7",
            "the review 'tarn' would stand at 'aux.html', a name that Windows keeps for a device",
        )
    ]


def test_a_long_title_is_cut_at_a_word() -> None:
    """No word is cut in two, and the slug is as long as whole words allow."""
    title = "Nine words that are together far too long for any addresses"
    assert slug_of(title, "en", "x") == "nine-words-that-are-together-far-too-long-for-any-addresses"
    assert slug_of(title + " of", "en", "x") == "nine-words-that-are-together-far-too-long-for-any-addresses"
    assert slug_of("a" * 80, "en", "x") == "a" * LONGEST


def test_each_edition_has_its_own_address(tmp_path: Path) -> None:
    """A review and a round stand at their title in each language, a product at its id."""
    made = site(tmp_path)
    for path in (
        DE,
        EN,
        "de/rounds/wanderhosen-2026.html",
        "en/rounds/walking-trousers-2026.html",
        "de/products/tarn.html",
        "en/products/tarn.html",
    ):
        assert (made / path).is_file(), path


def test_a_recorded_address_outlives_its_title(tmp_path: Path) -> None:
    """Once recorded, a page stays where it is when its title changes; without a record it would move."""
    site(tmp_path)
    assert DE in record(tmp_path)
    renamed = {"reviews/tarn/de.md": str(TITLED["reviews/tarn/de.md"]).replace("Größe zählt", "Anders")}
    made = site(tmp_path, renamed)
    assert (made / DE).is_file() and "Anders" in page(made / DE).findtext(".//h1")
    (tmp_path / "pub" / "addresses.yaml").unlink()
    assert not (site(tmp_path, renamed) / DE).exists()


def test_recording_again_changes_nothing(tmp_path: Path) -> None:
    """The record of an unchanged publication is the same bytes, and a build never writes it."""
    site(tmp_path)
    assert not (tmp_path / "pub" / "addresses.yaml").exists()
    first = record(tmp_path)
    assert record(tmp_path) == first
    assert check(tmp_path / "pub").has_errors is False


def moved_page(made: Path, old: str, new: str, lang: str) -> html.HtmlElement:
    """The page at a former address, checked for all that it owes."""
    tree = page(made / old)
    refresh = tree.xpath("//meta[@http-equiv='refresh']/@content")[0]
    assert tree.get("lang") == lang
    assert tree.xpath("//meta[@name='robots']/@content") == ["noindex"]
    assert tree.xpath("//link[@rel='canonical']/@href") == [ADDRESS + new]
    assert refresh == f"0; url={new.rpartition('/')[2]}"
    assert tree.xpath("//main//a/@href") == [new.rpartition("/")[2]]
    assert old not in (made / "sitemap.xml").read_text() and old not in (made / lang / "feed.xml").read_text()
    return tree


def test_a_slug_changed_on_purpose_leaves_a_page_that_leads_on(tmp_path: Path) -> None:
    """The old address leads to the new one at once and for good: before it is recorded, and after."""
    site(tmp_path)
    record(tmp_path)
    chosen = {"reviews/tarn/de.md": str(TITLED["reviews/tarn/de.md"]).replace("---\n", "---\nslug: tarn-drei\n", 1)}
    made = site(tmp_path, chosen)
    tree = moved_page(made, DE, "de/reviews/tarn-drei.html", "de")
    assert tree.findtext(".//main//a") == "Größe zählt: die Tarn 3"
    text = record(tmp_path)
    assert "    de: de/reviews/tarn-drei.html\n" in text and f"    former:\n      - {DE}\n" in text
    moved_page(site(tmp_path, chosen), DE, "de/reviews/tarn-drei.html", "de")


def test_a_renamed_text_is_found_at_its_old_address(tmp_path: Path) -> None:
    """A folder renamed together with its title: a caution until the record is told, then the old address leads on."""
    site(tmp_path)
    record(tmp_path)
    pub = tmp_path / "pub"
    (pub / "guides" / "care").rename(pub / "guides" / "washing")
    (pub / "guides" / "washing" / "de.md").write_text(str(TITLED["guides/care/de.md"]).replace("Pflege", "Waschen"))
    review = pub / "reviews" / "tarn" / "de.md"
    review.write_text(review.read_text().replace("guide:care", "guide:washing"))
    assert [p.code for p in check(pub) if p.code != "language-words"] == ["address-lost"]
    assert "former:\n      - de/guides/pflege.html" in record(tmp_path, "--renamed", "guide/care=washing")
    assert [p.code for p in check(pub) if p.code != "language-words"] == []
    assert build(pub, tmp_path / "site", None).published
    moved_page(tmp_path / "site", "de/guides/pflege.html", "de/guides/waschen.html", "de")


def test_a_renamed_product_leads_on_though_it_stands_at_its_id(tmp_path: Path) -> None:
    """Products have no recorded address, so the command makes the former ones from the old id, one an edition."""
    site(tmp_path)
    pub = tmp_path / "pub"
    (pub / "products" / "fenn.yaml").rename(pub / "products" / "fenn_1.yaml")
    for path in [*pub.rglob("*.csv"), *pub.rglob("*.yaml"), *pub.rglob("*.md")]:
        path.write_text(re.sub(r"\bfenn\b", "fenn_1", path.read_text()))
    record(tmp_path, "--renamed", "product/fenn=fenn_1")
    assert build(pub, tmp_path / "site", None).published
    for tag in ("de", "en"):
        moved_page(tmp_path / "site", f"{tag}/products/fenn.html", f"{tag}/products/fenn-1.html", tag)


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        ("care", "doesn't say what was renamed"),
        ("guide/old=care", "nothing is recorded of a guide 'old'"),
        ("guide/care=wash", "there is no guide 'wash'"),
        ("guide/care=care", "is still there"),
    ],
)
def test_a_wrong_rename_is_refused(wish: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is written, and the reason is given."""
    pub = write(tmp_path / "pub", TITLED)
    assert main(["addresses", str(pub), "--record", "--renamed", wish]) == 2
    assert told in capsys.readouterr().err
    assert not (pub / "addresses.yaml").exists()


def pages_of(made: Path) -> dict[str, html.HtmlElement]:
    """Every page of a site but those that lead on and those for unknown addresses."""
    found = {path.relative_to(made).as_posix(): page(path) for path in sorted(made.rglob("*.html"))}
    return {name: tree for name, tree in found.items() if not tree.xpath("//meta[@name='robots']")}


# Rules of language versions: each lists all versions and itself, mutually, with absolute addresses and x-default
# (Google Search help and web.dev on hreflang); xhtml:link in a sitemap likewise.
def test_the_demo_names_its_languages_without_contradiction(built_demo: Path) -> None:
    """All versions of a page declare the same set with themselves and x-default, in the page and in the sitemap."""
    address = "https://nordhang.example/"
    pages = pages_of(built_demo)
    listed = {
        url.findtext("s:loc", namespaces=NS): {(x.get("hreflang"), x.get("href")) for x in url.findall("x:link", NS)}
        for url in etree.parse(built_demo / "sitemap.xml").getroot()
    }
    declared = {
        address + name.removesuffix("index.html") if name.endswith("index.html") else address + name: tree
        for name, tree in pages.items()
    }
    assert set(listed) == set(declared)
    several = 0
    for own, tree in declared.items():
        others = {(x.get("hreflang"), x.get("href")) for x in tree.xpath("//link[@rel='alternate'][@hreflang]")}
        assert tree.xpath("//link[@rel='canonical']/@href") == [own]
        assert own in {href for _, href in others} and "x-default" in dict(others) and listed[own] == others
        for tag, href in others:
            there = declared[href]
            assert tag == "x-default" or there.get("lang") == tag
            back = {(x.get("hreflang"), x.get("href")) for x in there.xpath("//link[@rel='alternate'][@hreflang]")}
            assert back >= others - {("x-default", address)}
        several += len(others) > 2
    assert several > 60


def test_the_language_switch_leads_to_the_same_page(built_demo: Path) -> None:
    """On every page of an edition the link to another language is that language's alternate, else its front page."""
    address, switched = "https://nordhang.example/", 0
    for name, tree in pages_of(built_demo).items():
        alternates = {x.get("hreflang"): x.get("href") for x in tree.xpath("//link[@rel='alternate'][@hreflang]")}
        links = {a.get("hreflang"): a.get("href") for a in tree.xpath("//nav[@class='languages']//a")}
        assert name == "index.html" or set(links) == {"de", "en", "nl"}, name
        for tag, href in links.items():
            path = (built_demo / name).parent.joinpath(href).resolve().relative_to(built_demo.resolve()).as_posix()
            wanted = alternates.get(tag, f"{address}{tag}/")
            assert address + path.removesuffix("index.html" if path.endswith("/index.html") else "") == wanted, name
            switched += tag in alternates and tag != tree.get("lang")
    assert switched > 100


def test_the_demo_credits_its_translators(built_demo: Path) -> None:
    """A translation names its translator to readers and to machines, and the work that it translates."""
    import json

    tree = page(built_demo / "nl/reviews/halde-de-broek-waaraan-weinig-verandert.html")
    data = json.loads(tree.xpath("//script[@type='application/ld+json']/text()")[0])
    review = next(node for node in data if node["@type"] == "Review")
    original = "https://nordhang.example/de/reviews/halde-die-hose-an-der-sich-wenig-aendert.html"
    assert (
        review["translator"] == {"@type": "Person", "name": "Ilse Vandermolen"}
        and review["translationOfWork"]["url"] == original
    )
    assert "Ilse Vandermolen" in tree.xpath("string(//dl[@class='fields'])")
    lead = page(built_demo / "de/reviews/halde-die-hose-an-der-sich-wenig-aendert.html")
    works = next(
        n for n in json.loads(lead.xpath("//script[@type='application/ld+json']/text()")[0]) if n["@type"] == "Review"
    )["workTranslation"]
    assert [work["inLanguage"] for work in works] == ["en", "nl"]
    assert all((built_demo / work["url"].removeprefix("https://nordhang.example/")).is_file() for work in works)


def test_each_edition_has_a_feed_in_its_language(built_demo: Path) -> None:
    """A feed names its language and only pages of its edition (RFC 4287: xml:lang)."""
    for tag in ("de", "en", "nl"):
        feed = etree.parse(built_demo / tag / "feed.xml").getroot()
        links = feed.xpath("//a:entry/a:link[@rel='alternate']/@href", namespaces=NS)
        assert feed.get("{http://www.w3.org/XML/1998/namespace}lang") == tag
        assert links and all(link.startswith(f"https://nordhang.example/{tag}/") for link in links)


def test_the_demos_former_addresses_lead_on(built_demo: Path) -> None:
    """In each language the Halde is found at the address it had before, in a page of that language."""
    for tag in ("de", "en", "nl"):
        tree = page(built_demo / tag / "reviews" / "halde.html")
        target = built_demo / tag / "reviews" / tree.xpath("//main//a/@href")[0]
        assert tree.get("lang") == tag and target.is_file() and target.name != "halde.html"
