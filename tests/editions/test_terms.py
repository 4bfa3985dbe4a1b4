"""Terms of the glossary: found in each language's forms, held against the other edition, told on demand only."""

from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen import stock
from sitegen.desk.editions_terms import term_lines
from sitegen.editions.worksheets.terms import TermGap, term_report
from sitegen.figures.forms.term_forms import collation_key, term_forms
from sitegen.pipeline import build
from sitegen.problems import Problems
from sitegen.records.publication import Publication
from sitegen.records.stock_records import read_stock

REPOSITORY = Path(__file__).resolve().parents[2]


def found(tag: str, text: str) -> list[tuple[str, str]]:
    forms = term_forms(read_stock(stock.content_folder(), Problems()).terms, tag, "de")
    return [(id, text[start:end]) for id, start, end in forms.find(text)]


# Inflections from memory of each language's grammar.
@pytest.mark.parametrize(
    ("tag", "text", "expected"),
    [
        ("en", "Two membranes wet out.", [("membrane", "membranes"), ("wet_out", "wet out")]),
        ("en", "The DWR is gone; a dwr isn't.", [("durable_water_repellent", "DWR")]),
        ("en", "Wetted\nout.", [("wet_out", "Wetted\nout")]),
        ("de", "Die Oberstoffe und des Oberstoffs", [("face_fabric", "Oberstoffe"), ("face_fabric", "Oberstoffs")]),
        ("de", "mit fluorfreier Ausrüstung", [("fluorine_free", "fluorfreier Ausrüstung")]),
        ("de", "der dauerhaft wasserabweisenden Ausrüstung", [("durable_water_repellent", "dauerhaft wasserabweisenden Ausrüstung")]),
        ("de", "verklebten Nähten", [("taped_seam", "verklebten Nähten")]),
        ("nl", "De membranen", [("membrane", "membranen")]),
        ("fr", "deux colonnes d’eau", [("hydrostatic_head", "colonnes d’eau")]),
        ("en", "It is worth a look.", []), ("en", "remembranes", []), ("de", "Membranjacke", []),
    ],
)  # fmt: skip
def test_a_term_is_found_in_its_forms(tag: str, text: str, expected: list[tuple[str, str]]) -> None:
    """Any case, the language's common endings, whole words only; short capital names as they are; everyday words never."""
    assert found(tag, text) == expected


def read(folder: Path, files: dict[str, str | bytes | None]) -> tuple[Publication, Problems]:
    problems = Problems()
    publication = build.read(write(folder, files), problems)
    assert publication is not None
    return publication, problems


def report(folder: Path, de: str, en: str, glossary: str | None = None) -> list[tuple[str, str, str]]:
    files: dict[str, str | bytes | None] = {
        "reviews/tarn/de.md": SMALL["reviews/tarn/de.md"].partition("## ")[0] + de,
        "reviews/tarn/en.md": SMALL["reviews/tarn/en.md"].partition("## ")[0] + en,
        "glossary.yaml": glossary,
    }
    return [(gap.term, gap.lang, gap.word) for gap in term_report(read(folder, files)[0])]


@pytest.mark.parametrize(
    ("de", "en", "expected"),
    [
        ("Die Membran hält.", "The membrane holds.", []),
        ("Die Membran hält.", "The film holds.", [("membrane", "de", "Membran")]),
        ("Die Folie hält.", "The membrane holds.", [("membrane", "en", "membrane")]),
        ("Die Membranjacke hält.", "The membrane jacket holds.", []),  # a compound speaks of it
        ("Die Imprägnierung hält.", "The DWR holds.", []),  # another name of the same
        ("`Membran` und [x](membran)", "A film and [x](film)", []),
        ("Die Membran, nochmals: die Membran.", "The film, again the film.", [("membrane", "de", "Membran")]),
        ("Der Oberstoff.\n\nDie Membran.", "The membrane.\n\nThe face fabric.", [
            ("face_fabric", "de", "Oberstoff"), ("membrane", "en", "membrane"), ("membrane", "de", "Membran"), ("face_fabric", "en", "face fabric"),
        ]),
    ],
)  # fmt: skip
def test_a_paragraph_that_says_something_else_is_listed(
    tmp_path: Path, de: str, en: str, expected: list[tuple[str, str, str]]
) -> None:
    """A term counts once a paragraph; any of its names in the paired paragraph will do."""
    assert report(tmp_path, de, en) == expected


OWN = """\
membrane:
  term: {de: Folie, en: film}
  means: {de: Eine Folie., en: A film.}
gusset:
  term: {de: Zwickel, en: gusset}
  also: {en: [gore]}
  means: {de: Ein Keil aus Stoff., en: A wedge of cloth.}
"""


def test_a_publication_s_own_glossary_wins(tmp_path: Path) -> None:
    """Own terms are added, an own term replaces the stock's of the same id, and the file counts as read."""
    assert report(tmp_path / "a", "Die Folie und der Zwickel.", "The film and the gore.", OWN) == []
    assert report(tmp_path / "b", "Der Zwickel.", "The wedge.", OWN) == [("gusset", "de", "Zwickel")]
    publication, problems = read(tmp_path / "c", {"glossary.yaml": OWN})
    assert not len(problems)
    assert publication.terms["membrane"].term.exact("en") == "film"
    assert "wet_out" in publication.terms


@pytest.mark.parametrize(
    "glossary", ["- a\n", "Wet Out:\n  term: x\n  means: y\n", "gusset:\n  term: {de: x}\n", "gusset: 3\n"]
)
def test_a_faulty_glossary_is_told_where_it_stands(tmp_path: Path, glossary: str) -> None:
    """A list, a bad id, a term without a meaning: an error in glossary.yaml, never a traceback."""
    problems = build.check(write(tmp_path, {"glossary.yaml": glossary}))
    assert [p.place.file for p in problems.errors] == ["glossary.yaml"]


def test_gaps_are_no_problems_of_a_build(tmp_path: Path) -> None:
    """Style may leave a word out: a check says nothing of it, the report gives both places and the names expected."""
    files: dict[str, str | bytes | None] = {
        "reviews/tarn/de.md": SMALL["reviews/tarn/de.md"].partition("## ")[0] + "Die Membran hält.",
        "reviews/tarn/en.md": SMALL["reviews/tarn/en.md"].partition("## ")[0] + "The film holds.",
    }
    assert not [p for p in build.check(write(tmp_path, files)) if "term" in p.code]
    (gap,) = term_report(read(tmp_path, files)[0])
    assert isinstance(gap, TermGap)
    assert (gap.place.file, gap.place.column, gap.other.file) == ("reviews/tarn/de.md", 5, "reviews/tarn/en.md")
    assert gap.expected == ("membrane", "membranes")
    lines = list(term_lines([gap]))
    assert "reviews/tarn/de.md" in lines[0]
    assert "membrane" in lines[1]


# Orders from memory: DIN 5007-1 (de), the national alphabets of da, nb, sv, es, pl; accents don't count in fr.
@pytest.mark.parametrize(
    ("tag", "words"),
    [
        ("de", ["Arm", "Ärmel", "Armring", "Masse", "Maße", "Zelt"]), ("sv", ["Zon", "Åre", "Äng", "Öl"]), ("da", ["Zink", "Æble", "Øl", "Ål"]),
        ("fr", ["côte", "couture", "éprouvette", "essai"]), ("es", ["nube", "ñandú", "oca"]), ("pl", ["las", "łan", "mapa"]),
        ("en", ["re-proof", "reach", "Ret"]),
    ],
)  # fmt: skip
def test_words_stand_in_their_language_s_order(tag: str, words: list[str]) -> None:
    """The sort key puts letters where the language's alphabet has them."""
    shuffled = [*words[1:], words[0]]
    assert sorted(shuffled, key=lambda word: collation_key(word, tag)) == words


def test_the_demo_s_editions_use_the_same_terms() -> None:
    """The demo's paragraphs use each term in all their languages."""
    publication = build.read(REPOSITORY / "demo_site", Problems())
    assert publication is not None
    assert term_report(publication) == ()
