"""Every file of a publication, one at a time: removed, renamed, moved, emptied. Nothing is lost in silence."""

from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest
from rich_publication import rich_files, write_rich

from sitegen.desk.findings_command import findings_text
from sitegen.pipeline.build import check
from sitegen.problems import Problems

# What may go without a word: the publication says nothing of it elsewhere, and is whole without it.
MAY_GO = {
    "removed": ("about/en.md", "reviews/*/en.md", "guides/*/en.md", "glossary.yaml", "addresses.yaml", "theme/*"),
    "renamed": ("theme/templates/*",),  # another template may include it
    "moved": ("about/en.md", "glossary.yaml", "addresses.yaml", "theme/*"),
    "emptied": (),
}


def changed(path: Path, how: str) -> None:
    """One file after one change."""
    if how == "removed":
        path.unlink()
    elif how == "renamed":
        path.rename(path.with_name(f"{path.stem}-2{path.suffix}"))
    elif how == "moved":
        path.rename(path.parent.parent / f"moved{path.suffix}")
    else:
        path.write_bytes(b"")


def faults(folder: Path) -> Problems:
    """All that a check finds, in pictures too."""
    return check(folder)


def silent(folder: Path, how: str) -> Iterator[str]:
    """The files whose change is not reported. Whatever raises, raises here."""
    for name, data in sorted(rich_files().items()):
        before = {path for path in folder.rglob("*") if path.is_file()}
        changed(folder / name, how)
        if not len(faults(folder)):
            yield name
        findings_text(folder, "", as_json=False)
        for added in {path for path in folder.rglob("*") if path.is_file()} - before:
            added.unlink()
        (folder / name).write_bytes(data)


@pytest.mark.parametrize("how", MAY_GO)
def test_no_change_of_one_file_is_passed_over(how: str, tmp_path: Path) -> None:
    """A file that is gone, that has another name or place, or is empty is reported, if anything is missing without it."""
    folder = write_rich(tmp_path / "pub")
    assert list(faults(folder)) == []
    unreported = [name for name in silent(folder, how) if not any(fnmatch(name, form) for form in MAY_GO[how])]
    assert unreported == []
