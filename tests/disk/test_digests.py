"""Digests of files: read again only where a file may have changed, and never taken for sure where its bytes don't tell all."""

import os
from hashlib import blake2b
from pathlib import Path

import pytest

from sitegen.disk import digests as module
from sitegen.disk.digests import RACY, Digests, FileDigests


def aged(path: Path, text: str, seconds: int = 60) -> Path:
    """A file that was written some time ago. Its change time can't be set: the clock of the test goes ahead instead."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> None:
    """A minute has passed since the files were written."""
    now = module.time.time_ns
    monkeypatch.setattr(module.time, "time_ns", lambda: now() + 60 * RACY)


def test_the_digest_is_that_of_the_bytes(tmp_path: Path) -> None:
    """BLAKE2b (RFC 7693) of 160 bits over the whole file, by the standard library."""
    aged(tmp_path / "a.md", "text")
    assert FileDigests(tmp_path).file("a.md") == blake2b(b"text", digest_size=20).hexdigest()


@pytest.mark.usefixtures("later")
def test_a_file_that_stands_as_it_stood_is_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Times, size and inode vouch for the bytes."""
    aged(tmp_path / "a.md", "text")
    first = FileDigests(tmp_path)
    digest = first.file("a.md")
    second = FileDigests(tmp_path, first.now)
    monkeypatch.setattr("builtins.open", None)  # whoever reads now fails
    assert second.file("a.md") == second.sure("a.md") == digest
    assert second.now == first.now


@pytest.mark.usefixtures("later")
def test_every_change_is_seen(tmp_path: Path) -> None:
    """Other bytes, also with size and time of writing put back as they were, and another file in its place."""
    path = aged(tmp_path / "a.md", "text")
    before = FileDigests(tmp_path)
    old, times = before.file("a.md"), (path.stat().st_atime_ns, path.stat().st_mtime_ns)
    path.write_text("tale")
    os.utime(path, ns=times)
    assert FileDigests(tmp_path, before.now).file("a.md") != old
    aged(tmp_path / "b.md", "tall")
    os.replace(tmp_path / "b.md", path)
    assert FileDigests(tmp_path, before.now).file("a.md") == blake2b(b"tall", digest_size=20).hexdigest()


def test_a_file_written_just_now_is_not_remembered(tmp_path: Path) -> None:
    """It may be written again within one tick of the file system's clock, with nothing to be seen but its bytes."""
    aged(tmp_path / "a.md", "text")
    digests = FileDigests(tmp_path)
    assert digests.sure("a.md") and digests.now == {}


def test_links_and_what_cannot_be_read_are_never_sure(tmp_path: Path) -> None:
    """Where a link leads, and why a file can't be read, is told anew each time."""
    aged(tmp_path / "a.md", "text")
    (tmp_path / "b.md").symlink_to("a.md")
    (tmp_path / "c.md").mkdir()
    digests = FileDigests(tmp_path)
    assert digests.file("b.md") == digests.file("a.md") and digests.sure("b.md") == ""
    for name in ("c.md", "nowhere.md"):
        assert digests.sure(name) == ""
    assert "b.md" not in digests.now


def test_a_group_is_all_files_of_one_thing(tmp_path: Path) -> None:
    """A text's folder or its single file; a new, another or a renamed file gives another digest."""
    for name in ("reviews/tarn/de.md", "reviews/fenn.md", "publication.yaml"):
        aged(tmp_path / name, "x")
    names = ["reviews/tarn/de.md", "reviews/fenn.md", "publication.yaml"]
    whole = Digests(FileDigests(tmp_path), names)
    less = Digests(FileDigests(tmp_path), names[1:])
    assert whole.group("reviews/tarn") != less.group("reviews/tarn")
    assert whole.group("reviews/fenn") == less.group("reviews/fenn") != whole.group("reviews/tarn")
    assert whole.group("reviews") != less.group("reviews")
