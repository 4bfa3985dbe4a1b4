"""The kept inputs, and some thousand changed ones that are always the same: every reading keeps its laws on them."""

from pathlib import Path

import pytest

from sitegen.place import Place
from sitegen.problems import Problems
from tests.fuzz.laws import Broken
from tests.fuzz.mutate import LONGEST, mutated
from tests.fuzz.run import CORPUS, Runner, begun_with, changed
from tests.fuzz.targets import check_told, lines_of, targets

CHANGED = 150  # of each target; those that take longer than others do with fewer
SLOW = {"findings": 15, "html": 40, "markdown": 40, "photo_pair": 60, "protocol": 40}
LARGEST_CORPUS, MOST_FILES = 1_000_000, 600  # bytes and files: whoever clones the project gets them all


@pytest.mark.parametrize("name", sorted(targets()))
def test_kept_inputs_keep_the_laws(name: str) -> None:
    """Nothing is raised, every place lies in its file, and the same input is told the same."""
    for data in begun_with(name):
        assert list(targets()[name].look(data)) == list(targets()[name].look(data))


@pytest.mark.parametrize("name", sorted(targets()))
def test_changed_inputs_keep_the_laws(name: str) -> None:
    """The same for inputs changed at random, by a fixed seed: what a run of a million finds is found here first if it is shallow."""
    for data in changed(name, SLOW.get(name, CHANGED), seed=1):
        targets()[name].look(data)


def test_changes_are_the_same_for_a_seed() -> None:
    """A run can be repeated: a seed gives the same inputs, another seed gives others."""
    one, again, other = (list(changed("csv", 50, seed)) for seed in (1, 1, 2))
    assert one == again and one != other
    assert len(set(one)) > 40 and max(map(len, one)) <= LONGEST


def test_a_change_keeps_most_of_a_file() -> None:
    """So that faults deep in a file are met: half of the changed files keep nine tenths of their lines."""
    import random

    seed = begun_with("settings")[0]
    lines = set(seed.split(b"\n"))
    kept = sorted(
        len(lines & set(mutated(seed, [seed], random.Random(n)).split(b"\n"))) / len(lines) for n in range(200)
    )
    assert kept[100] >= 0.7


def test_the_corpus_is_small() -> None:
    """It is kept in version control."""
    files = [path for path in CORPUS.rglob("*") if path.is_file()]
    assert 0 < len(files) <= MOST_FILES
    assert sum(path.stat().st_size for path in files) <= LARGEST_CORPUS
    assert {path.parent.name for path in files} <= set(targets())


@pytest.mark.parametrize(
    "place",
    [Place("x", 3, 1), Place("x", 0, 1), Place("x", 1, 6), Place("x", 1, 0), Place("x", 1, 1, 0), Place("y", 1, 1)],
    ids=["line behind the end", "line 0", "column behind the end", "column 0", "no width", "another file"],
)
def test_a_wrong_place_is_seen(place: Place) -> None:
    """The laws can be broken: each kind of wrong place is told."""
    problems = Problems()
    problems.error("x", place, "expected something")
    with pytest.raises(Broken):
        check_told(problems, ["abcd", ""], "x")


def test_right_places_are_let_pass() -> None:
    """The first sign, the one behind a line's end, and the empty last line can all be pointed at."""
    problems = Problems()
    for place in (Place("x", 1, 1), Place("x", 1, 5), Place("x", 2, 1)):
        problems.error("x", place, "expected something")
    check_told(problems, ["abcd", ""], "x")


@pytest.mark.parametrize(
    ("data", "lines"),
    [(b"", [""]), (b"a\r\nb\rc\n", ["a", "b", "c", ""]), (b"\xef\xbb\xbfa", ["a"]), (b"\xff\n", ["\ufffd", ""])],
)
def test_lines_are_counted_as_editors_do(data: bytes, lines: list[str]) -> None:
    """All three kinds of line ends; a byte order mark is no sign of the first line."""
    assert lines_of(data) == lines


def test_a_fault_is_kept_once_with_what_was_raised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run goes on after a fault; the input and its traceback lie in the folder, a second of the same kind doesn't."""
    import tests.fuzz.run as run

    def fail(data: bytes) -> None:
        if data.startswith(b"a"):
            raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(run, "_look", lambda name: fail)
    runner = Runner("csv", 100, tmp_path)
    for data in (b"ok", b"a1", b"a2"):
        runner.look(data)
    assert runner.done == 3 and len(runner.found) == 1
    assert sorted(path.suffix for path in tmp_path.iterdir()) == ["", ".txt"]
    (kept,) = (path for path in tmp_path.iterdir() if not path.suffix)
    assert kept.read_bytes() == b"a1" and "ZeroDivisionError" in kept.with_name(f"{kept.name}.txt").read_text("utf-8")


def test_an_endless_reading_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An input that takes too long is a fault like another, whatever the code catches."""
    import tests.fuzz.run as run

    def hang(data: bytes) -> None:
        while True:
            try:
                sum(range(1000))
            except Exception:
                continue

    monkeypatch.setattr(run, "_look", lambda name: hang)
    monkeypatch.setattr(run, "LONGEST_SECONDS", 0.05)
    runner = Runner("csv", 100, tmp_path)
    runner.look(b"x")
    assert len(runner.found) == 1 and "Hang" in next(tmp_path.glob("*.txt")).read_text("utf-8")
