"""`sitegen addresses --record`: the entries are the wanted ones, and whatever else somebody wrote into the file stays."""

import os
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
import yaml
from builders import SMALL, write
from hypothesis import given
from hypothesis import strategies as st

import sitegen.desk.addresses_command as command
import sitegen.desk.addresses_files as addresses_files
from sitegen.cli import main
from sitegen.desk.addresses_edit import record_edits
from sitegen.desk.addresses_files import by_file
from sitegen.editions.worksheets.edits import edited
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.names.addresses import Address, Addresses, addresses_text, take_addresses
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import parse_yaml

FILE = "addresses.yaml"
HERE = Place(FILE, 1, 1)
BY_HAND = """\
# Kept by Ilse since 2024; ask her before taking lines out.

review:   # the reviews
    # the first one of all
    tarn:
        de: de/reviews/die-hose.html   # printed on the card
        en: "en/reviews/tarn.html"

        former:
          # links from the Hangbote
          - de/reviews/hose.html

# Guides come last.
guide:
    care:  # short
        de: de/guides/pflege.html
# The end.
"""
AFTER = """\
# Kept by Ilse since 2024; ask her before taking lines out.

review:   # the reviews
    # the first one of all
    tarn:
        de: de/reviews/tarn.html   # printed on the card
        en: "en/reviews/tarn.html"

        former:
          - de/reviews/die-hose.html
          # links from the Hangbote
          - de/reviews/hose.html

# Guides come last.
guide:
    care:  # short
        de: de/guides/care.html
        former:
          - de/guides/pflege.html
round:
  trousers:
    de: de/rounds/wanderhosen-2026.html
    en: en/rounds/walking-trousers-2026.html
# The end.
"""


def run(folder: Path, *more: str) -> int:
    return main(["addresses", str(folder), *more])


def recorded(folder: Path, data: bytes, *more: str) -> bytes:
    """The record after the command, from one that held `data`."""
    write(folder, {FILE: data})
    assert run(folder, "--record", *more) == 0
    return (folder / FILE).read_bytes()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["LF", "CRLF", "CR"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["", "BOM"])
@pytest.mark.parametrize("last", [True, False], ids=["ended", "not ended"])
def test_what_was_written_by_hand_stays(end: str, mark: bytes, last: bool, tmp_path: Path) -> None:
    """Comments, blank lines, indents, quotes, line ends, byte order mark and the want of a last line end, all of them."""
    before, after = (mark + text.replace("\n", end).encode() for text in (BY_HAND, AFTER))
    if not last:
        before, after = before.removesuffix(end.encode()), after.removesuffix(end.encode())
    assert recorded(tmp_path, before) == after
    assert recorded(tmp_path, after) == after


def test_mixed_line_ends_stay_mixed(tmp_path: Path) -> None:
    """A line that isn't touched keeps the end it has; a new one takes the usual one."""
    data = b"# one\r\nreview:\n  tarn:\r\n    de: de/reviews/tarn.html\r\n    en: en/reviews/tarn.html\n# end\r\n"
    found = recorded(tmp_path, data)
    assert found.startswith(data.removesuffix(b"# end\r\n") + b"guide:\r\n") and found.endswith(b"\r\n# end\r\n")
    assert found.count(b"\n") == found.count(b"\r\n") + 2


def test_another_layout_is_written_anew_below_its_comments(tmp_path: Path) -> None:
    """Several entries on a line can't always be changed where they stand: then no comment is lost either."""
    data = b"# mine\nreview: {tarn: {de: de/reviews/hose.html,  # card\n  en: en/reviews/tarn.html}}  # all\n"
    found = recorded(tmp_path, data).decode()
    assert found.startswith("# mine\n# card\n# all\n# Where each published page stands")
    assert yaml.safe_load(found)["review"]["tarn"] == {
        "de": "de/reviews/tarn.html", "en": "en/reviews/tarn.html", "former": ["de/reviews/hose.html"],
    }  # fmt: skip


def test_a_list_on_one_line_stays_on_it(tmp_path: Path) -> None:
    """Former addresses in brackets, or a single one without, take up another where they stand."""
    text = "review:\n  tarn:\n    de: de/reviews/x.html\n    en: en/reviews/tarn.html\n    former: FORMER  # old\n"
    for before, after in {
        "de/reviews/a.html": "[de/reviews/a.html, de/reviews/x.html]",
        "[de/reviews/b.html, en/reviews/a.html]": "[de/reviews/b.html, en/reviews/a.html, de/reviews/x.html]",
    }.items():
        found = recorded(tmp_path, text.replace("FORMER", before).encode()).decode()
        wanted = text.replace("x.html", "tarn.html", 1).replace("FORMER", after)
        assert found.startswith(wanted)


def test_a_renamed_text_leaves_the_comments_beside_it(tmp_path: Path) -> None:
    """Its lines go to the new id; what was said of them stays where it stood."""
    data = (
        "guide:\n  # about washing\n  old:  # since 2019\n    de: de/guides/alt.html  # on the label\n\n  # the rest\n"
    )
    found = recorded(tmp_path, data.encode(), "--renamed", "guide/old=care").decode()
    for comment in ("  # about washing\n", "  # since 2019\n", "    # on the label\n", "\n\n  # the rest\n"):
        assert comment in found
    guide = yaml.safe_load(found)["guide"]
    assert guide == {"care": {"de": "de/guides/care.html", "former": ["de/guides/alt.html"]}}


def test_a_file_that_says_it_all_is_not_written(tmp_path: Path) -> None:
    """Nothing to record: the file is the same one, with its time."""
    recorded(tmp_path, AFTER.encode())
    before = (tmp_path / FILE).stat()
    assert run(tmp_path, "--record") == 0
    after = (tmp_path / FILE).stat()
    assert (before.st_ino, before.st_mtime_ns, before.st_ctime_ns) == (
        after.st_ino,
        after.st_mtime_ns,
        after.st_ctime_ns,
    )


@pytest.mark.parametrize("first", [BY_HAND.encode(), None], ids=["changed", "made"])
def test_a_file_changed_meanwhile_is_left_alone(
    first: bytes | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Somebody saves the file while the command thinks: theirs stands, nothing lies beside it, and the command says so."""
    write(tmp_path, {FILE: first})
    real, theirs = command.make_plan, b"review:\n  tarn:\n    de: de/reviews/theirs.html\n"

    def plan(*words: object) -> object:
        (tmp_path / FILE).write_bytes(theirs)
        return real(*words)  # type: ignore[arg-type]

    monkeypatch.setattr(command, "make_plan", plan)
    before = set(os.listdir(tmp_path)) | {FILE}
    assert run(tmp_path, "--record") == 1
    told = f"sitegen: '{FILE}' was changed meanwhile by another program, and left as it is; say it again\n"
    assert capsys.readouterr().err.endswith(told)
    assert (tmp_path / FILE).read_bytes() == theirs and set(os.listdir(tmp_path)) == before


def test_a_disk_that_fails_leaves_the_old_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Written beside and renamed: where that fails the old file stands, alone, and a sentence says why."""
    write(tmp_path, {FILE: BY_HAND})

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    assert run(tmp_path, "--record") == 1
    assert "the addresses could not be recorded: [Errno 28] No space left" in capsys.readouterr().err
    assert (tmp_path / FILE).read_text() == BY_HAND
    assert sorted(os.listdir(tmp_path)) == sorted({name.split("/")[0] for name in SMALL} | {FILE})


OLDER = "addresses/older.yaml"
PARTED = {
    FILE: "guide:\n  care:\n    de: de/guides/pflege.html\n",
    OLDER: "# of last year\nreview:\n  tarn:\n    de: de/reviews/die-hose.html  # on the card\n",
}
PARTED_AFTER = {
    FILE: "guide:\n  care:\n    de: de/guides/care.html\n    former:\n      - de/guides/pflege.html\n"
    "round:\n  trousers:\n    de: de/rounds/wanderhosen-2026.html\n    en: en/rounds/walking-trousers-2026.html\n",
    OLDER: "# of last year\nreview:\n  tarn:\n    de: de/reviews/tarn.html  # on the card\n    en: en/reviews/tarn.html\n"
    "    former:\n      - de/reviews/die-hose.html\n",
}


def read_back(folder: Path, names: Iterable[str]) -> dict[str, str]:
    return {name: (folder / name).read_text("utf-8") for name in names}


def test_each_part_of_a_record_keeps_its_pages(tmp_path: Path) -> None:
    """What is new of a page goes where the page stands; a page that stands nowhere yet goes into addresses.yaml."""
    write(tmp_path, PARTED)
    for _ in range(2):
        assert run(tmp_path, "--record") == 0
        assert read_back(tmp_path, PARTED) == PARTED_AFTER
    assert os.listdir(tmp_path / "addresses") == ["older.yaml"]


def test_what_has_no_room_goes_into_further_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A first record larger than a file may be is made in several, each of which can be read; the next run finds it all."""
    whole = addresses_text(Addresses())
    monkeypatch.setattr(addresses_files, "ROOM", len(whole) + 120)
    write(tmp_path, {})
    assert run(tmp_path, "--record") == 0
    names = [FILE, "addresses/2.yaml", "addresses/3.yaml"]
    found = read_back(tmp_path, names)
    assert sorted(os.listdir(tmp_path / "addresses")) == ["2.yaml", "3.yaml"]
    entries = [entry for text in found.values() for entry in entries_of(text)]
    assert {(e.kind, e.id) for e in entries} == {("review", "tarn"), ("guide", "care"), ("round", "trousers")}
    assert len({e.path for e in entries}) == len(entries) == 5
    assert run(tmp_path, "--record") == 0
    assert read_back(tmp_path, names) == found


def test_a_record_that_no_build_could_read_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One part would grow beyond the bound of a file: nothing is written, not the others either, and the way out is told."""
    monkeypatch.setattr(command, "LARGEST_TEXT", len(PARTED_AFTER[OLDER]) - 1)
    files = PARTED | {FILE: PARTED_AFTER[FILE].partition("    former")[0]}
    write(tmp_path, files)
    assert run(tmp_path, "--record") == 1
    told = capsys.readouterr()
    assert f"{OLDER}:1:1: error: with what is new this file would be larger than" in told.err
    assert "nothing was recorded; move some of its pages into another file" in told.err and told.out == ""
    assert read_back(tmp_path, files) == files
    monkeypatch.setattr(command, "LARGEST_TEXT", len(PARTED_AFTER[OLDER]))
    assert run(tmp_path, "--record") == 0
    assert (tmp_path / OLDER).read_text() == PARTED_AFTER[OLDER]


def test_bytes_count_as_they_are_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file with line ends of two bytes is as large as the next build finds it."""
    whole = AFTER.replace("\n", "\r\n").encode()
    before = BY_HAND.replace("\n", "\r\n").encode()
    for bound, code in ((len(whole) - 1, 1), (len(whole), 0)):
        write(tmp_path, {FILE: before})
        monkeypatch.setattr(command, "LARGEST_TEXT", bound)
        assert run(tmp_path, "--record") == code
        assert (tmp_path / FILE).read_bytes() == (before if code else whole)


PATHS = [
    f"{tag}/{kind}s/{word}.html"
    for kind in ("review", "round", "guide")
    for tag in ("de", "en", "fr")
    for word in "abcd"
]


@st.composite
def records(draw: st.DrawFn) -> Addresses:
    """Any record of few pages: each path once, each page at one place in each language."""
    entries: list[Address] = []
    for path in draw(st.lists(st.sampled_from(PATHS), unique=True, max_size=12)):
        tag, kind = path.split("/")[0], path.split("/")[1][:-1]
        id = draw(st.sampled_from(["one", "two", "three"]))
        stands = any((e.kind, e.id, e.lang, e.former) == (kind, id, tag, False) for e in entries)
        former = stands or draw(st.booleans())
        entries.append(Address(kind=kind, id=id, lang=tag, path=path, former=former, place=HERE))
    return Addresses(tuple(entries))


def entries_of(text: str) -> set[Address]:
    node = parse_yaml(Source(FILE, text, ""), problems := Problems())
    found = take_addresses(node, problems) if node is not None else Addresses()
    assert not problems.has_errors, list(problems)
    return set(found.entries)


@given(records(), records())
def test_what_only_the_command_wrote_stays_as_it_writes_it(old: Addresses, new: Addresses) -> None:
    """Edited or written anew, the same text: kinds, ids, languages and former addresses in their fixed order."""
    before = addresses_text(old)
    assert edited(before, record_edits(before, new)) == addresses_text(new)


@given(records(), records(), st.randoms(use_true_random=False), st.booleans())
def test_any_record_with_anything_between_its_lines(old: Addresses, new: Addresses, random: Random, end: bool) -> None:
    """Comments behind and between all lines, blank ones, lists on one line: the entries are the new ones, each comment is
    there once and in order, and the same again changes nothing."""
    text = re.sub(r"former:\n      - (.*)\n(?!      -)", r"former: [\1]\n", addresses_text(old))
    lines: list[str] = []
    for number, line in enumerate(text.split("\n")[2:-1]):
        chance = random.random()
        lines += [f"# between {number}"] if chance < 0.3 else [""] if chance < 0.4 else []
        lines.append(f"{line}  # behind {number}" if 0.2 < chance < 0.6 else line)
    before = "\n".join([*lines, ""] if end else lines)
    assert entries_of(before) == set(old.entries)
    after = edited(before, record_edits(before, new))
    assert entries_of(after) == set(new.entries)
    assert re.findall(r"#.*", after) == re.findall(r"#.*", before)
    assert record_edits(after, new) == ()


@given(records(), records(), st.randoms(use_true_random=False), st.integers(1, 400))
def test_any_record_in_any_number_of_files(old: Addresses, new: Addresses, random: Random, room: int) -> None:
    """Each entry is in one file, that of its path or page if it was recorded; further files hold what they have room for."""
    files = [FILE, OLDER, "addresses/2.yaml"]
    known = Addresses(tuple(replace(entry, place=Place(random.choice(files), 1, 1)) for entry in old.entries))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(addresses_files, "ROOM", room + len(addresses_text(Addresses())))
        parts = by_file(known, new, {entry.place.file: room for entry in known.entries})
    assert sorted(e.path for part in parts.values() for e in part.entries) == sorted(e.path for e in new.entries)
    homes = {entry.path: entry.place.file for entry in known.entries}
    pages = known.pages()
    for name, part in parts.items():
        for entry in part.entries:
            page = (entry.kind, entry.id)
            assert name == homes.get(entry.path, pages[page].file if page in pages else name)
        if name not in files and len({(e.kind, e.id) for e in part.entries}) > 1:
            assert len(addresses_text(part)) <= room + len(addresses_text(Addresses()))
