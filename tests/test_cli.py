"""The commands: exit codes, what they print and where, and how little they load."""

import fcntl
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen import __version__
from sitegen.cli import main
from sitegen.disk import output
from sitegen.disk.cache_folder import cache_file
from sitegen.pipeline import outputs, unchanged

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
    """A check unpacks pictures, but it doesn't load the drawing library, which costs more than all the checking."""
    code = """import sys
from pathlib import Path
from sitegen.pipeline.build import check
print(len(check(Path(sys.argv[1]))))
print('|'.join(sys.modules))
"""
    command = [sys.executable, "-c", code, str(ROOT / "demo_site")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.strip().split("\n")[-1].split("|")}
    assert "matplotlib" not in loaded


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


def files(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# A build whose workers do as told at their first page.
WORKERS = """
import os, signal, sys, time
from pathlib import Path
from sitegen.cli import main
from sitegen.pipeline import outputs, workers
build, real = os.getpid(), outputs.render_sheet
workers.PAGES = workers.Cost(2, 1)
import sitegen.pipeline.build as building
building.PAGES = workers.PAGES

def render(*words):
    if os.getpid() != build:
        os.write(1, f"{os.getpid()}\\n".encode())
        BUSY
    return real(*words)

outputs.render_sheet = render
sys.exit(main(["build", sys.argv[1], "--to", sys.argv[3], "--workers", "2", *sys.argv[4:]]))
"""


def start(busy: str, small: Path, site: Path, *more: str) -> "subprocess.Popen[str]":
    """The command as a process of its own, in a group of its own."""
    command = [sys.executable, "-c", WORKERS.replace("BUSY", busy), str(small), "--to", str(site), *more]
    return subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def test_workers_that_are_killed_cost_only_time(small: Path, tmp_path: Path) -> None:
    """SIGKILL to both workers at their first page, as for want of memory: the same bytes, one line that tells, nothing left."""
    alone = shutil.copytree(small, tmp_path / "apart" / small.name)  # a folder with nothing stored of it yet
    assert run("build", alone, "--to", tmp_path / "apart" / "clean", "--workers", "1", "--quiet").returncode == 0
    with start("os.kill(os.getpid(), signal.SIGKILL)", small, tmp_path / "site", "--quiet") as process:
        _, told = process.communicate(timeout=120)
    assert process.returncode == 0
    assert told == "a process was ended by the system, perhaps for want of memory; the work was done all the same\n"
    assert files(tmp_path / "site") == files(tmp_path / "apart" / "clean")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["apart", "moorkamp", "site"]


@pytest.mark.parametrize("whom", ["the process group, as a terminal does", "the build alone"])
def test_ctrl_c_ends_workers_at_once(whom: str, small: Path, tmp_path: Path) -> None:
    """Whatever its workers are at: 130, one line, no worker and no half-made file left, and the old site stands."""
    assert run("build", small, "--to", tmp_path / "site", "--quiet").returncode == 0
    before = files(tmp_path / "site")
    write(small, {"publication.yaml": SMALL["publication.yaml"] + "tagline: {de: Neu, en: New}\n"}, base={})
    with start("time.sleep(600)", small, tmp_path / "site", "--quiet") as process:
        assert process.stdout is not None and process.stderr is not None
        workers = [int(process.stdout.readline()) for _ in range(2)]
        pressed = time.monotonic()
        press = os.killpg if "group" in whom else os.kill
        press(process.pid, signal.SIGINT)
        assert process.stderr.read() == "\nstopped; the published site is as it was\n"
        assert process.wait(60) == 130
        assert time.monotonic() - pressed < 2  # s; a piece of work may take longer, and is given up
    for worker in workers:
        with pytest.raises(ProcessLookupError):
            os.kill(worker, 0)
    assert files(tmp_path / "site") == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["moorkamp", "site"]
    assert run("build", small, "--to", tmp_path / "site", "--quiet").returncode == 0


def test_too_little_memory_is_told_in_a_sentence(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the work can't be done here either: a sentence, exit code 1, and the old site stands."""
    assert main(["build", str(small), "--to", str(tmp_path / "site"), "--quiet"]) == 0
    before = files(tmp_path / "site")

    def refuse(*_: object) -> bytes:
        raise MemoryError

    monkeypatch.setattr(outputs, "render_sheet", refuse)
    write(small, {"about/de.md": SMALL["about/de.md"] + "Mehr.\n"}, base={})
    assert main(["build", str(small), "--to", str(tmp_path / "site"), "--workers", "2", "--quiet"]) == 1
    told = "sitegen: this machine has too little memory for the build; the published site is as it was\n"
    assert capsys.readouterr() == ("", told)
    assert files(tmp_path / "site") == before


def test_what_a_build_said_is_remembered_while_no_other_can_publish(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking at the sources, exchanging and remembering happen in this order under one lock, so what is remembered of a
    site was said of that very site."""
    site, order = tmp_path / "site", []

    def is_held() -> bool:
        with open(cache_file("lock", str(site)) or "", "rb") as other:
            try:
                fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                return True
        return False

    def noting(module: object, name: str, what: str) -> None:
        real = getattr(module, name)

        def noted(*words: object) -> object:
            order.append((what, is_held()))
            return real(*words)

        monkeypatch.setattr(module, name, noted)

    noting(unchanged, "look", "looked")
    noting(output, "swap", "exchanged")
    noting(unchanged, "remember", "remembered")
    assert main(["build", str(small), "--to", str(site), "--quiet"]) == 0
    looked = ("looked", True)
    assert order == [looked, ("exchanged", True), ("remembered", True), looked] and not is_held()
