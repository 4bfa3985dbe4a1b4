"""The glossary page and the links that lead to it from the first use of a term."""

import json
import re
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen.pipeline.build import build

TEXT = """\
Eine Jacke ohne Mehrzahl.

## Die Membran

Code `Membran` und [Membran](guide:care), dann die Membran & noch eine Membran <x>. Kein Oberstoffe-Wort, sondern **Oberstoffe**.

| Membran | Ret |
|---|---|
| 1 | 2 |

### Über {mass} und Ret

| a | b |
|---|---|
| verklebte Nähte | DWR |
"""


def made(folder: Path, **more: str) -> dict[str, str]:
    """The pages of the small publication with another lead text, by path."""
    files: dict[str, str | bytes | None] = {
        "reviews/tarn/de.md": SMALL["reviews/tarn/de.md"].partition("## ")[0] + TEXT,
        **more,
    }
    assert build(write(folder / "pub", files), folder / "site", None).published
    return {
        path.relative_to(folder / "site").as_posix(): path.read_text("utf-8")
        for path in (folder / "site").rglob("*.html")
    }


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return made(tmp_path_factory.mktemp("glossary"))


def review(pages: dict[str, str]) -> str:
    (name,) = (name for name in pages if name.startswith("de/reviews/") and not name.endswith("index.html"))
    return pages[name]


def test_the_first_use_of_a_term_leads_to_the_glossary(pages: dict[str, str]) -> None:
    """Once a page, in running text and cells; never in a heading, a link, code, a caption or an attribute."""
    text = review(pages)
    links = re.findall(r'<a class="term" href="\.\./glossary\.html#([\w-]+)">([^<]*)</a>', text)
    assert links == [("term-membrane", "Membran"), ("term-face-fabric", "Oberstoffe"), ("term-ret", "Ret"), ("term-taped-seam", "verklebte Nähte"),
                     ("term-durable-water-repellent", "DWR")]  # fmt: skip
    assert 'dann die <a class="term"' in text
    assert '<h2 id="die-membran">Die Membran</h2>' in text
    assert "<code>Membran</code>" in text
    assert not re.search(r'<[^<>]*<a class="term"', text)


def test_every_link_to_a_term_has_its_anchor(pages: dict[str, str]) -> None:
    """No page leads to an anchor that the glossary of its edition lacks."""
    for name, text in pages.items():
        anchors = (
            set(re.findall(r'id="(term-[\w-]+)"', pages[f"{name[:2]}/glossary.html"]))
            if name[:3] in {"de/", "en/"}
            else set()
        )
        assert set(re.findall(r"glossary\.html#(term-[\w-]+)", text.partition("<body")[2])) <= anchors


def test_the_glossary_lists_all_terms_in_order(pages: dict[str, str]) -> None:
    """Every stock term once, as a definition list in the language's order, linked from the menu of every page."""
    for tag in ("de", "en"):
        names = re.findall(r"<dfn>([^<]*)</dfn>", pages[f"{tag}/glossary.html"])
        assert len(names) == len(set(names)) > 20
        assert pages[f"{tag}/glossary.html"].count("<dd>") == len(names)
    german = re.findall(r"<dfn>([^<]*)</dfn>", pages["de/glossary.html"])
    assert german == sorted(
        german, key=lambda word: word.lower().translate(str.maketrans({"ä": "a", "ö": "o", "ü": "u"}))
    )
    menu = review(pages).partition('<nav class="pages"')[2].partition("</nav>")[0]
    assert 'href="../glossary.html"' in menu


def test_inflected_names_are_not_listed_beside_their_own(pages: dict[str, str]) -> None:
    """A plural tells a reader nothing; another word does."""
    entry = re.search(r'<div id="term-taped-seam">.*?</div>', pages["de/glossary.html"], re.DOTALL)
    assert entry is not None
    assert "Nahtband" in entry[0]
    assert "Nähte" not in entry[0]


def test_the_structured_data_say_the_same(pages: dict[str, str]) -> None:
    """schema.org DefinedTermSet and DefinedTerm (schema.org vocabulary): names, meanings and addresses as on the page."""
    text = pages["en/glossary.html"]
    nodes = json.loads(re.findall(r'<script type="application/ld\+json">(.*?)</script>', text)[0])
    (terms,) = (node for node in nodes if node["@type"] == "DefinedTermSet")
    assert [term["name"] for term in terms["hasDefinedTerm"]] == re.findall(r"<dfn>([^<]*)</dfn>", text)
    for term in terms["hasDefinedTerm"]:
        address, _, anchor = term["url"].partition("#")
        assert address == terms["url"]
        assert f'id="{anchor}"' in text


def test_a_publication_may_keep_its_texts_plain(tmp_path: Path) -> None:
    """`terms: plain` leaves texts without such links; the glossary stays."""
    pages = made(tmp_path, **{"publication.yaml": SMALL["publication.yaml"] + "terms: plain\n"})
    assert not any('class="term"' in text for text in pages.values())
    assert "de/glossary.html" in pages


def test_own_terms_stand_in_the_glossary_of_their_languages(tmp_path: Path) -> None:
    """A term with a name in one language only is in that language's glossary only; its words are escaped."""
    own = "keil:\n  term: {de: Keil & <b>Zwickel}\n  means: {de: Ein Stück <i>Stoff.}\n"
    pages = made(tmp_path, **{"glossary.yaml": own})
    assert "<dfn>Keil &amp; &lt;b&gt;Zwickel</dfn>" in pages["de/glossary.html"]
    assert "term-keil" not in pages["en/glossary.html"]
