"""Pictures of any bytes, as photos of pages and as one of a pair before and after the spray.

Laws: what is no picture is told in a sentence and nothing is raised; what is made has the measures that it says, no
more than a page needs, and nothing in it but points. The bytes are looked at as they are and, where they are a PNG,
once more with its sums put right: else a change would hardly ever get beyond the first of them.
"""

import atexit
import shutil
import struct
import tempfile
import zlib
from collections.abc import Callable, Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from sitegen.disk.images import TALLEST, WIDTHS, BadPicture
from sitegen.disk.pictures import sized_picture
from sitegen.disk.wetted_files import wetted_files
from sitegen.findings.photos.photo_pair import LONGEST_SIDE, SMALLEST_SIDE, PhotoFault
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.photo_pair import PhotoPair
from tests.fuzz.laws import need
from tests.fuzz.targets import check_told

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PLACE = Place("x.yaml", 1, 1)
_LEFT_OVER = {"exif", "xmp", "icc_profile", "comment", "photoshop"}


@cache
def _folder() -> Path:
    """Where the bytes are put; gone with the process."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "photos").mkdir()
    return folder


def photo(data: bytes) -> Problems:
    """The photo of a page."""
    problems = Problems()
    for one in _ways(data):
        (_folder() / "a.jpg").write_bytes(one)
        try:
            made = sized_picture(_folder(), "a.jpg")
        except BadPicture as bad:
            _tell(problems, f"the picture 'a.jpg' {bad}")
            continue
        widths = [file.width for file in made]
        need(widths == sorted(set(widths)) and 1 <= widths[0] and widths[-1] <= WIDTHS[-1], "widths rise", widths)
        for file in made:
            need(1 <= file.height <= TALLEST, "a picture is as tall as its format can be", file.height)
            for kind, written in (("WEBP", file.webp), ("JPEG", file.jpeg)):
                _check_made(kind, written, (file.width, file.height))
    return problems


def photo_pair(data: bytes) -> Problems:
    """The wet picture of a pair, beside a sound dry one of our own and beside itself."""
    problems = Problems()
    for one in _ways(data):
        (_folder() / "photos/wet.png").write_bytes(one)
        for name in ("photos/dry.webp", "photos/wet.png"):
            try:
                found = wetted_files(_folder(), _pair(name))
            except BadPicture as bad:
                _tell(problems, f"a picture of this pair {bad}")
                continue
            if found.fault:
                need(
                    found.fault in {fault.value for fault in PhotoFault},
                    "a pair is refused for a known reason",
                    found.fault,
                )
                continue
            need(0 <= found.low <= found.share <= found.high <= 1, "a share lies in its interval", found.share)
            need(found.height <= found.width * LONGEST_SIDE / SMALLEST_SIDE + 1, "an overlay is no strip", found.height)
            _check_made("WEBP", found.webp, (found.width, found.height))
            _check_made("JPEG", found.jpeg, (found.width, found.height))
    return problems


def _tell(problems: Problems, text: str) -> None:
    problems.error("picture", _PLACE, text)
    need(len(text) < 300, "a message is no dump", text)
    check_told(problems, ["photo: a.jpg"], "x.yaml")


def _check_made(kind: str, data: bytes, size: tuple[int, int]) -> None:
    from PIL import Image

    with Image.open(BytesIO(data)) as image:
        need((image.format, image.mode, image.size) == (kind, "RGB", size), "a picture is as it says", image.size, size)
        need(not _LEFT_OVER & set(image.info) and not dict(image.getexif()), "nothing but points is left", image.info)
    need(len(data) < 4 * size[0] * size[1] + 4096, "a picture is no larger than its points", len(data))


@cache
def _pair(dry: str) -> PhotoPair:
    from sitegen.records.fields.fields import take_record
    from sitegen.text.source import Source
    from sitegen.text.yaml_nodes import parse_yaml

    (_folder() / "photos/dry.webp").write_bytes(_seen()[0])
    text = f"{{product: tarn, dry: {dry}, wet: photos/wet.png, hoop: {{x: 0.5, y: 0.5, radius: 0.37}}}}"
    problems = Problems()
    node = parse_yaml(Source("x.yaml", text, ""), problems)
    taken = take_record(PhotoPair, node, problems, "a pair") if node else None
    assert taken is not None, list(problems)
    return taken


def _ways(data: bytes) -> Iterator[bytes]:
    yield data
    if data.startswith(_SIGNATURE):
        mended = _summed(data)
        if mended != data:
            yield mended


def _summed(data: bytes) -> bytes:
    """A PNG with the sum of each of its parts put right (ISO/IEC 15948, 5.3)."""
    made, at = [_SIGNATURE], len(_SIGNATURE)
    while at + 8 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        body = data[at + 4 : at + 8 + size]
        made += [data[at : at + 4], body]
        if len(body) == size + 4:
            made.append(zlib.crc32(body).to_bytes(4, "big"))
        at += 12 + size
    return b"".join(made)


# Where it begins


@cache
def _seen() -> tuple[bytes, bytes]:
    """A cloth before and after the spray, small enough to be changed as a whole."""
    from tests.findings.rendered_cloth import Scene, photographs

    dry, wet = photographs(Scene(size=128, noise=1.0))
    return _of_points(dry, "WEBP", quality=30), _of_points(wet, "WEBP", quality=30)


def _of_points(points: Any, kind: str, **settings: Any) -> bytes:
    from PIL import Image

    return _written(Image.fromarray(points), kind, **settings)


def _written(image: Any, kind: str, **settings: Any) -> bytes:
    file = BytesIO()
    image.save(file, kind, **settings)
    return file.getvalue()


def _plain(mode: str, size: tuple[int, int] = (20, 15)) -> Any:
    from PIL import Image

    image = Image.new("RGB", size, (20, 40, 60))
    image.paste((240, 220, 200), (size[0] // 2, 0, size[0], size[1]))
    return Image.new(mode, size, 30_000) if mode in ("I;16", "I", "F") else image.convert(mode)


def _exif(orientation: int) -> bytes:
    from PIL import Image

    data = Image.Exif()
    data[0x0112], data[0x010F] = orientation, "Ommerloft Optik"  # EXIF 2.3: orientation, maker
    data.get_ifd(0x8825).update({1: "N", 2: (47.0, 30.0, 12.5)})  # where it was taken
    data.get_ifd(0x8769).update({0x829A: 0.01, 0x9286: b"ASCII\0\0\0a note"})
    return data.tobytes()


def _with_head(data: bytes, at: int, *sides: int, form: str) -> bytes:
    """The same file, declaring other sides."""
    return data[:at] + struct.pack(form, *sides) + data[at + struct.calcsize(form) :]


def _huge() -> Iterator[bytes]:
    """Small files that declare to be large ones."""
    png, jpeg = _written(_plain("L"), "PNG"), _written(_plain("RGB"), "JPEG")
    for sides in ((60_000, 60_000), (7_000, 7_000), (1_500, 2), (2, 60_000), (0, 5), (0x7FFF_FFFF, 1)):
        yield _summed(_with_head(png, 16, *sides, form=">II"))
    frame = jpeg.index(b"\xff\xc0") + 5
    for sides in ((65_535, 65_535), (5_000, 6_000), (5_000, 65_000), (0, 9)):
        yield _with_head(jpeg, frame, *sides, form=">HH")


def _odd() -> Iterator[bytes]:
    """Profiles, orientations, moving pictures, and the strips that are hardly pictures."""
    from PIL import Image, ImageCms, PngImagePlugin

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    said = PngImagePlugin.PngInfo()
    said.add_itxt("XML:com.adobe.xmp", "<x:xmpmeta tiff:Orientation='6'/>")
    said.add_text("Comment", "at home", zip=True)
    frames = [_plain("RGB"), _plain("RGB").rotate(90)]
    for orientation in (1, 3, 6, 7, 9):
        yield _written(_plain("RGB"), "JPEG", exif=_exif(orientation), progressive=orientation > 3)
    yield _written(_plain("RGB"), "WEBP", exif=_exif(5), icc_profile=profile, lossless=True)
    yield _written(_plain("RGB"), "PNG", exif=_exif(8), icc_profile=profile, pnginfo=said)
    yield _written(_plain("RGB"), "JPEG", icc_profile=profile[:200], comment=b"at home")
    for kind in ("PNG", "WEBP"):
        yield _written(frames[0], kind, save_all=True, append_images=frames[1:])
    yield _written(frames[0], "MPO", save_all=True, append_images=frames[1:])
    yield _written(Image.new("RGB", (3_000, 1)), "PNG")
    yield _written(Image.new("1", (1, 9_000)), "PNG")
    yield _written(_plain("RGB"), "TIFF", compression="tiff_lzw")  # another kind, to be refused by its head
    yield from (b"", b"RIFF\0\0\0\0WEBP", _SIGNATURE, b"\xff\xd8\xff\xe0", b"II*\0", b"<svg/>")


@cache
def photo_seeds() -> tuple[bytes, ...]:
    """Every kind and mode that is read, sound, odd and huge."""
    kinds = [("PNG", mode) for mode in ("L", "P", "RGBA", "LA", "1", "I;16", "RGB")]
    kinds += [("JPEG", mode) for mode in ("L", "CMYK", "RGB")] + [("WEBP", mode) for mode in ("RGB", "RGBA")]
    return (*(_written(_plain(mode), kind) for kind, mode in kinds), *_huge(), *_odd())


@cache
def pair_seeds() -> tuple[bytes, ...]:
    """Wet pictures that fit the dry one and some that don't."""
    from PIL import Image

    dry, wet = _seen()
    flat = Image.new("RGB", (128, 128), (90, 90, 90))
    strips = (Image.new("1", size) for size in ((96, 96), (97, 1), (100, 30_000), (400_000, 96), (700, 96)))
    turned = [_written(flat, kind, exif=_exif(6)) for kind in ("JPEG", "WEBP", "PNG")]
    return (wet, dry, wet[: len(wet) // 2], *turned, *(_written(strip, "PNG") for strip in strips), *photo_seeds()[::4])


LOOKS: dict[str, tuple[Callable[[bytes], Problems], Callable[[], tuple[bytes, ...]]]] = {
    "photo": (photo, photo_seeds),
    "photo_pair": (photo_pair, pair_seeds),
}
"""By name: what looks at bytes, and what gives the seeds."""
