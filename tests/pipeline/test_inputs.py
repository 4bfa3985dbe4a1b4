"""What a build is made from: files as they stand, whatever happens to them meanwhile."""

import datetime as dt
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import REVIEW_DE, ROUND, write

from sitegen.disk.store import DIGEST, digest_of
from sitegen.pipeline import reading
from sitegen.pipeline.build import build, check
from sitegen.pipeline.inputs import RACY, Sources, SourcesChanged

DAY = dt.date(2026, 10, 5)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with two files."""
    (tmp_path / "pub" / "a").mkdir(parents=True)
    (tmp_path / "pub" / "a" / "one.md").write_text("one")
    (tmp_path / "pub" / "a-b.md").write_text("two")
    return tmp_path / "pub"


def sources(folder: Path, known: dict[str, bytes] | None = None) -> Sources:
    """The files as they are now."""
    return Sources(folder, known or {}, DAY)


def age(folder: Path, *names: str) -> None:
    """As if the files had been left alone for long. The time of the entry can't be set back: the clock is, in tests that need it."""
    for name in names:
        os.utime(folder / name, (1, 1))


def test_a_digest_is_that_of_the_bytes(folder: Path) -> None:
    """Of a file that isn't there, is a folder, a pipe or can't be read, it is that of none, and nobody waits for it."""
    found = sources(folder)
    assert found.digest("a/one.md") == digest_of(b"one")
    os.mkfifo(folder / "pipe")
    assert (
        found.digest("nothing.md") == found.digest("a") == found.digest("pipe") == found.digest("a\0b") == bytes(DIGEST)
    )


def test_a_file_is_read_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that stands as it stood isn't opened again in a later session; one that was just written is."""
    first = sources(folder)
    first.digest("a/one.md")
    assert first.now == {}, "it may be written again within the same tick of the disk's clock"
    monkeypatch.setattr("sitegen.pipeline.inputs.time.time_ns", lambda: os.stat(folder / "a").st_ctime_ns + 2 * RACY)
    settled = sources(folder)
    digest = settled.digest("a/one.md")
    assert list(settled.now) == ["a/one.md"]
    second = sources(folder, settled.now)
    monkeypatch.setattr(second, "_read", lambda name: pytest.fail("it was read again"))
    assert second.digest("a/one.md") == digest and second.now == settled.now


@pytest.mark.parametrize(
    "change",
    [
        lambda path, before: path.write_text("eno"),
        lambda path, before: (path.write_text("eno"), os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))),
        lambda path, before: (path.with_name("x").write_text("eno"), path.with_name("x").rename(path)),
        lambda path, before: (path.unlink(), path.write_text("eno"), os.utime(path, ns=(1, before.st_mtime_ns))),
    ],
    ids=["written", "with the same size and time", "replaced", "made anew with the time of before"],
)
def test_a_change_is_seen(
    change: Callable[[Path, os.stat_result], object], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where size and time of the content are as they were: the time of the entry can't be set."""
    monkeypatch.setattr("sitegen.pipeline.inputs.time.time_ns", lambda: os.stat(folder / "a").st_ctime_ns + 2 * RACY)
    known = sources(folder)
    known.digest("a/one.md")
    assert known.now
    path = folder / "a" / "one.md"
    change(path, path.stat())
    assert sources(folder, known.now).digest("a/one.md") == digest_of(b"eno")


def test_names_come_and_go(folder: Path) -> None:
    """The list of names in a folder has another digest when one came, went or was renamed, and the same when only bytes
    changed; a folder isn't taken for one whose name begins alike."""
    found = sources(folder)
    assert (found.below("a"), found.below("a-b.md"), found.below("")) == (("a/one.md",), (), ("a-b.md", "a/one.md"))
    names, existence, day = (found.inputs()[kind] for kind in ("names", "exists", "day"))
    seen = [names("a")]
    (folder / "a" / "one.md").write_text("other")
    assert sources(folder).inputs()["names"]("a") == seen[0]
    (folder / "a" / "two.md").write_text("")
    seen.append(sources(folder).inputs()["names"]("a"))
    (folder / "a" / "two.md").rename(folder / "a" / "three.md")
    seen.append(sources(folder).inputs()["names"]("a"))
    (folder / "a" / "three.md").unlink(), (folder / "a" / "one.md").unlink()
    seen.append(sources(folder).inputs()["names"]("a"))
    assert len(set(seen)) == 4
    assert existence("a/one.md") != sources(folder).inputs()["exists"]("a/one.md") == existence("nothing")
    assert day() != Sources(folder, {}, dt.date(2026, 10, 6)).inputs()["day"]()


def test_a_file_that_changed_between_two_reads_is_told(folder: Path) -> None:
    """Whoever reads a file again and finds another one stops: what came of it would be half old, half new."""
    found = sources(folder)
    found.heard("a/one.md", b"one")
    found.heard("a/one.md", b"one")
    with pytest.raises(SourcesChanged, match=r"^a/one\.md$"):
        found.heard("a/one.md", b"eno")


def meanwhile(monkeypatch: pytest.MonkeyPatch, path: Path, texts: list[str]) -> None:
    """Have a file written anew, with the next of these texts, each time that a build has taken its digest."""
    real = Sources.digest

    def digest(self: Sources, name: str) -> bytes:
        found = real(self, name)
        if path.as_posix().endswith(f"/{name}") and texts:
            path.write_text(texts.pop(0), "utf-8")
        return found

    monkeypatch.setattr(Sources, "digest", digest)


@pytest.mark.parametrize("tries", [1, 9])
def test_a_publication_that_changes_while_it_is_read(
    tries: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once: it is built again from what stands now. Again and again: the file is named, and nothing is published."""
    folder, to, store = write(tmp_path / "pub"), tmp_path / "site", tmp_path / "cache" / "one.store"
    assert build(folder, to, store).published
    before = (to / "de/reviews/tarn.html").read_text("utf-8")
    path = folder / "reviews/tarn/de.md"
    first, *texts = (REVIEW_DE.replace("title: Tarn 3", f"title: Tarn {10 + number}") for number in range(tries + 1))
    path.write_text(first, "utf-8")
    meanwhile(monkeypatch, path, texts)
    built = build(folder, to, store)
    page = (to / "de/reviews/tarn.html").read_text("utf-8")
    if tries == 1:
        assert built.published and "Tarn 11" in page and "Tarn 10" not in page
        return
    assert [(problem.code, problem.place.file) for problem in built.problems] == [
        ("file-changing", "reviews/tarn/de.md")
    ]
    assert not built.published and page == before


NAMES = ("with\x1fseparator.md", "with\nline.md", "with\udc80byte.md", "wïth.md", "ledger\x1f.yaml", "esc\x1b.yaml")


def test_any_name_of_a_file_is_borne(tmp_path: Path) -> None:
    """Control characters and bytes that are no text, in names of files of any folder: reported, by the next check too."""
    folder, store = write(tmp_path / "pub"), tmp_path / "cache" / "one.store"
    for place in ("", "reviews/", "reviews/tarn/", "products/", "photos/", "rounds/trousers/", "protocols/", "theme/"):
        (folder / place).mkdir(exist_ok=True)
        for name in NAMES:
            (folder / f"{place}{name}").write_text("text")
    first, second = check(folder, store=store), check(folder, store=store)
    assert first.has_errors and list(first) == list(second)


def test_any_name_in_a_file_is_borne(tmp_path: Path) -> None:
    """YAML can write any character into a name that is looked for: it is reported, by the next check too."""
    letters = ("\\0", "\\x1f", "\\x1b", "\\n", "\\ud800")
    photos = ", ".join(f'{{file: "photos/a{letter}b.jpg", alt: Hose}}' for letter in letters)
    entrants = ", ".join(f'"ta{letter}rn"' for letter in letters)
    files = {
        "reviews/tarn/de.md": REVIEW_DE.replace("title: Tarn 3", f"title: Tarn 3\nphotos: [{photos}]", 1),
        "rounds/trousers/round.yaml": ROUND.replace("entrants: [", f"entrants: [{entrants}, ", 1),
    }
    assert files["rounds/trousers/round.yaml"] != ROUND
    folder, store = write(tmp_path / "pub", files), tmp_path / "cache" / "one.store"
    first, second = check(folder, store=store), check(folder, store=store)
    assert first.has_errors and list(first) == list(second)


def test_reading_is_that_of_the_open_session(small: Path) -> None:
    """A session that is over leaves nothing behind for the next one."""
    check(small)
    with pytest.raises(IndexError):
        reading.context()
