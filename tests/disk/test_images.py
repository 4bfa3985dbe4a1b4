"""Photos: in the widths that pages need, upright, without a word of where they were taken; originals untouched."""

import os
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from sitegen.disk import images
from sitegen.disk.images import WIDTHS, BadPicture, SizedPicture, make_sizes, widths_for
from sitegen.disk.jpeg_scans import scans_of
from sitegen.disk.pictures import picture_paths, sized_picture

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825  # tags of EXIF 2.3; from memory


def picture(size: tuple[int, int] = (900, 600), mode: str = "RGB") -> Image.Image:
    """Left half dark, right half light, so that a turn can be seen."""
    image = Image.new("RGB", size, (20, 40, 60))
    image.paste((240, 220, 200), (size[0] // 2, 0, size[0], size[1]))
    return image.convert(mode)


def exif(orientation: int = 1) -> Image.Exif:
    data = Image.Exif()
    data[ORIENTATION] = orientation
    data[MAKE] = "Ommerloft Optik"
    data.get_ifd(GPS).update({1: "N", 2: (47.0, 30.0, 12.5), 3: "E", 4: (11.0, 5.0, 59.0)})
    return data


def sizes_of(path: Path) -> tuple[SizedPicture, ...]:
    with path.open("rb") as original:
        return make_sizes(original)


def opened(data: bytes) -> Image.Image:
    return Image.open(BytesIO(data))


def test_nothing_about_the_taking_is_left(tmp_path: Path) -> None:
    """No EXIF, no position, no maker's name, no XMP, no ICC profile in any size of either format."""
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif(), comment=b"shot at home", quality=90)
    assert b"Ommerloft" in path.read_bytes()
    for size in sizes_of(path):
        for data in (size.webp, size.jpeg):
            image = opened(data)
            assert dict(image.getexif()) == {} and not image.getexif().get_ifd(GPS)
            assert not {"exif", "xmp", "icc_profile", "comment", "photoshop"} & set(image.info)
            assert all(word not in data for word in (b"Ommerloft", b"Exif", b"shot at home", b"<x:xmpmeta", b"GPS"))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_orientation_is_applied(orientation: int, tmp_path: Path) -> None:
    """A picture whose tag says how to turn it comes out as its tag meant it (EXIF 2.3, tag 274)."""
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif(orientation), quality=95)
    # Where the stored dark left half is seen, by the tag's meaning of row 0 and column 0.
    dark_is = {1: "left", 2: "right", 3: "right", 4: "left", 5: "top", 6: "top", 7: "bottom", 8: "bottom"}[orientation]
    size = sizes_of(path)[0]
    image = opened(size.jpeg).convert("L")
    w, h = image.size
    spots = {
        "left": (w // 8, h // 2),
        "right": (w - w // 8, h // 2),
        "top": (w // 2, h // 8),
        "bottom": (w // 2, h - h // 8),
    }
    assert min(spots, key=lambda side: image.getpixel(spots[side])) == dark_is  # type: ignore[arg-type, return-value]
    assert (w > h) is (orientation < 5)
    whole = sizes_of(path)[-1]
    assert (whole.width, whole.height) == ((900, 600) if orientation < 5 else (600, 900))


@pytest.mark.parametrize("width", [1, 399, 400, 401, 799, 1000, 2000, 2001, 4000])
def test_widths_are_those_promised_and_never_larger(width: int) -> None:
    """Each width below the picture's own, then its own up to the largest; nothing is enlarged."""
    widths = widths_for(width)
    assert widths == tuple(sorted(set(widths)))
    assert max(widths) == min(width, WIDTHS[-1])
    assert all(w in WIDTHS or w == width for w in widths)


def test_sizes_are_as_they_say(tmp_path: Path) -> None:
    """Width and height told are those of both files, and keep the picture's shape to half a point."""
    path = tmp_path / "a.png"
    picture((1333, 777)).save(path)
    sizes = sizes_of(path)
    assert [size.width for size in sizes] == [400, 800, 1200, 1333]
    for size in sizes:
        assert opened(size.webp).size == opened(size.jpeg).size == (size.width, size.height)
        assert opened(size.webp).format == "WEBP" and opened(size.jpeg).format == "JPEG"
        assert abs(size.height - 777 * size.width / 1333) <= 1.0


def test_a_very_narrow_strip_keeps_a_line(tmp_path: Path) -> None:
    """No height is rounded to nothing."""
    picture((3000, 1)).save(tmp_path / "a.png")
    assert all(size.height >= 1 for size in sizes_of(tmp_path / "a.png"))


@pytest.mark.parametrize("mode", ["L", "CMYK", "P", "RGBA", "LA", "1", "I;16"])
def test_pictures_of_every_kind(mode: str, tmp_path: Path) -> None:
    """Greyscale, print colours, palettes, transparency, bilevel and 16 bits come out as plain pictures, light half light."""
    path = tmp_path / ("a.jpg" if mode == "CMYK" else "a.png")
    image = Image.new("I;16", (500, 300), 60000) if mode == "I;16" else picture((500, 300), mode)
    image.save(path)
    for size in sizes_of(path):
        found = opened(size.jpeg).convert("L")
        light = found.crop((found.width // 2 + 20, 0, found.width, found.height)).resize((1, 1), Image.Resampling.BOX)
        assert light.getpixel((0, 0)) > 150  # type: ignore[operator]


def test_sixteen_bits_keep_their_greys(tmp_path: Path) -> None:
    """A middle grey of 16 bits is a middle grey of 8."""
    Image.new("I;16", (500, 300), 32768).save(tmp_path / "a.png")
    assert abs(opened(sizes_of(tmp_path / "a.png")[-1].jpeg).convert("L").getpixel((250, 150)) - 128) <= 2  # type: ignore[operator]


def test_what_is_transparent_is_not_black(tmp_path: Path) -> None:
    """A cut-out on nothing stands on white, the paper of the page, whatever colour hides under the transparency."""
    path = tmp_path / "a.png"
    image = Image.new("RGBA", (500, 300), (0, 0, 0, 0))
    image.paste((200, 30, 30, 255), (0, 0, 100, 300))
    image.save(path)
    found = opened(sizes_of(path)[-1].jpeg).convert("RGB")
    assert min(found.getpixel((400, 150))) > 240  # type: ignore[type-var, arg-type]
    assert found.getpixel((50, 150))[0] > 150  # type: ignore[index, operator]


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture of absurd size is refused by its head, with its measures."""
    monkeypatch.setattr(images, "MOST_PIXELS", 100_000)
    path = tmp_path / "a.png"
    Image.new("1", (1000, 1100)).save(path)
    with pytest.raises(BadPicture, match="1000 × 1100 points"):
        sizes_of(path)


def test_a_real_bomb_is_refused_in_words(tmp_path: Path) -> None:
    """Far beyond the image library's own limit, too, it is our sentence: 20 000 by 20 000 points in a few kilobytes."""
    path = tmp_path / "a.png"
    Image.new("1", (20_000, 20_000)).save(path)
    with pytest.raises(BadPicture, match="^has 20000 × 20000 points, more than 120 million$"):
        sizes_of(path)


@pytest.mark.parametrize("kept", [10, 200, 2000])
def test_a_cut_file_is_refused_in_words(kept: int, tmp_path: Path) -> None:
    """A download that broke off is no picture with a grey half: it is refused, and the message is a sentence."""
    path = tmp_path / "a.jpg"
    noise = Image.effect_noise((800, 600), 90).convert("RGB")
    noise.save(path, quality=90)
    path.write_bytes(path.read_bytes()[:kept])
    with pytest.raises(BadPicture) as refused:
        sizes_of(path)
    assert str(refused.value).startswith(("can't be read", "is no "))


@pytest.mark.parametrize("name", ["a.svg", "a.gif", "a.tiff", "a.txt"])
def test_other_files_are_refused_in_words(name: str, tmp_path: Path) -> None:
    """Only the three kinds are opened: a drawing, an animation, a scan or a text is none of them, whatever it is called."""
    path = tmp_path / name
    if name in ("a.gif", "a.tiff"):
        picture().save(path)
    else:
        path.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    with pytest.raises(BadPicture, match="is no JPEG, PNG or WebP picture: save it as JPEG or PNG"):
        sizes_of(path)


def test_a_broken_scan_prints_nothing(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The library that unpacks TIFF writes lines of its own past our messages, so no such file gets as far as that."""
    path = tmp_path / "a.jpg"
    Image.effect_noise((400, 300), 90).save(path, "TIFF", compression="tiff_lzw")
    whole = path.read_bytes()
    for data in (whole[:8] + b"\xff" * 400 + whole[408:], whole[:-200], whole):
        path.write_bytes(data)
        with pytest.raises(BadPicture, match="save it as JPEG or PNG"):
            sizes_of(path)
    assert capfd.readouterr() == ("", "")


def test_the_original_is_untouched(tmp_path: Path) -> None:
    """Same bytes and same time afterwards; the folder holds no new file."""
    (tmp_path / "photos").mkdir()
    path = tmp_path / "photos" / "a.jpg"
    picture().save(path, exif=exif(6))
    before, stat = path.read_bytes(), path.stat()
    assert sized_picture(tmp_path, "photos/a.jpg")
    assert path.read_bytes() == before
    assert path.stat().st_mtime_ns == stat.st_mtime_ns
    assert list((tmp_path / "photos").iterdir()) == [path]


def test_sizes_are_named_after_the_picture() -> None:
    """A blank in a name is none in an address."""
    assert picture_paths("photos/a b.jpg", 400) == ("photos/a-b-400.webp", "photos/a-b-400.jpg")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_an_odd_orientation_costs_no_photo(kind: str, tmp_path: Path) -> None:
    """EXIF that says nonsense, is cut or holds what can't be written again: the points are sound, so the photo is shown."""
    whole = exif(6).tobytes()
    for number, data in enumerate(
        (whole[:40], whole[:-30], b"Exif\0\0II*\0\xff\xff\xff\xff", exif(99).tobytes(), b"x")
    ):
        path = tmp_path / f"{number}.{kind.lower()}"
        picture().save(path, kind, exif=data)
        assert {size.width for size in sizes_of(path)} <= {400, 600, 800, 900}


def test_what_is_too_large_unpacked_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Other kinds should be saved as JPEG; a JPEG, smaller."""
    monkeypatch.setattr(images, "MOST_BYTES", 100_000)
    for kind, end in (("PNG", "save it as JPEG"), ("JPEG", "save it smaller")):
        picture().save(tmp_path / "a", kind)
        with pytest.raises(BadPicture, match=end):
            sizes_of(tmp_path / "a")


def with_scans(size: tuple[int, int], further: int) -> bytes:
    """A progressive JPEG whose last scan comes so many times more: ITU-T T.81 (G.1) sets no limit."""
    buffer = BytesIO()
    picture(size).save(buffer, "JPEG", progressive=True)
    data = buffer.getvalue()
    last = data[data.rfind(b"\xff\xda") : -2]
    return data[:-2] + last * further + b"\xff\xd9"


def test_scans_are_counted_as_written(tmp_path: Path) -> None:
    """Ten as the library writes them for a progressive JPEG, one for a plain one, none for a PNG; a thumbnail's don't count."""
    plain, png = BytesIO(), BytesIO()
    picture().save(plain, "JPEG", comment=b"\xff\xda\xff\xda", quality=100)
    picture().save(png, "PNG")
    found = [scans_of(BytesIO(data), 50) for data in (with_scans((900, 600), 0), plain.getvalue(), png.getvalue())]
    assert found == [10, 1, 0]  # libjpeg's jpeg_simple_progression: ten scans for colour; from memory
    assert (
        scans_of(BytesIO(with_scans((64, 64), 7)), 50) == 17 and scans_of(BytesIO(with_scans((64, 64), 90)), 50) == 51
    )


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_scans_of_a_cut_file_are_counted_to_its_end(cut: int) -> None:
    """Wherever it ends, the count ends too."""
    data = with_scans((64, 64), 3)
    assert 0 <= scans_of(BytesIO(data[:-cut]), 50) <= 13
    assert 0 <= scans_of(BytesIO(data[:cut] + b"\xff" * 9), 50) <= 1


def test_a_small_file_that_would_take_minutes_is_refused(tmp_path: Path) -> None:
    """Each scan of a progressive JPEG goes over all points: few bytes, much work."""
    data = with_scans((6_000, 5_000), 400)
    (tmp_path / "a.jpg").write_bytes(data)
    with pytest.raises(BadPicture) as refused:
        sized_picture(tmp_path, "a.jpg")
    assert str(refused.value) == "has more than 80 scans over its 6000 × 5000 points: save it as a plain JPEG"
    (tmp_path / "b.jpg").write_bytes(with_scans((600, 500), 20))
    assert len(sized_picture(tmp_path, "b.jpg")) == 2


@pytest.mark.parametrize("kind", ["outside", "pipe"])
def test_pictures_are_read_through_the_door(kind: str, tmp_path: Path) -> None:
    """A link out of the publication is no picture of it, and a pipe isn't waited for."""
    root = tmp_path / "pub"
    root.mkdir()
    picture().save(tmp_path / "secret.jpg")
    if kind == "outside":
        (root / "a.jpg").symlink_to("../secret.jpg")
    else:
        os.mkfifo(root / "a.jpg")
    said = {"outside": "is a link that leads out of the publication", "pipe": "is a device or a pipe, not a file"}
    with pytest.raises(BadPicture) as refused:
        sized_picture(root, "a.jpg")
    assert str(refused.value) == said[kind]
