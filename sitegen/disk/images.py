"""Photos in the sizes that pages need: WebP and JPEG, upright, without location or any other data about the taking.

The originals are opened read-only and never changed.
"""

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

WIDTHS = (400, 800, 1200, 1600)
MOST_PIXELS = 120_000_000  # a 100-megapixel camera and some; more is an archive bomb
# Cheap settings: the next better WebP method costs 2.2 times the time and saves 4 % of the bytes.
WEBP = {"quality": 78, "method": 2}
JPEG = {"quality": 80, "optimize": True, "progressive": True}
RECIPE = f"{WIDTHS} {WEBP} {JPEG} 2"


class BadPicture(ValueError):
    """The file is no picture that can be used; the text says why."""


@dataclass(frozen=True, slots=True)
class SizedPicture:
    """One width of a picture in both formats."""

    width: int
    height: int
    webp: bytes
    jpeg: bytes


def picture_size(path: Path) -> tuple[int, int]:
    """Width and height as seen, with the orientation applied, from the head of the file. Raises BadPicture."""
    with _opened(path) as image:
        width, height = image.size
        turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
        return (height, width) if turned else (width, height)


def widths_for(width: int) -> tuple[int, ...]:
    """The widths that a picture is made in: never larger than it is."""
    smaller = tuple(w for w in WIDTHS if w < width)
    return (*smaller, width) if width <= WIDTHS[-1] else WIDTHS


def make_sizes(path: Path) -> tuple[SizedPicture, ...]:
    """All sizes of a picture, smallest first. Raises BadPicture.

    Each size is made from the next larger one (a cascade from the draft that JPEG gives for free):
    a ninth of the work of scaling each from the original, with no difference that can be seen.
    """
    from PIL import Image, ImageOps

    with _opened(path) as opened:
        try:
            opened.draft("RGB", (2 * WIDTHS[-1], 2 * WIDTHS[-1]))
            image = _on_white(ImageOps.exif_transpose(opened))
        except (OSError, SyntaxError, ValueError) as fault:
            raise BadPicture(f"can't be read: {fault}") from fault
    sizes = []
    for width in reversed(widths_for(image.width)):
        height = max(1, round(image.height * width / image.width))
        image = (
            image.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=2.0) if width != image.width else image
        )
        sizes.append(SizedPicture(width, height, _encoded(image, "WEBP", WEBP), _encoded(image, "JPEG", JPEG)))
    return tuple(reversed(sizes))


def _on_white(image: Any) -> Any:
    """The picture in plain colours; what is transparent shows the white of paper, not the colour stored beneath."""
    from PIL import Image

    if image.mode.startswith("I"):  # 16 bits a point: the library would cut off all that is not nearly black
        image = image.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    if not image.has_transparency_data:
        return image.convert("RGB")
    clear = image.convert("RGBA")
    return Image.alpha_composite(Image.new("RGBA", clear.size, "white"), clear).convert("RGB")


def _encoded(image: Any, kind: str, settings: dict[str, Any]) -> bytes:
    # A new image holds pixels only: no EXIF, XMP, IPTC, thumbnail or serial number can come along.
    from PIL import Image

    bare = Image.new("RGB", image.size)
    bare.paste(image)
    buffer = BytesIO()
    bare.save(buffer, kind, **settings)
    return buffer.getvalue()


def _opened(path: Path) -> Any:
    from PIL import Image, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = None  # the limit below is told in our own words, before anything is unpacked
    try:
        image = Image.open(path, formats=("JPEG", "PNG", "WEBP", "TIFF"))
    except UnidentifiedImageError as fault:
        raise BadPicture("is no JPEG, PNG, WebP or TIFF picture") from fault
    except (OSError, SyntaxError, ValueError) as fault:
        raise BadPicture(f"can't be read: {fault}") from fault
    if image.width * image.height > MOST_PIXELS:
        image.close()
        raise BadPicture(f"has {image.width} × {image.height} points, more than {MOST_PIXELS // 1_000_000} million")
    return image
