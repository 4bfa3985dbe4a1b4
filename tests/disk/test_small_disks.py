"""Disks that are really full, read-only or mounted in the way: the command's sentence, and every byte of the site."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from builders import SMALL, write
from disk.mounts import apart, bound, closed, fill, resized, small_disk
from rich_publication import DAY, write_rich

from bench.killed import digest

REPOSITORY = Path(__file__).resolve().parents[2]
EDITED = {
    "about/de.md": SMALL["about/de.md"].replace("Eine", "Keine"),
    "publication.yaml": SMALL["publication.yaml"].replace("Ilse", "Ilka"),
}


def built(folder: Path, to: Path) -> tuple[int, str]:
    """The command as an author runs it: exit code, and what it says of faults."""
    command = [sys.executable, "-m", "sitegen", "build", str(folder), "--to", str(to), "--quiet", "--date", DAY]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, timeout=300)
    assert done.stdout == "" and "Traceback" not in done.stderr, done.stderr
    return done.returncode, done.stderr


def refused(why: str) -> tuple[int, str]:
    return 1, f"sitegen: the site could not be written: {why}; the published one is as it was\n"


def beside(disk: Path) -> set[str]:
    """What stands on a disk besides what fills it."""
    return set(os.listdir(disk)) - {"filler"}


def test_a_full_disk(tmp_path: Path) -> None:
    """However much room is left, down to none, a build that doesn't fit says so, exit code 1; the old site stands whole
    and nothing is left beside it. With room again it works."""

    def small_room() -> None:
        disk = tmp_path / "disk"
        small_disk(disk, "8m")
        write(tmp_path / "pub")
        assert built(tmp_path / "pub", disk / "site") == (0, "")
        old = digest(disk / "site")
        write(tmp_path / "pub", EDITED, base={})
        codes = []
        for leaving in (0, 65_536, 262_144, 1_048_576):
            fill(disk, leaving)
            codes.append(built(tmp_path / "pub", disk / "site"))
            (disk / "filler").unlink()
            assert beside(disk) == {"site"}
            if codes[-1][0] == 0:
                break
            assert codes[-1] == refused(f"no space is left on the disk of '{disk / 'site'}'")
            assert digest(disk / "site") == old
        assert codes[-1] == (0, "") and len(codes) >= 2
        assert built(tmp_path / "pub", tmp_path / "clean") == (0, "")
        assert digest(disk / "site") == digest(tmp_path / "clean")

    apart(small_room)


@pytest.mark.parametrize("files", [3, 40])
def test_a_first_site_that_does_not_fit(files: int, tmp_path: Path) -> None:
    """Where there was no site, there is none afterwards, not even a part; here it is the number of files that is short."""

    def few_files() -> None:
        disk = tmp_path / "disk"
        small_disk(disk, "8m", files)
        write(tmp_path / "pub")
        assert built(tmp_path / "pub", disk / "site") == refused(f"no space is left on the disk of '{disk / 'site'}'")
        assert beside(disk) == set()
        resized(disk, size="8m")
        assert built(tmp_path / "pub", disk / "site") == (0, "")
        assert built(tmp_path / "pub", tmp_path / "clean") == (0, "")
        assert digest(disk / "site") == digest(tmp_path / "clean")

    apart(few_files)


@pytest.mark.parametrize("size", ["4k", "200k"])
def test_a_store_that_fills_its_disk(size: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The site is made all the same, now and later: what is stored in part is no use and does no harm."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def little_room() -> None:
        write_rich(tmp_path / "pub")
        assert built(tmp_path / "pub", tmp_path / "clean")[0] == 0
        shutil.rmtree(tmp_path / "cache")
        small_disk(tmp_path / "cache", size)
        for room in (size, size, "64m"):
            resized(tmp_path / "cache", size=room)
            assert built(tmp_path / "pub", tmp_path / "site")[0] == 0
            assert digest(tmp_path / "site") == digest(tmp_path / "clean")
        write(tmp_path / "pub", {"about/de.md": EDITED["about/de.md"]}, base={})
        assert built(tmp_path / "pub", tmp_path / "clean")[0] == 0
        assert built(tmp_path / "pub", tmp_path / "site")[0] == 0
        assert digest(tmp_path / "site") == digest(tmp_path / "clean")

    apart(little_room)


def test_a_store_that_can_only_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The site is that of a clean build, whatever can't be stored."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("MPLCONFIGDIR", str(tmp_path / "fonts"))  # the drawing library keeps its list of fonts elsewhere

    def nothing_new_stored() -> None:
        write(tmp_path / "pub")
        small_disk(tmp_path / "cache", "64m")
        assert built(tmp_path / "pub", tmp_path / "site") == (0, "")
        closed(tmp_path / "cache")
        write(tmp_path / "pub", EDITED, base={})
        assert built(tmp_path / "pub", tmp_path / "site") == (0, "")
        assert built(tmp_path / "pub", tmp_path / "clean") == (0, "")
        assert digest(tmp_path / "site") == digest(tmp_path / "clean")

    apart(nothing_new_stored)


def test_a_disk_that_can_only_be_read(tmp_path: Path) -> None:
    """That is said, exit code 1, and nothing moves; also where there is no site yet."""

    def read_only() -> None:
        disk = tmp_path / "disk"
        small_disk(disk, "8m")
        write(tmp_path / "pub")
        assert built(tmp_path / "pub", disk / "site") == (0, "")
        old = digest(disk / "site")
        closed(disk)
        write(tmp_path / "pub", EDITED, base={})
        for name in ("site", "other"):
            told = refused(f"the disk of '{disk / name}' can only be read")
            assert built(tmp_path / "pub", disk / name) == told
        assert digest(disk / "site") == old and beside(disk) == {"site"}

    apart(read_only)


@pytest.mark.parametrize("kind", ["a disk of its own", "a folder of the same disk"])
@pytest.mark.parametrize("held", ["a site", "nothing"])
def test_a_target_that_is_mounted(kind: str, held: str, tmp_path: Path) -> None:
    """A mounted folder can't be exchanged for another: that is said, and what it holds stays; one inside it will do."""

    def mounted() -> None:
        target = tmp_path / "here" / "site"
        write(tmp_path / "pub")
        if held == "a site":
            assert built(tmp_path / "pub", tmp_path / "there") == (0, "")
        (tmp_path / "there").mkdir(exist_ok=True)
        if kind == "a disk of its own":
            small_disk(tmp_path / "disk", "8m")
            subprocess.run(["cp", "-r", str(tmp_path / "there"), str(tmp_path / "disk/there")], check=True)
        bound(tmp_path / ("disk/there" if kind == "a disk of its own" else "there"), target)
        write(tmp_path / "pub", EDITED, base={})
        old = digest(target)
        why = f"'{target}' is where a disk is mounted and can't be exchanged; choose a folder inside it with --to"
        assert built(tmp_path / "pub", target) == refused(why)
        assert digest(target) == old and beside(tmp_path / "here") == {"site"}
        if held == "nothing":
            assert built(tmp_path / "pub", target / "inside") == (0, "")

    apart(mounted)
