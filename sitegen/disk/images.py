"""Photos in the sizes that pages need: WebP and JPEG, upright, without location or any other data about the taking.

The originals are opened read-only and never changed.
"""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import SEEK_END, BufferedIOBase, BytesIO
from typing import IO, Any, cast

from sitegen.datatypes import dataclass
from sitegen.disk.jpeg_scans import scans_of

WIDTHS = (400, 800, 1200, 1600)
KINDS = ("JPEG", "PNG", "WEBP")  # not TIFF: its library prints lines of its own about a broken file
MOST_PIXELS = 120_000_000  # a 100-megapixel camera and some; more is an archive bomb
# Unpacked, as the library holds it; its copies with and without transparency come to five times that. A JPEG is
# unpacked at a fraction of its size, so this binds the other kinds: 50 million points in colour.
MOST_BYTES = 200_000_000
# Points of all scans of a JPEG together: ten scans, as progressive JPEGs have, of the largest picture, twice over. An empty
# scan takes 0.6 s a thousand million points here.
MOST_SCANNED = 2_400_000_000
LARGEST_FILE = 512 * 1024 * 1024  # bytes: a 16-bit PNG of 80 megapixels that hardly packs; more is a film
TALLEST = 16_383  # points: WebP has no taller picture (RFC 9649, 2.5: 14 bits for width and height)
# Cheap settings: the next better WebP method costs 2.2 times the time and saves 4 % of the bytes.
WEBP = {"quality": 78, "method": 2}
JPEG = {"quality": 80, "optimize": True, "progressive": True}


class BadPicture(ValueError):
    """The file is no picture that can be used; the text says why."""


@dataclass(frozen=True, slots=True)
class SizedPicture:
    """One width of a picture in both formats."""

    width: int
    height: int
    webp: bytes
    jpeg: bytes


def widths_for(width: int) -> tuple[int, ...]:
    """The widths that a picture is made in: never larger than it is."""
    smaller = tuple(w for w in WIDTHS if w < width)
    return (*smaller, width) if width <= WIDTHS[-1] else WIDTHS


def measures_for(width: int, height: int) -> tuple[tuple[int, int], ...]:
    """Width and height of every size of a picture, smallest first."""
    return tuple((shown, max(1, round(height * shown / width))) for shown in widths_for(width))


def usable_measures(original: BufferedIOBase) -> tuple[tuple[int, int], ...]:
    """The measures of the sizes that `make_sizes` makes of an opened file, once all of it was unpacked. Raises BadPicture."""
    image = upright_picture(original, 2 * WIDTHS[-1])
    _refuse_tall(image.size)
    return measures_for(*image.size)


def make_sizes(original: BufferedIOBase) -> tuple[SizedPicture, ...]:
    """All sizes of a picture, smallest first, from its opened file. Raises BadPicture.

    Each size is made from the next larger one (a cascade from the draft that JPEG gives for free):
    a ninth of the work of scaling each from the original, with no difference that can be seen.
    """
    from PIL import Image

    image = upright_picture(original, 2 * WIDTHS[-1])
    _refuse_tall(image.size)
    sizes = []
    for width, height in reversed(measures_for(*image.size)):
        image = (
            image.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=2.0) if width != image.width else image
        )
        sizes.append(SizedPicture(width, height, _encoded(image, "WEBP", WEBP), _encoded(image, "JPEG", JPEG)))
    return tuple(reversed(sizes))


def upright_picture(original: BufferedIOBase, enough: int) -> Any:
    """A picture as it is seen, unpacked, in plain colours. Raises BadPicture.

    A JPEG may come out smaller than it is, with both sides still at least `enough` points.
    """
    with opened_picture(original) as opened, _in_words():
        opened.draft("RGB", (enough, enough))
        _refuse_large(opened)
        return _on_white(_turned(opened))


def _turned(image: Any) -> Any:
    """The picture turned as its orientation says (EXIF 2.3, tag 274); where that can't be read, as it lies.

    Not by the library's own function: it writes all of the EXIF anew, and fails where a camera's is odd.
    """
    from PIL import Image

    way = Image.Transpose
    image.load()
    try:
        orientation = image.getexif().get(0x0112)
    except Exception:  # a dozen kinds, as below; the points are sound all the same
        return image
    ways = {2: way.FLIP_LEFT_RIGHT, 3: way.ROTATE_180, 4: way.FLIP_TOP_BOTTOM, 5: way.TRANSPOSE}
    ways |= {6: way.ROTATE_270, 7: way.TRANSVERSE, 8: way.ROTATE_90}
    method = ways.get(orientation) if isinstance(orientation, int) else None
    return image if method is None else image.transpose(method)


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


def opened_picture(original: BufferedIOBase) -> Any:
    """A picture of one of the three kinds by its head alone, nothing unpacked yet. Raises BadPicture."""
    from PIL import Image, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = None  # the limit below is told in our own words, before anything is unpacked
    # What the library murmurs about odd EXIF and the like would be printed with the path of its own code.
    warnings.filterwarnings("ignore", module=r"PIL\.")
    with _in_words():
        refuse_huge_file(original)
        try:
            image = Image.open(cast(IO[bytes], original), formats=KINDS)
        except UnidentifiedImageError as fault:
            raise BadPicture("is no JPEG, PNG or WebP picture: save it as JPEG or PNG") from fault
        try:
            _refuse_points(image.size)
            _refuse_slow(original, image.size)
            _refuse_moving(image)
        except BaseException:
            image.close()
            raise
    return image


def refuse_huge_file(original: BufferedIOBase) -> None:
    """Raise BadPicture for a file too large to be a photo."""
    original.seek(0, SEEK_END)
    size = original.tell()
    original.seek(0)
    if size > LARGEST_FILE:
        raise BadPicture(f"is a file of more than {LARGEST_FILE // 1024**2} MiB")


@contextmanager
def _in_words() -> Iterator[None]:
    """Whatever the library makes of broken bytes is a BadPicture: its readers raise a dozen kinds of exceptions."""
    try:
        yield
    except BadPicture:
        raise
    except Exception as fault:
        told = fault.strerror if isinstance(fault, OSError) and fault.strerror else str(fault)
        raise BadPicture(f"can't be read: {told or 'it is broken'}") from fault


def _refuse_points(size: tuple[int, int]) -> None:
    width, height = size
    if width * height > MOST_PIXELS:
        raise BadPicture(f"has {width} × {height} points, more than {MOST_PIXELS // 1_000_000} million")
    if width < 1 or height < 1:
        raise BadPicture(f"has {width} × {height} points, so there is nothing to see")


def _refuse_slow(original: BufferedIOBase, size: tuple[int, int]) -> None:
    """Refuse a JPEG whose scans would take minutes: a small file may have hundreds, each over all points."""
    at = original.tell()
    most = MOST_SCANNED // (size[0] * size[1])
    scans = scans_of(original, most)
    original.seek(at)
    if scans > most:
        raise BadPicture(f"has more than {most} scans over its {size[0]} × {size[1]} points: save it as a plain JPEG")


def _refuse_large(image: Any) -> None:
    """Refuse what would fill the memory once unpacked; asked after `draft`, which makes a JPEG small."""
    bands = len(image.getbands())
    deep = 2 if "16" in image.mode else 4 if image.mode == "I" else 1
    size = image.width * image.height * (deep if bands == 1 else 4)  # the library gives every colour point four bytes
    if size > MOST_BYTES:
        instead = "smaller" if image.format in ("JPEG", "MPO") else "as JPEG"
        told = f"has {image.width} × {image.height} points, which take more than {MOST_BYTES // 1_000_000} MB unpacked"
        raise BadPicture(f"{told}: save it {instead}")


def _refuse_tall(size: tuple[int, int]) -> None:
    width, height = size
    shown = round(height * min(width, WIDTHS[-1]) / width)
    if shown > TALLEST:
        raise BadPicture(f"has {width} × {height} points: {shown} high on the page, more than {TALLEST}")


def _refuse_moving(image: Any) -> None:
    # A JPEG with several pictures is a phone's: the first is the photo, the others are its depth or its preview.
    pictures = 1 if image.format in ("JPEG", "MPO") else getattr(image, "n_frames", 1)
    if pictures > 1:
        raise BadPicture(f"holds {pictures} pictures, and a page shows one: save the one that is meant")
