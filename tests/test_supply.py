"""What the tool is made with: few packages, each asked for, pinned by its sums and under terms that fit, from no named place."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

REPOSITORY = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text("utf-8"))
PINNED = ("requirements.txt", "requirements-test.txt")

# The project's own licence is MIT (LICENSE). What runs with it must let whoever has the tool use it, change it and pass it on,
# and must ask nothing of the pages that are made or of the tool's own code. Names: SPDX identifiers, and trove classifiers of old.
_NOTICE = "permissive: asks that its notice is kept, no more"
_NOTHING = "permissive: asks for nothing"
_PATENTS = "permissive: asks for its notices, and lends its patents to whoever does not sue"
_BESIDE = "asks the same of changes to its own files, and nothing of what is used beside them"
FITTING = {
    **dict.fromkeys(("MIT", "MIT License", "BSD", "BSD-2-Clause", "BSD-3-Clause", "BSD License", "ISC", "NCSA", "Zlib"), _NOTICE),
    **dict.fromkeys(("HPND", "MIT-CMU", "Historical Permission Notice and Disclaimer (HPND)"), _NOTICE),
    **dict.fromkeys(("PSF-2.0", "Python-2.0", "Python Software Foundation License"), _NOTICE),
    **dict.fromkeys(("Unicode-3.0", "Unicode-DFS-2016"), _NOTICE),  # the data of CLDR in Babel
    **dict.fromkeys(("0BSD", "MIT-0", "CC0-1.0", "Unlicense", "The Unlicense (Unlicense)"), _NOTHING),
    **dict.fromkeys(("Apache-2.0", "Apache Software License"), _PATENTS),
    **dict.fromkeys(("MPL-2.0", "Mozilla Public License 2.0 (MPL 2.0)"), _BESIDE),  # pathspec, which only builds the wheel
}  # fmt: skip
# The run-time parts of the compilers inside binary wheels: the exception lets any program be linked with them.
LINKED = {"GPL-3.0-or-later", "GPL-3.0-with-GCC-exception", "GCC-exception-3.1", "LGPL-2.1-or-later"}
LISTED_FOR = {"python_version": "3.11", "python_full_version": "3.11.0"}  # the oldest Python needs most packages
MOST = 12  # packages that the code imports; who needs one more asks first what forty lines would do

# Split, so that this file itself names none of them.
REGISTRIES = [
    "".join(parts) for parts in (
        ("pypi", ".org"), ("python", "hosted.org"), ("npm", "js.org"), ("npm", "js.com"), ("yarn", "pkg.com"), ("deb", ".debian.org"),
        ("archive", ".ubuntu.com"), ("proxy.go", "lang.org"), ("crates", ".io"), ("ruby", "gems.org"), ("maven", ".org"), ("maven", ".apache.org"),
        ("anaconda", ".org"), ("jsde", "livr.net"), ("un", "pkg.com"), ("cdn", "js.com"), ("gh", "cr.io"), ("docker", ".io"), ("osv", ".dev"),
    )
]  # fmt: skip


def asked(*extras: str) -> list[Requirement]:
    """What the tool needs to run, and what these extras need, as pyproject.toml says."""
    optional = PROJECT["project"]["optional-dependencies"]
    return [
        Requirement(text)
        for text in (*PROJECT["project"]["dependencies"], *(t for extra in extras for t in optional[extra]))
    ]


def to_build() -> list[Requirement]:
    """What builds the wheel, and an editable one."""
    code = "from hatchling import build; print(*build.get_requires_for_build_editable(), *build.get_requires_for_build_wheel(), sep='\\n')"
    told = subprocess.run(
        [sys.executable, "-c", code], cwd=REPOSITORY, capture_output=True, text=True, check=True, timeout=60
    ).stdout
    return [Requirement(text) for text in (*PROJECT["build-system"]["requires"], *told.split("\n")) if text]


def pins(name: str) -> dict[str, str]:
    """Package → version of one list of pinned packages."""
    found = re.findall(r"^([A-Za-z0-9._-]+)==(\S+)", (REPOSITORY / name).read_text("utf-8"), re.MULTILINE)
    return {canonicalize_name(package): version for package, version in found}


def needed(roots: list[Requirement]) -> set[str]:
    """The packages that these need here, and those that they need in turn, with the extras that are asked of each."""
    found: set[str] = set()
    seen: set[tuple[str, str]] = set()
    waiting = [(root, "") for root in roots]
    while waiting:
        need, extra = waiting.pop()
        if need.marker and not need.marker.evaluate({**LISTED_FOR, "extra": extra}):
            continue
        name = canonicalize_name(need.name)
        found.add(name)
        for wanted in {"", *need.extras}:
            if (name, wanted) not in seen:
                seen.add((name, wanted))
                waiting += [(Requirement(text), wanted) for text in metadata.requires(name) or ()]
    return found


def tracked() -> list[Path]:
    """The files of the project: those under version control or about to be; all but what was made, where there is no Git."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, check=False)
    if done.returncode == 0 and done.stdout:
        paths = [REPOSITORY / os.fsdecode(name) for name in done.stdout.split(b"\0") if name]
        return [path for path in paths if path.is_file()]
    made = set(
        ".venv .git __pycache__ .mypy_cache .ruff_cache .pytest_cache .hypothesis demo_site_built demo_site_built.memory".split()
    )
    paths = [path for path in REPOSITORY.rglob("*") if path.is_file()]
    return [path for path in paths if not made & set(path.relative_to(REPOSITORY).parts)]


@pytest.mark.parametrize("name", PINNED)
def test_every_package_is_pinned_with_hashes(name: str) -> None:
    """A list names one version of each package and the sums of its files, and no place to get it from."""
    text = (REPOSITORY / name).read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    loose = [
        line[:60]
        for line in lines
        if not re.fullmatch(r"[A-Za-z0-9._-]+==[^\s;@]+( ;[^#]*?)?(\s+--hash=sha256:[0-9a-f]{64})+\s*(#.*)?", line)
    ]
    assert lines
    assert loose == []
    assert "://" not in text and not re.search(r"^\s*-(?!-hash)", text, re.MULTILINE)
    assert len({line.split("==")[0] for line in lines}) == len(lines)


def test_pins_fit_what_is_asked_for() -> None:
    """Each dependency is pinned at a version that pyproject.toml allows, and the same in both lists."""
    run, test = pins("requirements.txt"), pins("requirements-test.txt")
    misfits = [str(need) for need in asked() if not need.specifier.contains(run.get(canonicalize_name(need.name), "0"))]
    misfits += [
        str(need)
        for need in asked("test", "cluster")
        if not need.specifier.contains(test.get(canonicalize_name(need.name), "0"))
    ]
    assert misfits == []
    assert run.items() <= test.items()


def test_nothing_is_pinned_that_nobody_needs() -> None:
    """Each list is what the project asks for with what that needs in turn: no package more, none missing."""
    assert set(pins("requirements.txt")) == needed([*asked(), *to_build()])
    assert set(pins("requirements-test.txt")) == needed([*asked("test", "cluster"), *to_build()])


@pytest.mark.parametrize("name", PINNED)
def test_the_pinned_versions_are_the_ones_tested(name: str) -> None:
    """What runs here is what the list says."""
    assert {package: metadata.version(package) for package in pins(name)} == pins(name)


def test_dependencies_are_the_libraries_that_the_code_imports() -> None:
    """pyproject.toml lists what the package imports: nothing more, nothing less; what an extra brings is not asked of everybody."""
    providers = metadata.packages_distributions()
    imported = {module for path in (REPOSITORY / "sitegen").rglob("*.py") for module in _imported(path)}
    foreign = {canonicalize_name(providers[module][0]) for module in imported - sys.stdlib_module_names - {"sitegen"}}
    assert foreign == {canonicalize_name(need.name) for need in asked("cluster")}
    assert len(asked()) <= MOST


def _imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.split(".")[0]


def test_every_dependency_says_what_it_is_for() -> None:
    """Beside each package in pyproject.toml stands why it is there."""
    text = (REPOSITORY / "pyproject.toml").read_text("utf-8")
    listed = text[text.index("\ndependencies = [") : text.index("\n]", text.index("\ndependencies = ["))].split("\n")[
        2:
    ]
    assert len(listed) == len(asked())
    assert [line for line in listed if not re.fullmatch(r'    "[^"]+",\s+# \S.{4,}', line)] == []


def licences(name: str) -> set[str]:
    """The licences of a package: its SPDX expression, else its classifiers, else the one line that it states."""
    about = metadata.metadata(name)
    if expression := about.get("License-Expression"):
        return set(re.split(r"\s+(?:AND|OR|WITH)\s+|[()]", expression)) - {""}
    classified = {
        line.split(" :: ")[-1] for line in about.get_all("Classifier", []) if line.startswith("License :: ")
    } - {"OSI Approved"}
    return classified or {about.get("License", "unknown").strip()}


def test_every_package_has_a_licence_that_fits() -> None:
    """All that is pinned for users, and what the cluster needs besides, may be used, changed and passed on with the tool."""
    names = sorted(pins("requirements.txt").keys() | needed(asked("cluster")))
    unfit = {
        name: sorted(found - FITTING.keys() - LINKED)
        for name in names
        if (found := licences(name)) - FITTING.keys() - LINKED
    }
    assert unfit == {}
    assert {name for name in names if not licences(name)} == set()


def test_what_asks_the_same_of_others_only_builds() -> None:
    """A licence with conditions on changed files is met in what builds the wheel alone, never in what runs with the tool."""
    bound = {
        name for name in pins("requirements.txt") if any(FITTING.get(licence) == _BESIDE for licence in licences(name))
    }
    assert bound & needed(asked("cluster")) == set()


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
