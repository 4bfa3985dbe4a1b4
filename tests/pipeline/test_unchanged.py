"""The build that has nothing to do: answered before the tool is loaded, and only where really nothing changed."""

import datetime as dt
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sitegen.disk.cache_folder import cache_file
from sitegen.pipeline import unchanged
from sitegen.pipeline.unchanged import is_settled, look, remember, scan, state

REPOSITORY = Path(__file__).resolve().parents[2]
DAY = dt.date.today().isoformat()


@pytest.fixture
def built(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder and its published site, with the scan of a build that printed something."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(unchanged, "RACY", 0)  # what was just written counts as left alone
    for name in ("pub/publication.yaml", "pub/reviews/a/en.md", "pub_built/index.html", "pub_built/en/index.html"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("text", "utf-8")
    pub, site = str(tmp_path / "pub"), str(tmp_path / "pub_built")
    remember(look(pub), pub, site, DAY, "a caution\n", "3 pages\n")
    return tmp_path


def ask(root: Path, *words: str) -> tuple[int | None, str, str]:
    """The answer in a process of its own, with what it said on both streams; a 9 stands for "there is something to do"."""
    code = "import sys; from sitegen.pipeline.unchanged import answer; a = answer(sys.argv[1:]); sys.exit(9 if a is None else a)"
    found = subprocess.run(
        [sys.executable, "-c", code, "build", *(words or (str(root / "pub"),))],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=False,
    )
    return found.returncode, found.stdout, found.stderr


def test_the_same_is_said_again(built: Path) -> None:
    """Nothing changed: exit code, problems and counts are those of the last build."""
    assert ask(built) == (0, "3 pages\n", "a caution\n")
    assert ask(built, str(built / "pub"), "--quiet", "--to", str(built / "pub_built")) == (0, "", "a caution\n")


def stored(root: Path) -> Path:
    """The file of the scan."""
    found = cache_file("scan", str(root / "pub"), str(root / "pub_built"))
    assert found is not None
    return Path(found)


def _rewritten(path: Path) -> None:
    before = path.stat()
    path.write_text("next", "utf-8")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


CHANGES: dict[str, Callable[[Path], object]] = {
    "a file edited": lambda root: (root / "pub/publication.yaml").write_text("texts", "utf-8"),
    "a file touched": lambda root: os.utime(root / "pub/publication.yaml", ns=(1, 1)),
    "a file added": lambda root: (root / "pub/reviews/b.md").write_text("", "utf-8"),
    "a file renamed": lambda root: (root / "pub/reviews/a/en.md").rename(root / "pub/reviews/a/de.md"),
    "a file gone": lambda root: (root / "pub/reviews/a/en.md").unlink(),
    "an empty folder": lambda root: (root / "pub/guides").mkdir(),
    "a published file edited": lambda root: (root / "pub_built/index.html").write_text("mine", "utf-8"),
    "a published file gone": lambda root: (root / "pub_built/en/index.html").unlink(),
    "a link": lambda root: (root / "pub/x").symlink_to(root),
    "the same length at the same time": lambda root: _rewritten(root / "pub/publication.yaml"),
    "the scan cut": lambda root: os.truncate(stored(root), 60),
    "the scan gone": lambda root: stored(root).unlink(),
}


def test_what_no_publication_is_read_from_is_no_change(built: Path) -> None:
    """An editor's own files and those of version control begin with a dot."""
    (built / "pub/reviews/a/.en.md.swp").write_text("half a sentence", "utf-8")
    (built / "pub/reviews/a/.#en.md").symlink_to("nobody@nowhere:1")
    (built / "pub/.versions").mkdir()
    assert ask(built)[0] == 0


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_is_seen(built: Path, name: str) -> None:
    """Whatever changed in the publication, the site or the state itself: there is something to do."""
    CHANGES[name](built)
    assert ask(built)[0] == 9


def test_any_flipped_bit_of_the_state_is_seen(built: Path) -> None:
    """A state with one bit flipped is never taken for the truth."""
    path = stored(built)
    whole = path.read_bytes()
    for at in range(0, len(whole), max(1, len(whole) // 12)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        assert ask(built)[0] == 9


def test_another_day_is_a_change(built: Path) -> None:
    """What may be shown depends on the day, so yesterday's answer isn't today's."""
    remember(look(str(built / "pub")), str(built / "pub"), str(built / "pub_built"), "2001-01-01", "", "")
    assert ask(built)[0] == 9


@pytest.mark.parametrize("words", [("--date", "2026-01-01"), ("--unknown",), ("a", "b")])
def test_what_it_does_not_understand_is_left_to_the_tool(built: Path, words: tuple[str, ...]) -> None:
    """Other options and wrong use are answered by the tool itself."""
    assert ask(built, *words)[0] == 9


def test_a_folder_with_links_is_never_vouched_for(tmp_path: Path) -> None:
    """What a link leads to can change unseen, so such a publication is always read."""
    (tmp_path / "x").symlink_to(REPOSITORY)
    assert scan(str(tmp_path)) == b"" == state(b"", str(tmp_path), DAY)


def test_what_changed_while_it_was_built_is_not_vouched_for(built: Path) -> None:
    """A look that was taken before the build is worth nothing where a look after it shows something else."""
    pub, site = str(built / "pub"), str(built / "pub_built")
    before = look(pub)
    (built / "pub/publication.yaml").write_text("an edit in the middle of a build", "utf-8")
    stored(built).unlink()
    remember(before, pub, site, DAY, "", "")
    assert not stored(built).exists()


def test_a_file_just_written_may_be_written_again_unseen(built: Path) -> None:
    """Within one tick of a disk's clock a second edit of the same size leaves the same times (FAT: two seconds)."""
    newest = max(path.stat().st_ctime_ns for path in (built / "pub").rglob("*"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(unchanged, "RACY", 2_000_000_000)
        assert not is_settled(look(str(built / "pub")), newest + 1_999_999_999)
        assert is_settled(look(str(built / "pub")), newest + 2_000_000_001)


def test_nothing_else_is_loaded() -> None:
    """The answer needs no module of the tool but its own, and none of the libraries."""
    code = "import sys; before = set(sys.modules); import sitegen.pipeline.unchanged; print(*sorted(set(sys.modules) - before))"
    found = subprocess.run([sys.executable, "-c", code], cwd=REPOSITORY, capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in found.stdout.split()}
    heavy = "argparse babel dataclasses hashlib jinja2 markdown_it matplotlib pathlib re scipy typing yaml"
    assert not loaded & set(heavy.split())
