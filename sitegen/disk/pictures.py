"""A photo's files for the finished folder, from memory where they were made before."""

import json
from hashlib import blake2b, file_digest
from io import BufferedIOBase
from pathlib import Path, PurePosixPath

from sitegen.datatypes import dataclass
from sitegen.disk.images import BadPicture, SizedPicture, make_sizes, recipe, refuse_huge_file
from sitegen.disk.memory import Memory, key_of
from sitegen.text.source import LeadsOut, NoRegularFile, open_inside


@dataclass(frozen=True, slots=True)
class PictureFiles:
    """One width with its paths and bytes."""

    width: int
    height: int
    webp_path: str
    jpeg_path: str
    webp: bytes
    jpeg: bytes


def picture_files(folder: Path, name: str, memory: Memory) -> tuple[PictureFiles, ...] | str:
    """All widths of the photo `name`, smallest first, or why it can't be used, to follow "the picture …"."""
    try:
        with open_inside(folder, name) as original:
            sizes = _sizes(original, memory)
    except BadPicture as bad:
        return str(bad)
    except (LeadsOut, NoRegularFile) as fault:
        return str(fault.strerror)
    except OSError as fault:
        return f"can't be read: {fault.strerror}"
    stem = PurePosixPath(name).with_suffix("").as_posix().replace(" ", "-")
    return tuple(
        PictureFiles(s.width, s.height, f"{stem}-{s.width}.webp", f"{stem}-{s.width}.jpg", s.webp, s.jpeg)
        for s in sizes
    )


def _sizes(original: BufferedIOBase, memory: Memory) -> tuple[SizedPicture, ...]:
    refuse_huge_file(original)  # before it is read to its end
    key = key_of("picture", recipe(), file_digest(original, blake2b).digest())
    kept = memory.get(key)
    if kept is not None:
        return _unpack(kept)
    original.seek(0)
    sizes = make_sizes(original)
    memory.put(key, _pack(sizes))
    return sizes


def _pack(sizes: tuple[SizedPicture, ...]) -> bytes:
    """A line of JSON with the measures, then the pictures one after another."""
    table = [[s.width, s.height, len(s.webp), len(s.jpeg)] for s in sizes]
    return json.dumps(table).encode() + b"\n" + b"".join(s.webp + s.jpeg for s in sizes)


def _unpack(piece: bytes) -> tuple[SizedPicture, ...]:
    head, _, rest = piece.partition(b"\n")
    sizes = []
    for width, height, webp, jpeg in json.loads(head):
        sizes.append(SizedPicture(width, height, rest[:webp], rest[webp : webp + jpeg]))
        rest = rest[webp + jpeg :]
    return tuple(sizes)
