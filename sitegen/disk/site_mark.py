"""What the last build wrote into the published folder, listed in a file of it with digests.

The list travels with the folder, so that a copy is known wherever it lies; and it vouches for what it lists alone, so
that a folder into which it was copied doesn't become the tool's own with all that is in it.
"""

import os
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

from sitegen.datatypes import dataclass
from sitegen.text.source import read_inside

MARK = "made-by-sitegen.txt"
_HEAD = b"Each build replaces the files listed here by those that it makes. Where any other file stands it stops.\n\n"
_LARGEST = 256 * 1024 * 1024  # bytes: two million files


def digest_of(data: bytes) -> str:
    """BLAKE2b of 128 bits (RFC 7693), in hexadecimal."""
    return blake2b(data, digest_size=16).hexdigest()


def mark_bytes(files: Mapping[str, str]) -> bytes:
    """The list for a site of these files, by path with their digests. The same for the same site."""
    lines = (f"{files[path]} {path}\n" for path in sorted(files) if path != MARK)
    return _HEAD + "".join(lines).encode()


def listed_in(folder: Path) -> dict[str, str]:
    """The files that a site's list names, with their digests; empty where it has none, or one that isn't whole."""
    try:
        data = read_inside(folder, MARK, _LARGEST)
        lines = data.removeprefix(_HEAD).decode().splitlines() if data.startswith(_HEAD) else []
        return {path: digest for digest, path in (line.split(" ", 1) for line in lines)}
    except (OSError, ValueError):
        return {}


def digest_in(folder: Path, path: str) -> str:
    """The digest of a file of a site; empty for one that isn't there, is no regular file, or can't be read."""
    try:
        return digest_of(read_inside(folder, path)) if not (folder / path).is_symlink() else ""
    except OSError:
        return ""


@dataclass(frozen=True, slots=True)
class Seen:
    """What stands in a folder: its regular files, everything else that is no folder, and its folders, outer ones first."""

    files: frozenset[str]
    others: frozenset[str]
    folders: tuple[str, ...]
    has_empty: bool


def look_through(folder: Path, beside: Collection[str] = ()) -> Seen:
    """What stands in `folder`, but for what is called as in `beside` at its top. Raises OSError where it can't be listed."""
    files, others, folders, has_empty = set[str](), set[str](), list[str](), False
    for inside, entries in _listings(folder, beside):
        has_empty = has_empty or not entries
        folders.append(inside)
        for entry in entries:
            if entry.is_file(follow_symlinks=False):
                files.add(f"{inside}{entry.name}")
            elif not entry.is_dir(follow_symlinks=False):
                others.add(f"{inside}{entry.name}")
    return Seen(frozenset(files), frozenset(others), tuple(folders), has_empty)


def _listings(folder: Path, beside: Collection[str]) -> Iterator[tuple[str, list[os.DirEntry[str]]]]:
    waiting = [""]
    while waiting:
        inside = waiting.pop()
        with os.scandir(f"{folder}/{inside}") as found:
            entries = [entry for entry in found if inside or entry.name not in beside]
        yield inside, entries
        waiting += [f"{inside}{entry.name}/" for entry in entries if entry.is_dir(follow_symlinks=False)]


def clear_old(folder: Path, known: Mapping[str, str], site: Path) -> bool:
    """Remove a former site: what it lists, as it was written, and second names of files that stand in `site`; whether all went.

    The list itself goes last, so that one who is stopped can be followed by another.
    """
    seen = look_through(folder)
    left = 0
    for path in (seen.files | seen.others) - {MARK}:
        old = f"{folder}/{path}"
        if _is_in(site, path, old) or (path in known and digest_in(folder, path) == known[path]):
            os.unlink(old)
        else:
            left += 1
    if MARK in seen.files and not left:
        os.unlink(f"{folder}/{MARK}")
    for inside in reversed(seen.folders):
        with suppress(OSError):  # something stands in it
            os.rmdir(f"{folder}/{inside}")
    return not left and not os.path.lexists(folder)


def _is_in(site: Path, path: str, old: str) -> bool:
    try:
        return os.path.samestat(os.lstat(old), os.lstat(f"{site}/{path}"))
    except OSError:
        return False
