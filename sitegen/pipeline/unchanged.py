"""Whether anything changed since the last build, answered before anything else of the tool is loaded; and what was edited.

A scan (names, sizes, times, inodes) of the publication, the tool itself and the published folder is kept as one
block of bytes beside what that build said. If the block is the same, so would be the site: the same is said again.
Only modules that the interpreter has loaded anyway are imported here: the rest of the tool takes ten times as
long to load as this takes to answer.
"""

import marshal
import os
import sys
import time
from array import array
from stat import S_IFDIR, S_IFLNK, S_IFMT
from zlib import crc32

_HEAD = b"sitegen state 2\n"
_NAME = "unchanged"
PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
SUFFIX = "_built"
_ENTRY = 24  # bytes that say how a file stands: time, size, inode


def answer(arguments: list[str]) -> int | None:
    """The exit code of a build with nothing to do, told as the last one was; None where there is something to do."""
    asked = _read(arguments)
    if asked is None:
        return None
    folder, target, quiet = asked
    kept = _kept(target)
    if kept is None:
        return None
    problems, report, _, block = kept
    looked, day = look(folder), time.strftime("%Y-%m-%d")
    _looked[folder] = looked
    if not block.startswith(_before_published(day, looked, target)) or block != state(looked, target, day):
        return None
    sys.stderr.write(problems)
    if not quiet:
        sys.stdout.write(report)
    return 0


def edited(folder: str, target: str, day: str, looked: bytes) -> tuple[list[str], str, bytes] | None:
    """The files of a publication that were edited since the last build, where nothing else of it changed: no file came or went,
    and tool and day are as they were. With what that build called its site, and the scan of what it published.

    None where anything else may have changed. `looked` is the scan of today.
    """
    kept = _kept(target)
    if kept is None or not looked:
        return None
    *_, called, block = kept
    try:
        was_day, was_looked, was_target, was_published = _taken_apart(block)
        before, tool_before = _taken_apart(was_looked)
    except ValueError:
        return None
    now, tool_now = _taken_apart(looked)
    if (was_day, was_target, tool_before) != (day.encode(), os.fsencode(target), tool_now) or not called:
        return None
    names = _edited(folder, before, now)
    return (names, called, was_published) if names is not None else None


def _edited(root: str, before: bytes, now: bytes) -> list[str] | None:
    """The files that stand otherwise in a later scan of the same files; None where there are others."""
    known = {folder: (names, numbers) for folder, names, numbers in marshal.loads(before)}
    found, folders = [], marshal.loads(now)
    if len(known) != len(folders):
        return None
    for folder, names, numbers in folders:
        then = known.get(folder)
        if then == (names, numbers):
            continue
        if then is None:
            return None
        old, new = _entries(*then), _entries(names, numbers)
        if old.keys() != new.keys():
            return None
        inside = os.path.relpath(os.fsdecode(folder), root)
        found += [os.path.normpath(os.path.join(inside, os.fsdecode(name))) for name in new if old[name] != new[name]]
    return found


def _entries(names: bytes, numbers: bytes) -> dict[bytes, bytes]:
    every = names.split(b"\0") if names else []
    return {name: numbers[n * _ENTRY : (n + 1) * _ENTRY] for n, name in enumerate(every)}


def _read(arguments: list[str]) -> tuple[str, str, bool] | None:
    """Folder, target and whether to be quiet; None for anything but a plain build."""
    if arguments[:1] != ["build"]:
        return None
    rest = arguments[1:]
    quiet = "--quiet" in rest
    rest = [word for word in rest if word != "--quiet"]
    given = {}
    for option in ("--to", "--workers"):
        if option in rest:
            at = rest.index(option)
            given[option] = "".join(rest[at + 1 : at + 2])
            del rest[at : at + 2]
    to = given.get("--to", "")
    if len(rest) > 1 or any(word.startswith("-") for word in (*rest, to)):
        return None
    folder = os.path.realpath(rest[0] if rest else ".")
    return folder, os.path.realpath(to) if to else folder + SUFFIX, quiet


def look(folder: str) -> bytes:
    """The scan of a publication and of the tool; empty where it can't vouch for them."""
    found = (scan(folder, hidden=False), tool())
    return _put_together(*found) if all(found) else b""


def look_again(folder: str) -> bytes:
    """As `look`, but for what `answer` has seen of the same folder just before: an older look is on the safe side.

    Whatever changed since then differs from it at the next build.
    """
    return _looked.pop(folder, None) or look(folder)


_looked: dict[str, bytes] = {}


def tool() -> bytes:
    """The scan of the tool's own files, with the names of the libraries (which hold their versions) and Python's version; or empty.

    Made once: what runs is what was loaded.
    """
    if not _tool:
        _tool.append(_scan_tool())
    return _tool[0]


_tool: list[bytes] = []


def _scan_tool() -> bytes:
    found = [scan(place) for place in (PACKAGE, *_beside())]
    libraries = [
        name
        for path in sys.path
        if path.endswith("site-packages") and os.path.isdir(path)
        for name in sorted(os.listdir(path))
    ]
    versions = "\0".join([sys.version, *(name for name in libraries if name.endswith(".dist-info"))]).encode()
    return b"\0\0".join([*found, versions]) if all(found) else b""


def _beside() -> list[str]:
    """The stock content and the themes, where they don't lie in the package."""
    places = [os.path.join(os.path.dirname(PACKAGE), name) for name in ("content", "themes")]
    return [place for place in places if not os.path.isdir(os.path.join(PACKAGE, os.path.basename(place)))]


def scan(root: str, hidden: bool = True) -> bytes:
    """Names, times, sizes and inodes of all files below `root`; empty where a link leads elsewhere or a folder can't be read.

    A link's end can change with nothing to be seen here. Without `hidden` nothing counts whose name begins with a dot: no
    publication is read from there, and editors and version control write there all the time.
    """
    sections, waiting = [], [root]
    try:
        while waiting:
            section = _section(waiting.pop(), waiting, hidden)
            if section is None:
                return b""
            sections.append(section)
    except (OSError, OverflowError):  # some disks number their files beyond what is signed
        return b""
    return marshal.dumps(sections, _PLAIN)


_PLAIN = 2  # a version of the format without references: equal things give equal bytes


def _section(folder: str, waiting: list[str], hidden: bool = True) -> tuple[bytes, bytes, bytes] | None:
    """A folder, the names of its files, how each stands; its folders are added to `waiting`. None where there is a link."""
    numbers, names = list[int](), list[str]()
    note, look = numbers.append, os.stat
    handle = os.open(folder, os.O_RDONLY)
    try:  # by a handle, which takes a sixth less than os.scandir
        for name in os.listdir(handle):
            if not hidden and name.startswith("."):
                continue
            found = look(name, dir_fd=handle, follow_symlinks=False)
            kind = S_IFMT(found.st_mode)
            if kind == S_IFDIR:
                if name != "__pycache__":
                    waiting.append(f"{folder}/{name}")
            elif kind == S_IFLNK:
                return None
            else:
                names.append(name)
                note(found.st_mtime_ns)
                note(found.st_size)
                note(found.st_ino)
    finally:
        os.close(handle)
    return os.fsencode(folder), os.fsencode("\0".join(names)), array("q", numbers).tobytes()


def files_in(scanned: bytes, root: str) -> list[str]:
    """The names of the files in a scan of `root`, as seen from there."""
    start = len(os.path.join(root, ""))
    return [
        os.path.join(os.fsdecode(folder), name)[start:]
        for folder, names, _ in marshal.loads(scanned)
        for name in os.fsdecode(names).split("\0")
        if name
    ]


def rescanned(before: bytes, folders: set[str]) -> bytes:
    """A scan brought up to date where files were exchanged in these folders alone; empty where one can't be read."""
    wanted = {os.fsencode(folder) for folder in folders}
    try:
        sections = [
            _section(os.fsdecode(section[0]), []) if section[0] in wanted else section
            for section in marshal.loads(before)
        ]
    except (OSError, OverflowError):
        return b""
    return marshal.dumps(sections, _PLAIN) if all(sections) else b""


def state(looked: bytes, target: str, day: str, published: bytes = b"") -> bytes:
    """Everything that a build and its result depend on; empty where that isn't known. `published` is the scan of what is
    published, where it is known.
    """
    published = published or (scan(target) if looked else b"")
    return _before_published(day, looked, target) + _put_together(published) if looked and published else b""


def _before_published(day: str, looked: bytes, target: str) -> bytes:
    return _put_together(day.encode(), looked, os.fsencode(target))


def _put_together(*parts: bytes) -> bytes:
    return b"".join(len(part).to_bytes(8, "big") + part for part in parts)


def _taken_apart(block: bytes) -> list[bytes]:
    """The parts that were put together. Raises ValueError where they are cut."""
    parts, at = [], 0
    while at < len(block):
        end = at + 8 + int.from_bytes(block[at : at + 8], "big")
        parts.append(block[at + 8 : end])
        at = end
    if at != len(block):
        raise ValueError
    return parts


def remember(
    looked: bytes, target: str, day: str, problems: str, report: str, called: str = "", published: bytes = b""
) -> None:
    """Keep what a build said, for the next one with nothing to do; `looked` is from before it read anything.

    `called` is what the site that was made calls itself (see `edited`), `published` the scan of it, where it is known.
    """
    block = state(looked, target, day, published)
    said = "\0".join((problems, report, called)).encode("utf-8", "surrogateescape")
    if not block:
        return
    path = _path(target)
    beside = f"{path}.{os.getpid()}"
    try:
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(beside, "wb") as file:
            file.write(
                _HEAD + len(said).to_bytes(8, "big") + crc32(block, crc32(said)).to_bytes(4, "big") + said + block
            )
        os.replace(beside, path)
    except OSError:  # it costs time only
        try:
            os.unlink(beside)
        except OSError:
            return


def _kept(target: str) -> tuple[str, str, str, bytes] | None:
    try:
        with open(_path(target), "rb") as file:
            data = file.read()
    except OSError:
        return None
    head, start = len(_HEAD), len(_HEAD) + 12
    size = int.from_bytes(data[head : head + 8], "big")
    said = data[start : start + size]
    sum = int.from_bytes(data[head + 8 : start], "big")
    if not data.startswith(_HEAD) or len(said) != size or crc32(memoryview(data)[start:]) != sum:
        return None
    problems, report, called = said.decode("utf-8", "surrogateescape").split("\0")
    return problems, report, called, data[start + size :]


def _path(target: str) -> str:
    return os.path.join(f"{target}.memory", _NAME)
