"""The wetted share of a photo pair and its overlay picture, from memory where they were found before."""

import json
from hashlib import blake2b, file_digest
from io import BufferedIOBase, BytesIO
from pathlib import Path
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.disk.images import JPEG, WEBP, recipe, refuse_huge_file, upright_picture
from sitegen.disk.memory import Memory, key_of
from sitegen.records.photo_pair import PhotoPair
from sitegen.text.source import open_inside

WIDTH = 800
ENOUGH = 3000  # points: only a JPEG with both sides twice as long is unpacked smaller; what is found reduces it further
LONGEST_STRIP = 7  # times its width: of a longer one next to nothing would be left once it is reduced
MADE_BY = ("disk/wetted_files.py", "findings/wetted.py", "findings/photo_pair.py", "findings/colour.py")


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
    with open_inside(folder, pair.dry.id) as dry, open_inside(folder, pair.wet.id) as wet:
        return _looked_up(dry, wet, pair, memory)


def _looked_up(dry: BufferedIOBase, wet: BufferedIOBase, pair: PhotoPair, memory: Memory) -> WettedFiles:
    originals = [_digest(original) for original in (dry, wet)]
    hoop = f"{pair.hoop.x} {pair.hoop.y} {pair.hoop.radius}"
    key = key_of(recipe(*MADE_BY), hoop, *originals)
    kept = memory.get(key)
    if kept is not None:
        return _unpack(kept)
    found = _find(dry, wet, pair)
    memory.put(key, _pack(found))
    return found


def _digest(original: BufferedIOBase) -> bytes:
    refuse_huge_file(original)  # before it is read to its end
    digest = file_digest(original, blake2b).digest()
    original.seek(0)
    return digest


def _find(dry_file: BufferedIOBase, wet_file: BufferedIOBase, pair: PhotoPair) -> WettedFiles:
    import numpy as np

    from sitegen.findings.photo_pair import Hoop, PhotoFault, Refused
    from sitegen.findings.wetted import draw_overlay, find_wetted

    dry, wet = (np.asarray(upright_picture(original, ENOUGH)) for original in (dry_file, wet_file))
    if max(wet.shape[:2]) > LONGEST_STRIP * min(wet.shape[:2]):
        return WettedFiles(fault=PhotoFault.NOT_A_PICTURE.value)
    hoop = Hoop(x=float(pair.hoop.x), y=float(pair.hoop.y), radius=float(pair.hoop.radius))
    try:
        found = find_wetted(dry, wet, hoop)
    except Refused as refused:
        return WettedFiles(fault=refused.fault.value)
    return _with_overlay(draw_overlay(wet, found, hoop), found.share, found.low, found.high)


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
