"""The only way in which a command changes the author's files: whole, or not at all, and never over what somebody wrote.

A file is replaced only if it still is what the command read; a new one is made only where there is none.
"""

import os
import re
import tempfile
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from sitegen.editions.worksheets.edits import LineEdit
from sitegen.text.source import digest_of, read_inside, real_path

_BOM = b"\xef\xbb\xbf"
_LINE = re.compile(rb"([^\r\n]*)(\r\n|\r|\n|\Z)")


class NotWritten(Exception):
    """A file of the publication was left as it is; the text says why."""


class ChangedMeanwhile(NotWritten):
    """The file isn't what the command read; its argument is the file's name."""


class InTheWay(NotWritten):
    """A file stands where a new one should be made; its argument is the file's name."""


def edited_bytes(data: bytes, edits: Iterable[LineEdit]) -> bytes:
    """A file with its edits made: byte order mark, line ends and the last line's want of one stay as they are.

    New lines end as most of the file's do. Lines are counted as `Source` counts them.
    """
    mark, rest = (_BOM, data[len(_BOM) :]) if data.startswith(_BOM) else (b"", data)
    lines = [(found[1], found[2]) for found in _LINE.finditer(rest)]
    if len(lines) > 1 and lines[-2][1] == b"":  # the pattern finds the end of the file once more
        lines.pop()
    usual = Counter(end for _, end in lines if end).most_common(1)
    end = usual[0][0] if usual else b"\n"
    for edit in sorted(edits, key=lambda e: (e.first, e.last), reverse=True):
        replaced = lines[edit.first - 1 : edit.last]
        new = [(line.encode(), end) for line in edit.lines]
        if new and replaced:
            new[-1] = (new[-1][0], replaced[-1][1])
        lines[edit.first - 1 : edit.last] = new
    # Only the last line has no end, whatever was put behind it or taken away.
    ended = [(line, ending or end) for line, ending in lines[:-1]] + [(line, b"") for line, _ in lines[-1:]]
    return mark + b"".join(line + ending for line, ending in ended)


def edit_file(root: Path, name: str, digest: str, edits: Iterable[LineEdit]) -> str:
    """Make edits in a file of the publication that still has this digest; the new digest comes back.

    Raises ChangedMeanwhile where it hasn't, OSError where the disk fails; the file is then as it was.
    """
    data = _bytes_with(root, name, digest)
    new = edited_bytes(data, edits)
    if new != data:
        _replace(root, name, new, digest)
    return digest_of(new)


def replace_file(root: Path, name: str, digest: str, data: bytes) -> str:
    """Give a file that only commands write new contents, if it still has this digest. Raises as `edit_file` does."""
    if _bytes_with(root, name, digest) != data:
        _replace(root, name, data, digest)
    return digest_of(data)


def create_file(root: Path, name: str, data: bytes) -> str:
    """Make a new file, with the folders above it. Raises InTheWay where there is one, also one made this moment."""
    path = real_path(root, os.path.dirname(name) or ".") / os.path.basename(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = _beside(path, data, 0o666 & ~_umask())
    try:
        os.link(beside, path)  # unlike a rename, this fails where the name is taken
    except FileExistsError:
        raise InTheWay(name) from None
    finally:
        beside.unlink()
    _sync_folder(path.parent)
    return digest_of(data)


def _bytes_with(root: Path, name: str, digest: str) -> bytes:
    try:
        data = read_inside(root, name)
    except FileNotFoundError:
        raise ChangedMeanwhile(name) from None
    if digest_of(data) != digest:
        raise ChangedMeanwhile(name)
    return data


def _replace(root: Path, name: str, data: bytes, digest: str) -> None:
    path = real_path(root, name)  # a link stays a link
    beside = _beside(path, data, path.stat().st_mode & 0o7777)
    try:
        _bytes_with(root, name, digest)  # the last look, as late as can be
        os.replace(beside, path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _beside(path: Path, data: bytes, mode: int) -> Path:
    """The data in a finished file of its own in the same folder; its name begins with a dot, so nothing reads it."""
    number, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, mode)
    except BaseException:
        os.unlink(name)
        raise
    return Path(name)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """The new name is on the disk as well; systems that can't open folders go without."""
    try:
        number = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(number)
    except OSError:
        pass
    finally:
        os.close(number)
