"""One small publication in all ten languages of the interface: no page falls back into English words."""

import re
from collections.abc import Mapping
from html import unescape
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen.figures.forms.catalogue import Catalogue, catalogue_file, read_catalogue
from sitegen.pipeline.build import build

CATALOGUES = Path(__file__).parents[2] / "content" / "catalogues"
OTHERS = ("de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl")
LONG = 12  # characters: shorter words are too often the same in two languages


def catalogue(tag: str) -> Catalogue:
    return read_catalogue(catalogue_file(CATALOGUES, tag), tag)


def wordings(messages: Mapping[str, str], plurals: Mapping[str, tuple[str, ...]]) -> set[str]:
    """What stands between the placeholders of all messages, as far as it is long."""
    texts = [*messages.values(), *(form for forms in plurals.values() for form in forms)]
    pieces = (piece.strip(" .:;,()\u00a0") for text in texts for piece in re.split(r"\{\w+\}", text))
    return {piece for piece in pieces if len(piece) > LONG}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """All pages of each edition in one text; German is the lead, so that an author's words are German or own."""
    folder = tmp_path_factory.mktemp("ten")
    settings = SMALL["publication.yaml"].replace("editions: [en]", "editions: [en, nl, fr, es, it, da, sv, nb, pl]")
    result = build(
        write(folder / "pub", {"publication.yaml": f"{settings}missing_texts: show lead\n"}),
        folder / "site",
        None,
    )
    assert result.published, list(result.problems)
    return {tag: told(folder / "site" / tag) for tag in (*OTHERS, "en")}


def told(edition: Path) -> str:
    """All pages of an edition in one text, but for the page of a lost address, which speaks all languages at once."""
    paths = sorted(path for path in edition.rglob("*.html") if path.name != "404.html")
    return unescape("\n".join(path.read_text("utf-8") for path in paths))


def test_english_pages_speak_many_of_the_words(pages: dict[str, str]) -> None:
    """The comparison below has something to find: the English pages use a good part of the interface's words."""
    english = catalogue("en")
    assert 50 < sum(wording in pages["en"] for wording in wordings(english.messages, english.plurals))


@pytest.mark.parametrize("tag", OTHERS)
def test_no_english_word_of_the_interface_is_left(pages: dict[str, str], tag: str) -> None:
    """No English wording of the interface stands on a page of another language, unless it is that language's too."""
    english, own = catalogue("en"), catalogue(tag)
    strange = wordings(english.messages, english.plurals) - wordings(own.messages, own.plurals)
    assert pages[tag].count("<h1") > 5
    assert sorted(wording for wording in strange if wording in pages[tag]) == []


@pytest.mark.parametrize("tag", OTHERS)
def test_stock_words_stand_in_the_language_of_the_page(pages: dict[str, str], tag: str) -> None:
    """Disclosure, care words and names of protocols are stock in all ten: no English and no words of the lead there."""
    for english in ("lent us the sample", "bought the sample", "30\u00a0°C, mild process", "do not bleach"):
        assert english not in pages[tag]
    if tag != "de":
        for lead in ("hat uns das Muster", "Maschinenwäsche", "Schonwaschgang", "Sprühprüfung", "Leuchtdauer"):
            assert lead not in pages[tag]
