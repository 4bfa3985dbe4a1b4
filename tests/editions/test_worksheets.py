"""Worksheets go out as PO and XLIFF 2.1 and come back without loss."""

import gettext
import io
import os
import re
import subprocess
import sys
import tracemalloc
from difflib import SequenceMatcher
from pathlib import Path

import polib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from translated import OWN, change, editions, part, shelf_of, write_guide

from sitegen.desk.worksheets import memory_of, sheet_of
from sitegen.editions.following.parts import tidy
from sitegen.editions.worksheets import xml_tree
from sitegen.editions.worksheets.memory import LEAST, Memory, Remembered
from sitegen.editions.worksheets.po import po_text, read_po
from sitegen.editions.worksheets.tmx import tmx_text
from sitegen.editions.worksheets.worksheet import Worksheet, make_worksheet
from sitegen.editions.worksheets.xliff import xliff_text
from sitegen.editions.worksheets.xliff_read import read_xliff
from sitegen.problems import Problems

EMPTY = Memory(())
CORE = "{urn:oasis:names:tc:xliff:document:2.0}"
TEXTS = st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\r\x00"), min_size=1, max_size=40).filter(
    lambda t: tidy(t) != ""
)
MARKDOWN = st.text(alphabet='ab {}[]()!`"\\<>&%:/#\n', min_size=1, max_size=40).filter(lambda t: tidy(t) != "")


def sheet(source: str, target: str, memory: Memory = EMPTY) -> Worksheet:
    """A worksheet of one paragraph."""
    own = (part("text.1", target),) if target else ()
    return make_worksheet(
        text="guides/x", lead="de", lang="en", lead_file="guides/x/de.md", file="guides/x/en.md", lead_parts=(part("text.1", source),),
        own_parts=own, follows=None, memory=memory,
    )  # fmt: skip


def demo_sheets(repository: Path) -> list[Worksheet]:
    """The worksheets of all texts of the demo."""
    shelf = shelf_of(repository / "demo_site")
    memory = memory_of(shelf)
    found = [sheet_of(shelf, text, lang, memory) for text in shelf.texts for lang in shelf.editions]
    assert len(found) > 20
    return [one for one in found if one is not None]


def both(one: Worksheet) -> list[list[tuple[str, str, str]]]:
    """(part, source, target) of each unit after the way through each format."""
    ways = []
    for written, read in ((po_text, read_po), (xliff_text, read_xliff)):
        problems = Problems()
        back = read(written(one).encode(), "x", problems)
        assert back is not None and not len(problems)
        assert (back.text, back.lead, back.lang) == (one.text, one.lead, one.lang)
        ways.append([(u.key, u.source, u.target) for u in back.units])
    return ways


@given(MARKDOWN | TEXTS, MARKDOWN | TEXTS)
def test_any_text_comes_back_as_it_went(source: str, target: str) -> None:
    """Through both formats, whatever the characters: also those that XML can't hold, which travel as `cp`."""
    assert both(sheet(source, target)) == [[("text.1", source, target)]] * 2


def test_every_text_of_the_demo_comes_back_as_it_went(repository: Path) -> None:
    """The same on real texts, with what the memory offers left out of account."""
    for one in demo_sheets(repository):
        exact = [(u.key, u.source, u.target) for u in one.units]
        po, xliff = both(one)
        assert xliff == exact
        assert [(k, s) for k, s, _ in po] == [(k, s) for k, s, _ in exact]
        offered = {u.key for u in one.units if u.suggestions and not u.target}
        assert [unit for unit in po if unit[0] not in offered] == [unit for unit in exact if unit[0] not in offered]


def test_po_files_are_read_alike_by_other_readers(repository: Path, tmp_path: Path) -> None:
    """References: polib, and Python's own gettext on the compiled catalogue (Language, Plural-Forms, contexts)."""
    for one in demo_sheets(repository):
        text = po_text(one)
        read = polib.pofile(text)
        assert [(e.msgctxt, e.msgid) for e in read] == [(u.name, u.source) for u in one.units]
        assert all(e.msgstr == u.target for e, u in zip(read, one.units) if u.target)
        read.save_as_mofile(str(tmp_path / "x.mo"))
        with (tmp_path / "x.mo").open("rb") as file:
            catalogue = gettext.GNUTranslations(file)
        assert catalogue.info()["language"] == one.lang and "nplurals=2" in catalogue.info()["plural-forms"]
        assert all(catalogue.pgettext(u.name, u.source) == u.target for u in one.units if u.target and not u.stale)


def core_faults(root: etree._Element) -> list[str]:
    """Rules of XLIFF 2.1 that a schema or clause 4 states (from memory; the schema isn't at hand here)."""
    faults = []
    if root.tag != f"{CORE}xliff" or root.get("version") != "2.1" or not root.get("srcLang"):
        faults.append("root, version, srcLang")
    if root.findall(f".//{CORE}target") and not root.get("trgLang"):
        faults.append("trgLang is required with targets")
    for file in root.findall(f"{CORE}file"):
        names = [unit.get("id") for unit in file.iter(f"{CORE}unit")]
        if len(names) != len(set(names)) or not all(re.fullmatch(r"[\w.\-:]+", name or "") for name in names):
            faults.append("unit ids are NMTOKENs, unique in the file")
        faults += [fault for unit in file.iter(f"{CORE}unit") for fault in unit_faults(unit)]
    return faults


def unit_faults(unit: etree._Element) -> list[str]:
    """The order in a unit, its segments, its inline codes and the data they refer to."""
    faults = []
    order = [child.tag.replace(CORE, "") for child in unit]
    ranks = [0 if tag.startswith("{") else ["notes", "originalData", "segment"].index(tag) + 1 for tag in order]
    if ranks != sorted(ranks) or "segment" not in order or order.count("notes") > 1 or order.count("originalData") > 1:
        faults.append(f"order in unit {order}")
    data = [d.get("id") for d in unit.iterfind(f"{CORE}originalData/{CORE}data")]
    if len(data) != len(set(data)):
        faults.append("data ids")
    for segment in unit.iterfind(f"{CORE}segment"):
        tags = [child.tag for child in segment]
        states = ("initial", "translated", "reviewed", "final")
        if tags not in ([f"{CORE}source"], [f"{CORE}source", f"{CORE}target"]) or segment.get("state") not in states:
            faults.append(f"segment {tags}")
        if segment.get("state") != "initial" and len(tags) < 2:
            faults.append("a segment that isn't initial has a target")
        for side in segment:
            codes = [code for code in side.iter() if code is not side and code.tag != f"{CORE}cp"]
            ids = [code.get("id") for code in codes]
            if len(ids) != len(set(ids)) or {code.tag for code in codes} - {f"{CORE}ph", f"{CORE}pc"}:
                faults.append(f"codes {ids}")
            refs = [value for code in codes for key, value in code.items() if key.startswith("dataRef")]
            faults += [f"dataRef {ref}" for ref in refs if ref not in data]
        by_id = [
            {
                c.get("id"): [v for k, v in sorted(c.items()) if k.startswith("dataRef")]
                for c in side.iter()
                if c.get("id")
            }
            for side in segment
        ]
        if len(by_id) == 2 and any(by_id[0][id] != by_id[1][id] for id in by_id[0].keys() & by_id[1].keys()):
            faults.append("a target's code with a source's id stands for the same data")
    for match in unit.iter("{urn:oasis:names:tc:xliff:matches:2.0}match"):
        tags = [child.tag for child in match]
        if (
            match.get("ref") is None
            or tags != [f"{CORE}source", f"{CORE}target"]
            or not 0 <= float(match.get("similarity") or -1) <= 100
        ):
            faults.append("match")
    return faults


def test_xliff_keeps_the_rules_of_the_standard(repository: Path) -> None:
    """XLIFF 2.1, clauses 4.2 to 4.7 and 5.1, from memory, on every text of the demo; read by lxml."""
    for one in demo_sheets(repository):
        assert core_faults(etree.fromstring(xliff_text(one).encode())) == []


@given(MARKDOWN, MARKDOWN)
def test_xliff_of_any_text_keeps_the_rules(source: str, target: str) -> None:
    """The same rules on unbalanced and nested marks."""
    assert core_faults(etree.fromstring(xliff_text(sheet(source, target)).encode())) == []


def test_the_rules_above_find_faults() -> None:
    """A check that can't fail proves nothing."""
    text = xliff_text(sheet("a {b} [c](d)", "e {b} [f](d)"))
    for before, after in (
        ('trgLang="en"', ""),
        ('dataRef="d1"', 'dataRef="d9"'),
        ('version="2.1"', 'version="2.2"'),
        ('id="c1-1"', 'id="c2-3-1"'),
    ):
        assert before in text and core_faults(etree.fromstring(text.replace(before, after).encode()))


def test_protected_pieces_are_inline_codes() -> None:
    """A value is a ph, a link a pc around its words."""
    text = xliff_text(sheet("weigh {mass} on the [scale](rig:scale)", ""))
    assert '<ph id="c1-1" dataRef="d1" disp="{mass}"/>' in text
    assert '<pc id="c2-3-1" dataRefStart="d2" dataRefEnd="d3">scale</pc>' in text


def test_the_memory_offers_what_is_alike() -> None:
    """Likeness is difflib's ratio; equal texts count 1, those below 0.75 aren't offered, the paragraph itself never."""
    one, other = (
        Remembered("Zuerst trocknen, dann wiegen.", "en", "First dry.", "a text.1"),
        Remembered("Ganz anderes.", "en", "Other.", "a text.2"),
    )
    memory = Memory([one, other])
    source = "Zuerst trocknen und dann wiegen."
    (offer,) = memory.suggest(source, "en")
    assert (
        offer.likeness
        == SequenceMatcher(None, "Zuerst trocknen, dann wiegen.", source, autojunk=False).ratio()
        >= LEAST
    )
    assert memory.suggest("Ganz anderes.", "en")[0].likeness == 1
    assert memory.suggest("Ganz anderes.", "nl") == () == memory.suggest("Ganz anderes.", "en", but="a text.2")


def test_offers_stand_in_both_formats() -> None:
    """PO: an equal one is filled in as fuzzy, a similar one is a comment. XLIFF: translation candidates."""
    memory = Memory(
        [
            Remembered("Gleich.", "en", "Same.", "a text.1"),
            Remembered("Fast gleicher Text.", "en", "Similar.", "a text.2"),
        ]
    )
    (entry,) = polib.pofile(po_text(sheet("Gleich.", "", memory)))
    assert entry.msgstr == "Same." and "fuzzy" in entry.flags
    (entry,) = polib.pofile(po_text(sheet("Fast gleicher Texte.", "", memory)))
    assert entry.msgstr == "" and "Similar." in entry.tcomment
    root = etree.fromstring(xliff_text(sheet("Gleich.", "", memory)).encode())
    (match,) = root.iter("{urn:oasis:names:tc:xliff:matches:2.0}match")
    assert match.get("similarity") == "100.0" and match.findtext(f"{CORE}target") == "Same." and core_faults(root) == []


def test_tmx_of_the_demo_is_well_formed_and_whole(repository: Path) -> None:
    """TMX 1.4b (structure from memory): header attributes, xml:lang on each tuv, the lead's first; texts whole."""
    shelf = shelf_of(repository / "demo_site")
    memory = memory_of(shelf)
    root = etree.fromstring(
        tmx_text(memory.remembered, shelf.lead).encode(), etree.XMLParser(load_dtd=False, no_network=True)
    )
    header = root.find("header")
    assert root.tag == "tmx" and root.get("version") == "1.4" and header is not None
    assert {"creationtool", "creationtoolversion", "segtype", "o-tmf", "adminlang", "srclang", "datatype"} <= set(
        header.keys()
    )
    lang = "{http://www.w3.org/XML/1998/namespace}lang"
    texts = {
        ("".join(unit[1].itertext()), tuv.get(lang), "".join(tuv.itertext()))
        for unit in root.iter("tu")
        for tuv in unit.findall("tuv")[1:]
    }
    assert all(unit.findall("tuv")[0].get(lang) == "de" for unit in root.iter("tu"))
    assert {(one.source, one.lang) for one in memory.remembered} == {(source, lang) for source, lang, _ in texts}
    assert {t for _, _, t in texts} <= {one.target for one in memory.remembered}


@pytest.mark.parametrize("data", [b"", b"<a", b"\xff\xfe\x00", b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', b"<a/>",
                                  b'<xliff xmlns="urn:oasis:names:tc:xliff:document:2.2" version="2.2"/>',
                                  b'<xliff xmlns="urn:oasis:names:tc:xliff:document:2.0" version="2.1" srcLang="de"/>', b"<a>" * 5000])  # fmt: skip
def test_what_is_no_worksheet_is_refused(data: bytes) -> None:
    """With one clear error each; nothing is expanded, nothing raised. XLIFF 2.2 has another namespace and is refused."""
    problems = Problems()
    assert read_xliff(data, "/x.xlf", problems) is None
    assert [p.code for p in problems] == ["worksheet-form"]


@given(st.binary(max_size=80) | st.text(alphabet='msgidctxr "\\n#, fuzy\n', max_size=80).map(str.encode))
def test_no_bytes_end_in_a_traceback(data: bytes) -> None:
    """Neither reader raises, whatever comes back."""
    read_po(data, "/x.po", Problems())
    read_xliff(data, "/x.xlf", Problems())


def test_worksheets_are_the_same_bytes_whatever_the_hash_seed(tmp_path: Path, repository: Path) -> None:
    """Two processes with two seeds write the same."""
    root = write_guide(tmp_path / "p", own=OWN)
    assert editions(root, "--record") == 0
    change(root / "guides/seams/de.md", "Zuletzt aufschreiben.", "Zuletzt alles aufschreiben.")
    outs = []
    for seed in ("1", "2"):
        out = tmp_path / f"out{seed}"
        env = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(repository)}
        subprocess.run(
            [sys.executable, "-m", "sitegen", "editions", str(root), "--export", str(out)],
            env=env,
            check=True,
            capture_output=True,
        )
        outs.append({path.name: path.read_bytes() for path in sorted(out.rglob("*.*"))})
    assert outs[0] == outs[1] and len(outs[0]) == 4
    assert io.BytesIO(outs[0]["en.po"]).read().count(b"fuzzy") == 2  # the intro names it once


def hostile_xliff(unit: str, head: str = "") -> bytes:
    """An XLIFF file of one unit whose name is sound."""
    name = re.search(r'<unit[^>]* name="([^"]*)"', xliff_text(sheet("a", "b")))
    assert name is not None
    core = CORE.strip("{}")
    return (
        f'<xliff xmlns="{core}" {head} version="2.1" srcLang="en" trgLang="de"><file id="f" original="x">'
        f'<unit id="u" name="{name[1]}">{unit}</unit></file></xliff>'
    ).encode()


HOSTILE_XLIFF = {
    "data put in again and again": (
        hostile_xliff(
            f'<originalData><data id="d">{"x" * 150_000}</data></originalData><segment><source>'
            + '<ph id="1" dataRef="d"/>' * 6_000 + "</source></segment>"
        ),
        "expected at most 16,777,216 characters with all placeholders put back, found more",
    ),
    "a long namespace": (
        hostile_xliff("<segment><source>" + "<n:a/>" * 20_000 + "</source></segment>", f'xmlns:n="{"x" * 150_000}"'),
        "this is no sound XML: the name of a namespace has more than 1,000 characters",
    ),
    "nothing but elements": (
        hostile_xliff("<segment><source>" + "<ph/>" * 60_000 + "</source></segment>"),
        "this is no sound XML: it has more than 50,000 elements and attributes",
    ),
    "deep": (hostile_xliff("<pc>" * 5_000), "this is no sound XML: elements stand inside one another more than 60 times"),
    "entities": (
        b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><x>&b;</x>',
        "this is no sound XML: it has a DOCTYPE, which no worksheet needs",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE_XLIFF)
def test_a_small_worksheet_does_not_become_large(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What multiplies in a few kilobytes of XML is refused in words, in bounded memory and time."""
    data, said = HOSTILE_XLIFF[what]
    monkeypatch.setattr(xml_tree, "MOST_PARTS", 50_000)
    tracemalloc.start()
    try:
        assert read_xliff(data, "a.xlf", problems := Problems()) is None
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert [problem.message for problem in problems] == [said] and peak < 400_000_000
