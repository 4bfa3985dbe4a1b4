"""Changing the author's files: whole or not at all, byte for byte, never over somebody's work."""

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.desk.write_source import (
    ChangedMeanwhile,
    InTheWay,
    create_file,
    edit_file,
    edited_bytes,
    replace_file,
)
from sitegen.editions.worksheets.edits import LineEdit, edited, line_edits
from sitegen.text.source import digest_of

LINES = st.lists(
    st.tuples(st.text(alphabet="abä #:", max_size=5), st.sampled_from(["\n", "\r\n", "\r"])), min_size=1, max_size=8
)


@given(LINES, st.booleans(), st.booleans())
def test_no_edit_changes_no_byte(lines: list[tuple[str, str]], mark: bool, ended: bool) -> None:
    """Whatever line ends are mixed, with a byte order mark or without."""
    text = "".join(line + end for line, end in lines)
    data = (b"\xef\xbb\xbf" if mark else b"") + (text if ended else text.rstrip("\r\n")).encode()
    assert edited_bytes(data, []) == data


@given(LINES, st.lists(st.text(alphabet="xyz", max_size=3), min_size=1, max_size=6))
def test_edits_of_bytes_and_of_text_agree(lines: list[tuple[str, str]], after: list[str]) -> None:
    """Seen with line feeds alone, an edited file is the edited text; lines that no edit touches keep their own ends."""
    data = "".join(line + "\n" for line, _ in lines).encode()
    before, after = data.decode().split("\n"), [*after, ""]  # the last line stays an ended one
    edits = line_edits(before, after)
    assert edited("\n".join(before), edits) == "\n".join(after)
    assert edited_bytes(data, edits).decode() == "\n".join(after)


def test_line_ends_stay_as_they_were() -> None:
    """New lines take the file's usual end; a mixed file stays mixed where nothing was changed."""
    data = b"\xef\xbb\xbfa\r\nb\nc\r\nd"
    assert edited_bytes(data, [LineEdit(3, 3, ("C", "CC"))]) == b"\xef\xbb\xbfa\r\nb\nC\r\nCC\r\nd"
    assert edited_bytes(data, [LineEdit(5, 4, ("e",))]) == b"\xef\xbb\xbfa\r\nb\nc\r\nd\r\ne"


def test_a_file_that_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """The command read something else: nothing is written, nothing is left beside."""
    path = tmp_path / "x.md"
    path.write_bytes(b"mine\n")
    with pytest.raises(ChangedMeanwhile):
        edit_file(tmp_path, "x.md", digest_of(b"older\n"), [LineEdit(1, 1, ("theirs",))])
    with pytest.raises(ChangedMeanwhile):
        replace_file(tmp_path, "gone.md", digest_of(b"older\n"), b"new")
    assert path.read_bytes() == b"mine\n" and os.listdir(tmp_path) == ["x.md"]


def test_a_new_file_is_never_put_over_another(tmp_path: Path) -> None:
    """Also not over one that differs by nothing."""
    create_file(tmp_path, "a/x.md", b"one")
    with pytest.raises(InTheWay):
        create_file(tmp_path, "a/x.md", b"two")
    assert (tmp_path / "a/x.md").read_bytes() == b"one" and os.listdir(tmp_path / "a") == ["x.md"]


def test_the_mode_stays_and_the_digest_comes_back(tmp_path: Path) -> None:
    """A file that only its author may read stays so."""
    path = tmp_path / "x.md"
    path.write_bytes(b"a\nb\n")
    path.chmod(0o600)
    assert edit_file(tmp_path, "x.md", digest_of(b"a\nb\n"), [LineEdit(2, 2, ("B",))]) == digest_of(b"a\nB\n")
    assert path.stat().st_mode & 0o777 == 0o600 and path.read_bytes() == b"a\nB\n"


def test_a_disk_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault between writing beside and renaming: the old text stands, nothing is left over."""
    path = tmp_path / "x.md"
    path.write_bytes(b"a\n")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OSError, match="No space"):
        edit_file(tmp_path, "x.md", digest_of(b"a\n"), [LineEdit(1, 1, ("b",))])
    assert path.read_bytes() == b"a\n" and os.listdir(tmp_path) == ["x.md"]
