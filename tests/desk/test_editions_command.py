"""`sitegen editions` as an author uses it: look, record, send out, take back; and every way in which that can go wrong."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import polib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree
from translated import LEAD, OWN, change, editions, shelf_of, write_guide

from sitegen.desk.text_shelf import Shelf
from sitegen.editions.worksheets.edits import edited, insertion, path_of, scalar_edit, scalar_spans

CORE = "{urn:oasis:names:tc:xliff:document:2.0}"
DE, EN, NL, FOLLOWS = (f"guides/seams/{name}" for name in ("de.md", "en.md", "nl.md", "en.follows.yaml"))


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A guide whose English text is recorded as in step."""
    found = write_guide(tmp_path / "publication")
    assert editions(found, "--record") == 0
    return found


@pytest.fixture
def out(root: Path) -> Path:
    """Worksheets of it, made after the lead changed in one paragraph."""
    change(root / DE, "Zuletzt aufschreiben.", "Zuletzt alles aufschreiben.")
    assert editions(root, "--export", str(root.parent / "out")) == 0
    return root.parent / "out"


def files(root: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()}


def state(root: Path, capsys: pytest.CaptureFixture[str]) -> list[tuple[str, str, list[str]]]:
    """What --json tells: language, state, changed parts."""
    capsys.readouterr()
    assert editions(root, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    return [(t["language"], t["state"], [c["part"] for c in t["behind"]]) for t in told["texts"]]


def translate(path: Path, key: str, text: str, fuzzy: bool = False) -> None:
    """What a translator does to a PO file."""
    po = polib.pofile(str(path))
    entry = next(e for e in po if e.msgctxt.startswith(f"{key} "))
    entry.msgstr, entry.flags = text, ["fuzzy"] if fuzzy else []
    po.save(str(path))


def test_the_states_of_a_translation(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Unrecorded, complete, behind; missing; and complete again."""
    root = write_guide(tmp_path)
    assert state(root, capsys) == [("en", "unrecorded", []), ("nl", "missing", [])]
    assert editions(root, "--record") == 0
    assert state(root, capsys) == [("en", "complete", []), ("nl", "missing", [])]
    change(root / DE, "- Naht außen", "- Naht außen, am Knie")
    assert state(root, capsys)[0] == ("en", "behind", ["text.3"])
    assert editions(root, "--record") == 0  # nothing was changed in the translation, so nothing is recorded
    assert state(root, capsys)[0] == ("en", "behind", ["text.3"])
    change(root / EN, "- Seam outside", "- Seam outside, at the knee")
    assert editions(root, "--record") == 0
    assert state(root, capsys)[0] == ("en", "complete", [])


def test_a_named_text_is_taken_at_its_authors_word(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The lead's slip of the pen needs no new translation."""
    change(root / DE, "Zuletzt aufschreiben.", "Zuletzt aufschreiben!")
    assert editions(root, "--record", "--text", "guides/seams") == 0
    assert state(root, capsys)[0] == ("en", "complete", [])


def test_a_record_says_what_is_still_behind(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two paragraphs of the lead have changed, one of the translation: one is recorded, one is named as behind."""
    change(root / DE, "- Naht außen", "- Naht außen, am Knie")
    change(root / DE, "Zuletzt aufschreiben.", "Zuletzt alles aufschreiben.")
    change(root / EN, "- Seam outside", "- Seam outside, at the knee")
    capsys.readouterr()
    assert editions(root, "--record") == 0
    assert f"recorded {FOLLOWS}; 1 paragraph still behind" in capsys.readouterr().out
    assert editions(root, "--record", "--text", "guides/seams") == 0
    assert f"recorded {FOLLOWS}\n" in capsys.readouterr().out


def test_facts_of_the_lead_put_no_translation_behind(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A date is no text."""
    change(root / DE, "date: 2026-10-04", "date: 2026-10-05")
    assert state(root, capsys)[0] == ("en", "complete", [])


def test_the_table_fits_a_terminal_and_shows_old_and_new(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """80 columns; each change with both places and both texts."""
    change(root / DE, "Zuletzt aufschreiben.", "Zuletzt alles aufschreiben.")
    capsys.readouterr()
    assert editions(root) == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80
    assert re.search(r"guides/seams +behind 1 +missing", told)
    assert "guides/seams/en.md:20:1: the lead has changed (guides/seams/de.md:20:1)" in told
    assert "  - Zuletzt aufschreiben." in told and "  + Zuletzt alles aufschreiben." in told


def test_an_uneven_translation_is_told_and_not_recorded(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fewer paragraphs: a caution with both places when looking, an error when recording."""
    root = write_guide(tmp_path, own=OWN.replace("Write it down last.\n", ""))
    assert editions(root) == 0
    told = capsys.readouterr().err
    assert (
        "caution" in told and "fewer paragraphs than the lead (4, not 5)" in told and "guides/seams/de.md:20:1" in told
    )
    assert editions(root, "--record") == 1
    assert not (root / FOLLOWS).exists()


def test_export_and_import_of_everything_leave_every_byte(root: Path, out: Path) -> None:
    """Worksheets in which nothing was done change nothing, also when they were saved by another program."""
    before = files(root)
    for path in out.rglob("*.po"):
        polib.pofile(str(path)).save(str(path))
    for path in out.rglob("*.xlf"):
        etree.parse(str(path)).write(str(path), encoding="UTF-8", xml_declaration=True)
    assert editions(root, "--import", str(out)) == 0
    assert files(root) == before


def test_the_demo_comes_through_with_every_byte(tmp_path: Path, repository: Path) -> None:
    """All texts of the demo, out and back."""
    root = tmp_path / "demo"
    for path in (repository / "demo_site").rglob("*"):
        if path.suffix in (".md", ".yaml") and path.is_file():
            target = root / path.relative_to(repository / "demo_site")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(path.read_bytes())
    before = files(root)
    assert editions(root, "--export", str(tmp_path / "out")) == 0
    assert len(files(tmp_path / "out")) == 4 * len(shelf_of(root).texts)
    assert editions(root, "--import", str(tmp_path / "out")) == 0
    assert files(root) == before


def test_a_translation_comes_in_and_nothing_else_moves(
    root: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two texts changed; comment, order of keys, quoting and all other lines stay; the record is renewed."""
    po = out / "guides/seams/en.po"
    translate(po, "text.5", "Write everything down last.")
    translate(po, "photos.1.caption", 'The seam from inside; "ours"')
    assert editions(root, "--import", str(po)) == 0
    wanted = OWN.replace("Write it down last.", "Write everything down last.").replace(
        "'The seam from inside'", "'The seam from inside; \"ours\"'"
    )
    assert (root / EN).read_text() == wanted
    assert state(root, capsys)[0] == ("en", "complete", [])
    after = files(root)
    assert editions(root, "--import", str(po)) == 0  # a second time there is nothing to do
    assert files(root) == after


def test_line_ends_and_mark_of_a_file_stay(tmp_path: Path) -> None:
    """A file from another system: CRLF, byte order mark, no line end at its end."""
    root = write_guide(tmp_path / "p")
    as_there = ("\ufeff" + OWN.rstrip("\n").replace("\n", "\r\n")).encode()
    (root / EN).write_bytes(as_there)
    assert editions(root, "--record") == 0 and editions(root, "--export", str(tmp_path / "out")) == 0
    translate(tmp_path / "out/guides/seams/en.po", "text.1", "## Before all")
    assert editions(root, "--import", str(tmp_path / "out")) == 0
    assert (root / EN).read_bytes() == as_there.replace(b"## Before", b"## Before all")


def test_an_edited_xliff_comes_in(root: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A changed target counts even if the tool left its state; an unchanged one confirmed as final follows now."""
    path = out / "guides/seams/en.xlf"
    tree = etree.parse(str(path))
    for unit in tree.iter(f"{CORE}unit"):
        target = unit.find(f".//{CORE}target")
        if unit.get("id") == "text.2":
            target.text = "Dry first, then weigh: "
        if unit.get("id") == "text.5":
            unit.find(f"{CORE}segment").set("state", "final")
    tree.write(str(path), encoding="UTF-8", xml_declaration=True)
    assert editions(root, "--import", str(path)) == 0
    assert (root / EN).read_text() == OWN.replace("First dry, then weigh: ", "Dry first, then weigh: ")
    assert state(root, capsys)[0] == ("en", "complete", [])


def test_a_fuzzy_entry_is_left_out(root: Path, out: Path) -> None:
    """gettext's rule: fuzzy doesn't count."""
    before = files(root)
    translate(out / "guides/seams/en.po", "text.5", "Not sure.", fuzzy=True)
    assert editions(root, "--import", str(out)) == 0
    assert files(root) == before


def test_a_new_paragraph_of_the_lead_comes_in_in_its_place(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also a front-matter text that the translation hadn't got; the record holds both."""
    change(root / DE, "- Naht außen", "Ein Wort dazwischen.\n\n- Naht außen")
    out = root.parent / "out"
    assert editions(root, "--export", str(out)) == 0
    translate(out / "guides/seams/en.po", "text.3", "A word between.")
    assert editions(root, "--import", str(out)) == 0
    assert (root / EN).read_text() == OWN.replace("- Seam outside", "A word between.\n\n- Seam outside")
    assert state(root, capsys)[0] == ("en", "complete", [])


def test_a_whole_new_translation(root: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Laid out like the lead, without the facts that all languages share; half of one is no text and is refused."""
    path = out / "guides/seams/nl.po"
    po = polib.pofile(str(path))
    for entry in po[1:]:
        entry.msgstr = entry.msgid.replace("Naht", "Naad")
    po.save(str(path))
    assert editions(root, "--import", str(path)) == 0
    assert not (root / NL).exists() and "1 of its 9 paragraphs are not translated yet" in capsys.readouterr().err
    translate(path, "title", 'Naden keuren: "hoe"')
    assert editions(root, "--import", str(path)) == 0
    lead = LEAD.replace("Zuletzt aufschreiben.", "Zuletzt alles aufschreiben.").replace("Naht", "Naad")
    lead = lead.replace("date: 2026-10-04\nslug: naehte\n", "")
    assert (root / NL).read_text().replace("naad.jpg", "naht.jpg") == lead.replace(
        "title: Nähte prüfen", 'title: "Naden keuren: \\"hoe\\""'
    )
    assert state(root, capsys)[1] == ("nl", "complete", [])


def _edit(text: str) -> Callable[[Path, Path], None]:
    return lambda root, po: translate(po, "text.2", text)


def _header(before: str, after: str) -> Callable[[Path, Path], None]:
    return lambda root, po: change(po, before, after)


def _meanwhile(name: str, before: str, after: str) -> Callable[[Path, Path], None]:
    def spoil(root: Path, po: Path) -> None:
        translate(po, "text.2", "Dry, weigh: {mass}. More in the [method](method:spray).")
        change(root / name, before, after)

    return spoil


# ruff: noqa: E501
BAD = {
    "a broken placeholder": (_edit("Dry, weigh: {mas}. More in the [method](method:spray)."), "placeholder", "lacks '{mass}'", "'{mas}' stands there instead"),
    "a placeholder too few": (_edit("Dry, weigh. More in the [method](method:spray)."), "placeholder", "lacks '{mass}'", "put it where it belongs"),
    "a placeholder too many": (_edit("{mass} {mass} [method](method:spray)."), "placeholder", "has '{mass}' once too often", "delete it"),
    "another address": (_edit("Dry, weigh: {mass}. [method](method:mass)."), "placeholder", "lacks '](method:spray)'", "stands there instead"),
    "a control character": (_edit("Dry, weigh: {mass}.\x07 More in the [method](method:spray)."), "control-character", "character U+0007", "delete it"),
    "two paragraphs": (_edit("Dry, {mass}.\n\n[method](method:spray)."), "worksheet-block", "would be 2 paragraphs, not one", "blank line"),
    "another kind of block": (_edit("- {mass} [method](method:spray)."), "worksheet-block", "would be a list, the lead's text is a paragraph", "same marks"),
    "an undeclared language": (_header("Language: en\\n", "Language: fr\\n"), "worksheet-language", "'fr' is no edition", "declared: en, nl"),
    "another lead": (_header("X-Lead-Language: de", "X-Lead-Language: en"), "worksheet-language", "translates from 'en', the lead language is de", "export"),
    "an unknown text": (_header("guides/seams\\n", "guides/seems\\n"), "worksheet-text", "has no text 'guides/seems'", "did you mean guides/seams?"),
    "a changed source": (_header('msgid "## Vorher"\nmsgstr "## Before"', 'msgid "## Nachher"\nmsgstr "## After"'), "worksheet-source", "source text of text.1", "export"),
    "a stale source": (_meanwhile(DE, "Zuerst trocknen", "Erst trocknen"), "stale-source", "lead's text of text.2 has changed", "export"),
    "a translation changed meanwhile": (_meanwhile(EN, "First dry", "First of all dry"), "translation-changed", "was changed in its file", "was kept"),
    "no PO at all": (lambda root, po: po.write_text("msgid \"a\nmsgstr 5\n"), "worksheet-form", "no sound PO file", "export"),
    "a lost context": (lambda root, po: po.write_text(re.sub(r"(?m)^msgctxt .*\n", "", po.read_text())), "worksheet-unit", "no msgctxt", "export"),
}  # fmt: skip


@pytest.mark.parametrize(("spoil", "code", "message", "hint"), BAD.values(), ids=BAD)
def test_bad_worksheets_are_refused(
    root: Path,
    out: Path,
    capsys: pytest.CaptureFixture[str],
    spoil: Callable[[Path, Path], None],
    code: str,
    message: str,
    hint: str,
) -> None:
    """Exit code 1, one clear error with the worksheet's line, and the publication as it was."""
    po = out / "guides/seams/en.po"
    spoil(root, po)
    before = files(root)
    capsys.readouterr()
    assert editions(root, "--import", str(po)) == 1
    told = capsys.readouterr().err
    assert f"[{code}]" in told and message in told and hint in told and "Traceback" not in told
    assert re.search(rf"en\.po:\d+:1: error: .*\[{code}\]", told)
    assert files(root) == before


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [('dataRef="d1"', 'dataRef="d7"', "placeholder"), ('trgLang="en"', 'trgLang="fr"', "worksheet-language"), ('version="2.1"', 'version="1.2"', "worksheet-form"),
     ('name="text.2 ', 'name="', "worksheet-unit"), ("Write all down.", 'Write all down.<cp hex="D800"/>', "control-character"), ("<source>Zuletzt", "<source>Endlich", "worksheet-source")],
)  # fmt: skip
def test_bad_xliff_is_refused(
    root: Path, out: Path, capsys: pytest.CaptureFixture[str], before: str, after: str, code: str
) -> None:
    """The same for XLIFF: a placeholder that stands for nothing, another language, another version,
    a lost name, half a surrogate pair (XLIFF 2.1, 4.3.1.1, lets `cp` name any code point), a changed source.
    """
    path = out / "guides/seams/en.xlf"
    text = path.read_text().replace("Write it down last.", "Write all down.")
    assert before in text
    path.write_text(text.replace(before, after) if "dataRef" not in before else re.sub(r'dataRef="d1"', after, text))
    there = files(root)
    assert editions(root, "--import", str(path)) == 1
    assert f"[{code}]" in capsys.readouterr().err and files(root) == there


def test_work_in_progress_is_never_written_over(root: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A worksheet that a translator has begun stays; nothing goes into the publication's own folder."""
    translate(out / "guides/seams/en.po", "title", "Begun")
    before = files(out)
    assert editions(root, "--export", str(out)) == 2
    assert files(out) == before and "says something else" in capsys.readouterr().err
    assert editions(root, "--export", str(root / "worksheets")) == 2
    assert editions(root, "--text", "guides/seems") == 2 and "did you mean guides/seams?" in capsys.readouterr().err
    assert editions(root, "--import", str(root.parent / "nowhere")) == 2


VALUES = st.text(alphabet="abü :#'\"{}[]-\\,&*!|>%@`?\n", min_size=1, max_size=20).filter(
    lambda t: t.strip(" \n") == t and "\n\n" not in t
)
FRONT = """# comment
title: plain words  # beside
summary: >-
  folded
  words

# between
good:
- 'single'
- "double"
photos: [{file: a.jpg, alt: flow words, caption: "x"}]
suits: |
  literal
  lines
"""


@given(st.sampled_from(["title", "summary", "good.1", "good.2", "photos.1.alt", "photos.1.caption", "suits"]), VALUES)
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_any_text_goes_into_front_matter_of_any_style(key: str, value: str) -> None:
    """The new text is read back; every other scalar and every comment stays."""
    edit = scalar_edit(FRONT, path_of(key), value)
    assert edit is not None
    after = edited(FRONT, [edit])
    spans = {path: span.text for path, span in scalar_spans(after).items()}
    before = {path: span.text for path, span in scalar_spans(FRONT).items()}
    assert spans.pop(path_of(key)).strip("\n") == value and before.pop(path_of(key)) is not None
    assert spans == before
    assert all(comment in after for comment in ("# comment\n", "  # beside\n", "# between\n"))


def test_front_matter_that_only_a_person_should_change_is_left_alone() -> None:
    """A tab behind a colon is sound YAML (1.2, 6.1: separation is spaces or tabs), but not every parser takes it: no edit."""
    assert scalar_edit("title:\tplain\n", path_of("title"), "new") is None
    assert insertion("title:\tplain\n", path_of("summary"), "new") is None


def test_what_nobody_touched_is_not_even_parsed(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files with the bytes that were recorded as in step are known by them; that makes a thousand texts quick."""

    def fail(self: Shelf, name: str) -> None:
        raise AssertionError(name)

    monkeypatch.setattr(Shelf, "open", fail)
    assert state(root, capsys)[0] == ("en", "complete", [])
    change(root / EN, "Write it down last.", "Write that down last.")
    with pytest.raises(AssertionError, match="de.md"):
        editions(root)
