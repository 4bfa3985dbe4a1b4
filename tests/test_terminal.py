"""Whatever a command's streams, locale, environment and names of folders are like, it ends in a sentence."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from builders import write

from sitegen import __main__ as command
from sitegen import cli
from sitegen.terminal import harmless

ROOT = Path(__file__).parents[1]


def run(line: str, folder: Path, **environment: str) -> "subprocess.CompletedProcess[str]":
    """A line of the shell in `folder`, where `sitegen` is the command; output and error stream in one."""
    script = f'sitegen() {{ "{sys.executable}" -m sitegen "$@"; }}; {line}'
    known = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.run(
        ["bash", "-c", script],
        cwd=folder,
        env={**known, "PYTHONPATH": str(ROOT), **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=120,
    )


LOST = "sitegen: the output could not be written: No space left on device\n"


@pytest.mark.parametrize("arguments", ["check . --quiet", "findings --in .", "editions .", "--version", "build --help"])
def test_an_output_that_cannot_be_written_is_told(arguments: str, small: Path) -> None:
    """Where the disk that takes the output is full, the error stream says so and the exit code is 1; no traceback."""
    done = run(
        f"sitegen {arguments.replace(' --quiet', '')} 2>&1 >/dev/full | grep -v …; exit ${{PIPESTATUS[0]}}", small
    )
    assert (done.stdout, done.returncode) == (LOST, 1)


def test_a_report_that_cannot_be_written_stops_no_build(small: Path, tmp_path: Path) -> None:
    """The site is published before anything is printed of it, the first time and where nothing changed."""
    for _ in range(2):
        done = run(f"sitegen build . --to {tmp_path}/site 2>&1 >/dev/full | tail -1; exit ${{PIPESTATUS[0]}}", small)
        assert (done.stdout, done.returncode) == (LOST, 1)
        assert (tmp_path / "site" / "index.html").is_file()


@pytest.mark.parametrize("closed", ["2>&-", ">&-", ">&- 2>&-", "2>/dev/full"])
def test_streams_that_nobody_wants_are_not_written(closed: str, small: Path, tmp_path: Path) -> None:
    """A stream that the caller closed, or an error stream that can't be written, changes no exit code."""
    for line, code in ((f"build . --to {tmp_path}/site", 0), ("check .", 0), ("check nowhere", 2), ("check a b", 2)):
        done = run(f"sitegen {line} {closed}", small)
        assert done.returncode == code, done.stdout
        assert "Traceback" not in done.stdout and "Exception" not in done.stdout


def test_an_ascii_locale_takes_any_name(tmp_path: Path) -> None:
    """Where the locale knows ASCII alone (PEP 538 and PEP 540 switched off), names and texts of other letters are read,
    built and printed, with escapes for what can't be shown.
    """
    write(tmp_path / "prüf")
    ascii_alone = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    shown = f"{tmp_path}/pr\\xfcf_built/index.html"
    for line, told in (
        ("build prüf", f"open {shown}\n"),
        ("build prüf", f"open {shown}\n"),
        ("check prüf", "no problems found\n"),
        ("findings --in prüf", ""),
        ("build nirgendwö", "there is no folder 'nirgendw\\xf6'\n"),
    ):
        done = run(f"sitegen {line}", tmp_path, **ascii_alone)
        assert "Traceback" not in done.stdout and done.stdout.endswith(told) and done.stdout.isascii()


def test_a_drawing_backend_of_another_program_is_no_matter(small: Path, tmp_path: Path) -> None:
    """MPLBACKEND names the window in which other programs draw; here nothing is drawn in one."""
    done = run(f"sitegen build . --to {tmp_path}/site --quiet", small, MPLBACKEND="nonsense")
    assert (done.returncode, done.stdout) == (0, "")


@pytest.mark.parametrize("target", ["loop", "loop/site"])
def test_a_target_in_a_loop_of_links_is_told(target: str, small: Path, tmp_path: Path) -> None:
    """Links that lead to one another are no place for a site or for worksheets; a sentence says so."""
    (tmp_path / "loop").symlink_to("pool")
    (tmp_path / "pool").symlink_to("loop")
    done = run(f"sitegen build {small.name} --to {target} --quiet", tmp_path)
    told = "is, or lies below, a link that leads back to itself; choose another folder with --to"
    assert (done.stdout, done.returncode) == (f"sitegen: '{target}' {told}\n", 2)
    for option in (f"--export {target}", f"--memory {target}"):
        done = run(f"sitegen editions {small.name} {option}", tmp_path)
        assert done.returncode in (1, 2) and done.stdout.startswith("sitegen: ") and "Traceback" not in done.stdout


@pytest.mark.parametrize("place", ["in the quick answer", "in the arguments"])
def test_ctrl_c_before_a_command_begins_is_no_traceback(
    place: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From the first of our lines on, the key ends in one line and 130."""

    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(sys, "argv", ["sitegen", "check"])
    if place == "in the arguments":
        monkeypatch.setattr(cli, "_parser", pressed)
    else:
        monkeypatch.setattr("sitegen.pipeline.unchanged.answer", pressed)
    assert command.main() == 130
    assert capsys.readouterr() == ("", "\nstopped; the published site is as it was\n")


def test_names_of_folders_steer_no_terminal(tmp_path: Path) -> None:
    """Control characters in names of folders, files and arguments come out as signs, wherever they are printed
    (C0 and C1 by ECMA-48; overrides of direction by UAX 9).
    """
    odd = "$'odd\\e[31m\\u202e\\u009b2J'"
    write(tmp_path / "odd\x1b[31m\u202e\x9b2J")
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "\x1b]0;x\x07").touch()
    for line in (
        f"build {odd}", f"build {odd}", f"check {odd}", "build $'no\\e[31m'", f"build {odd} --to theirs", f"editions {odd} --text $'\\e[31m'",
        f"editions {odd} --export $'work\\e[31m'", f"sheet trousers --in {odd}", f"sheet $'\\e[31m' --in {odd}", "check a $'\\e[31m'",
        f"build {odd} --date $'\\e[31m'", f"addresses {odd} --renamed $'\\e[31m'", f"findings $'\\e[31m' --in {odd}",
    ):  # fmt: skip
        done = run(f"sitegen {line}", tmp_path)
        assert "Traceback" not in done.stdout and (odd not in line or "there is no folder" not in done.stdout)
        assert not {"\x1b", "\x07", "\x9b", "\u202e"} & set(done.stdout), line


def test_text_stays_text() -> None:
    """Tabs, line ends, marks of direction and isolates are printed as they are."""
    wanted = "a\tb\nü \u200f\u2067x\u2069 \U0001f9e5"
    assert harmless(wanted) == wanted
