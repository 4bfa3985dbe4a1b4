"""The one door to a publication's files: it never leaves the publication's folder, and opens regular files only.

Links within the publication are followed; one that leads out, a pipe and a device are refused. Texts come with a
digest, or a clear problem.
"""

import errno
import os
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from hashlib import blake2b
from io import BufferedReader
from pathlib import Path

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, nearest, quoted

LARGEST_TEXT = 4 * 1024 * 1024  # YAML and Markdown: a thick book is 2 MiB; more is a photo or a log by mistake
LARGEST_TABLE = 8 * 1024 * 1024  # CSV: two days of a logger at 1 Hz are 5 MiB; ten years of readings on a bench less
_TABLES = (".csv", ".tsv")
MOST_SHOWN = (
    1_000_001  # lines of a file that can be printed: a file of line ends alone would take a hundredfold in memory
)
REFUSED_ROOT = "./"
LINK_OUT = "/../"  # ends the name of a link that leads out of the publication, as `walk_sources` gives it

# Everything below U+0020 but tab and line feed, DEL, the C1 block (NEL is in it), and the two Unicode line
# ends: no editor types them, and YAML would count lines by the last ones. Halves of surrogate pairs can't be
# written as UTF-8; only a translator's file can bring them. The two overrides show a text in another order than it is
# read (UAX 9, 2.2); isolates, embeddings and marks of direction are what right-to-left texts need. Noncharacters stand
# for nothing (The Unicode Standard, 23.7), and XML takes no U+FFFE and U+FFFF (XML 1.0, production 2).
_NONCHARACTERS = "\ufdd0-\ufdef" + "".join(
    f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 0x10000)
)
_CONTROL = re.compile(f"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202d\u202e\ud800-\udfff{_NONCHARACTERS}]")
_BOM = b"\xef\xbb\xbf"
_LINE_END = re.compile(rb"\r\n?|\n")


Hearer = Callable[[Path, str, bytes | None], None]
_hearers: list[Hearer] = []


@contextmanager
def heard_by(hear: Hearer) -> Iterator[None]:
    """Have `hear` called with folder, name and bytes of each file that is read; with None for one that can't be."""
    _hearers.append(hear)
    try:
        yield
    finally:
        _hearers.pop()


def _hear(root: Path, name: str, data: bytes | None) -> None:
    if _hearers:
        _hearers[-1](root, name, data)


@dataclass(frozen=True, slots=True)
class Source:
    """The text of one file: lines end in '\\n' alone, a byte order mark is gone; `digest` is BLAKE2b's."""

    name: str
    text: str
    digest: str

    def line(self, number: int) -> str:
        """Line `number` (from 1) without its end; empty where the file has no such line."""
        if number < 1:
            return ""
        lines = self.text.split("\n", number)
        return lines[number - 1] if number <= len(lines) else ""


class LeadsOut(OSError):
    """A name that leads out of the publication, by itself or by a link."""


class NoRegularFile(OSError):
    """A folder, a pipe or a device where a file is expected."""


class TooLarge(OSError):
    """A file of more bytes than asked for."""


def open_inside(root: Path, name: str) -> BufferedReader:
    """Open the regular file `name` (relative to `root`, with '/') for reading.

    The real path is looked up first and then opened folder by folder, following nothing any more: a link that is put
    there meanwhile is refused. Nothing is waited for, also where a pipe takes the file's place.

    Raises LeadsOut, NoRegularFile, FileNotFoundError, or another OSError where the system refuses.
    """
    top, real = _real(root, name)
    folder = os.open(top, os.O_RDONLY | os.O_DIRECTORY)
    try:
        *folders, last = real.split("/") if real else (".",)
        for part in folders:
            inner = os.open(part, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=folder)
            os.close(folder)
            folder = inner
        _refuse_kind(os.stat(last, dir_fd=folder, follow_symlinks=False).st_mode, name)  # opening some devices acts
        handle = os.open(last, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=folder)
    finally:
        os.close(folder)
    try:
        _refuse_kind(os.fstat(handle).st_mode, name)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def read_inside(root: Path, name: str, most: int | None = None) -> bytes:
    """The bytes of a file of the publication. Raises as `open_inside`, and TooLarge for more than `most` bytes."""
    try:
        with open_inside(root, name) as opened:
            data = opened.read(-1 if most is None else most + 1)
    except OSError:
        _hear(root, name, None)
        raise
    _hear(root, name, data)
    if most is not None and len(data) > most:
        raise TooLarge(errno.EFBIG, f"is larger than {most:,} bytes", name)
    return data


def stands_inside(root: Path, name: str) -> bool:
    """Whether there is anything of this name, be it a link that leads nowhere: whoever reads it then reports that."""
    return not _is_odd(name) and os.path.lexists(root / name)


def folder_inside(root: Path, name: str) -> Path | None:
    """A folder of the publication, None where there is none. Raises LeadsOut for a link out of the publication."""
    if not os.path.lexists(root / name):
        return None
    top, real = _real(root, name)
    path = Path(top, real)
    return root / name if path.is_dir() else None


def real_path(root: Path, name: str) -> Path:
    """Where a file of the publication really lies, be it there or not, with all links followed. Raises LeadsOut."""
    return Path(*_real(root, name))


def _real(root: Path, name: str) -> tuple[str, str]:
    """The real path of `root`, and that of `name` from there."""
    top = os.path.realpath(root)
    if _is_odd(name):
        raise LeadsOut(errno.EXDEV, "isn't a path inside the publication", name)
    real = os.path.realpath(f"{top}/{name}")
    if real != top and not real.startswith(os.path.join(top, "")):
        raise LeadsOut(errno.EXDEV, "is a link that leads out of the publication", name)
    return top, real[len(top) :].lstrip("/")


def _is_odd(name: str) -> bool:
    """Whether a name says by itself that it leads elsewhere."""
    parts = name.split("/")
    return "\0" in name or "\\" in name or name.startswith("/") or ".." in parts or not name or ":" in parts[0]


def _refuse_kind(mode: int, name: str) -> None:
    if stat.S_ISDIR(mode):
        raise NoRegularFile(errno.EISDIR, "is a folder, not a file", name)
    if not stat.S_ISREG(mode):
        raise NoRegularFile(errno.ENXIO, "is a device or a pipe, not a file", name)


def digest_of(data: bytes) -> str:
    """The digest by which a file is known to be unchanged: BLAKE2b of 256 bits (RFC 7693), in hexadecimal."""
    return blake2b(data, digest_size=32).hexdigest()


def read_source(root: Path, name: str, problems: Problems) -> Source | None:
    """The file `name` (relative to `root`, with '/') as text; None after a problem was noted.

    Nothing is said here of a name that `is_nameless`: names are looked at together, whoever reads the files.
    """
    data = None if is_nameless(name) else _read_bytes(root, name, problems)
    if data is None:
        return None
    text = decode(data, name, problems)
    if text is None:
        return None
    return Source(name, text, digest_of(data))


def shown_line(root: Path, name: str, number: int) -> str | None:
    """A line for printing under a problem, even of a file that is no proper text; None without one."""
    try:
        state = real_path(root, name).stat()
        lines = _lines_of(root, name, state.st_mtime_ns, state.st_size)
    except (OSError, ValueError):
        return None
    if not 1 <= number <= len(lines) or b"\0" in lines[number - 1]:
        return None
    return lines[number - 1].decode("utf-8", "replace")


@lru_cache(maxsize=1)  # problems are printed by file: a file with thousands of them is read and divided once
def _lines_of(root: Path, name: str, time: int, size: int) -> Sequence[bytes]:
    data = _read_bytes(root, name, Problems())
    return () if data is None else _LINE_END.split(data.removeprefix(_BOM), maxsplit=MOST_SHOWN)[:MOST_SHOWN]


def walk_sources(root: Path) -> tuple[str, ...]:
    """Sorted names of the files below `root`; nothing whose name begins with a dot, nothing outside `root`.

    Going on without something would lose it in silence, so there stand among them: a folder that the system refuses to
    list, with a '/' at its end (`root` itself as './'); a link that leads out of `root`, with LINK_OUT at its end; and
    by its name whatever else is no file, a pipe or a link to nothing, so that whoever wants to read it reports it.

    Bytes of a name that are no UTF-8 come as U+FFFD (see `is_nameless`), so that nobody further on meets half a character.

    Links to folders inside `root` are followed once, never from within a linked folder, so no loop is walked.
    """
    try:
        real_root = root.resolve(strict=True)
    except (OSError, RuntimeError):
        return ()
    return tuple(sorted(set(map(_as_text, _walk(root, real_root)))))


def _as_text(name: str) -> str:
    return name if name.isascii() else name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def is_nameless(name: str) -> bool:
    """Whether a file's name holds bytes that are no text, so that it can't be opened by what is known of its name."""
    return "\ufffd" in name or any("\ud800" <= letter <= "\udfff" for letter in name)


def _walk(root: Path, real_root: Path) -> Iterator[str]:
    top, waiting = os.fspath(root), [("", False)]
    while waiting:
        folder, linked = waiting.pop()
        found = _listed(f"{top}/{folder}")
        if found is None:
            yield folder or REFUSED_ROOT
        for entry in found or ():
            name = f"{folder}{entry.name}"
            if entry.name.startswith("."):
                continue
            if entry.is_symlink() and (leads := _end_of(entry.path, real_root)) != "inside":
                yield from (f"{name}{LINK_OUT}",) if leads == "outside" else ()
            elif not entry.is_dir():
                yield name
            elif not (linked and entry.is_symlink()):
                waiting.append((f"{name}/", linked or entry.is_symlink()))


def _listed(folder: Path | str) -> list[os.DirEntry[str]] | None:
    try:
        with os.scandir(folder) as found:
            return list(found)
    except NotADirectoryError:
        return []
    except OSError:
        return None


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    return _listed(folder) or []


def _end_of(path: str, real_root: Path) -> str:
    """Where a link leads: "inside" the publication, "outside" of it, or in a "loop", also to a folder that holds the link."""
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(real_root):
        return "outside"
    holds_the_link = target in Path(os.path.realpath(os.path.dirname(path)), "x").parents
    return "loop" if holds_the_link or target.is_symlink() else "inside"


def _read_bytes(root: Path, name: str, problems: Problems) -> bytes | None:
    """The bytes of a text; None after a problem was noted."""
    limit = LARGEST_TABLE if name.lower().endswith(_TABLES) else LARGEST_TEXT
    try:
        return read_inside(root, name, limit)
    except LeadsOut:
        report_link_out(name, problems)
    except TooLarge:
        size = f"{limit // (1024 * 1024)} MiB"
        message = f"expected at most {size}, found a larger file"
        problems.error("file-size", Place(name, 1, 1), message, "split it, or leave it out")
    except NoRegularFile as fault:
        found = "the folder" if fault.errno == errno.EISDIR else "a device or a pipe:"
        problems.error("file-kind", Place(name, 1, 1), f"expected a file, found {found} {quoted(name)}")
    except (FileNotFoundError, NotADirectoryError):
        _report_missing(root / name, name, problems)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "the system refused it"
        message = f"can't read {quoted(name)}: {reason}"
        problems.error("file-unreadable", Place(name, 1, 1), message, "check its access rights")
    return None


def report_link_out(name: str, problems: Problems) -> None:
    """A name that leads out of the publication, by itself or as a link."""
    if _is_odd(name):
        message = f"expected a path inside the publication, found {quoted(name)}"
        hint = "write it from the publication's folder, with '/' and without '..', such as photos/bench.jpg"
    else:
        message = f"{quoted(name)} is a link that leads out of the publication"
        hint = "copy what it leads to into the publication's folder"
    problems.error("path-outside", Place(name, 1, 1), message, hint)


def _report_missing(path: Path, name: str, problems: Problems) -> None:
    near = nearest(path.name, [entry.name for entry in _entries(path.parent)])
    hint = f"did you mean {near}?" if near else "check the name; capitals count"
    problems.error("file-missing", Place(name, 1, 1), f"there is no file {quoted(name)}", hint)


def decode(data: bytes, name: str, problems: Problems) -> str | None:
    """The text of a file's bytes, its lines ended by '\\n' alone; None after a problem was noted. Never raises."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or (b"\0" in data[:4] and len(data) % 2 == 0 and _is_utf16(data)):
        problems.error("not-utf8", Place(name, 1, 1), "expected text in UTF-8, found UTF-16", _how_to_save(name))
        return None
    data = data.removeprefix(_BOM)
    try:
        text = data.decode()
    except UnicodeDecodeError as fault:
        _report_byte(data, fault.start, name, problems)
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text if _is_clean(text, name, problems) else None


def _is_utf16(data: bytes) -> bool:
    """UTF-16 without its mark: every other byte of Latin text is zero."""
    start = data[:200]
    return max(start[0::2].count(0), start[1::2].count(0)) * 2 > len(start) * 0.8


def _how_to_save(name: str) -> str:
    if name.lower().endswith(_TABLES):
        return "save the table as CSV with the character set UTF-8"
    return "save the file with the encoding UTF-8"


def _report_byte(data: bytes, start: int, name: str, problems: Problems) -> None:
    """A byte that is no UTF-8 is in practice a letter of an old Western European encoding: name it."""
    before = _LINE_END.split(data[:start])
    place = Place(name, len(before), len(before[-1].decode("utf-8", "replace")) + 1)
    byte = data[start : start + 1]
    letter = byte.decode("cp1252", "replace")
    said = f", in Latin-1 the letter {quoted(letter)}" if letter.isprintable() and letter != "\ufffd" else ""
    problems.error(
        "not-utf8",
        place,
        f"expected text in UTF-8, found the byte {byte.hex().upper()}{said}",
        _how_to_save(name),
    )


def control_character(text: str) -> str:
    """The first character that a text file may not hold, as U+0007; empty where there is none."""
    found = _CONTROL.search(text)
    return f"U+{ord(found[0]):04X}" if found else ""


def without_control_characters(text: str) -> str:
    """The text with U+FFFD for each character that a text file may not hold."""
    return _CONTROL.sub("\ufffd", text)


def _is_clean(text: str, name: str, problems: Problems) -> bool:
    found = _CONTROL.search(text)
    if found is None:
        return True
    line = text.count("\n", 0, found.start()) + 1
    column = found.start() - text.rfind("\n", 0, found.start())
    more = len(_CONTROL.findall(text)) - 1
    rest = f" (and {more} more in this file)" if more else ""
    problems.error(
        "control-character",
        Place(name, line, column),
        f"expected text, found the invisible control character {control_character(text)}{rest}",
        "delete it; it often comes with text pasted from another program",
    )
    return False
