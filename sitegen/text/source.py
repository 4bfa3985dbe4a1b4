"""Files read once: bytes to text with a digest, or a clear problem. Nothing else reads a publication."""

import os
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from hashlib import blake2b
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

# Everything below U+0020 but tab and line feed, DEL, the C1 block (NEL is in it), and the two Unicode line
# ends: no editor types them, and YAML would count lines by the last ones. Halves of surrogate pairs can't be
# written as UTF-8; only a translator's file can bring them.
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
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


def digest_of(data: bytes) -> str:
    """The digest by which a file is known to be unchanged: BLAKE2b of 256 bits (RFC 7693), in hexadecimal."""
    return blake2b(data, digest_size=32).hexdigest()


def read_source(root: Path, name: str, problems: Problems) -> Source | None:
    """The file `name` (relative to `root`, with '/') as text; None after a problem was noted.

    Nothing is said here of a name that `is_nameless`: names are looked at together, whoever reads the files.
    """
    path = None if is_nameless(name) else _confined(root, name, problems)
    if path is None:
        return None
    data = _read_bytes(path, name, problems)
    if _hearers:
        _hearers[-1](root, name, data)
    if data is None:
        return None
    text = decode(data, name, problems)
    if text is None:
        return None
    return Source(name, text, digest_of(data))


def shown_line(root: Path, name: str, number: int) -> str | None:
    """A line for printing under a problem, even of a file that is no proper text; None without one."""
    path = _confined(root, name, Problems())
    try:
        lines = () if path is None else _lines_of(path, name, (state := path.stat()).st_mtime_ns, state.st_size)
    except (OSError, ValueError):
        return None
    if not 1 <= number <= len(lines) or b"\0" in lines[number - 1]:
        return None
    return lines[number - 1].decode("utf-8", "replace")


@lru_cache(maxsize=1)  # problems are printed by file: a file with thousands of them is read and divided once
def _lines_of(path: Path, name: str, time: int, size: int) -> Sequence[bytes]:
    data = _read_bytes(path, name, Problems())
    return () if data is None else _LINE_END.split(data.removeprefix(_BOM), maxsplit=MOST_SHOWN)[:MOST_SHOWN]


def walk_sources(root: Path) -> tuple[str, ...]:
    """Sorted names of the files below `root`; nothing whose name begins with a dot, nothing outside `root`.

    A folder that the system refuses to list stands among them with a '/' at its end (`root` itself as './'), since
    going on without its files would lose them in silence.

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
            if entry.name.startswith(".") or (entry.is_symlink() and not _leads_inside(entry.path, real_root)):
                continue
            if entry.is_file():
                yield name
            elif entry.is_dir() and not (linked and entry.is_symlink()):
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


def _leads_inside(path: str, real_root: Path) -> bool:
    """Whether a link's end lies in the publication; a link to a folder that holds the link is a loop."""
    try:
        target = Path(path).resolve(strict=True)
    except (OSError, RuntimeError):
        return False
    holds_the_link = target in Path(os.path.realpath(os.path.dirname(path)), "x").parents
    return target.is_relative_to(real_root) and not holds_the_link


def _confined(root: Path, name: str, problems: Problems) -> Path | None:
    """The real path of `name`, if it lies in the publication."""
    at = Place(name, 1, 1)
    parts = name.split("/")
    if "\0" in name or "\\" in name or name.startswith("/") or ".." in parts or not name or ":" in parts[0]:
        problems.error(
            "path-outside",
            at,
            f"expected a path inside the publication, found {quoted(name)}",
            "write it from the publication's folder, with '/' and without '..', such as photos/bench.jpg",
        )
        return None
    try:
        real = (root / name).resolve()
        inside = real.is_relative_to(root.resolve())
    except (OSError, RuntimeError):  # a link that leads to itself
        real, inside = root, False
    if inside:
        return real
    problems.error(
        "path-outside",
        at,
        f"{quoted(name)} is a link that leads out of the publication",
        "copy the file into the publication's folder",
    )
    return None


def _read_bytes(path: Path, name: str, problems: Problems) -> bytes | None:
    at = Place(name, 1, 1)
    limit = LARGEST_TABLE if name.lower().endswith(_TABLES) else LARGEST_TEXT
    try:
        kind = path.stat()
        if stat.S_ISDIR(kind.st_mode):
            problems.error("file-kind", at, f"expected a file, found the folder {quoted(name)}")
            return None
        if not stat.S_ISREG(kind.st_mode):  # reading a pipe would wait for ever
            problems.error("file-kind", at, f"expected a file, found a device or a pipe: {quoted(name)}")
            return None
        with path.open("rb") as opened:
            data = opened.read(limit + 1) if kind.st_size <= limit else None
    except FileNotFoundError:
        _report_missing(path, name, problems)
        return None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "the system refused it"
        problems.error("file-unreadable", at, f"can't read {quoted(name)}: {reason}", "check its access rights")
        return None
    if data is None or len(data) > limit:  # it may have grown since
        size = f"{limit // (1024 * 1024)} MiB"
        problems.error("file-size", at, f"expected at most {size}, found a larger file", "split it, or leave it out")
        return None
    return data


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
