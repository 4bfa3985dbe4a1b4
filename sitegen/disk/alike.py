"""Whether two machines would make the same of the same: by what their tool is made of, and by the files that they see."""

import os
import sys
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

from sitegen import stock
from sitegen.disk.memory import key_of
from sitegen.text.source import read_inside, walk_sources

# What the package imports, as pyproject.toml lists it: another release of one may draw or write otherwise.
LIBRARIES = (
    "babel",
    "jinja2",
    "markdown-it-py",
    "markupsafe",
    "matplotlib",
    "nh3",
    "numpy",
    "pillow",
    "pyyaml",
    "scipy",
)
_CODE = Path(__file__).resolve().parents[1]


def tool_made_of() -> str:
    """The digest of all code, content and themes by their bytes, of the libraries' releases, and of Python's.

    Two copies of the tool on two machines have the same; where files lie and when they were written is nothing to it.
    """
    libraries = tuple(f"{name} {_release(name)}" for name in LIBRARIES)
    python = ".".join(map(str, sys.version_info[:2]))
    return key_of(python, *libraries, *_parts())


def _release(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def _parts() -> Iterator[str | bytes]:
    for root in (_CODE, stock.content_folder(), stock.themes_folder()):
        for name in walk_sources(root):
            if "__pycache__" not in name and (root != _CODE or name.endswith(".py")):
                yield name
                yield read_inside(root, name)


def files_seen(folder: Path) -> str:
    """The digest of names, sizes and times of a publication's files. Machines that share a disk have the same."""
    names = walk_sources(folder)
    return key_of(*(f"{name}\0{_standing(folder / name)}" for name in names))


def _standing(path: Path) -> str:
    try:
        found = os.stat(path)
    except OSError:
        return ""
    return f"{found.st_size} {found.st_mtime_ns}"
