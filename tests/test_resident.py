"""A process that stays gives, after an edit within a text, what a build makes of it: the build is the reference."""

import random
import shutil
from pathlib import Path

import pytest

from bench.publication import write_publication
from sitegen.build import build
from sitegen.disk.memory import Memory
from sitegen.resident import Resident

ADDED = (
    "Noch ein Satz mit {mass of tarnik-00000}.",
    "## A heading\n\nTwo paragraphs.\n\nAnd *more*.",
    "It weighed 9999 g on the bench, and 12 % ran through.",
    "- a list\n- of two\n\n| a | b |\n|---|---|\n| 1 | 2 |",
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A publication with its site and memory."""
    root = tmp_path_factory.mktemp("resident")
    write_publication(root / "pub", 9)
    assert build(root / "pub", root / "site", Memory(root / "memory")).published
    return root


@pytest.fixture
def copy(made: Path, tmp_path: Path) -> Path:
    """A copy to edit."""
    for name in ("pub", "memory"):
        shutil.copytree(made / name, tmp_path / name)
    return tmp_path


def resident(root: Path) -> Resident:
    """A process that has just built."""
    site = build(root / "pub", root / "site", Memory(root / "memory")).site
    assert site is not None
    return Resident(root / "pub", site)


def differing(root: Path) -> dict[str, bytes]:
    """The files that a build makes otherwise than they stand in the site."""
    assert build(root / "pub", root / "cold", Memory(None)).published
    files = {path.relative_to(root / "cold").as_posix(): path.read_bytes() for path in (root / "cold").rglob("*.*")}
    return {name: data for name, data in files.items() if (root / "site" / name).read_bytes() != data}


@pytest.mark.parametrize("seed", range(2))
def test_gives_the_pages_that_a_build_changes(copy: Path, seed: int) -> None:
    """After each of several edits, in the lead and in translations: all files that differ, byte for byte, and no problem of
    the text more or less."""
    stays, rng = resident(copy), random.Random(seed)
    texts = sorted((copy / "pub" / "reviews").glob("*/*.md"))
    edited: dict[str, bytes] = {}
    for _ in range(4):
        path = rng.choice(texts)
        path.write_text(f"{path.read_text('utf-8')}\n{rng.choice(ADDED)}\n", "utf-8")
        name = path.relative_to(copy / "pub").as_posix()
        found = stays.after(name)
        assert found is not None and found.pages
        edited |= found.pages
        told = build(copy / "pub", copy / "cold", Memory(None)).problems
        own = {problem for problem in told if problem.place.file.startswith(name.rpartition("/")[0])}
        assert own == set(found.problems)
    assert differing(copy).items() <= edited.items()


def test_an_error_gives_no_page_and_its_mending_does(copy: Path) -> None:
    """A text at fault is told at its place; the text before it isn't lost."""
    stays = resident(copy)
    path = copy / "pub" / "reviews" / "tarnik-00000" / "de.md"
    sound = path.read_text("utf-8")
    path.write_text(f"{sound}\nHier fehlt {{eine Klammer\n\n{{mass of nobody}}\n", "utf-8")
    found = stays.after("reviews/tarnik-00000/de.md")
    assert found is not None and not found.pages
    assert [problem.place.file for problem in found.problems] == ["reviews/tarnik-00000/de.md"] * len(found.problems)
    assert found.problems
    path.write_text(f"{sound}\nNoch ein Satz.\n", "utf-8")
    mended = stays.after("reviews/tarnik-00000/de.md")
    assert mended is not None and mended.pages and differing(copy).items() <= mended.pages.items()


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("reviews/tarnik-00000/de.md", 'title: "', 'title: "Neu: '),
        ("reviews/tarnik-00000/de.md", "\n---\n", "\nversion: 2026\n---\n"),
        ("reviews/tarnik-00000/de.md", "\n---\n", "\n---\nEin [Verweis](review:brommel-00006).\n\n"),
        ("products/tarnik-00000.yaml", "name: ", "name: New "),
        ("rounds/round-00000/mass.csv", ",g,", "0,g,"),
        ("publication.yaml", "name: ", "name: New "),
        ("reviews/tarnik-00000/nl.md", "", ""),
        ("reviews/nobody/de.md", "", ""),
    ],
)
def test_leaves_all_else_to_a_build(copy: Path, name: str, old: str, new: str) -> None:
    """What other pages may show as well is said to be a matter for a build."""
    stays, path = resident(copy), copy / "pub" / name
    if path.exists():
        assert old in path.read_text("utf-8")
        path.write_text(path.read_text("utf-8").replace(old, new, 1), "utf-8")
    found = stays.after(name)
    assert found is None or not found.pages
