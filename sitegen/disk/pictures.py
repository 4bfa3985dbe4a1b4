"""A photo's files for the finished folder."""

from collections.abc import Callable
from io import BufferedIOBase
from pathlib import Path, PurePosixPath
from typing import TypeVar

from sitegen.disk.images import BadPicture, SizedPicture, make_sizes, refuse_huge_file, usable_measures
from sitegen.text.source import LeadsOut, NoRegularFile, open_inside

T = TypeVar("T")


def sized_picture(folder: Path, name: str) -> tuple[SizedPicture, ...]:
    """All sizes of the photo `name`, smallest first. Raises BadPicture where it can't be used, with the reason."""
    return _of_opened(folder, name, make_sizes)


def measured_picture(folder: Path, name: str) -> tuple[tuple[int, int], ...]:
    """Width and height of every size, smallest first, from the whole photo with nothing encoded. Raises BadPicture."""
    return _of_opened(folder, name, usable_measures)


def _of_opened(folder: Path, name: str, make: Callable[[BufferedIOBase], T]) -> T:
    try:
        with open_inside(folder, name) as original:
            refuse_huge_file(original)  # before it is read to its end
            return make(original)
    except (LeadsOut, NoRegularFile) as fault:
        raise BadPicture(str(fault.strerror)) from fault
    except OSError as fault:
        raise BadPicture(f"can't be read: {fault.strerror}") from fault


def picture_paths(name: str, width: int) -> tuple[str, str]:
    """Where one size stands in the finished folder, as WebP and as JPEG."""
    stem = PurePosixPath(name).with_suffix("").as_posix().replace(" ", "-")
    return f"{stem}-{width}.webp", f"{stem}-{width}.jpg"
