"""The wetted share of a photo pair and its overlay picture, from memory where they were found before."""

import json
from hashlib import blake2b
from io import BytesIO
from pathlib import Path
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.disk.images import JPEG, MOST_PIXELS, WEBP, BadPicture
from sitegen.disk.memory import Memory, key_of
from sitegen.records.photo_pair import PhotoPair

WIDTH = 800
RECIPE = f"wetted 1 {WIDTH} {WEBP} {JPEG}"


@dataclass(frozen=True, slots=True)
class WettedFiles:
    """Share and its interval (0 to 1), or the code of why the pair is refused; the overlay in two formats."""

    share: float = 0.0
    low: float = 0.0
    high: float = 0.0
    fault: str = ""
    width: int = 0
    height: int = 0
    webp: bytes = b""
    jpeg: bytes = b""


def wetted_files(folder: Path, pair: PhotoPair, memory: Memory) -> WettedFiles:
    """What a pair gives. Raises BadPicture where a file is no picture, OSError where it can't be read."""
    originals = [(folder / name).read_bytes() for name in (pair.dry.id, pair.wet.id)]
    hoop = f"{pair.hoop.x} {pair.hoop.y} {pair.hoop.radius}"
    key = key_of(RECIPE, hoop, *(blake2b(data).digest() for data in originals))
    kept = memory.get(key)
    if kept is not None:
        return _unpack(kept)
    found = _find(folder, pair)
    memory.put(key, _pack(found))
    return found


def _find(folder: Path, pair: PhotoPair) -> WettedFiles:
    from sitegen.findings.photo_pair import Hoop, Refused
    from sitegen.findings.wetted import draw_overlay, find_wetted

    dry, wet = (_pixels(folder / name) for name in (pair.dry.id, pair.wet.id))
    hoop = Hoop(x=float(pair.hoop.x), y=float(pair.hoop.y), radius=float(pair.hoop.radius))
    try:
        found = find_wetted(dry, wet, hoop)
    except Refused as refused:
        return WettedFiles(fault=refused.fault.value)
    return _with_overlay(draw_overlay(wet, found, hoop), found.share, found.low, found.high)


def _pixels(path: Path) -> Any:
    import numpy as np
    from PIL import Image, ImageOps

    try:
        with Image.open(path, formats=("JPEG", "PNG", "WEBP", "TIFF")) as image:
            if image.width * image.height > MOST_PIXELS:
                raise BadPicture(
                    f"has {image.width} × {image.height} points, more than {MOST_PIXELS // 1_000_000} million"
                )
            return np.asarray(ImageOps.exif_transpose(image).convert("RGB"))
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as fault:
        raise fault if isinstance(fault, BadPicture) else BadPicture(f"can't be read: {fault}") from fault


def _with_overlay(overlay: Any, share: float, low: float, high: float) -> WettedFiles:
    from PIL import Image

    image = Image.fromarray(overlay)
    height = round(image.height * WIDTH / image.width)
    image = image.resize((WIDTH, height), Image.Resampling.LANCZOS)
    webp, jpeg = BytesIO(), BytesIO()
    image.save(webp, "WEBP", **WEBP)
    image.save(jpeg, "JPEG", **JPEG)
    return WettedFiles(share, low, high, "", WIDTH, height, webp.getvalue(), jpeg.getvalue())


def _pack(found: WettedFiles) -> bytes:
    head = [found.share, found.low, found.high, found.fault, found.width, found.height, len(found.webp)]
    return json.dumps(head).encode() + b"\n" + found.webp + found.jpeg


def _unpack(piece: bytes) -> WettedFiles:
    head, _, rest = piece.partition(b"\n")
    share, low, high, fault, width, height, size = json.loads(head)
    return WettedFiles(share, low, high, fault, width, height, rest[:size], rest[size:])
