"""A disk that fills up or refuses: a sentence that names the folder, and the old site unharmed."""

import errno
import os
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL, write

from bench.killed import digest
from sitegen.cli import main
from sitegen.disk import output
from sitegen.disk.output import CannotWrite, Output

OLD = {"index.html": b"old front", "de/a.html": b"same", "de/b.html": b"going"}
NEW = {"index.html": b"new front", "de/a.html": b"same", "en/c.html": b"coming"}
CALLS = ("open", "write", "mkdir", "link", "rename")


def publish(target: Path, files: dict[str, bytes]) -> None:
    out = Output(target)
    try:
        for path, data in files.items():
            out.put(path, data)
        out.finish()
    except BaseException:
        out.discard()
        raise


def fill_up(monkeypatch: pytest.MonkeyPatch, after: int) -> None:
    """From the call `after` on, whatever needs room finds none; reading and removing go on."""
    done = 0

    def full(real: Any, name: str) -> Any:
        def call(*words: Any, **named: Any) -> Any:
            nonlocal done
            needs_room = name != "open" or (len(words) > 1 and words[1] & os.O_CREAT)
            done += bool(needs_room)
            if needs_room and done > after:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return real(*words, **named)

        return call

    for name in CALLS:
        monkeypatch.setattr(os, name, full(getattr(os, name), name))


def test_full_at_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever the room runs out, the folder is named, the old site stands whole, and nothing half-made is left."""
    target = tmp_path / "site"
    publish(target, OLD)
    old, failed = digest(target), 0
    while True:
        fill_up(monkeypatch, failed)
        try:
            publish(target, NEW)
        except CannotWrite as fault:
            monkeypatch.undo()
            assert str(fault) == f"no space is left on the disk of '{target}'"
            assert digest(target) == old and os.listdir(tmp_path) == ["site"]
            failed += 1
            continue
        monkeypatch.undo()
        break
    assert failed > 5 and digest(target) != old and os.listdir(tmp_path) == ["site"]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "no space is left on the disk of '{target}'"),
        (errno.EROFS, "the disk of '{target}' can only be read"),
        (errno.EACCES, "you may not write into '{parent}'"),
        (errno.EIO, "Input/output error: '{target}'"),
    ],
)
def test_the_command_says_it_in_a_sentence(
    number: int,
    said: str,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit code 1 and one sentence; the site is as it was, and with room again the next build works."""
    target = tmp_path / "site"
    words = ["build", str(small), "--to", str(target), "--quiet"]
    assert main(words) == 0
    old = digest(target)
    write(small, {"about/de.md": SMALL["about/de.md"].replace("Eine", "Keine")}, base={})

    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(output, "_write", refuse)
    capsys.readouterr()
    assert main(words) == 1
    sentence = said.format(target=target, parent=tmp_path)
    told = f"sitegen: the site could not be written: {sentence}; the published one is as it was\n"
    assert capsys.readouterr().err == told
    assert digest(target) == old
    assert sorted(path.name for path in tmp_path.iterdir()) == ["moorkamp", "site"]
    monkeypatch.undo()
    assert main(words) == 0 and digest(target) != old


def test_a_target_that_is_a_file_is_let_be(small: Path, tmp_path: Path) -> None:
    """Wrong use, exit code 2; the file keeps its bytes."""
    (tmp_path / "site").write_text("mine")
    assert main(["build", str(small), "--to", str(tmp_path / "site")]) == 2
    assert (tmp_path / "site").read_text() == "mine"


def test_a_mounted_target_is_refused_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder on which a disk is mounted can't be exchanged; that is said before anything is made."""
    monkeypatch.setattr(os.path, "ismount", lambda path: True)
    with pytest.raises(CannotWrite, match="where a disk is mounted"):
        Output(tmp_path / "site")
    assert os.listdir(tmp_path) == []
