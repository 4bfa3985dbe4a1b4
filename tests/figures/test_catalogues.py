"""The catalogues against the messages in use: nothing missing, unused, fuzzy or with other placeholders."""

from pathlib import Path

import pytest
from babel import Locale
from babel.messages.plurals import get_plural

from sitegen.figures.forms.catalogue import catalogue_file, read_catalogue
from sitegen.figures.forms.extract import (
    Message,
    catalogue_faults,
    main,
    placeholders,
    pruned,
    used_messages,
    with_added,
)
from sitegen.figures.forms.language import open_language

PROJECT = Path(__file__).parents[2]
CATALOGUES = PROJECT / "content" / "catalogues"
TAGS = tuple(sorted(path.name.replace("_", "-") for path in CATALOGUES.iterdir() if path.is_dir()))
USED = used_messages(PROJECT / "sitegen", PROJECT / "themes")
HEAD = """\
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"
"""


def test_ten_languages_have_a_catalogue() -> None:
    """The interface speaks these ten, and no catalogue lies there that isn't looked after."""
    assert {"en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl"} == set(TAGS)


@pytest.mark.parametrize("tag", TAGS)
def test_plural_forms_follow_cldr(tag: str) -> None:
    """The header's rule parts the whole numbers exactly as CLDR's plural categories do (reference: Babel's CLDR).

    Up to 999 999, since CLDR gives whole millions of es, fr and it a category of their own ("de" before the noun),
    for which the common gettext headers have no form.
    """
    catalogue = read_catalogue(catalogue_file(CATALOGUES, tag), tag)
    numbers = [*range(1200), 999_998, 999_999, 100_001, 100_002, 100_005, 100_012, 100_022]
    pairs = {(Locale.parse(tag).plural_form(n), catalogue.form_of(n)) for n in numbers}
    assert len(pairs) == len({category for category, _ in pairs}) == len({form for _, form in pairs})
    assert catalogue.form_count == len(pairs) == get_plural(tag).num_plurals


@pytest.mark.parametrize(
    ("n", "said"),
    [(0, "0 prób"), (1, "1 próba"), (2, "2 próby"), (4, "4 próby"), (5, "5 prób"), (11, "11 prób"), (12, "12 prób"),
     (14, "14 prób"), (21, "21 prób"), (22, "22 próby"), (25, "25 prób"), (101, "101 prób"), (102, "102 próby"),
     (112, "112 prób")],
)  # fmt: skip
def test_polish_counts(n: int, said: str) -> None:
    """Three forms: one; those that end in 2 to 4 but not in 12 to 14; all others (CLDR plural rules, pl)."""
    assert said == open_language("pl", CATALOGUES).plural("{n} run", "{n} runs", n)


@pytest.mark.parametrize("tag", TAGS)
def test_plurals_name_all_their_forms(tag: str) -> None:
    """Each plural has as many forms as the header says, none of them empty."""
    catalogue = read_catalogue(catalogue_file(CATALOGUES, tag), tag)
    assert catalogue.plurals
    assert {catalogue.form_count} == {len(forms) for forms in catalogue.plurals.values()}


def faults_of(tag: str) -> tuple[str, ...]:
    return catalogue_faults(read_catalogue(catalogue_file(CATALOGUES, tag), tag), USED)


@pytest.mark.parametrize("tag", TAGS)
def test_every_message_in_use_is_translated(tag: str) -> None:
    """Each message of code and templates is there, not empty, not fuzzy, with its English placeholders."""
    assert [] == [fault for fault in faults_of(tag) if not fault.startswith("unused: ")]


@pytest.mark.parametrize("tag", TAGS)
def test_no_message_is_kept_that_nothing_uses(tag: str) -> None:
    """A catalogue has no message that neither code nor templates use; `extract --prune` takes them out."""
    if not any("/themes/" in place for place in USED.values()):
        pytest.skip("no template uses a message")
    assert [] == [fault for fault in faults_of(tag) if fault.startswith("unused: ")]


@pytest.mark.parametrize("tag", TAGS)
def test_catalogues_share_their_order(tag: str) -> None:
    """Each catalogue has the messages of the English one in the same order: they compare line by line."""
    english = read_catalogue(catalogue_file(CATALOGUES, "en"), "en")
    other = read_catalogue(catalogue_file(CATALOGUES, tag), tag)
    assert list(english.messages) == list(other.messages)
    assert list(english.plurals) == list(other.plurals)


def test_english_is_its_own_translation() -> None:
    """English changes only what is awkward to type: curved apostrophes, a no-break space before %."""
    english = read_catalogue(catalogue_file(CATALOGUES, "en"), "en")
    for key, said in english.messages.items():
        assert key.rpartition("\x04")[2].replace("'", "’").replace(" %", "\u00a0%") == said


@pytest.mark.parametrize("tag", TAGS)
def test_typography(tag: str) -> None:
    """No straight quotation marks or doubled spaces; before a French high sign stands a no-break space.

    Common practice, no source.
    """
    catalogue = read_catalogue(catalogue_file(CATALOGUES, tag), tag)
    texts = [*catalogue.messages.values(), *(form for forms in catalogue.plurals.values() for form in forms)]
    for text in texts:
        assert not set("'\"") & set(text), text
        assert "  " not in text and text == text.strip(), text
        if tag == "fr":
            assert not any(f" {sign}" in text for sign in ":;?!»"), text


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A small project: one module and one template that use messages in every way there is."""
    (tmp_path / "code").mkdir()
    (tmp_path / "themes" / "x").mkdir(parents=True)
    (tmp_path / "code" / "a.py").write_text(
        'lang.text("Plain {a}", a=1)\nlang.text_in("stage", "new")\nlang.plural("{n} day", "{n} days", 3)\n'
        'LABEL = msgid("Marked")\nlang.text(LABEL)\naxes.text(0.1, 0.2, "not a message")\n'
        't("Short way")\nwords.text("en", lead)\n'
    )
    (tmp_path / "themes" / "x" / "b.html").write_text(
        '<p title="{{ t("In a page", x=1) }}">{{ tn("{n} cup", "{n} cups", k) }}{{ tc("menu", "Open") }}{{ t(k) }}'
    )
    return tmp_path


def used_in(project: Path) -> dict[Message, str]:
    return used_messages(project / "code", project / "themes")


def test_every_way_of_using_a_message_is_found(project: Path) -> None:
    """Literal messages of code and templates are found with file and line; what isn't literal is not."""
    found = used_in(project)
    assert {
        Message(singular="Plain {a}"),
        Message(singular="new", context="stage"),
        Message(singular="{n} day", plural="{n} days"),
        Message(singular="Marked"),
        Message(singular="Short way"),
        Message(singular="In a page"),
        Message(singular="{n} cup", plural="{n} cups"),
        Message(singular="Open", context="menu"),
    } == set(found)
    assert f"{project / 'code' / 'a.py'}:4" == found[Message(singular="Marked")]


def test_added_messages_satisfy_the_check(project: Path) -> None:
    """Adding what is used to an empty catalogue leaves no fault in English, all untranslated elsewhere."""
    used, path = used_in(project), project / "x.po"
    path.write_text(with_added(HEAD, used, translated=True), "utf-8")
    assert () == catalogue_faults(read_catalogue(path, "en"), used)
    path.write_text(with_added(HEAD, used, translated=False), "utf-8")
    faults = catalogue_faults(read_catalogue(path, "de"), used)
    assert len(used) == len(faults)
    assert all(fault.startswith("untranslated or fuzzy: ") for fault in faults)


def test_pruning_takes_out_what_is_unused_and_nothing_else(project: Path) -> None:
    """Pruning an entry leaves every other as it was, and hands the title of its section on."""
    used = used_in(project)
    text = with_added(HEAD, used, translated=True).replace(
        '#, python-brace-format\nmsgid "Plain', '# Title\nmsgid "Plain'
    )
    path = project / "x.po"
    path.write_text(pruned(text, {"Plain {a}", "stage\x04new"}), "utf-8")
    kept = read_catalogue(path, "en")
    assert {"In a page", "Marked", "Short way", "menu\x04Open"} == kept.messages.keys()
    assert {"{n} day", "{n} cup"} == kept.plurals.keys()
    assert "# Title\n" in path.read_text("utf-8")


@pytest.mark.parametrize(
    ("entry", "fault"),
    [
        ("", "missing: A {x}"),
        ('msgid "A {x}"\nmsgstr ""\n', "untranslated or fuzzy: A {x}"),
        ('#, fuzzy\nmsgid "A {x}"\nmsgstr "Ah {x}"\n', "untranslated or fuzzy: A {x}"),
        ('msgid "A {x}"\nmsgstr "Ah {y}"\n', "other placeholders: A {x}"),
        ('msgid "A {x}"\nmsgstr "Ah"\n', "other placeholders: A {x}"),
        (
            'msgid "A {x}"\nmsgid_plural "As {x}"\nmsgstr[0] "{x}"\nmsgstr[1] "{x}"\n',
            "of the wrong kind, singular against plural: A {x}",
        ),
        ('msgid "A {x}"\nmsgstr "Ah {x}"\n\nmsgid "Old"\nmsgstr "Alt"\n', "unused: Old"),
    ],
)
def test_each_fault_is_named(tmp_path: Path, entry: str, fault: str) -> None:
    """The comparison names every kind of fault that a catalogue can have."""
    path = tmp_path / "x.po"
    path.write_text(f"{HEAD}\n{entry}", "utf-8")
    assert (fault,) == catalogue_faults(read_catalogue(path, "de"), [Message(singular="A {x}")])


def test_placeholders() -> None:
    """The names in braces are found once each; a doubled brace is none."""
    assert {"low", "high"} == placeholders("{low} to {high} and {low}, {{not}}")


def test_the_command_brings_catalogues_into_step(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It names what is to do, adds and prunes when told so, and ends with 0 once nothing is left."""
    (project / "code").rename(project / "sitegen")
    folder = project / "content" / "catalogues"
    for tag in ("en", "de"):
        path = catalogue_file(folder, tag)
        path.parent.mkdir(parents=True)
        path.write_text(f'{HEAD}\nmsgid "Old"\nmsgstr "Old"\n', "utf-8")
    assert main([], project) == 1
    assert "de: unused: Old\nen: missing: In a page\n" in capsys.readouterr().out
    assert main(["--add", "--prune"], project) == 1
    assert {"de"} == {line[:2] for line in capsys.readouterr().out.splitlines()}
    german = catalogue_file(folder, "de")
    german.write_text(catalogue_file(folder, "en").read_text("utf-8"), "utf-8")
    assert main([], project) == 0
    assert "" == capsys.readouterr().out
