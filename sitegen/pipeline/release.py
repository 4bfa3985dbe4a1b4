"""What this tool is made of: a store of another one is thrown away, and a worker with another one isn't trusted."""

import sys
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

from sitegen import stock
from sitegen.disk.store import digest_of
from sitegen.pipeline.unchanged import PACKAGE as _PACKAGE
from sitegen.pipeline.unchanged import tool
from sitegen.text.source import walk_sources

PACKAGE = Path(_PACKAGE)
# What the package imports, as pyproject.toml lists it: another release of one may draw or write otherwise.
LIBRARIES = (
    "babel", "jinja2", "markdown-it-py", "markupsafe", "matplotlib", "nh3", "numpy", "pillow", "pyyaml", "scipy",
)  # fmt: skip


def this_release() -> bytes:
    """Names the tool, its libraries and the interpreter on this machine, by how their files stand; empty if not known."""
    found = tool()
    return digest_of(found) if found else b""


def release_by_content() -> bytes:
    """The same for every copy of the tool on any machine: the digest of all code, content and themes, and of releases."""
    libraries = "\0".join(f"{name} {_release(name)}" for name in LIBRARIES)
    python = ".".join(map(str, sys.version_info[:2]))
    return digest_of(python.encode(), libraries.encode(), *_parts())


def _release(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def _parts() -> Iterator[bytes]:
    for root in (PACKAGE, stock.content_folder(), stock.themes_folder()):
        for name in walk_sources(root):
            if "__pycache__" not in name and (root != PACKAGE or name.endswith(".py")):
                yield name.encode()
                yield (root / name).read_bytes()
