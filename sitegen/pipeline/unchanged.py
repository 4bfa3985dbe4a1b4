"""Whether anything changed since the last build, answered before anything else of the tool is loaded.

A scan (names, sizes, times, inodes) of the publication, the tool itself and the published folder is stored in the
user's cache beside what that build printed. If the scan is the same, so would be the site: the same is printed again.
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

from sitegen.disk.cache_folder import cache_file
from sitegen.terminal import give, tell

_HEAD = b"sitegen scan 3\n"
PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
SUFFIX = "_built"
RACY = 2_000_000_000  # ns: a file changed so shortly before it was looked at may change again with the same times
_PLAIN = 2  # a version of marshal's format without references: equal things give equal bytes


def answer(arguments: list[str]) -> int | None:
    """The exit code of a build with nothing to do, reported as the last one was; None where there is something to do."""
    asked = _read(arguments)
    if asked is None:
        return None
    folder, target, quiet = asked
    stored = _stored(folder, target)
    if stored is None:
        return None
    problems, report, block = stored
    looked, day = look(folder), time.strftime("%Y-%m-%d")
    _looked[folder] = looked
    if not block.startswith(_before_published(day, looked, target)) or block != state(looked, target, day):
        return None
    tell(problems)
    if not quiet:
        give(report)
    return 0


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
    found = (scan(folder, sources=True), tool())
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


def scan(root: str, sources: bool = False) -> bytes:
    """Names, times, sizes and inodes of all files below `root`; empty where a link leads elsewhere, or a folder can't be read.

    A link's end can change with nothing to be seen here. Of `sources` the time of the entry counts too, which no program
    can set back; nothing counts whose name begins with a dot: no publication is read from there, and editors and version
    control write there all the time. Files of a site that is taken over are linked, which changes that time.
    """
    sections, waiting = [], [root]
    try:
        while waiting:
            section = _section(waiting.pop(), waiting, sources)
            if section is None:
                return b""
            sections.append(section)
    except (OSError, OverflowError):  # some disks number their files beyond what is signed
        return b""
    return marshal.dumps(sections, _PLAIN)


def _section(folder: str, waiting: list[str], sources: bool) -> tuple[bytes, bytes, bytes] | None:
    """A folder, the names of its files, how each stands; its folders are added to `waiting`. None where there is a link."""
    numbers, names = list[int](), list[str]()
    note, look = numbers.append, os.stat
    handle = os.open(folder, os.O_RDONLY)
    try:  # by a handle, which takes a sixth less than os.scandir
        for name in os.listdir(handle):
            if sources and name.startswith("."):
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
                note(found.st_ctime_ns if sources else 0)
                note(found.st_size)
                note(found.st_ino)
    finally:
        os.close(handle)
    return os.fsencode(folder), os.fsencode("\0".join(names)), array("q", numbers).tobytes()


def is_settled(looked: bytes, now: int) -> bool:
    """Whether every file of a publication was left alone for so long before `now` that a later change will show.

    A file that is written twice within one tick of the disk's clock looks the same after both.
    """
    try:
        sections = marshal.loads(_taken_apart(looked)[0])
    except (ValueError, IndexError, EOFError, TypeError):
        return False
    for _, _, numbers in sections:
        found = array("q")
        found.frombytes(numbers)
        if any(time > now - RACY for time in (*found[0::4], *found[1::4])):
            return False
    return True


def state(looked: bytes, target: str, day: str) -> bytes:
    """Everything that a build and its result depend on; empty where that isn't known."""
    published = scan(target) if looked else b""
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


def remember(looked: bytes, folder: str, target: str, day: str, problems: str, report: str) -> None:
    """Store what a build printed, for the next one with nothing to do.

    `looked` is from before the build read anything. Nothing is stored where a look now shows something else, or where a
    file was changed so lately that it may change once more unseen.
    """
    path = cache_file("scan", folder, target)
    if path is None or not looked or look(folder) != looked or not is_settled(looked, time.time_ns()):
        return
    block = state(looked, target, day)
    said = "\0".join((problems, report)).encode("utf-8", "surrogateescape")
    if not block:
        return
    beside = f"{path}.{os.getpid()}"
    try:
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


def _stored(folder: str, target: str) -> tuple[str, str, bytes] | None:
    path = cache_file("scan", folder, target)
    if path is None:
        return None
    try:
        with open(path, "rb") as file:
            data = file.read()
    except OSError:
        return None
    head, start = len(_HEAD), len(_HEAD) + 12
    size = int.from_bytes(data[head : head + 8], "big")
    said = data[start : start + size]
    sum = int.from_bytes(data[head + 8 : start], "big")
    if not data.startswith(_HEAD) or len(said) != size or crc32(memoryview(data)[start:]) != sum:
        return None
    problems, report = said.decode("utf-8", "surrogateescape").split("\0")
    return problems, report, data[start + size :]
