"""What was found of a text is found again without looking, while the text and all that it was held against stand as they were."""

import os
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen import supported
from sitegen.build import build
from sitegen.disk.kept_checks import Checked, KeptChecks
from sitegen.disk.memory import Memory
from sitegen.problems import Problems

FOUND = Checked((), (), {}, ("tarn",))


def test_looked_again_only_where_something_changed() -> None:
    """Text, common ground, or the data of a product that it was held against: each makes it look again."""
    looked = []

    def look() -> Checked:
        looked.append(1)
        return FOUND

    def run(before: KeptChecks | None, common: str = "c", digest: str = "d", data: str = "p") -> KeptChecks:
        checks = KeptChecks(before.now if before else {}, common, lambda product: f"{product} {data}")
        assert checks.of_text("review tarn", digest, look) == FOUND
        return checks

    first = run(None)
    run(first)
    assert len(looked) == 1
    for change in ({"common": "x"}, {"digest": "x"}, {"data": "x"}):
        run(first, **change)
    assert len(looked) == 4


def told(root: Path, memory: Path) -> list[str]:
    """The cautions about typed figures that a build prints."""
    problems: Problems = build(root, root.parent / "site", Memory(memory)).problems
    return [problem.message for problem in problems if problem.code == "figure-data"]


def test_a_reading_that_changes_is_held_against_texts_that_did_not(tmp_path: Path) -> None:
    """A figure that was right becomes wrong by an edit of the data alone, and is told; and the other way round."""
    name = "reviews/tarn/de.md"
    text = SMALL[name] + "\nSie wiegt 412,0 g.\n"
    root = write(tmp_path / "pub", {name: text})
    memory = tmp_path / "memory"
    assert told(root, memory) == told(root, memory) == []
    masses = root / "rounds/trousers/mass.csv"
    whole = masses.read_text()
    claimed = root / "products/tarn.yaml"
    claimed.write_text(claimed.read_text().replace("value: 412 g", "value: 431 g"))
    masses.write_text(whole.replace("412.0", "431.0").replace("411.5", "431.5").replace("412.5", "432.5"))
    assert len(told(root, memory)) == 1
    assert len(told(root, memory)) == 1  # kept, and told again
    masses.write_text(whole)
    os.utime(masses)
    assert told(root, memory) == []


def test_the_second_build_looks_into_no_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing changed, no check is made again."""
    root = write(tmp_path / "pub", {})
    build(root, tmp_path / "site", Memory(tmp_path / "memory"))

    def looked(*_: object) -> Checked:
        raise AssertionError("a text was looked into again")

    monkeypatch.setattr(supported, "check_one", looked)
    assert build(root, tmp_path / "site", Memory(tmp_path / "memory")).published
