"""A photo's files for the finished folder."""

from pathlib import Path, PurePosixPath

from sitegen.disk.images import SizedPicture, make_sizes, refuse_huge_file


def sized_picture(folder: Path, name: str) -> tuple[SizedPicture, ...]:
    """All sizes of the photo `name`, smallest first. Raises BadPicture or OSError where it can't be used."""
    refuse_huge_file(folder / name)  # before it is read to its end
    return make_sizes(folder / name)


def picture_paths(name: str, width: int) -> tuple[str, str]:
    """Where one size stands in the finished folder, as WebP and as JPEG."""
    stem = PurePosixPath(name).with_suffix("").as_posix().replace(" ", "-")
    return f"{stem}-{width}.webp", f"{stem}-{width}.jpg"
