"""By which round a product is known where nothing names one: by days, never by the names of folders."""

from pathlib import Path

import pytest
from builders import REVIEW_DE, write

from sitegen.pipeline.build import check, read
from sitegen.problems import Problems

TABLE = "product,specimen,value\ntarn,1,410.0\ntarn,2,411.0\n"
UNNAMED = REVIEW_DE.replace("round: trousers\n", "").replace('good: ["dicht: {spray after 3 washes}"]\n', "")


def second(days: str) -> str:
    """A round of one product, with these days."""
    return f"title: Noch einmal\nentrants: [tarn]\nprotocols: [mass]\n{days}"


def latest(folder: Path) -> str:
    """The round by which the product is known; the publication must be sound."""
    problems = Problems()
    publication = read(folder, problems)
    assert publication is not None and not problems.has_errors, [p.message for p in problems.errors]
    return publication.round_of("tarn")


@pytest.mark.parametrize("name", ["again", "zz"])
@pytest.mark.parametrize(
    ("days", "is_later"),
    [
        ("from: 2027-01-10\nto: 2027-01-12\n", True),
        ("from: 2027-01-10\n", True),
        ("to: 2020-01-12\n", False),
        ("from: 2026-09-01\n", False),  # the other one ended in October
    ],
)
def test_the_days_decide_whatever_the_folders_are_called(name: str, days: str, is_later: bool, tmp_path: Path) -> None:
    """The latest round is the one that ended last (that began last, where no end is written)."""
    files = {f"rounds/{name}/round.yaml": second(days), f"rounds/{name}/mass.csv": TABLE, "reviews/tarn/de.md": UNNAMED}
    assert latest(write(tmp_path / "pub", files)) == (name if is_later else "trousers")


def test_a_round_without_readings_is_never_the_latest(tmp_path: Path) -> None:
    """What is only planned, or measured only others so far, takes over no figure of a published text."""
    files = {"rounds/zz/round.yaml": second("to: 2027-01-12\n"), "reviews/tarn/de.md": UNNAMED}
    assert latest(write(tmp_path / "pub", files)) == "trousers"
    lost = {"rounds/zz/mass.csv": "product,specimen,value,note\ntarn,1,,lost on the way\n"}
    assert latest(write(tmp_path / "lost", files | lost)) == "trousers"


@pytest.mark.parametrize("days", ["", "to: 2026-10-02\n"])
def test_what_the_days_do_not_tell_the_review_has_to(days: str, tmp_path: Path) -> None:
    """Two rounds of the same day, or one without days: an error at the review, until it names its round."""
    files = {"rounds/zz/round.yaml": second(days), "rounds/zz/mass.csv": TABLE}
    faulty = check(write(tmp_path / "pub", files | {"reviews/tarn/de.md": UNNAMED}))
    assert [(p.code, p.place.file, p.place.line) for p in faulty.errors] == [("round-latest", "reviews/tarn/de.md", 4)]
    assert latest(write(tmp_path / "named", files)) == "trousers"
