"""Digests of the files of a publication and of the tool, by which is known what has changed."""

import os
from collections.abc import Iterable
from hashlib import blake2b
from pathlib import Path

from sitegen.disk.memory import key_of
from sitegen.disk.unchanged import tool


class Digests:
    """Digests of files and groups of files, each file read once."""

    def __init__(self, folder: Path, names: Iterable[str]) -> None:
        self._folder = os.fspath(folder)
        self._groups: dict[str, list[str]] = {}
        self._known: dict[str, str] = {}
        self._of_group: dict[str, str] = {}
        for name in names:
            first, _, rest = name.partition("/")
            for group in {first, f"{first}/{rest.partition('/')[0].rpartition('.')[0] or rest.partition('/')[0]}"}:
                self._groups.setdefault(group, []).append(name)

    def group(self, name: str) -> str:
        """The digest of all files of a group: a top folder or file (`theme`), or one in it without its ending (`reviews/halde`)."""
        if name not in self._of_group:
            members = self._groups.get(name, [])
            self._of_group[name] = key_of(*(part for member in members for part in (member, self.file(member))))
        return self._of_group[name]

    def file(self, name: str) -> str:
        """The digest of a file; of one that can't be read, of nothing."""
        if name not in self._known:
            try:
                with open(f"{self._folder}/{name}", "rb") as opened:
                    data = opened.read()
            except OSError:
                data = b""
            self._known[name] = blake2b(data, digest_size=20).hexdigest()
        return self._known[name]


def tool_digest() -> str:
    """The digest of the tool, its libraries and the interpreter; empty where it isn't known."""
    found = tool()
    return key_of(found) if found else ""
