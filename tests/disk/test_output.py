"""The finished folder: at every instant the whole old site or the whole new one, and nobody else's files."""

import os
from pathlib import Path

import pytest

from sitegen.disk import output
from sitegen.disk.output import MARK, NotOurs, Output, clear_leftovers

OLD = {"index.html": b"old front", "de/a.html": b"same", "de/b.html": b"going"}
NEW = {"index.html": b"new front", "de/a.html": b"same", "en/c.html": b"coming"}


def publish(target: Path, files: dict[str, bytes]) -> Output:
    out = Output(target)
    for path, data in files.items():
        out.put(path, data)
    out.finish()
    return out


def held(target: Path) -> dict[str, bytes]:
    """What a visitor of the folder finds, without the mark."""
    return {
        path.relative_to(target).as_posix(): path.read_bytes()
        for path in sorted(target.rglob("*"))
        if path.is_file() and path.name != MARK
    }


def test_a_new_site_replaces_the_old_one_whole(tmp_path: Path) -> None:
    """After a build there is exactly what it made; nothing of the old site and nothing beside it is left."""
    target = tmp_path / "site"
    publish(target, OLD)
    assert held(target) == OLD
    publish(target, NEW)
    assert held(target) == NEW
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_unchanged_files_stay_the_same_files(tmp_path: Path) -> None:
    """What did not change keeps inode and time, so that a copy to a host moves only what is new."""
    target = tmp_path / "site"
    publish(target, OLD)
    os.utime(target / "de/a.html", (1_000_000, 1_000_000))
    before = (target / "de/a.html").stat()
    out = publish(target, NEW)
    after = (target / "de/a.html").stat()
    assert (before.st_ino, before.st_mtime_ns) == (after.st_ino, after.st_mtime_ns)
    assert out.unchanged >= 1 and out.changed <= 3  # whether the mark is counted is the output's own affair


def test_one_changed_file_is_renamed_over_the_old_one(tmp_path: Path) -> None:
    """After an edit within one page nothing else is touched: the folder stays the same one, and nothing lies beside it."""
    target = tmp_path / "site"
    publish(target, OLD)
    before = target.stat().st_ino, (target / "index.html").stat().st_ino
    with (target / "de/b.html").open("rb") as opened:
        out = publish(target, OLD | {"de/b.html": b"edited"})
        assert opened.read() == b"going"
    assert held(target) == OLD | {"de/b.html": b"edited"} and out.changed == 1
    assert before == (target.stat().st_ino, (target / "index.html").stat().st_ino)
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


@pytest.mark.parametrize("foreign", ["file", "folder", "link"])
def test_what_somebody_put_into_the_site_is_gone_after_any_build(foreign: str, tmp_path: Path) -> None:
    """The folder holds what was made and nothing else, also where nothing or one file differs."""
    target = tmp_path / "site"
    for files in (OLD, OLD | {"de/b.html": b"edited"}):
        publish(target, OLD)
        if foreign == "file":
            (target / "de/notes.txt").write_bytes(b"mine")
        elif foreign == "folder":
            (target / "de/empty").mkdir()
        else:
            (target / "de/a.html").rename(target / "moved.html")
            (target / "de/a.html").symlink_to("../moved.html")
        publish(target, files)
        assert held(target) == files and not (target / "de/empty").exists() and not (target / "de/a.html").is_symlink()


@pytest.mark.parametrize("fails", ["put", "sync", "exchange"])
def test_a_failure_in_the_middle_leaves_the_old_site_whole(
    fails: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk while writing, while flushing, at the swap itself: the published folder is the old site still."""
    target = tmp_path / "site"
    publish(target, OLD)

    def no_space(*_: object) -> None:
        raise OSError(28, "No space left on device")

    out = Output(target)
    out.put("index.html", b"new front")
    with pytest.raises(OSError, match="no space"):
        if fails == "put":
            monkeypatch.setattr(output, "_write", no_space)
            out.put("en/c.html", b"coming")
        else:
            monkeypatch.setattr(output, "_sync" if fails == "sync" else "_exchange", no_space)
            out.finish()
    monkeypatch.undo()
    assert held(target) == OLD
    out.discard()
    assert held(target) == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_the_swap_without_the_system_call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system can't exchange two names in one step, renaming does it, and nothing is left over."""
    target = tmp_path / "site"
    publish(target, OLD)
    monkeypatch.setattr(output, "_exchange", lambda one, other: False)
    publish(target, NEW)
    assert held(target) == NEW
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_the_second_rename_failing_puts_the_old_site_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the system call there is an instant with neither; if it goes wrong there, the old site comes back."""
    target = tmp_path / "site"
    publish(target, OLD)
    monkeypatch.setattr(output, "_exchange", lambda one, other: False)
    real, calls = os.rename, []

    def second_fails(one: object, other: object) -> None:
        calls.append(one)
        if len(calls) == 2:
            raise OSError(5, "Input/output error")
        real(one, other)  # type: ignore[arg-type]

    out = Output(target)
    out.put("index.html", b"new front")
    monkeypatch.setattr(os, "rename", second_fails)
    with pytest.raises(OSError, match="Input/output"):
        out.finish()
    monkeypatch.undo()
    assert held(target) == OLD


def test_a_folder_of_somebody_else_is_refused(tmp_path: Path) -> None:
    """A folder with files and without our mark is never swapped away; an empty one may be used."""
    theirs = tmp_path / "photos"
    theirs.mkdir()
    (theirs / "mother.jpg").write_bytes(b"x")
    with pytest.raises(NotOurs):
        Output(theirs)
    assert (theirs / "mother.jpg").read_bytes() == b"x"
    with pytest.raises(NotOurs):
        Output(theirs / "mother.jpg")
    (tmp_path / "empty").mkdir()
    publish(tmp_path / "empty", NEW)
    assert held(tmp_path / "empty") == NEW


def test_one_address_is_given_once(tmp_path: Path) -> None:
    """Two pages at one address would be one page lost."""
    out = Output(tmp_path / "site")
    out.put("a.html", b"1")
    with pytest.raises(ValueError, match=r"a\.html"):
        out.put("a.html", b"2")


def test_leftovers_of_builds_ended_by_force_are_cleared(tmp_path: Path) -> None:
    """A folder in the making that no living process holds is removed, whatever number its process had; one in use is let be."""
    target = tmp_path / "[site]"  # no pattern of names
    gone, other = tmp_path / f".{target.name}.next-{os.getpid()}-7", tmp_path / ".site.next-1-0"
    gone.mkdir()
    other.mkdir()
    living = Output(target)
    assert not gone.exists()
    clear_leftovers(target)
    living.put("index.html", b"front")
    living.finish()
    assert held(target) == {"index.html": b"front"} and other.exists()


def test_the_old_site_is_not_written_through_its_links(tmp_path: Path) -> None:
    """A changed file is a new one: the bytes of the old site, which others may hold open, never change under them."""
    target = tmp_path / "site"
    publish(target, OLD)
    with (target / "index.html").open("rb") as opened:
        publish(target, NEW)
        assert opened.read() == b"old front"


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError])
def test_nothing_is_left_of_one_that_did_not_begin(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: type[BaseException]
) -> None:
    """Ctrl-C, or a fault of the disk, just after the folder beside the site was made."""

    def claim(handle: int) -> None:
        raise fault

    monkeypatch.setattr(output, "_claim", claim)
    with pytest.raises(fault):
        Output(tmp_path / "site")
    assert list(tmp_path.iterdir()) == []


def test_the_others_are_taken_over_as_they_were_seen(tmp_path: Path) -> None:
    """Where one file differs it alone is replaced, where several do all are exchanged; the others stay in either case."""
    target = tmp_path / "site"
    publish(target, OLD)
    seen = [*OLD, MARK]
    for changed in ({"index.html": b"1"}, {"index.html": b"2", "de/a.html": b"2"}, {"de/b.html": b"going"}):
        before = held(target)
        out = Output(target)
        for path, data in changed.items():
            out.put(path, data)
        out.finish(lambda: seen)
        assert held(target) == before | changed and (target / MARK).is_file()
        assert [path.name for path in tmp_path.iterdir()] == ["site"]
