"""A photo's files for the finished folder."""

from pathlib import Path, PurePosixPath

from sitegen.disk.images import BadPicture, SizedPicture, make_sizes, refuse_huge_file
from sitegen.text.source import LeadsOut, NoRegularFile, open_inside


def sized_picture(folder: Path, name: str) -> tuple[SizedPicture, ...]:
    """All sizes of the photo `name`, smallest first. Raises BadPicture where it can't be used, with the reason."""
    try:
        with open_inside(folder, name) as original:
            refuse_huge_file(original)  # before it is read to its end
            return make_sizes(original)
    except (LeadsOut, NoRegularFile) as fault:
        raise BadPicture(str(fault.strerror)) from fault
    except OSError as fault:
        raise BadPicture(f"can't be read: {fault.strerror}") from fault


def picture_paths(name: str, width: int) -> tuple[str, str]:
    """Where one size stands in the finished folder, as WebP and as JPEG."""
    stem = PurePosixPath(name).with_suffix("").as_posix().replace(" ", "-")
    return f"{stem}-{width}.webp", f"{stem}-{width}.jpg"
