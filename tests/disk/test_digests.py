"""Digests of files: read again only where a file may have changed, and never taken for sure where its bytes don't tell all."""

import os
from hashlib import blake2b
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.disk import digests as module
from sitegen.disk.digests import RACY, Digests, FileDigests
from sitegen.disk.memory import key_of


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


@given(st.lists(st.from_regex(r"[ab.\-0]{1,3}(/[ab.\-0]{1,3}){0,2}", fullmatch=True), unique=True, max_size=12))
def test_searching_finds_the_files_that_going_through_all_finds(names: list[str]) -> None:
    """Whatever names begin alike: each group has its own files in order, and no other."""
    groups: dict[str, list[str]] = {}
    for name in sorted(names):
        first, _, rest = name.partition("/")
        within = rest.partition("/")[0]
        for group in {first, f"{first}/{within.rpartition('.')[0] or within}" if within else first}:
            groups.setdefault(group, []).append(name)
    digests = Digests(FileDigests(Path("nowhere")), names)
    for group in {*groups, "a", "a/b", "b."}:
        members = [part for name in groups.get(group, ()) for part in (name, "can't be read")]
        assert digests.group(group) == key_of("\0".join(members))


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
