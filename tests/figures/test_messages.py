"""Looking messages up: placeholders, contexts, plurals; reading catalogues as the reference readers do."""

import gettext
import io
from decimal import Decimal
from pathlib import Path

import polib  # type: ignore[import-untyped]
import pytest
from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.plurals import get_plural
from babel.messages.pofile import read_po

from sitegen.figures.forms.catalogue import CatalogueFault, catalogue_file, missing_messages, read_catalogue
from sitegen.figures.forms.language import Language, open_language
from sitegen.figures.forms.messages import msgid as marked

CATALOGUES = Path(__file__).parents[2] / "content" / "catalogues"
TAGS = ("en", "de", "nl", "fr")
POLISH_RULE = "(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2)"

POLISH = f"""\
# A catalogue with everything that the format allows.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Plural-Forms: nplurals=3; plural={POLISH_RULE};\\n"

#: some/place.py:3
#, python-brace-format
msgid "{{n}} litre"
msgid_plural "{{n}} litres"
msgstr[0] "{{n}} litr"
msgstr[1] "{{n}} litry"
msgstr[2] "{{n}} litrów"

msgctxt "stage"
msgid "new"
msgstr "nowy"
msgid "new"
msgstr "nowe"

#, fuzzy
msgid "Home"
msgstr "Dom"

msgid "Reviews"
msgstr ""

msgid ""
"a \\"long\\" text\\n"
"on two lines \\\\"
msgstr ""
"tekst \\"długi\\"\\n"
"w dwóch wierszach \\\\"

#~ msgid "Old"
#~ msgstr "Stary"
"""


def write_catalogue(folder: Path, tag: str, text: str) -> Path:
    path = catalogue_file(folder, tag)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def polish(tmp_path: Path) -> Language:
    write_catalogue(tmp_path, "pl", POLISH)
    write_catalogue(tmp_path, "en", catalogue_file(CATALOGUES, "en").read_text("utf-8"))
    return open_language("pl", tmp_path)


@pytest.mark.parametrize("tag", TAGS)
def test_catalogues_are_read_as_the_standard_library_reads_them_compiled(tag: str) -> None:
    """Compiled by Babel and read by the gettext of the standard library, each message says the same."""
    path = catalogue_file(CATALOGUES, tag)
    compiled = io.BytesIO()
    with path.open("rb") as source:
        write_mo(compiled, read_po(source, locale=tag))
    compiled.seek(0)
    reference, ours = gettext.GNUTranslations(compiled), read_catalogue(path, tag)
    assert ours.messages and ours.plurals
    for msgid, said in ours.messages.items():
        assert reference.gettext(msgid) == said
    for msgid, forms in ours.plurals.items():
        for n in range(12):
            assert reference.ngettext(msgid, msgid, n) == forms[ours.form_of(n)]


@pytest.mark.parametrize("tag", TAGS)
def test_no_message_is_lost_in_reading(tag: str) -> None:
    """A second reader of .po files finds the same messages."""
    path = catalogue_file(CATALOGUES, tag)
    ours = read_catalogue(path, tag)
    theirs = {entry.msgid for entry in polib.pofile(str(path))}
    assert theirs == ours.messages.keys() | ours.plurals.keys() | ours.open_messages


def test_everything_the_format_allows(polish: Language) -> None:
    """Contexts, entries close together, long texts and escapes are read; fuzzy, empty, obsolete left out."""
    assert "nowy" == polish.text_in("stage", "new")
    assert "nowe" == polish.text("new")
    assert 'tekst "długi"\nw dwóch wierszach \\' == polish.text('a "long" text\non two lines \\')
    assert "Home" == polish.text("Home")
    assert "Reviews" == polish.text("Reviews")
    assert "Old" == polish.text("Old")
    assert {"Home", "Reviews"} == polish.catalogue.open_messages
    assert not polish.catalogue_complete


@pytest.mark.parametrize(
    ("form", "counts"), [(0, (1,)), (1, (2, 3, 4, 22, 24, 102)), (2, (0, 5, 11, 12, 14, 21, 25, 100, 111))]
)
def test_polish_plurals(polish: Language, form: int, counts: tuple[int, ...]) -> None:
    """The vectors of the Polish rule, recomputed from the formula that Babel's table has."""
    assert POLISH_RULE == get_plural("pl").plural_expr
    for n in counts:
        assert f"{n} {('litr', 'litry', 'litrów')[form]}" == polish.plural("{n} litre", "{n} litres", n)


@pytest.mark.parametrize("tag", [*TAGS])
def test_plural_rules_are_those_of_babels_table(tag: str) -> None:
    """The header's rule picks the same form as Babel's for whole numbers."""
    ours, rule = read_catalogue(catalogue_file(CATALOGUES, tag), tag), get_plural(tag)
    assert f"plural={rule.plural_expr};" in catalogue_file(CATALOGUES, tag).read_text("utf-8")
    categories = {"one": 0, "many": 1, "other": 1}
    for n in (*range(130), 1000, 1_000_000):
        assert categories[Locale(tag).plural_form(n)] == ours.form_of(n)


@pytest.mark.parametrize(
    ("tag", "n", "expected"),
    [
        # CLDR: one in en, nl, de only without decimals; in French for all below two.
        ("en", Decimal("1.0"), "1.0 products"),
        ("en", Decimal("1"), "1 product"),
        ("de", Decimal("1.5"), "1.5 Produkte"),
        ("fr", Decimal("1.5"), "1.5 produit"),
        ("fr", Decimal("2.0"), "2.0 produits"),
        ("fr", 0, "0 produit"),
        ("en", 0, "0 products"),
        ("cs", Decimal("1.5"), "1.5 products"),
    ],
)
def test_plurals_of_decimals(tag: str, n: Decimal | int, expected: str) -> None:
    """A number with decimals takes the form of its CLDR category, by the language that the words are in."""
    assert expected == open_language(tag, CATALOGUES).plural("{n} product", "{n} products", n)


def test_a_formatted_number_can_stand_for_n() -> None:
    """The number that decides and the text that is shown may differ."""
    german = open_language("de", CATALOGUES)
    assert "1.234 Produkte" == german.plural("{n} product", "{n} products", 1234, n="1.234")


def test_placeholders_are_filled_as_given() -> None:
    """A value goes in untouched, braces of its own included; without values the pattern comes back."""
    german = open_language("de", CATALOGUES)
    assert "Muster {x} & <y>" == german.text("Sample {id}", id="{x} & <y>")
    assert "Muster {id}" == german.text("Sample {id}")
    with pytest.raises(KeyError):
        german.text("Sample {id}", nme="x")


def test_missing_messages(tmp_path: Path) -> None:
    """What English has and a catalogue lacks is named; a language without a catalogue lacks all of it."""
    head = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    write_catalogue(tmp_path, "en", head + 'msgid "A"\nmsgstr "A"\n\nmsgid "B"\nmsgstr "B"\n\nmsgid "C"\nmsgstr "C"\n')
    write_catalogue(tmp_path, "de", head + 'msgid "A"\nmsgstr "Ah"\n\n#, fuzzy\nmsgid "B"\nmsgstr "Be"\n')
    assert ("B", "C") == missing_messages(tmp_path, "de")
    assert ("A", "B", "C") == missing_messages(tmp_path, "nl")
    assert () == missing_messages(tmp_path, "en")


@pytest.mark.parametrize("text", ['msgid "A"\nmsgstr B\n', '"stray"\n', "nonsense\n"])
def test_a_broken_catalogue_names_its_line(tmp_path: Path, text: str) -> None:
    """What isn't a catalogue is refused with file and line."""
    path = write_catalogue(tmp_path, "de", text)
    number = len(text.splitlines())
    with pytest.raises(CatalogueFault, match=f"sitegen.po:{number}: is not a line"):
        read_catalogue(path, "de")


def test_a_catalogue_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    """A missing file and one that isn't UTF-8 are refused with their path."""
    with pytest.raises(CatalogueFault, match="can't be read"):
        open_language("de", tmp_path)
    path = catalogue_file(tmp_path, "de")
    path.parent.mkdir(parents=True)
    path.write_bytes(b'msgid "\xff"\n')
    with pytest.raises(CatalogueFault, match="can't be read"):
        read_catalogue(path, "de")


def test_an_edited_catalogue_changes_the_digest(tmp_path: Path) -> None:
    """The digest is of the catalogue's bytes: a changed message changes it."""
    source = catalogue_file(CATALOGUES, "en").read_text("utf-8")
    write_catalogue(tmp_path, "en", source)
    before = open_language("en", tmp_path)
    write_catalogue(tmp_path, "en", source.replace('msgstr "Home"', 'msgstr "Front page"'))
    after = open_language("en", tmp_path)
    assert ("Home", "Front page") == (before.text("Home"), after.text("Home"))
    assert before.digest != after.digest


def test_marking_a_message_changes_nothing() -> None:
    """A marked text is itself; its translation is looked up where it is used."""
    assert "Startseite" == open_language("de", CATALOGUES).text(marked("Home"))
