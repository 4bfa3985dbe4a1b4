"""Files come in as clean text with a digest, or as a problem that says how to mend them."""

import os
import shutil
import subprocess
import sys
from hashlib import blake2b
from pathlib import Path

import pytest

from sitegen.desk.telling import problems_text
from sitegen.pipeline.build import build, check
from sitegen.problems import Problems, render
from sitegen.text import source as source_module
from sitegen.text.source import Source, read_inside, read_source, shown_line, walk_sources

AS_TABLE = "save the table as CSV with the character set UTF-8"


def read(root: Path, name: str, data: bytes | None = None) -> tuple[Source | None, str]:
    if data is not None:
        (root / name).write_bytes(data)
    problems = Problems()
    found = read_source(root, name, problems)
    return found, "\n".join(render(p, shown_line(root, name, p.place.line)) for p in problems)


@pytest.mark.parametrize(
    "data",
    [b"a\nb\xc3\xa4\n", b"a\r\nb\xc3\xa4\r\n", b"a\rb\xc3\xa4\r", b"\xef\xbb\xbfa\nb\xc3\xa4\n"],
    ids=["LF", "CRLF", "CR", "byte order mark"],
)
def test_line_ends_and_byte_order_marks_make_no_difference(tmp_path: Path, data: bytes) -> None:
    """The text is the same on every system; the digest is that of the bytes."""
    found, said = read(tmp_path, "x.yaml", data)
    assert found == Source("x.yaml", "a\nbä\n", blake2b(data, digest_size=32).hexdigest())
    assert said == ""


def test_lines_are_counted_from_one() -> None:
    """A line that isn't there is empty, never an exception."""
    text = Source("x", "a\nb\n", "")
    assert [text.line(n) for n in (-1, 0, 1, 2, 3, 4)] == ["", "", "a", "b", "", ""]


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        pytest.param(
            "x.csv",
            b"\xef\xbb\xbfa,b\r\nf\xc3\xbcr,Pr\xfcfbank\r\n",
            "x.csv:2:7: error: expected text in UTF-8, found the byte FC, in Latin-1 the letter "
            "'ü' [not-utf8]\n"
            "    2 | für,Pr\ufffdfbank\n"
            "      |       ^\n"
            f"   hint: {AS_TABLE}",
            id="Latin-1",
        ),
        pytest.param(
            "x.yaml",
            b"name: \x81\n",
            "x.yaml:1:7: error: expected text in UTF-8, found the byte 81 [not-utf8]\n"
            "    1 | name: \ufffd\n"
            "      |       ^\n"
            "   hint: save the file with the encoding UTF-8",
            id="no letter at all",
        ),
        pytest.param(
            "x.csv",
            "a;b\n".encode("utf-16"),
            f"x.csv:1:1: error: expected text in UTF-8, found UTF-16 [not-utf8]\n   hint: {AS_TABLE}",
            id="UTF-16 with mark",
        ),
        pytest.param(
            "x.csv",
            "a;b\n".encode("utf-16-le"),
            f"x.csv:1:1: error: expected text in UTF-8, found UTF-16 [not-utf8]\n   hint: {AS_TABLE}",
            id="UTF-16 without mark",
        ),
        pytest.param(
            "x.yaml",
            b"a: 1\nb: 2\x1b[0m\x07\n",
            "x.yaml:2:5: error: expected text, found the invisible control character U+001B "
            "(and 1 more in this file) [control-character]\n"
            "    2 | b: 2␛[0m␇\n"
            "      |     ^\n"
            "   hint: delete it; it often comes with text pasted from another program",
            id="escape",
        ),
        pytest.param(
            "x.yaml",
            b"a: b\0c\n",
            "x.yaml:1:5: error: expected text, found the invisible control character U+0000 "
            "[control-character]\n"
            "   hint: delete it; it often comes with text pasted from another program",
            id="NUL",
        ),
        pytest.param(
            "x.md",
            "a \u202eb\n".encode(),
            "x.md:1:3: error: expected text, found the invisible control character U+202E "
            "[control-character]\n"
            "    1 | a \ufffdb\n"
            "      |   ^\n"
            "   hint: delete it; it often comes with text pasted from another program",
            id="override of direction",
        ),
        pytest.param(
            "x.md",
            "a \U0002fffe\n".encode(),
            "x.md:1:3: error: expected text, found the invisible control character U+2FFFE "
            "[control-character]\n"
            "    1 | a \ufffd\n"
            "      |   ^\n"
            "   hint: delete it; it often comes with text pasted from another program",
            id="noncharacter",
        ),
        pytest.param(
            "x.yaml",
            "a: 1\u2028b: 2".encode(),
            "x.yaml:1:5: error: expected text, found the invisible control character U+2028 "
            "[control-character]\n"
            "    1 | a: 1\ufffdb: 2\n"
            "      |     ^\n"
            "   hint: delete it; it often comes with text pasted from another program",
            id="line separator",
        ),
    ],
)
def test_bytes_that_are_no_text_are_named(tmp_path: Path, name: str, data: bytes, expected: str) -> None:
    """Where, what it was probably meant to be, and how to save it (cp1252 by the table of Python's codec)."""
    assert read(tmp_path, name, data) == (None, expected)


def test_a_missing_file_offers_the_nearest_name(tmp_path: Path) -> None:
    """A slip in a name is the commonest cause."""
    (tmp_path / "mass.csv").write_text("a")
    assert read(tmp_path, "Mass.cvs") == (
        None,
        "Mass.cvs:1:1: error: there is no file 'Mass.cvs' [file-missing]\n   hint: did you mean mass.csv?",
    )
    assert "hint: check the name; capitals count" in read(tmp_path, "no/such.md")[1]


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """Said plainly, not as the system's error."""
    (tmp_path / "rounds").mkdir()
    assert read(tmp_path, "rounds")[1] == ("rounds:1:1: error: expected a file, found the folder 'rounds' [file-kind]")


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """Opening a pipe without a writer would never end."""
    os.mkfifo(tmp_path / "p.csv")
    assert "expected a file, found a device or a pipe: 'p.csv' [file-kind]" in read(tmp_path, "p.csv")[1]


@pytest.mark.parametrize("name", ["../x", "a/../../x", "/etc/hostname", "C:/x", "a\\b", "", "a\0b"])
def test_a_path_stays_inside(tmp_path: Path, name: str) -> None:
    """Whatever a file of the publication names, nothing outside is opened."""
    found, said = read(tmp_path, name)
    assert found is None
    assert "[path-outside]" in said
    assert "hint: write it from the publication's folder, with '/' and without '..'" in said


def test_a_link_stays_inside_too(tmp_path: Path) -> None:
    """A link out of the publication is refused, one within it is followed, a loop is no exception."""
    root = tmp_path / "pub"
    root.mkdir()
    (tmp_path / "secret").write_text("s")
    (root / "real.md").write_text("r")
    (root / "out.md").symlink_to(tmp_path / "secret")
    (root / "in.md").symlink_to("real.md")
    (root / "loop.md").symlink_to("loop.md")
    assert read(root, "out.md") == (
        None,
        "out.md:1:1: error: 'out.md' is a link that leads out of the publication [path-outside]\n"
        "   hint: copy what it leads to into the publication's folder",
    )
    found, said = read(root, "in.md")
    assert found is not None and found.text == "r" and said == ""
    assert read(root, "loop.md")[0] is None


def test_a_huge_file_is_refused_by_its_kind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A text may have 4 MiB; a table, which a logger writes, more."""
    big = b"a" * (source_module.LARGEST_TEXT + 1)
    assert read(tmp_path, "big.md", big)[1] == (
        "big.md:1:1: error: expected at most 4 MiB, found a larger file [file-size]\n   hint: split it, or leave it out"
    )
    found, said = read(tmp_path, "big.csv", big)
    assert found is not None and said == ""


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_an_unreadable_file_is_named(tmp_path: Path) -> None:
    """Missing rights are the author's to mend."""
    (tmp_path / "x.md").write_text("x")
    (tmp_path / "x.md").chmod(0)
    assert "can't read 'x.md'" in read(tmp_path, "x.md")[1]


def test_a_folder_that_cannot_be_listed_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Going on without what is in it would lose texts in silence: the walk names it, and that is told as an error."""
    for name in ("publication.yaml", "reviews/a.md"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("x: y\n")
    listed = os.scandir

    def refuse(path: Path) -> object:
        if Path(path) == tmp_path / "reviews":
            raise PermissionError(13, "Permission denied", str(path))
        return listed(path)

    monkeypatch.setattr(os, "scandir", refuse)
    assert walk_sources(tmp_path) == ("publication.yaml", "reviews/")
    told = [problem for problem in check(tmp_path) if problem.code == "folder-unreadable"]
    assert [(problem.place.file, problem.message, problem.hint) for problem in told] == [
        ("reviews/", "can't list what is in this folder: the system refused it", "check its access rights")
    ]


def test_walking_lists_files_by_name(tmp_path: Path) -> None:
    """Sorted, relative, without dot-folders, without loops; a link that leads out is named, not followed."""
    root = tmp_path / "pub"
    for name in ("b.md", "a/c.csv", ".git/x", "a/.hidden", "photos/p.jpg"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text("x")
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside/x.md").write_text("x")
    (root / "out").symlink_to(tmp_path / "outside")
    (root / "a/up").symlink_to("..")
    (root / "a/self").symlink_to("self")
    (root / "a/pictures").symlink_to("../photos")
    (root / "a/link.md").symlink_to("../b.md")
    assert walk_sources(root) == ("a/c.csv", "a/link.md", "a/pictures/p.jpg", "b.md", "out/../", "photos/p.jpg")
    assert walk_sources(tmp_path / "nowhere") == ()


def test_folders_that_link_to_each_other_end(tmp_path: Path) -> None:
    """Links are not followed from within a linked folder."""
    for here, there in (("a", "b"), ("b", "a")):
        (tmp_path / here).mkdir()
        (tmp_path / here / f"{here}.md").write_text("x")
        (tmp_path / here / "other").symlink_to(f"../{there}")
    assert walk_sources(tmp_path) == ("a/a.md", "a/other/b.md", "b/b.md", "b/other/a.md")


def test_a_line_can_be_shown_of_a_file_that_is_no_text(tmp_path: Path) -> None:
    """Printing a problem needs the line even where reading failed."""
    (tmp_path / "x").write_bytes(b"\xef\xbb\xbfa\r\nb\xff\rc")
    assert [shown_line(tmp_path, "x", n) for n in (0, 1, 2, 3, 4)] == [None, "a", "b\ufffd", "c", None]
    assert shown_line(tmp_path, "../x", 1) is None


def publication(folder: Path) -> Path:
    """A small sound publication with everything that may be a link; beside it a secret."""
    root = folder / "pub"
    for name, text in {
        "publication.yaml": "name: Bench\nlead: en\neditions: [de]\naddress: https://bench.example/\nauthor: A. Bee\n"
        "policies: {paid: no, affiliate: no, advertising: no}\n",
        "about/en.md": "---\ntitle: About\n---\n\nText.\n",
        "theme/templates/text.html": '{% extends "stock/text.html" %}',
        "theme/extra.css": "p{margin:0}",
        "addresses.yaml": "",
    }.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    (folder / "secret").mkdir()
    (folder / "secret/word").write_text("OPEN-SESAME")
    return root


LINKED = ("publication.yaml", "about/en.md", "theme/templates/text.html", "theme/extra.css", "theme/templates", "theme",
          "about", "addresses.yaml", "photos")  # fmt: skip


@pytest.mark.parametrize("name", LINKED)
def test_no_link_leads_out_of_a_publication(name: str, tmp_path: Path) -> None:
    """Whatever it is that is a link to elsewhere: an error with the link's name, and nothing of what it leads to."""
    root = publication(tmp_path)
    path = root / name
    is_folder = path.is_dir() or name == "photos"
    shutil.rmtree(path, ignore_errors=True) if is_folder else path.unlink()
    path.symlink_to(tmp_path / "secret" if is_folder else tmp_path / "secret/word")
    found = build(root, tmp_path / "site", None)
    assert not found.published and not (tmp_path / "site").exists()
    told = {(problem.code, problem.place.file, problem.message) for problem in found.problems}
    assert ("path-outside", name, f"'{name}' is a link that leads out of the publication") in told
    assert "OPEN-SESAME" not in problems_text(root, found.problems)
    assert any(problem.code == "path-outside" for problem in check(root))


@pytest.mark.parametrize("name", ["about/en.md", "theme/templates/text.html", "theme/extra.css", "addresses.yaml"])
def test_no_pipe_is_waited_for(name: str, tmp_path: Path) -> None:
    """A pipe or a device in a file's place is an error at once."""
    root = publication(tmp_path)
    (root / name).unlink()
    os.mkfifo(root / name)
    found = build(root, tmp_path / "site", None)
    assert not found.published and any("pipe" in problem.message for problem in found.problems)


def test_links_within_a_publication_are_followed(tmp_path: Path) -> None:
    """Folders and files that stand elsewhere in it are read where they stand."""
    root = publication(tmp_path)
    (root / "theme").rename(root / "look")
    (root / "theme").symlink_to("look")
    (root / "look/extra.css").rename(root / "own.css")
    (root / "look/extra.css").symlink_to("../own.css")
    found = build(root, tmp_path / "site", None)
    assert found.published, problems_text(root, found.problems)
    assert any(b"p{margin:0}" in path.read_bytes() for path in (tmp_path / "site/assets").glob("*.css"))


def test_a_pipe_beside_a_translation_is_not_waited_for(tmp_path: Path) -> None:
    """What a translation follows is read through the same door."""
    root = publication(tmp_path)
    (root / "about/de.md").write_text("---\ntitle: Über\n---\n\nText.\n")
    os.mkfifo(root / "about/de.follows.yaml")
    done = subprocess.run(
        [sys.executable, "-m", "sitegen", "editions", root], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 1 and "found a device or a pipe: 'about/de.follows.yaml'" in done.stderr


def test_a_link_put_in_place_after_the_look_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between looking up a path and opening it somebody may exchange a folder for a link: nothing is followed then."""
    root = publication(tmp_path)
    (tmp_path / "secret/en.md").write_text("OPEN-SESAME")
    real = source_module._real

    def then_exchanged(top: Path, name: str) -> tuple[str, str]:
        found = real(top, name)
        shutil.rmtree(root / "about")
        (root / "about").symlink_to("../secret")
        return found

    monkeypatch.setattr(source_module, "_real", then_exchanged)
    with pytest.raises(OSError, match="about|symbolic|directory"):
        read_inside(root, "about/en.md")
