"""The pictures of a pair are opened within the bounds of every picture."""

from collections.abc import Callable
from pathlib import Path

import pytest
from findings.rendered_cloth import Scene, photographs
from PIL import Image

from sitegen.disk import images
from sitegen.disk.images import BadPicture
from sitegen.disk.wetted_files import WettedFiles, wetted_files
from sitegen.findings.photos.photo_pair import PhotoFault
from sitegen.problems import Problems
from sitegen.records.fields.fields import take_record
from sitegen.records.fields.photo_pair import PhotoPair
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import parse_yaml

TEXT = "{product: tarn, dry: photos/dry, wet: photos/wet, hoop: {x: 0.5, y: 0.5, radius: 0.36}}"


def pair() -> PhotoPair:
    node = parse_yaml(Source("x.yaml", TEXT, ""), Problems())
    taken = take_record(PhotoPair, node, Problems(), "a pair") if node else None
    assert taken is not None
    return taken


def found(
    folder: Path, change: Callable[[Image.Image], Image.Image] = lambda image: image, kind: str = "PNG"
) -> WettedFiles:
    """What a rendered pair gives, each of its pictures changed."""
    (folder / "photos").mkdir(exist_ok=True)
    for name, points in zip(("dry", "wet"), photographs(Scene()), strict=True):
        change(Image.fromarray(points)).save(folder / "photos" / name, kind)
    return wetted_files(folder, pair())


def test_a_sound_pair_gives_a_share(tmp_path: Path) -> None:
    """A quarter of the hoop is wet (a patch of half its radius); the second time it is the same, byte for byte."""
    first = found(tmp_path)
    assert first.fault == "" and first.low <= 0.25 <= first.high
    assert found(tmp_path) == first


def test_a_pair_is_opened_as_photos_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Too many points, too much once unpacked, too large a file, moving, another kind: the same sentences."""
    with pytest.raises(BadPicture, match="is no JPEG, PNG or WebP picture: save it as JPEG or PNG"):
        found(tmp_path, kind="GIF")
    for name, most, said in (
        ("MOST_PIXELS", 80_000, "300 × 300 points, more than"),
        ("MOST_BYTES", 300_000, "unpacked: save it as JPEG"),
        ("LARGEST_FILE", 1_000, "is a file of more than"),
    ):
        with monkeypatch.context() as patch, pytest.raises(BadPicture, match=said):
            patch.setattr(images, name, most)
            found(tmp_path)
    Image.new("RGB", (100, 100)).save(
        tmp_path / "photos/wet", "WEBP", save_all=True, append_images=[Image.new("RGB", (100, 100), "white")]
    )
    with pytest.raises(BadPicture, match="holds 2 pictures"):
        wetted_files(tmp_path, pair())


@pytest.mark.parametrize("size", [(400_000, 96), (96, 400_000), (1_000, 100)])
def test_a_strip_is_no_pair(size: tuple[int, int], tmp_path: Path) -> None:
    """A picture of which nothing would be left once it is reduced is refused for a reason, not by a traceback."""
    assert found(tmp_path, lambda image: Image.new("1", size)).fault == PhotoFault.NOT_A_PICTURE.value
