"""The stock templates as Python's code, beside them as Python keeps that of its own modules.

What lies there is trusted as much as the package itself, of which it is a part; nothing of a publication comes here.
"""

import os
from collections.abc import Iterator, MutableMapping
from contextlib import suppress
from pathlib import Path


class StockBytecode(MutableMapping[str, bytes]):
    """Byte code by key, in `folder`/__pycache__ where that can be written."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / "__pycache__"
        self._known: dict[str, bytes] = {}

    def __getitem__(self, key: str) -> bytes:
        if key not in self._known:
            try:
                self._known[key] = self._path(key).read_bytes()
            except OSError:
                raise KeyError(key) from None
        return self._known[key]

    def __setitem__(self, key: str, code: bytes) -> None:
        self._known[key] = code
        beside = self._path(f"{key}.{os.getpid()}")
        with suppress(OSError):
            self._folder.mkdir(exist_ok=True)
            beside.write_bytes(code)
            os.replace(beside, self._path(key))

    def __delitem__(self, key: str) -> None:
        self._known.pop(key, None)
        with suppress(OSError):
            self._path(key).unlink()

    def __contains__(self, key: object) -> bool:
        try:
            self[str(key)]
        except KeyError:
            return False
        return True

    def __iter__(self) -> Iterator[str]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.jinja"
