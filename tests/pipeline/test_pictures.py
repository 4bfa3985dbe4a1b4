"""Pictures as a check and a build see them."""

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from sitegen.disk import images
from sitegen.disk.pictures import measured_picture, sized_picture
from sitegen.pipeline.build import build, check


def _picture(kind: str, size: tuple[int, int] = (640, 480)) -> bytes:
    buffer = BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(buffer, kind)
    return buffer.getvalue()


def _show(folder: Path, data: bytes) -> None:
    """Have the product's page show a picture with these bytes."""
    product = folder / "products" / "tarn.yaml"
    product.write_text(product.read_text("utf-8") + "photo: {file: photos/tarn.jpg, alt: x}\n", "utf-8")
    (folder / "photos").mkdir(exist_ok=True)
    (folder / "photos" / "tarn.jpg").write_bytes(data)


FAULTS = {"truncated": _picture("JPEG")[:20_000], "another kind": _picture("GIF"), "no picture": b"seam tore"}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_check_finds_every_picture_that_a_build_refuses(small: Path, tmp_path: Path, fault: str) -> None:
    """A picture cut off in its data, or of a kind that isn't taken, is the same error at the same place in both."""
    _show(small, FAULTS[fault])
    checked, built = check(small), build(small, tmp_path / "site", None, workers=1).problems
    found = [(p.place, p.message) for p in checked.errors if p.code == "picture"]
    assert found and found == [(p.place, p.message) for p in built.errors if p.code == "picture"]


def test_a_check_encodes_nothing(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What costs most of a picture, encoding it, is left to a build."""
    monkeypatch.setattr(images, "_encoded", lambda *given: pytest.fail("a picture was encoded"))
    _show(small, _picture("JPEG"))
    assert not check(small).has_errors


@pytest.mark.parametrize("size", [(1, 1), (399, 1000), (400, 3), (801, 600), (1600, 901), (4001, 2999)])
def test_measures_are_those_of_the_made_sizes(tmp_path: Path, size: tuple[int, int]) -> None:
    """What pages are given as width and height is what the files have."""
    (tmp_path / "a.jpg").write_bytes(_picture("JPEG", size))
    made = sized_picture(tmp_path, "a.jpg")
    assert measured_picture(tmp_path, "a.jpg") == tuple((one.width, one.height) for one in made)
    assert [Image.open(BytesIO(one.jpeg)).size for one in made] == list(measured_picture(tmp_path, "a.jpg"))
