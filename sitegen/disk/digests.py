"""Digests of the files of a publication and of the tool, by which is known what has changed."""

import os
import stat
import time
from collections.abc import Iterable, Mapping
from hashlib import blake2b
from pathlib import Path

from sitegen.disk.memory import key_of
from sitegen.disk.unchanged import tool

RACY = (
    2_000_000_000  # ns: a file written so shortly before it was read may be written again in the same tick of its clock
)
Standing = tuple[int, int, int, int]


class FileDigests:
    """Digests of the files of a folder. One that stands as it stood when it was last read isn't read again."""

    def __init__(self, folder: Path, before: Mapping[str, tuple[Standing, str]] | None = None) -> None:
        self._folder = os.fspath(folder)
        self._before = before or {}
        self._known: dict[str, tuple[str, bool]] = {}
        self.now: dict[str, tuple[Standing, str]] = {}  # for the next build

    def file(self, name: str) -> str:
        """The digest of a file's bytes; of one that can't be read, a word."""
        return (self._known.get(name) or self._look(name))[0]

    def sure(self, name: str) -> str:
        """The digest of a plain file within the folder; empty for anything else, of which the bytes don't tell all."""
        digest, plain = self._known.get(name) or self._look(name)
        return digest if plain else ""

    def _look(self, name: str) -> tuple[str, bool]:
        found = self._known[name] = self._read(name)
        return found

    def _read(self, name: str) -> tuple[str, bool]:
        path = f"{self._folder}/{name}"
        try:
            found = os.lstat(path)
            standing = (found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino)
            plain = stat.S_ISREG(found.st_mode)
            kept = self._before.get(name)
            if plain and kept is not None and kept[0] == standing:
                self.now[name] = kept
                return kept[1], True
            looked = time.time_ns()
            with open(path, "rb") as opened:
                digest = blake2b(opened.read(), digest_size=20).hexdigest()
        except OSError:
            return "can't be read", False
        if plain and max(standing[:2]) < looked - RACY:
            self.now[name] = (standing, digest)
        return digest, plain


class Digests:
    """Digests of files and groups of files."""

    def __init__(self, files: FileDigests, names: Iterable[str]) -> None:
        self._files = files
        self._groups: dict[str, list[str]] = {}
        self._of_group: dict[str, str] = {}
        for name in names:
            first, _, rest = name.partition("/")
            for group in {first, f"{first}/{rest.partition('/')[0].rpartition('.')[0] or rest.partition('/')[0]}"}:
                self._groups.setdefault(group, []).append(name)

    def group(self, name: str) -> str:
        """The digest of all files of a group: a top folder or file (`theme`), or one in it without its ending (`reviews/halde`)."""
        if name not in self._of_group:
            parts = [part for member in self._groups.get(name, ()) for part in (member, self._files.file(member))]
            self._of_group[name] = key_of("\0".join(parts))
        return self._of_group[name]

    def file(self, name: str) -> str:
        """The digest of a file; of one that can't be read, a word."""
        return self._files.file(name)


def tool_digest() -> str:
    """The digest of the tool, its libraries and the interpreter; empty where it isn't known."""
    found = tool()
    return key_of(found) if found else ""
