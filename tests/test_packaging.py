"""What reaches a user: pinned packages, their licences, the wheel and the source archive, nothing that names a registry."""

import ast
import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import tomllib
import zipfile
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

REPOSITORY = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text("utf-8"))
PINNED = ("requirements.txt", "requirements-test.txt")

# SPDX names and trove classifiers of licences that let anyone use, change and pass on; none asks the same of works beside it.
PERMISSIVE = {
    "MIT", "MIT-0", "MIT-CMU", "HPND", "BSD", "BSD-2-Clause", "BSD-3-Clause", "0BSD", "Apache-2.0", "ISC", "Zlib", "PSF-2.0", "Python-2.0",
    "Unlicense", "CC0-1.0", "NCSA", "Unicode-3.0", "Unicode-DFS-2016", "Apache Software License", "BSD License", "MIT License",
    "Python Software Foundation License", "The Unlicense (Unlicense)", "Historical Permission Notice and Disclaimer (HPND)",
}  # fmt: skip
# The run-time parts of the compilers inside binary wheels: the exception lets any program be linked with them.
LINKED = {"GPL-3.0-or-later", "GPL-3.0-with-GCC-exception", "GCC-exception-3.1", "LGPL-2.1-or-later"}

# Split, so that this file itself names none of them.
REGISTRIES = [
    "".join(parts) for parts in (
        ("pypi", ".org"), ("python", "hosted.org"), ("npm", "js.org"), ("npm", "js.com"), ("yarn", "pkg.com"), ("deb", ".debian.org"),
        ("archive", ".ubuntu.com"), ("proxy.go", "lang.org"), ("crates", ".io"), ("ruby", "gems.org"), ("maven", ".org"), ("maven", ".apache.org"),
        ("anaconda", ".org"), ("jsde", "livr.net"), ("un", "pkg.com"), ("cdn", "js.com"), ("gh", "cr.io"), ("docker", ".io"),
    )
]  # fmt: skip

SETTINGS = "name: Stillwater Bench\nlead: en\naddress: https://stillwater.example/\nauthor: Orla Venn\n"
REVIEW = """\
---
title: A light pair for damp paths
summary: Walking trousers for wet grass, weighed and sprayed.
name: Fjellrinn 2
maker: Ellerhorst
kind: walking trousers
date: 2026-10-04
measured: {mass: [412.0 g, 411.5 g, 412.5 g]}
sample: {obtained: bought, from: a shop in town, role: shop, selected_by: us, received: 2026-08-03, receipt: R-1}
---
They weigh {mass}.
"""


def runtime() -> list[Requirement]:
    """What the tool needs to run, as pyproject.toml says."""
    return [Requirement(text) for text in PROJECT["project"]["dependencies"]]


def pins(name: str) -> dict[str, str]:
    """Package → version of one list of pinned packages."""
    found = re.findall(r"^([A-Za-z0-9._-]+)==(\S+)", (REPOSITORY / name).read_text("utf-8"), re.MULTILINE)
    return {canonicalize_name(package): version for package, version in found}


def tracked() -> list[Path]:
    """The files of the project: those under version control or about to be; all but what was made, where there is no Git."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, check=False)
    if done.returncode == 0 and done.stdout:
        paths = [REPOSITORY / os.fsdecode(name) for name in done.stdout.split(b"\0") if name]
        return [path for path in paths if path.is_file()]
    made = {
        ".venv",
        ".git",
        "__pycache__",
        ".mypy_cache",
        ".ruff_cache",
        ".pytest_cache",
        ".hypothesis",
        "demo_site_built",
        "demo_site_built.memory",
    }
    return [
        path for path in REPOSITORY.rglob("*") if path.is_file() and not made & set(path.relative_to(REPOSITORY).parts)
    ]


@pytest.mark.parametrize("name", PINNED)
def test_every_package_is_pinned_with_hashes(name: str) -> None:
    """A list names one version of each package and the sums of its files, and no place to get it from."""
    text = (REPOSITORY / name).read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    loose = [
        line[:60]
        for line in lines
        if not re.fullmatch(r"[A-Za-z0-9._-]+==[^\s;]+( ;[^#]*?)?(\s+--hash=sha256:[0-9a-f]{64})+\s*(#.*)?", line)
    ]
    assert lines
    assert loose == []


def test_pins_fit_what_is_asked_for() -> None:
    """Each dependency is pinned at a version that pyproject.toml allows, and the same in both lists."""
    run, test = pins("requirements.txt"), pins("requirements-test.txt")
    extra = [Requirement(text) for text in PROJECT["project"]["optional-dependencies"]["test"]]
    misfits = [
        str(need) for need in runtime() if not need.specifier.contains(run.get(canonicalize_name(need.name), "0"))
    ]
    misfits += [str(need) for need in extra if not need.specifier.contains(test.get(canonicalize_name(need.name), "0"))]
    assert misfits == []
    assert run.items() <= test.items()


def test_the_pinned_versions_are_the_ones_tested() -> None:
    """What runs here is what the list says."""
    installed = {name: metadata.version(name) for name in pins("requirements.txt") if _is_installed(name)}
    assert installed == {name: version for name, version in pins("requirements.txt").items() if name in installed}


def _is_installed(name: str) -> bool:
    try:
        return bool(metadata.version(name))
    except metadata.PackageNotFoundError:
        return False


def test_dependencies_are_the_libraries_that_the_code_imports() -> None:
    """pyproject.toml lists what the package imports: nothing more, nothing less."""
    providers = metadata.packages_distributions()
    imported = {module for path in (REPOSITORY / "sitegen").rglob("*.py") for module in _imported(path)}
    foreign = imported - sys.stdlib_module_names - {"sitegen"}
    assert {canonicalize_name(providers[module][0]) for module in foreign} == {
        canonicalize_name(need.name) for need in runtime()
    }


def _imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.split(".")[0]


def needed(roots: list[Requirement]) -> set[str]:
    """The packages that these need here, and those that they need in turn."""
    found: set[str] = set()
    waiting = list(roots)
    while waiting:
        need = waiting.pop()
        name = canonicalize_name(need.name)
        if name in found or (need.marker and not need.marker.evaluate({"extra": ""})):
            continue
        found.add(name)
        waiting += [Requirement(text) for text in metadata.requires(name) or ()]
    return found


def licences(name: str) -> set[str]:
    """The licences of a package: its SPDX expression, else its classifiers, else the one line that it states."""
    about = metadata.metadata(name)
    if expression := about.get("License-Expression"):
        return set(re.split(r"\s+(?:AND|OR|WITH)\s+|[()]", expression)) - {""}
    classified = {
        line.split(" :: ")[-1] for line in about.get_all("Classifier", []) if line.startswith("License :: ")
    } - {"OSI Approved"}
    return classified or {about.get("License", "unknown").strip()}


def test_every_dependency_has_a_permissive_licence() -> None:
    """All that runs with the tool may be used, changed and passed on under terms like its own (MIT)."""
    unfit = {
        name: sorted(found - PERMISSIVE - LINKED)
        for name in sorted(needed(runtime()))
        if (found := licences(name)) - PERMISSIVE - LINKED
    }
    assert unfit == {}


def test_the_licence_of_the_project_is_the_one_it_names() -> None:
    """pyproject.toml and LICENSE say the same."""
    assert PROJECT["project"]["license"] == "MIT"
    assert (REPOSITORY / "LICENSE").read_text("utf-8").startswith("MIT License\n")


def test_no_file_names_a_registry() -> None:
    """Where packages come from is set on the machine, never in the project; no page fetches from a public store."""
    naming = [
        f"{path.relative_to(REPOSITORY)}: {host}"
        for path in tracked() for host in REGISTRIES
        if host.encode() in path.read_bytes().lower()
    ]  # fmt: skip
    assert naming == []


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


def _wheel_names(folder: Path) -> set[str]:
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        return set(wheel.namelist())


def _below(folder: str) -> set[str]:
    paths = (path.relative_to(REPOSITORY) for path in tracked())
    return {path.as_posix() for path in paths if path.parts[0] == folder}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_wheel_holds_the_package_its_content_and_its_themes(archives: Path) -> None:
    """Stock content and themes travel inside the package; tests and demo stay out."""
    inside = {name for name in _wheel_names(archives) if ".dist-info/" not in name}
    assert inside == _below("sitegen") | {f"sitegen/{name}" for name in _below("content") | _below("themes")}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_the_source_archive_is_complete(archives: Path, tmp_path: Path) -> None:
    """Unpacked elsewhere, it holds every file of the project and makes the same wheel."""
    with tarfile.open(next(archives.glob("*.tar.gz"))) as archive:
        archive.extractall(tmp_path, filter="data")
    unpacked = next(tmp_path.iterdir())
    missing = [
        str(path.relative_to(REPOSITORY))
        for path in tracked()
        if not (unpacked / path.relative_to(REPOSITORY)).is_file()
    ]
    assert missing == []
    _pack(unpacked, tmp_path, "wheel")
    assert _wheel_names(tmp_path) == _wheel_names(archives)


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
