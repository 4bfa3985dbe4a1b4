"""README.md, docs/, DEVELOPERS.md and CHANGELOG.md say what the code does: commands, keys, examples, values, links."""

import argparse
import doctest
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import MISSING, Field
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import yaml

from sitegen import stock
from sitegen.cli import _parser
from sitegen.figures.answers import values as figure_values
from sitegen.figures.answers.values import Values
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.language import open_language
from sitegen.findings.rounds import find_round
from sitegen.pipeline.build import check, read
from sitegen.problems import Problems, render
from sitegen.records.fields.fields import author_fields
from sitegen.records.fields.photo_pair import HoopAt, PhotoPair
from sitegen.records.fields.units import KINDS
from sitegen.records.ledger import Ledger, Sample
from sitegen.records.measured.protocol import Along, Condition, Grade, Protocol
from sitegen.records.measured.readings import COLUMNS
from sitegen.records.measured.rig import Rig
from sitegen.records.measured.round import Anchors, Entrant, Instrument, Round, RoundProtocol, Use
from sitegen.records.product import Claim, Detail, Finish, Photo, Price, Product, Version
from sitegen.records.settings import Look, Policies, Settings
from sitegen.records.stock_records import Term, read_stock
from sitegen.records.texts.first_published import FirstPublished
from sitegen.records.texts.texts import CorrectionNote, ReviewFacts, ReviewHead, ShortFacts, TextHead, TextPhoto
from sitegen.text.source import shown_line

REPOSITORY = Path(__file__).resolve().parents[1]
MANUAL_FILES = ("README.md", *sorted(f"docs/{path.name}" for path in (REPOSITORY / "docs").glob("*.md")))
DOCUMENTS = (*MANUAL_FILES, "DEVELOPERS.md", "CHANGELOG.md")
README = (REPOSITORY / "README.md").read_text("utf-8")
MANUAL = "\n".join((REPOSITORY / name).read_text("utf-8") for name in MANUAL_FILES)  # what users read
README_LINES = 200
DEVELOPERS = (REPOSITORY / "DEVELOPERS.md").read_text("utf-8")
LARGEST_PICTURES = 600_000  # bytes: whoever clones the project gets them all

# What stands over the first column of a table of keys, and the record that it tells of.
RECORDS: dict[str, type] = {
    "publication": Settings, "theme": Look, "policies": Policies,
    "a product": Product, "a version": Version, "finish": Finish, "price": Price, "a claim": Claim, "a detail": Detail, "a photo": Photo,
    "a round": Round, "an entrant": Entrant, "a protocol of a round": RoundProtocol, "an instrument": Instrument, "anchors": Anchors, "a use": Use,
    "a photo pair": PhotoPair, "the hoop": HoopAt,
    "a rig": Rig, "a check": Condition, "the ledger": Ledger, "a sample": Sample,
    "a review": ReviewHead, "a photo of a text": TextPhoto, "a correction": CorrectionNote, "facts of a review": ReviewFacts,
    "first published": FirstPublished, "a review with its own readings": ShortFacts, "a guide": TextHead,
    "a protocol": Protocol, "a grade": Grade, "along": Along, "a term": Term,
}  # fmt: skip
ROOTS = (Settings, Product, Round, Rig, Ledger, ReviewHead, ReviewFacts, ShortFacts, TextHead, Protocol, Term)


def test_the_readme_is_short() -> None:
    """Whoever opens the project reads its README to the end: the rest of the manual is in docs/."""
    assert len(README.splitlines()) <= README_LINES


def test_the_index_leads_to_every_document() -> None:
    """No part of the manual is out of a reader's reach."""
    index = (REPOSITORY / "docs" / "index.md").read_text("utf-8")
    assert {f"docs/{name}" for name in re.findall(r"\]\(([a-z]+\.md)\)", index)} == set(MANUAL_FILES[1:]) - {
        "docs/index.md"
    }


def table_rows(head: str) -> list[list[str]]:
    """The rows below a table's head: the cells of each, without blanks."""
    lines = MANUAL.split("\n")
    starts = [i for i, line in enumerate(lines) if line.startswith(f"| {head} |")]
    assert len(starts) == 1, f"expected one table headed '{head}', found {len(starts)}"
    rows = []
    for line in lines[starts[0] + 2 :]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip().removeprefix("|").removesuffix("|").split("|")])
    return rows


def first_words(head: str) -> list[str]:
    """What stands in code in the first column of a table."""
    return [word for row in table_rows(head) for word in re.findall(r"`([^`]+)`", row[0])]


def blocks(text: str) -> Iterator[tuple[str, str]]:
    """Every fenced block with the comment in the line before it (empty where there is none)."""
    for found in re.finditer(
        r"(?:<!-- (?P<name>[^>]*) -->\n)?^```[a-z]*\n(?P<body>.*?)^```$", text, re.MULTILINE | re.DOTALL
    ):
        yield found["name"] or "", found["body"]


def is_required(declared: Field[Any]) -> bool:
    """Whether a key must be written."""
    return declared.default is MISSING and declared.default_factory is MISSING


def records_within(kind: Any) -> Iterator[type]:
    """The records that a kind of value holds, however deep in lists and groups."""
    if isinstance(getattr(kind, "cls", None), type):
        yield kind.cls
    for inner in ("kind", "key", "value"):
        if hasattr(getattr(kind, inner, None), "take"):
            yield from records_within(getattr(kind, inner))


def all_records() -> set[type]:
    """Every record that an author writes, found from the files' own."""
    found: set[type] = set()
    ahead = list(ROOTS)
    while ahead:
        record = ahead.pop()
        if record not in found:
            found.add(record)
            ahead += [
                inner for _, declared in author_fields(record) for inner in records_within(declared.metadata["kind"])
            ]
    return found


@pytest.mark.parametrize("head", RECORDS)
def test_the_manual_lists_every_key_and_no_other(head: str) -> None:
    """Each table of keys lists exactly the keys that its record reads."""
    declared = [key for key, _ in author_fields(RECORDS[head])]
    told = first_words(head)
    assert sorted(told) == sorted(declared)


@pytest.mark.parametrize("head", RECORDS)
def test_the_manual_says_which_keys_are_needed(head: str) -> None:
    """A key that must be written has `yes` beside it, any other nothing."""
    needed = {key for key, declared in author_fields(RECORDS[head]) if is_required(declared)}
    assert {row[0].strip("`") for row in table_rows(head) if row[1] == "yes"} == needed
    assert {row[1] for row in table_rows(head)} <= {"yes", ""}


def test_every_record_that_an_author_writes_has_its_table() -> None:
    """No group of keys can be added without being told."""
    assert all_records() == set(RECORDS.values())


def test_the_manual_lists_every_column_of_readings() -> None:
    """The table of columns is that of the reader of tables, with the further languages of a note."""
    assert sorted(set(first_words("column"))) == sorted(COLUMNS)
    assert "`note.en`" in MANUAL


def test_the_manual_names_every_care_word_and_every_stock_protocol() -> None:
    """What may be written without declaring it is listed whole, each protocol with its basis."""
    told = MANUAL[MANUAL.index("Care words:") : MANUAL.index("They come out as sentences")]
    care = yaml.safe_load((REPOSITORY / "content" / "care.yaml").read_text("utf-8"))
    assert sorted(re.findall(r"`([^`]+)`", told)) == sorted(care)
    rows = {row[0].strip("`"): row[2] for row in table_rows("id")}
    protocols = read_stock(stock.content_folder(), Problems()).protocols
    assert rows.keys() == protocols.keys()
    for id, protocol in protocols.items():
        assert (
            rows[id] == "common practice"
            if protocol.basis == "common practice"
            else protocol.standard.startswith(rows[id])
        )


def test_the_grammar_of_values_is_the_one_in_the_code() -> None:
    """The grammar in the manual stands word for word where paths are read."""
    grammar = next(body for _, body in blocks(MANUAL) if body.startswith("path "))
    in_code = "\n".join(line.strip() for line in (figure_values.__doc__ or "").split("\n") if ":=" in line)
    assert in_code.strip() == grammar.strip()


@cache
def demo_values() -> Values:
    """The values of a review of Kaarnu in the demo's English edition."""
    problems = Problems()
    publication = read(REPOSITORY / "demo_site", problems)
    assert publication is not None and not problems.has_errors
    language = open_language("en", stock.content_folder() / "catalogues")
    edition = Edition(language, publication.settings.lead, publication.products, publication.protocols)
    rounds = {
        id: find_round(round, publication.readings.get(id, ()), publication.protocols, publication.products)
        for id, round in publication.rounds.items()
    }
    return Values(edition=edition, rounds=rounds, product="kaarnu", round="trousers-2026", index=publication.index)


@pytest.mark.parametrize(("written", "expected"), [tuple(row) for row in table_rows("written")])
def test_values_come_out_as_the_manual_shows(written: str, expected: str) -> None:
    """Each example of `{…}` gives in the demo what stands beside it; where that is a description, it gives something."""
    word = demo_values().word(written.strip("`{}")).replace("\u00a0", " ").replace("\u202f", " ")
    assert word == expected or (expected.startswith("the ") and re.search(r"\d", word))


# The commands ---------------------------------------------------------------------------------------------------


def commands() -> dict[str, argparse.ArgumentParser]:
    """The parser of each command."""
    actions = [action for action in _parser()._actions if isinstance(action, argparse._SubParsersAction)]
    assert len(actions) == 1
    return dict(actions[0].choices)


def options(parser: argparse.ArgumentParser) -> set[str]:
    """The options of a parser besides --help."""
    return {option for action in parser._actions for option in action.option_strings if option.startswith("--")} - {
        "--help"
    }


@cache
def typed_commands() -> tuple[tuple[str, str], ...]:
    """Every command line of the documents: the command and what follows it."""
    text = "\n".join((REPOSITORY / name).read_text("utf-8") for name in DOCUMENTS)
    return tuple(dict.fromkeys(re.findall(r"(?:^|`|bin/|-m )sitegen ([a-z]+)([^`\n]*)", text, re.MULTILINE)))


@pytest.mark.parametrize(("command", "rest"), typed_commands())
def test_every_command_line_can_be_typed(command: str, rest: str) -> None:
    """Each command in the documents exists and has the options that are written with it."""
    assert command in commands()
    assert set(re.findall(r"--[a-z]+", rest)) <= options(commands()[command])


def test_every_command_and_option_is_told() -> None:
    """The table of commands lists all there are, each with all its options."""
    told = {row[0].strip("`").split()[1]: set(re.findall(r"--[a-z]+", " ".join(row))) for row in table_rows("command")}
    assert told == {name: options(parser) for name, parser in commands().items()}


def test_make_has_the_targets_that_the_documents_name() -> None:
    """Every `make …` in the documents is a target of the Makefile."""
    targets = set(re.findall(r"^([a-z]+):", (REPOSITORY / "Makefile").read_text("utf-8"), re.MULTILINE))
    named = set(re.findall(r"(?:^|`)make ([a-z]+)", MANUAL + DEVELOPERS, re.MULTILINE))
    assert {"demo", "test"} <= named <= targets


# The first publication ------------------------------------------------------------------------------------------


def first_publication(folder: Path) -> Path:
    """The publication that the README begins with, written into a folder."""
    for name, body in blocks(README):
        if name.startswith("first/"):
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(body, "utf-8")
    return folder / "first"


def test_the_first_publication_has_four_lines_and_builds(tmp_path: Path) -> None:
    """Who copies the two files and types the command gets the page, without a problem, where the text says it is."""
    folder = first_publication(tmp_path)
    assert len((folder / "publication.yaml").read_text("utf-8").splitlines()) == 4
    command = [sys.executable, "-m", "sitegen", "build", str(folder)]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, timeout=300)
    assert (done.returncode, "error" in done.stderr, "caution" in done.stderr) == (0, False, False)
    page = (tmp_path / "first_built" / "en" / "reviews").glob("[!i]*.html")
    assert "(412.0\u00a0±\u00a01.3)\u00a0g" in next(page).read_text("utf-8")
    assert done.stdout.endswith(f"open {tmp_path / 'first_built' / 'index.html'}\n")


def test_the_mistake_is_printed_as_shown(tmp_path: Path) -> None:
    """The problem that the README shows is the one that the tool tells, to the letter."""
    folder = first_publication(tmp_path)
    review = folder / "reviews" / "grashut.md"
    review.write_text(
        review.read_text("utf-8").replace("411.5 g", "4115 g").replace("{mass claimed}", "{mass claimd}"), "utf-8"
    )
    problems = check(folder)
    told = "\n".join(render(p, shown_line(folder, p.place.file, p.place.line)) for p in problems.worst_first())
    shown = next(body for name, body in blocks(README) if name == "first, with two mistakes")
    assert f"{told}\n1 error, 1 caution\n" == shown


# The library ----------------------------------------------------------------------------------------------------


def test_the_library_does_what_the_readme_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of `import sitegen` prints what stands below it."""
    monkeypatch.chdir(REPOSITORY)
    example = next(body for _, body in blocks(README) if body.startswith(">>> "))
    test = doctest.DocTestParser().get_doctest(example, {}, "README.md", "README.md", 0)
    assert len(test.examples) > 3
    assert doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test).failed == 0


# Links, paths, tone ---------------------------------------------------------------------------------------------


def anchors(text: str) -> set[str]:
    """The addresses of a document's headings, as viewers of Markdown make them."""
    plain = (re.sub(r"[^\w\- ]", "", heading.lower()) for heading in re.findall(r"^#+ (.*)$", text, re.MULTILINE))
    return {heading.replace(" ", "-") for heading in plain}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_lead_somewhere(name: str) -> None:
    """Every relative link and picture is a file of the project, every #part a heading; nothing is asked of another host."""
    text = re.sub(r"^```.*?^```$|`[^`\n]*`", "", (REPOSITORY / name).read_text("utf-8"), flags=re.MULTILINE | re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)[^)]*\)", text):
        path, _, part = target.partition("#")
        leads_to = (REPOSITORY / name).parent / path if path else REPOSITORY / name
        assert "://" not in target and leads_to.is_file(), target
        assert not part or part in anchors(leads_to.read_text("utf-8")), target


def test_pictures_are_used_and_small() -> None:
    """docs/ holds no picture that no document shows, and few bytes in all."""
    pictures = [path for path in (REPOSITORY / "docs").iterdir() if path.suffix in {".png", ".webp"}]
    assert pictures and all(f"docs/{path.name}" in MANUAL + DEVELOPERS for path in pictures)
    assert sum(path.stat().st_size for path in pictures) < LARGEST_PICTURES


def test_pictures_have_alternatives() -> None:
    """Whoever can't see a picture is told what it shows."""
    assert all(len(alt) > 20 for alt in re.findall(r"!\[([^\]]*)\]\(docs/", MANUAL + DEVELOPERS))


def test_the_paths_that_developers_read_of_exist() -> None:
    """Every file or folder of the project that DEVELOPERS.md names in code is there; `…` and NAME stand for any."""
    named = set(re.findall(r"`((?:sitegen|content|themes|tests|demo_site|docs|bench|\.ci)/[^`\s]*)`", DEVELOPERS))
    assert len(named) > 20
    missing = [
        path for path in sorted(named) if not re.search("[…*]|NAME|LANG|ID", path) and not (REPOSITORY / path).exists()
    ]
    assert missing == []


def test_developers_read_of_every_room() -> None:
    """Each folder of the package has its row."""
    rooms = {
        path.name for path in (REPOSITORY / "sitegen").iterdir() if path.is_dir() and (path / "__init__.py").exists()
    }
    assert rooms <= set(re.findall(r"^\| `([a-z]+)/` \|", DEVELOPERS, re.MULTILINE))


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_documents_speak_of_the_project_alone(name: str) -> None:
    """Nothing is said of how or where the project was made; no picture letters, no badges."""
    text = (REPOSITORY / name).read_text("utf-8")
    banned = r"\b(sessions?(?!\()|issues?|helpers?|colleagues?|contract|brief|agents?|assistants?)\b|/tmp|/work\b|shields|TODO|FIXME"
    assert re.findall(banned, text, re.IGNORECASE) == []
    assert not [c for c in text if ord(c) >= 0x1F000 or 0x2600 <= ord(c) < 0x27C0]


def test_the_change_log_has_what_is_unreleased_on_top() -> None:
    """The first heading is `Unreleased`; releases below it go down."""
    heads = re.findall(r"^## (.*)$", (REPOSITORY / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert heads[0] == "Unreleased"
    versions = [tuple(map(int, re.findall(r"\d+", head.split()[0]))) for head in heads[1:]]
    assert all(newer > older for newer, older in pairwise(versions))


def test_the_table_of_units_is_the_tools() -> None:
    """The manual lists the units that are known, by kind and in the tool's order."""
    listed = {kind: tuple(re.findall(r"`([^`]+)`", units)) for kind, units in table_rows("measures")}
    assert listed == KINDS
