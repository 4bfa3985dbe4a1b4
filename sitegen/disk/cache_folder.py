"""The folder of this user's own cache, for what can be made again. Loads nothing but what the interpreter has loaded."""

import os
import stat
import sys


def cache_folder() -> str | None:
    """The folder for stores, scans and locks; None where there is none that only this user can write to.

    XDG Base Directory Specification 0.8: $XDG_CACHE_HOME, else ~/.cache; elsewhere the system's usual place.
    """
    base = os.environ.get("XDG_CACHE_HOME", "")
    if not os.path.isabs(base):
        if sys.platform == "win32":
            base = os.environ.get("LOCALAPPDATA", "")
        else:
            base = os.path.expanduser("~/Library/Caches" if sys.platform == "darwin" else "~/.cache")
    return _own_folder(os.path.join(base, "sitegen")) if os.path.isabs(base) else None


def _own_folder(folder: str) -> str | None:
    """The folder, made if need be, if it is this user's and closed to everybody else."""
    try:
        os.makedirs(folder, mode=0o700, exist_ok=True)
        found = os.lstat(folder)
        if not stat.S_ISDIR(found.st_mode):
            return None
        if hasattr(os, "getuid"):
            if found.st_uid != os.getuid():
                return None
            if found.st_mode & 0o077:
                os.chmod(folder, 0o700)
    except OSError:
        return None
    return folder


def cache_file(what: str, *of: str) -> str | None:
    """The cache's file for some folders; `what` is its ending. None where there is no such cache."""
    from zlib import crc32

    folder = cache_folder()
    names = "\0".join(os.path.realpath(one) for one in of).encode("utf-8", "surrogateescape")
    # Should two folders ever share a name, each finds a file that is not its own, and throws it away.
    return f"{folder}/{crc32(names):08x}{crc32(names, 0x5EED):08x}.{what}" if folder else None
