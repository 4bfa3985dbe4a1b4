"""The finished folder: at every instant the whole old site or the whole new one, and nobody else's files."""

import os
import shutil
from pathlib import Path

import pytest
from builders import write

from sitegen.cli import main
from sitegen.disk import output
from sitegen.disk.output import MARK, CameMeanwhile, CannotWrite, NotOurs, Output, clear_leftovers

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


FOREIGN = {
    "file": ("de/notes.txt", lambda path: path.write_bytes(b"mine")),
    "hidden": (".well-known/token", lambda path: path.write_bytes(b"mine")),
    "edited page": ("de/b.html", lambda path: path.write_bytes(b"mine")),
    "link": ("de/a.html", lambda path: (path.unlink(), path.symlink_to("b.html"))),
    "pipe": ("de/pipe", os.mkfifo),
}


@pytest.mark.parametrize("foreign", FOREIGN)
def test_what_the_last_build_did_not_write_stops_the_next(foreign: str, tmp_path: Path) -> None:
    """Whatever somebody put into the site or changed there is named and stays, whether the new one is larger or another."""
    target = tmp_path / "site"
    name, put = FOREIGN[foreign]
    publish(target, OLD)
    (target / name).parent.mkdir(exist_ok=True)
    put(target / name)
    before = sorted((path, path.lstat().st_ino) for path in target.rglob("*"))
    for files in (NEW, OLD | {"de/b.html": b"edited", "index.html": b"edited"}, {"index.html": b"1"}):
        out = Output(target)
        for path, data in files.items():
            out.put(path, data)
        with pytest.raises(NotOurs, match=f"did not write, or not as they are now: '{name}'$"):
            out.finish()
        out.discard()
        assert sorted((path, path.lstat().st_ino) for path in target.rglob("*")) == before
        assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_a_folder_without_files_is_no_loss(tmp_path: Path) -> None:
    """An empty folder is gone after the next build, which holds what was made and nothing else."""
    target = tmp_path / "site"
    for files in (OLD, OLD | {"de/b.html": b"edited"}):
        publish(target, OLD)
        (target / "de/empty").mkdir()
        publish(target, files)
        assert held(target) == files and not (target / "de/empty").exists()


def test_names_left_beside_the_site_stay(tmp_path: Path) -> None:
    """Files, links and folders with all in them, as they are: the first time, when all is exchanged, when one page differs."""
    target = tmp_path / "site"
    (target / ".git/objects/empty").mkdir(parents=True)
    (target / ".git/objects/1").write_bytes(b"object")
    (target / ".git/objects/1").chmod(0o444)
    (target / ".git/HEAD").symlink_to("objects/1")
    (target / "CNAME").write_bytes(b"bench.example")
    beside = {path.relative_to(target): path.lstat().st_mode for path in target.rglob("*")}
    numbers = {path: (target / path).lstat().st_ino for path in beside if not (target / path).is_dir()}
    for files in (OLD, NEW, NEW, NEW | {"index.html": b"edited"}, OLD):
        out = Output(target, (".git", "CNAME", ".well-known"))
        for path, data in files.items():
            out.put(path, data)
        out.finish()
        assert {path: (target / path).lstat().st_mode for path in beside} == beside
        assert {path: (target / path).lstat().st_ino for path in numbers} == numbers
        found = held(target)
        assert {path: data for path, data in found.items() if path in files} == files
        assert set(found) - set(files) == {".git/HEAD", ".git/objects/1", "CNAME"}
        assert [path.name for path in tmp_path.iterdir()] == ["site"]
    with pytest.raises(NotOurs, match=r"'\.git/.*CNAME"):
        publish(target, NEW)


def test_a_name_left_beside_that_the_site_has_too_is_told(tmp_path: Path) -> None:
    """One of the two would be lost."""
    target = tmp_path / "site"
    target.mkdir()
    (target / "index.html").write_bytes(b"mine")
    out = Output(target, ["index.html"])
    out.put("index.html", b"made")
    with pytest.raises(CannotWrite, match="'index.html' is to be kept beside the site"):
        out.finish()
    out.discard()
    assert (target / "index.html").read_bytes() == b"mine"


def test_a_copy_of_a_site_among_other_files_takes_none_of_them(tmp_path: Path) -> None:
    """A web root that received a copy holds the list too; it vouches for the copied files and for nothing else."""
    publish(tmp_path / "site", OLD)
    root = tmp_path / "www"
    for name in ("data/orders.db", ".well-known/token", "de/own.html"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(b"theirs")
    shutil.copytree(tmp_path / "site", root, dirs_exist_ok=True)
    before = held(root)
    with pytest.raises(NotOurs, match=r"'\.well-known/token', 'data/orders\.db', 'de/own\.html'"):
        publish(root, NEW)
    assert held(root) == before
    photos = tmp_path / "photos"
    photos.mkdir()
    (photos / "index.html").write_bytes(b"theirs")
    shutil.copy(tmp_path / "site" / MARK, photos)
    with pytest.raises(NotOurs, match=r"'index\.html'"):
        publish(photos, OLD)
    assert (photos / "index.html").read_bytes() == b"theirs"


def test_folders_that_are_called_like_ours_stay(tmp_path: Path) -> None:
    """The name alone makes no folder beside the site one in the making, nor does a copy of what is in such a one."""
    target = tmp_path / "site"
    theirs = tmp_path / ".site.next-notes"
    theirs.mkdir()
    (theirs / "a.md").write_bytes(b"theirs")
    publish(target, OLD)
    out = Output(target)
    making = next(path for path in tmp_path.iterdir() if path.name.startswith(".site.next-") and path != theirs)
    shutil.copytree(making, copy := tmp_path / ".site.next-copy")
    (copy / "b.md").write_bytes(b"theirs")
    out.discard()
    publish(target, NEW)
    assert (theirs / "a.md").exists() and (copy / "b.md").exists() and held(target) == NEW


def test_what_comes_into_the_old_site_at_the_last_instant_is_not_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the last look and the exchange: the new site is published, and the folder that holds the rest is named."""
    target = tmp_path / "site"
    publish(target, OLD)
    real = output.swap

    def swap(new: Path, old: Path) -> None:
        (old / "de/late.txt").write_bytes(b"theirs")
        real(new, old)

    monkeypatch.setattr(output, "swap", swap)
    with pytest.raises(CameMeanwhile) as fault:
        publish(target, NEW)
    assert held(target) == NEW and (Path(str(fault.value)) / "de/late.txt").read_bytes() == b"theirs"
    monkeypatch.undo()
    publish(target, OLD)
    assert (Path(str(fault.value)) / "de/late.txt").read_bytes() == b"theirs"


def test_a_build_ended_between_a_page_and_the_list_is_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page is known as ours even if several builds fail before the next one publishes."""
    target = tmp_path / "site"
    publish(target, OLD)
    real, calls = os.replace, []

    def second_fails(one: object, other: object) -> None:
        calls.append(one)
        if len(calls) == 2:
            raise KeyboardInterrupt
        real(one, other)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "replace", second_fails)
    with pytest.raises(KeyboardInterrupt):
        publish(target, OLD | {"de/b.html": b"edited"})
    monkeypatch.undo()
    clear_hold = Output(target)  # still held by the one above in this process, as by none after a kill
    clear_hold.discard()
    for folder in tmp_path.glob(".site.next-*"):
        monkeypatch.setattr(output, "_in_use", lambda folder: False)
        assert (folder / MARK).exists()
    Output(target).discard()
    assert list(tmp_path.glob(".site.next-*")) == []
    publish(target, OLD | {"de/b.html": b"again"})
    assert held(target)["de/b.html"] == b"again"


@pytest.mark.parametrize("path", ["../a", "/etc/a", "a/../../b", "a//b", "./a", "a\\b", "a\nb", "", MARK])
def test_no_file_is_put_outside_the_site(path: str, tmp_path: Path) -> None:
    """Whoever gives an address, a worker on another machine too."""
    out = Output(tmp_path / "site")
    with pytest.raises(ValueError, match="no file can have the address"):
        out.put(path, b"x")
    with pytest.raises(ValueError, match="no file can have the address"):
        out.keep(path)
    out.discard()
    assert list(tmp_path.iterdir()) == []


def test_the_list_is_the_same_however_the_site_came_about(tmp_path: Path) -> None:
    """Built at once, after an edit, or with the rest taken over: byte for byte."""
    new = OLD | {"de/b.html": b"edited"}
    publish(tmp_path / "at-once", new)
    publish(tmp_path / "edited", OLD)
    publish(tmp_path / "edited", new)
    publish(tmp_path / "rest", OLD)
    out = Output(tmp_path / "rest")
    out.put("de/b.html", b"edited")
    out.finish(lambda: [*OLD, MARK])
    lists = {(tmp_path / name / MARK).read_bytes() for name in ("at-once", "edited", "rest")}
    assert len(lists) == 1 and b"de/b.html" in lists.pop()


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


def test_a_build_names_what_it_would_have_removed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On the command line too, in one sentence that says what to do; the site stands as it was."""
    write(tmp_path / "pub")
    command = ["build", str(tmp_path / "pub"), "--to", str(tmp_path / "site")]
    command.append("--quiet")
    assert main(command) == 0
    (tmp_path / "site/CNAME").write_bytes(b"bench.example")
    before = held(tmp_path / "site")
    capsys.readouterr()
    assert main(command) == 2
    assert capsys.readouterr().err == (
        f"sitegen: '{tmp_path / 'site'}' holds files that the last build did not write, or not as they are now: 'CNAME'; "
        "move them away, or name them under 'keep' in publication.yaml\n"
    )
    assert held(tmp_path / "site") == before
