"""What reaches a user: the wheel and the source archive, each whole without the checkout."""

import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from pathlib import Path

import pytest
from rich_publication import DAY, write_rich
from test_supply import tracked

REPOSITORY = Path(__file__).resolve().parents[1]

SETTINGS = "name: Stillwater Bench\nlead: en\naddress: https://stillwater.example/\nauthor: Orla Venn\n"
REVIEW = """\
---
title: A light pair for damp paths
summary: Walking trousers for wet grass, weighed and sprayed.
name: Fjellrinn 2
maker: Werkhof Ost
kind: walking trousers
date: 2026-10-04
measured: {mass: [412.0 g, 411.5 g, 412.5 g]}
sample: {obtained: bought, from: a shop in town, role: shop, selected_by: us, received: 2026-08-03, receipt: R-1}
---
They weigh {mass}.
"""


@pytest.fixture(scope="module")
def archives(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the source archive, as they would be published."""
    to = tmp_path_factory.mktemp("archives")
    _pack(REPOSITORY, to, "sdist", "wheel")
    return to


def _pack(project: Path, to: Path, *kinds: str) -> None:
    targets = [word for kind in kinds for word in ("-t", kind)]
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-d", str(to), *targets],
        cwd=project,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def _wheel(folder: Path) -> dict[str, bytes]:
    """Name and bytes of every file in the wheel of a folder."""
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        return {name: wheel.read(name) for name in wheel.namelist()}


def _below(folder: str) -> set[str]:
    paths = (path.relative_to(REPOSITORY) for path in tracked())
    return {path.as_posix() for path in paths if path.parts[0] == folder}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_wheel_holds_the_package_its_content_and_its_themes(archives: Path) -> None:
    """Stock content and themes travel inside the package; tests and demo stay out."""
    inside = {name: data for name, data in _wheel(archives).items() if ".dist-info/" not in name}
    lent = {f"sitegen/{name}": name for name in _below("content") | _below("themes")}
    origin = {name: name for name in _below("sitegen")} | lent
    assert inside == {name: (REPOSITORY / path).read_bytes() for name, path in origin.items()}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_source_archive_is_complete(archives: Path, tmp_path: Path) -> None:
    """Unpacked elsewhere, it holds every file of the project, byte for byte, and makes the same wheel."""
    with tarfile.open(next(archives.glob("*.tar.gz"))) as archive:
        archive.extractall(tmp_path, filter="data")
    unpacked = next(tmp_path.iterdir())
    missing = [
        str(path.relative_to(REPOSITORY))
        for path in tracked()
        if not _same(path, unpacked / path.relative_to(REPOSITORY))
    ]
    assert missing == []
    _pack(unpacked, tmp_path, "wheel")
    assert _wheel(tmp_path) == _wheel(archives)


def _same(path: Path, other: Path) -> bool:
    return other.is_file() and other.read_bytes() == path.read_bytes()


@pytest.fixture(scope="module")
def installed(archives: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new environment with the wheel in it; the libraries are lent by the one that runs the tests."""
    home = tmp_path_factory.mktemp("installed")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(home)], check=True, timeout=120)
    wheel = str(next(archives.glob("*.whl")))
    pip = [
        sys.executable,
        "-m",
        "pip",
        "--python",
        str(home / "bin" / "python"),
        "install",
        "--quiet",
        "--no-deps",
        "--no-index",
        wheel,
    ]
    done = subprocess.run(pip, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    packages = next((home / "lib").glob("python3*")) / "site-packages"
    # A path in a .pth file is only added: what .pth files lie there, such as the one that leads to the checkout, is not read.
    (packages / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n" + sysconfig.get_path("platlib") + "\n")
    return home


def _run(home: Path, folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return subprocess.run(
        [str(home / "bin" / command[0]), *command[1:]],
        cwd=folder,
        env=clean,
        capture_output=True,
        text=True,
        timeout=300,
    )


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_wheel_works_with_the_checkout_gone(installed: Path, tmp_path: Path) -> None:
    """From an empty folder, the installed tool finds its content and themes in itself and never in the checkout."""
    code = "import sitegen, sitegen.stock as s, sys; print(sitegen.__file__, s.content_folder(), s.themes_folder(), *sys.path, sep='\\n')"
    lines = _run(installed, tmp_path, "python", "-c", code).stdout.splitlines()
    inside = [line for line in lines[:3] if Path(line).is_relative_to(installed.resolve())]
    assert inside == lines[:3]
    assert str(REPOSITORY) not in lines[3:]


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_a_minimal_publication_builds_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    """Four lines of settings and one review with measured values make a site whose page shows the figure."""
    publication = tmp_path / "mine"
    (publication / "reviews").mkdir(parents=True)
    (publication / "publication.yaml").write_text(SETTINGS)
    (publication / "reviews" / "fjellrinn.md").write_text(REVIEW)
    done = _run(installed, tmp_path, "sitegen", "build", "mine")
    assert done.returncode == 0, done.stdout + done.stderr
    (review,) = set((tmp_path / "mine_built" / "en" / "reviews").glob("*.html")) - {
        tmp_path / "mine_built" / "en" / "reviews" / "index.html"
    }
    page = review.read_text("utf-8")
    assert done.stdout.rstrip().endswith("index.html")
    assert "412.0" in page
    assert "<svg" in page


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_wheel_makes_the_same_site_as_the_checkout(installed: Path, tmp_path: Path) -> None:
    """One publication, built by the installed command and by the code in the checkout: every file has the same bytes."""
    write_rich(tmp_path / "mine")
    rest = ("build", "mine", "--quiet", "--date", DAY, "--to")
    there = _run(installed, tmp_path, "sitegen", *rest, "there")
    environment = {**os.environ, "PYTHONPATH": str(REPOSITORY)}
    here = subprocess.run(
        [sys.executable, "-m", "sitegen", *rest, "here"],
        cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert (there.returncode, there.stderr, here.returncode, here.stderr) == (0, "", 0, "")
    made = {name: _files(tmp_path / name) for name in ("there", "here")}
    assert len(made["here"]) > 60
    assert made["there"] == made["here"]


def _files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_installed_command_knows_its_version(installed: Path, tmp_path: Path) -> None:
    """One version: of the module, of the wheel, of the command."""
    stated = re.search(r'__version__ = "(.+)"', (REPOSITORY / "sitegen" / "__init__.py").read_text("utf-8"))
    assert stated is not None
    shown = _run(installed, tmp_path, "sitegen", "--version").stdout.strip()
    code = "from importlib.metadata import version; print(version('sitegen'))"
    assert (shown, _run(installed, tmp_path, "python", "-c", code).stdout.strip()) == (
        f"sitegen {stated[1]}",
        stated[1],
    )
