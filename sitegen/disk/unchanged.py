"""Whether anything changed since the last build, answered before anything else of the tool is loaded.

A scan (names, sizes, times, inodes) of the publication, the tool itself and the published folder is kept as one
block of bytes beside what that build said. If the block is the same, so would be the site: the same is said again.
Only modules that the interpreter has loaded anyway are imported here: the rest of the tool takes ten times as
long to load as this takes to answer.
"""

import os
import sys
import time
from array import array
from zlib import crc32

_HEAD = b"sitegen state 1\n"
_NAME = "unchanged"
_PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
SUFFIX = "_built"


def answer(arguments: list[str]) -> int | None:
    """The exit code of a build with nothing to do, told as the last one was; None where there is something to do."""
    asked = _read(arguments)
    if asked is None:
        return None
    folder, target, quiet = asked
    kept = _kept(target)
    if kept is None:
        return None
    problems, report, block = kept
    looked, day = look(folder), time.strftime("%Y-%m-%d")
    _looked[folder] = looked
    if not block.startswith(_before_published(day, looked, target)) or block != state(looked, target, day):
        return None
    sys.stderr.write(problems)
    if not quiet:
        sys.stdout.write(report)
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
    found = (scan(folder), tool())
    return b"\0\0".join(found) if all(found) else b""


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
    found = [scan(place) for place in (_PACKAGE, *_beside())]
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
    places = [os.path.join(os.path.dirname(_PACKAGE), name) for name in ("content", "themes")]
    return [place for place in places if not os.path.isdir(os.path.join(_PACKAGE, os.path.basename(place)))]


def scan(root: str) -> bytes:
    """Names, times, sizes and inodes of all files below `root`; empty where a link leads elsewhere or a folder can't be read.

    A link's end can change with nothing to be seen here.
    """
    numbers, names, waiting = array("q"), [], [root]
    try:
        while waiting:
            folder = waiting.pop()
            names.append(folder)
            with os.scandir(folder) as entries:
                for entry in entries:
                    if entry.is_symlink():
                        return b""
                    if entry.is_dir(follow_symlinks=False):
                        if entry.name != "__pycache__":
                            waiting.append(entry.path)
                        continue
                    found = entry.stat(follow_symlinks=False)
                    names.append(entry.name)
                    numbers.extend((found.st_mtime_ns, found.st_size, found.st_ino))
    except OSError:
        return b""
    return numbers.tobytes() + os.fsencode("\0".join(names))


def state(looked: bytes, target: str, day: str) -> bytes:
    """Everything that a build and its result depend on; empty where that isn't known."""
    published = scan(target) if looked else b""
    return _before_published(day, looked, target) + published if published else b""


def _before_published(day: str, looked: bytes, target: str) -> bytes:
    return b"\0\0".join((day.encode(), looked, os.fsencode(target), b""))


def remember(looked: bytes, target: str, day: str, problems: str, report: str) -> None:
    """Keep what a build said, for the next one with nothing to do; `looked` is from before it read anything."""
    block = state(looked, target, day)
    said = "\0".join((problems, report)).encode("utf-8", "surrogateescape")
    if not block:
        return
    path = _path(target)
    beside = f"{path}.{os.getpid()}"
    try:
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(beside, "wb") as file:
            file.write(_HEAD + len(said).to_bytes(8, "big") + crc32(said).to_bytes(4, "big") + said + block)
        os.replace(beside, path)
    except OSError:  # it costs time only
        try:
            os.unlink(beside)
        except OSError:
            return


def _kept(target: str) -> tuple[str, str, bytes] | None:
    try:
        with open(_path(target), "rb") as file:
            data = file.read()
    except OSError:
        return None
    head, start = len(_HEAD), len(_HEAD) + 12
    size = int.from_bytes(data[head : head + 8], "big")
    said = data[start : start + size]
    if not data.startswith(_HEAD) or len(said) != size or crc32(said) != int.from_bytes(data[head + 8 : start], "big"):
        return None
    problems, _, report = said.decode("utf-8", "surrogateescape").partition("\0")
    return problems, report, data[start + size :]


def _path(target: str) -> str:
    return os.path.join(f"{target}.memory", _NAME)
