"""The commands: exit codes, what they print and where, and how little they load."""

import subprocess
import sys
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen import __version__
from sitegen.cli import main

ROOT = Path(__file__).parents[1]
HEAVY = (
    "matplotlib", "numpy", "scipy", "PIL", "pint", "babel", "jinja2", "markdown_it", "yaml", "markupsafe", "hashlib", "difflib",
)  # fmt: skip


def run(*arguments: str | Path) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "-m", "sitegen", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)


def test_help_loads_no_heavy_module() -> None:
    """Asking how to use a tool must not cost what using it costs: argparse and the tool's own name, no more."""
    code = "import sys\nfrom sitegen.cli import main\ntry:\n  main(['--help'])\nexcept SystemExit: pass\nprint('|'.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    loaded = {name.partition(".")[0] for name in done.stdout.strip().split("\n")[-1].split("|")}
    assert "argparse" in loaded
    assert sorted(loaded & set(HEAVY)) == []


def test_a_check_draws_nothing() -> None:
    """A check loads neither the drawing library nor the image library, which cost more than all the checking."""
    code = "import sys\nfrom pathlib import Path\nfrom sitegen.build import check\nprint(len(check(Path(sys.argv[1]))))\nprint('|'.join(sys.modules))"
    command = [sys.executable, "-c", code, str(ROOT / "demo_site")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.strip().split("\n")[-1].split("|")}
    assert sorted(loaded & {"matplotlib", "PIL"}) == []


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    """The version is the package's; the help names each command."""
    with pytest.raises(SystemExit) as left:
        main(["--version"])
    assert left.value.code == 0
    assert capsys.readouterr().out == f"sitegen {__version__}\n"
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0
    out = capsys.readouterr().out
    assert "build" in out and "check" in out


def test_a_sound_publication_ends_in_0(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Check says so; build says what it made and which page to open."""
    assert main(["check", str(small)]) == 0
    assert capsys.readouterr().out == "no problems found\n"
    assert main(["build", str(small), "--to", str(tmp_path / "site")]) == 0
    out = capsys.readouterr().out
    assert "pages" in out and out.rstrip().endswith(f"open {tmp_path / 'site' / 'index.html'}")
    assert (tmp_path / "site" / "index.html").is_file()


def test_without_a_target_the_site_goes_beside_the_folder(small: Path, tmp_path: Path) -> None:
    """FOLDER_built, named in the help."""
    assert main(["build", str(small), "--quiet"]) == 0
    assert (tmp_path / "moorkamp_built" / "index.html").is_file()


def test_quiet_prints_nothing_where_nothing_is_wrong(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither progress nor summary; problems are printed all the same."""
    assert main(["check", str(small), "--quiet"]) == 0
    assert main(["build", str(small), "--to", str(tmp_path / "site"), "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")
    write(small, {"products/fenn.yaml": "name: Fenn\n"}, base={})
    assert main(["check", str(small), "--quiet"]) == 1
    assert "a product needs `maker`" in capsys.readouterr().err


def test_a_faulty_publication_ends_in_1(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Problems go to the error stream, worst first, then how many; a build adds that nothing was published."""
    write(small, {"ledger.yaml": SMALL["ledger.yaml"].replace("    benefit: none\n", "")}, base={})
    assert main(["check", str(small)]) == 1
    told = capsys.readouterr()
    assert "the disclosure needs `benefit`" in told.err and "1 error, 0 cautions" in told.err
    assert main(["build", str(small), "--to", str(tmp_path / "site")]) == 1
    assert capsys.readouterr().err.rstrip().endswith("nothing was published")
    assert not (tmp_path / "site").exists()


def test_cautions_alone_end_in_0(small: Path) -> None:
    """What is only questioned is no failure."""
    write(small, {"rounds/trousers/mass.csv": SMALL["rounds/trousers/mass.csv"].replace("411.5", "20000")}, base={})
    assert main(["check", str(small), "--quiet"]) == 0


def test_wrong_use_ends_in_2(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No such folder, a target inside the publication, a target with somebody's files, an unknown command."""
    assert main(["check", str(tmp_path / "nowhere")]) == 2
    assert f"there is no folder '{tmp_path / 'nowhere'}'" in capsys.readouterr().err
    for target in (small, small / "out", tmp_path):
        assert main(["build", str(small), "--to", str(target)]) == 2
        assert "can't go into the publication's own folder" in capsys.readouterr().err
    theirs = tmp_path / "letters"
    theirs.mkdir()
    (theirs / "a.txt").write_text("x")
    assert main(["build", str(small), "--to", str(theirs)]) == 2
    assert "files that this tool did not make" in capsys.readouterr().err
    assert (theirs / "a.txt").read_text() == "x"
    with pytest.raises(SystemExit) as left:
        main(["publish"])
    assert left.value.code == 2


def test_the_module_runs_as_a_command(small: Path) -> None:
    """python -m sitegen gives the exit code to the shell, and no traceback for an empty folder."""
    assert run("check", small, "--quiet").returncode == 0
    empty = small.parent / "empty"
    empty.mkdir()
    done = run("check", empty)
    assert done.returncode == 1
    assert "this folder is empty" in done.stderr and "Traceback" not in done.stderr


def test_progress_is_plain_lines_off_a_terminal(small: Path, tmp_path: Path) -> None:
    """In a log each stage is one line, without a control character."""
    done = run("build", small, "--to", tmp_path / "site")
    assert done.returncode == 0
    lines = done.stderr.rstrip("\n").split("\n")
    assert len(lines) == len(set(lines)) <= 8
    assert "\x1b" not in done.stderr and "\r" not in done.stderr


def test_a_closed_pipe_is_no_fault(small: Path) -> None:
    """`sitegen check | head -1` ends in peace."""
    command = f"{sys.executable} -m sitegen check {small} | true"
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert "Traceback" not in done.stderr and "BrokenPipe" not in done.stderr
