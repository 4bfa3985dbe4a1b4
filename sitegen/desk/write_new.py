"""Writes a file that must not be there yet, whole or not at all."""

import os
from pathlib import Path


def write_new(path: Path, data: bytes) -> None:
    """Write `path` by way of a file beside it. Raises FileExistsError rather than touch what is there."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.link(beside, path)  # unlike a rename, a link never replaces
    finally:
        beside.unlink(missing_ok=True)
