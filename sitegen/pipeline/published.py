"""What the last build published, by path: a file that stands as it stood then need not be written again."""

import os
import stat
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import Any

_STATE = struct.Struct("<qqq")  # time of content in ns, size, inode; the time of the entry changes with links


class Published:
    """The files of a finished folder; `notes` are kept from build to build."""

    def __init__(self, target: Path, notes: dict[str, Any]) -> None:
        self._target, self._notes = os.path.realpath(target), notes
        self._known: dict[str, bytes] = notes.setdefault("published", {}).get(self._target, {})

    def digest(self, path: str) -> bytes | None:
        """The digest of a published file; None where it isn't known to stand as it was written."""
        known = self._known.get(path)
        return known[_STATE.size :] if known is not None and known.startswith(self._state(path)) else None

    def note_all(self, digests: Mapping[str, bytes]) -> None:
        """Note the files that a build has just published."""
        found = {path: self._state(path) + digest for path, digest in digests.items()}
        self._notes["published"][self._target] = {p: s for p, s in found.items() if len(s) > _STATE.size}

    def _state(self, path: str) -> bytes:
        try:
            found = os.lstat(f"{self._target}/{path}")
        except OSError:
            return b"-"
        if not stat.S_ISREG(found.st_mode):
            return b"-"
        return _STATE.pack(found.st_mtime_ns, found.st_size, found.st_ino & (2**63 - 1))
