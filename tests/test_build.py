"""A build as a whole: the same bytes whatever the surroundings, and errors leave the published site as it was."""

import os
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen.disk import output
from sitegen.disk.output import MARK
from sitegen.pipeline.build import build, check

ROOT = Path(__file__).parents[1]


def digest(site: Path) -> dict[str, str]:
    """Every file of a finished folder by its digest."""
    return {
        path.relative_to(site).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(site.rglob("*"))
        if path.is_file()
    }


def test_two_builds_give_identical_bytes_whatever_the_surroundings(tmp_path: Path) -> None:
    """Another order of sets, another locale, another time zone, another folder, a warm memory: the same files."""
    first = write(tmp_path / "one" / "pub")
    second = write(tmp_path / "two" / "elsewhere")
    assert build(first, tmp_path / "a", tmp_path / "memory" / "store").published
    assert build(first, tmp_path / "b", tmp_path / "memory" / "store").published
    surroundings = {
        **os.environ,
        "PYTHONHASHSEED": "4711",
        "LC_ALL": "de_DE.UTF-8",
        "LANGUAGE": "nl",
        "TZ": "Pacific/Apia",
        "COLUMNS": "40",
    }
    command = [sys.executable, "-m", "sitegen", "build", str(second), "--to", str(tmp_path / "c"), "--quiet"]
    done = subprocess.run(command, cwd=ROOT, env=surroundings, capture_output=True, text=True, timeout=300)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    expected = digest(tmp_path / "a")
    assert len(expected) > 40
    assert digest(tmp_path / "b") == expected
    assert digest(tmp_path / "c") == expected


def test_files_in_another_order_give_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What order the disk lists files in is nothing to a reader."""
    folder = write(tmp_path / "pub")
    assert build(folder, tmp_path / "a", None).published
    real = os.scandir

    class Backwards:
        def __init__(self, path: str) -> None:
            with real(path) as found:
                self.entries = sorted(found, key=lambda entry: entry.name, reverse=True)

        def __enter__(self) -> "list[os.DirEntry[str]]":
            return self.entries

        def __exit__(self, *_: object) -> None:
            return

    monkeypatch.setattr("sitegen.text.source.os.scandir", Backwards)
    assert build(folder, tmp_path / "b", None).published
    monkeypatch.undo()
    assert digest(tmp_path / "a") == digest(tmp_path / "b")


def test_errors_leave_the_published_site_as_it_was(tmp_path: Path) -> None:
    """A mistake stops a build before anything is published: same files, same times, nothing beside them."""
    folder = write(tmp_path / "pub")
    assert build(folder, tmp_path / "site", None).published
    before = digest(tmp_path / "site")
    times = {path: path.stat().st_mtime_ns for path in (tmp_path / "site").rglob("*")}
    write(folder, {"reviews/tarn/de.md": SMALL["reviews/tarn/de.md"].replace("{mass}", "{masse}")}, base={})
    built = build(folder, tmp_path / "site", None)
    assert not built.published and [problem.code for problem in built.problems] == ["value-unknown"]
    assert digest(tmp_path / "site") == before
    assert {path: path.stat().st_mtime_ns for path in (tmp_path / "site").rglob("*")} == times
    assert sorted(path.name for path in tmp_path.iterdir()) == ["pub", "site"]


def test_a_failure_while_writing_leaves_the_published_site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk in the middle of a build, or a key pressed to stop it: the old site stands, nothing is left over."""
    folder = write(tmp_path / "pub")
    assert build(folder, tmp_path / "site", None).published
    before = digest(tmp_path / "site")

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(output.Output, "finish", stop)
    with pytest.raises(KeyboardInterrupt):
        build(folder, tmp_path / "site", None)
    assert digest(tmp_path / "site") == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["pub", "site"]


def test_a_check_writes_nothing_and_finds_what_a_build_finds(tmp_path: Path) -> None:
    """The same problems in the same words, with no file made anywhere."""
    wrong = SMALL["reviews/tarn/en.md"].replace("{mass claimed}", "{spray claimed}").replace("{mass}", "{mas}")
    folder = write(tmp_path / "pub", {"reviews/tarn/en.md": wrong})
    files = sorted(tmp_path.rglob("*"))
    checked = check(folder)
    assert sorted(tmp_path.rglob("*")) == files
    built = build(folder, tmp_path / "site", None)
    assert checked.worst_first() == built.problems.worst_first()
    assert len(checked) == 2


def test_the_publication_itself_is_untouched(tmp_path: Path) -> None:
    """A build reads the author's files and changes none of them."""
    folder = write(tmp_path / "pub")
    before = digest(folder)
    assert build(folder, tmp_path / "site", None).published
    assert digest(folder) == before


def test_unchanged_pages_are_not_written_again(tmp_path: Path) -> None:
    """After one small change in one text, one page and what lists it are new; all else is the same file."""
    folder = write(tmp_path / "pub")
    assert build(folder, tmp_path / "site", tmp_path / "memory" / "store").published
    inodes = {path: path.stat().st_ino for path in (tmp_path / "site").rglob("*.html")}
    write(folder, {"about/de.md": SMALL["about/de.md"].replace("Eine Werkbank", "Zwei Werkbänke")}, base={})
    built = build(folder, tmp_path / "site", tmp_path / "memory" / "store")
    assert built.published and built.changed == 1
    changed = [path.name for path, inode in inodes.items() if path.stat().st_ino != inode]
    assert changed == ["about.html"]


def test_cautions_do_not_stop_a_build(tmp_path: Path) -> None:
    """What is only questioned is told, and the site is published."""
    folder = write(
        tmp_path / "pub", {"rounds/trousers/mass.csv": SMALL["rounds/trousers/mass.csv"].replace("411.5", "20000")}
    )
    built = build(folder, tmp_path / "site", None)
    assert built.published and built.problems.cautions and not built.problems.has_errors
    assert (tmp_path / "site" / MARK).is_file()


def test_a_stage_without_readings_yet_builds(tmp_path: Path) -> None:
    """A round in the middle of its work: the last stage is declared, nobody has measured it."""
    first = "\n".join(line for line in SMALL["rounds/trousers/spray.csv"].split("\n") if "washes" not in line)
    text = SMALL["reviews/tarn/de.md"].replace("{spray after 3 washes}", "{spray}")
    english = SMALL["reviews/tarn/en.md"].replace("{spray after 3 washes}", "{spray}")
    folder = write(
        tmp_path / "pub",
        {"rounds/trousers/spray.csv": first, "reviews/tarn/de.md": text, "reviews/tarn/en.md": english},
    )
    assert build(folder, tmp_path / "site", None).published


@pytest.mark.parametrize(
    "gone", ["rounds/trousers/mass.csv", "rounds/trousers/spray.csv", "rounds/trousers/run_time.csv"]
)
def test_a_protocol_without_readings_yet_builds(gone: str, tmp_path: Path) -> None:
    """A protocol is declared, its table isn't there yet: the pages say so in words."""
    plain = {
        name: SMALL[name]
        .replace("{spray after 3 washes}", "x")
        .replace("{mass of fenn}", "x")
        .replace("{mass claimed}", "x")
        .replace("{mass}", "x")
        for name in ("reviews/tarn/de.md", "reviews/tarn/en.md")
    }
    assert build(write(tmp_path / "pub", {**plain, gone: None}), tmp_path / "site", None).published
