"""The wetted share of a photo pair and its overlay picture."""

from io import BufferedIOBase, BytesIO
from pathlib import Path
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.disk.images import JPEG, WEBP, refuse_huge_file, upright_picture
from sitegen.records.fields.photo_pair import PhotoPair
from sitegen.text.source import open_inside

WIDTH = 800
ENOUGH = 3000  # points: only a JPEG with both sides twice as long is unpacked smaller; what is found reduces it further
LONGEST_STRIP = 7  # times its width: of a longer one next to nothing would be left once it is reduced


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


def wetted_files(folder: Path, pair: PhotoPair) -> WettedFiles:
    """What a pair gives. Raises BadPicture where a file is no picture, OSError where it can't be read."""
    with open_inside(folder, pair.dry.id) as dry, open_inside(folder, pair.wet.id) as wet:
        for original in (dry, wet):
            refuse_huge_file(original)  # before it is read to its end
        return _find(dry, wet, pair)


def _find(dry_file: BufferedIOBase, wet_file: BufferedIOBase, pair: PhotoPair) -> WettedFiles:
    import numpy as np

    from sitegen.findings.photos.photo_pair import Hoop, PhotoFault, Refused
    from sitegen.findings.photos.wetted import draw_overlay, find_wetted

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
