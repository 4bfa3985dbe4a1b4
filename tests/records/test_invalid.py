"""Every kind of fault in a publication, and the exact words in which its author reads of it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import write
from invalid import CASES, lay_out, printed, problems_of

from sitegen.pipeline.build import check
from sitegen.problems import Severity

SITEGEN = Path(__file__).parents[2] / "sitegen"
# Read by a command of its own, whose tests read its words.
ELSEWHERE = {"follows.py"}
RECORDS = sorted(path for path in (SITEGEN / "records").rglob("*.py") if path.name not in ELSEWHERE)
SOURCES = (*RECORDS, SITEGEN / "figures" / "answers" / "prose.py", *sorted((SITEGEN / "pipeline").glob("*.py")))
CASE_FOLDERS = sorted(path for path in CASES.iterdir() if path.is_dir())
# Raised by what names no code of its own: the default of `fail`, and one code for each kind of reference.
FURTHER = {
    "field-value",
    *(f"{what}-unknown" for what in ("product", "protocol", "round", "review", "guide", "method", "rig")),
}
# A folder that can't be listed needs another user than the superuser: tests/text/test_source.py reads its words.
# A file that changes while a build runs: tests/pipeline/test_inputs.py.
# Names that clash elsewhere can't lie in a checkout there: tests/hostile/test_hostile_files.py reads theirs.
READ_ELSEWHERE = {"file-changing", "folder-unreadable", "file-name", "file-clash", "picture-clash"}
JARGON = (
    "None",
    "Traceback",
    "Error(",
    "Decimal(",
    "object at",
    "NoneType",
    "dict",
    "tuple",
    "Scalar",
    "Mapping",
    "__",
)


@pytest.mark.parametrize("case", CASE_FOLDERS, ids=lambda case: case.name)
def test_a_fault_is_told_in_exactly_these_words(case: Path, tmp_path: Path) -> None:
    """Place, source line, caret, message and hint are those that were read and found good."""
    told = printed(tmp_path / "pub", problems_of(case, tmp_path / "pub"))
    expected = (case / "expected.txt").read_text()
    assert expected.strip(), f"{case.name} expects nothing: a case without a fault proves nothing"
    assert told == expected


@pytest.mark.parametrize("case", CASE_FOLDERS, ids=lambda case: case.name)
def test_messages_name_nothing_of_the_language_the_tool_is_written_in(case: Path) -> None:
    """Who reads a message is no programmer: no names of types, no internals."""
    told = [line for line in (case / "expected.txt").read_text().split("\n") if "error:" in line or "hint:" in line]
    assert not [line for line in told if any(word in line for word in JARGON)]


def codes_in(path: Path) -> Iterator[str]:
    """The codes that a module raises by name."""
    for node in ast.walk(ast.parse(path.read_text())):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        candidates = [keyword.value for keyword in node.keywords if keyword.arg == "code"]
        if name in {"error", "caution"}:
            candidates += node.args[:1]
        if name == "fail":
            candidates += node.args[5:6]
        yield from (found.value for found in candidates if isinstance(found, ast.Constant))


def test_every_code_in_the_source_has_a_case() -> None:
    """No fault can be raised whose words nobody has read."""
    raised = {code for path in SOURCES for code in codes_in(path)} | FURTHER
    assert len(raised) > 60
    told = "".join((case / "expected.txt").read_text() for case in CASE_FOLDERS)
    assert sorted(code for code in raised - READ_ELSEWHERE if f"[{code}]" not in told) == []


# One fault in every kind of file, with the code by which it is told.
EVERYWHERE = {
    "publication.yaml": ("author:", "autor:", "unknown-key"),
    "products/tarn.yaml": ("currency: EUR", "currency: euro", "pattern"),
    "products/fenn.yaml": ("maker:", "make:", "unknown-key"),
    "rounds/trousers/round.yaml": ("to: 2026-10-02", "to: 2026-08-02", "round-dates"),
    "rounds/trousers/mass.csv": ("412.0", "heavy", "number-syntax"),
    "rounds/trousers/spray.csv": ("tarn;new;1;5", "tarn;new;1;9", "grade"),
    "rounds/trousers/run_time.csv": ("tarn,60", "tarn,0", "curve-time"),
    "ledger.yaml": ("obtained: loaned", "obtained: lent", "choice"),
    "reviews/tarn/de.md": ("summary:", "sumary:", "unknown-key"),
    "reviews/tarn/en.md": ("good:", "god:", "unknown-key"),
    "guides/care/de.md": ("date: 2026-10-01", "date: 1.10.2026", "date"),
    "about/de.md": ("title:", "titel:", "unknown-key"),
    "rigs/scale/rig.yaml": ("low: 499", "low: 499 g", "number-syntax"),
}  # fmt: skip


def test_all_faults_are_told_in_one_run_worst_first(tmp_path: Path) -> None:
    """A broken file, even the settings, never keeps another one from being checked."""
    from builders import SMALL

    files: dict[str, str | bytes | None] = {
        name: SMALL[name].replace(old, new, 1) for name, (old, new, _) in EVERYWHERE.items()
    }
    assert all(SMALL[name] != text for name, text in files.items())
    files["produts/x.yaml"] = "name: x\n"  # a caution
    problems = check(write(tmp_path, files))
    told = {(problem.place.file, problem.code) for problem in problems}
    assert {(name, code) for name, (_, _, code) in EVERYWHERE.items()} <= told
    ranks = [problem.severity is Severity.CAUTION for problem in problems.worst_first()]
    assert ranks == sorted(ranks) and True in ranks
    assert len(problems.errors) == len(EVERYWHERE), "each fault once, and no fault that another one brings about"


def test_the_sound_publication_has_no_fault(tmp_path: Path) -> None:
    """What the cases start from is sound, so that each shows its own fault alone."""
    assert printed(tmp_path, check(write(tmp_path))) == ""


def test_an_unreadable_case_would_fail(tmp_path: Path) -> None:
    """The sound publication laid out as a case tells nothing: the loop above can't pass on emptiness."""
    empty = tmp_path / "case"
    empty.mkdir()
    assert printed(tmp_path / "pub", check(lay_out(empty, tmp_path / "pub"))) == ""
