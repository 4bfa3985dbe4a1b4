"""Wetted share: rendered pairs of known area, refusals, Otsu by brute force."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from findings.rendered_cloth import BLACK, GREY, HOOP, NAVY, OLIVE, ORANGE, SAND, Scene, photographs, true_share
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from sitegen.findings.photos.photo_pair import Hoop, PhotoFault, Refused, correlate, reduced
from sitegen.findings.photos.wetted import draw_overlay, find_wetted, otsu_threshold, wetted_mask

SPOTS = ((-0.4, -0.3, 0.22), (0.35, 0.1, 0.3), (0.0, 0.6, 0.15), (0.2, -0.55, 0.18))
SCENES = {
    "plain": Scene(),
    "noise": Scene(noise=6),
    "shifted by three pixels": Scene(shift=(3, -3)),
    "shifted by parts of a pixel": Scene(shift=(2.5, 1.3)),
    "uneven light": Scene(light=0.25),
    "several spots": Scene(patches=SPOTS, light=0.25, noise=4, shift=(-3, 2)),
    "at the edge": Scene(patches=((1.0, 0.0, 0.8),)),
    "nearly all": Scene(patches=((0.0, 0.0, 0.93),), light=0.2),
    "one per cent": Scene(patches=((0.1, 0.1, 0.12),)),
    "no grain in the cloth": Scene(texture=0.0, shift=(3, 0)),
    **{
        name: Scene(cloth=cloth, light=0.2, noise=3, shift=(1, 2))
        for name, cloth in (
            ("navy", NAVY), ("olive", OLIVE), ("orange", ORANGE), ("grey", GREY), ("sand", SAND), ("black", BLACK),
        )
    },
}  # fmt: skip


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_known_areas_are_found(scene: Scene) -> None:
    """The share is within two percentage points of the rendered one, and its interval holds it."""
    found = find_wetted(*photographs(scene), scene.hoop)
    true = true_share(scene)
    assert found.share == pytest.approx(true, abs=0.02)
    assert found.low <= true <= found.high
    assert found.high - found.low < 0.08


def test_the_shift_is_that_of_the_camera() -> None:
    """A camera 3 pixels lower and 2 to the left: the dry picture moves down and left by as much."""
    found = find_wetted(*photographs(Scene(shift=(3, -2))), HOOP)
    assert found.shift == pytest.approx((3, -2), abs=0.2)


def refusal(scene: Scene) -> PhotoFault:
    """The fault for which a rendered pair is refused."""
    with pytest.raises(Refused) as refused:
        find_wetted(*photographs(scene), scene.hoop)
    return refused.value.fault


@pytest.mark.parametrize(
    ("scene", "fault"),
    [
        (Scene(shift=(25, 0)), PhotoFault.MOVED),
        (Scene(bright=12), PhotoFault.BLOWN_OUT),
        (Scene(bright=0.02), PhotoFault.TOO_DARK),
        (Scene(patches=()), PhotoFault.TOO_SMALL_A_DIFFERENCE),
        (Scene(patches=(), light=0.3), PhotoFault.TOO_SMALL_A_DIFFERENCE),
        (Scene(wetness=0.95), PhotoFault.TOO_SMALL_A_DIFFERENCE),
        (Scene(patches=((0.0, 0.0, 1.2),)), PhotoFault.NOT_TWO_PARTS),
        (Scene(hoop=Hoop(x=0.8, y=0.5, radius=0.36)), PhotoFault.HOOP_OUTSIDE),
        (Scene(hoop=Hoop(x=0.5, y=0.5, radius=0.499), shift=(4, 0)), PhotoFault.HOOP_OUTSIDE),
    ],
    ids=["moved", "blown", "dark", "dry", "dry, other light", "faint", "all wet", "outside", "left by moving"],
)
def test_pairs_that_are_refused(scene: Scene, fault: PhotoFault) -> None:
    """Each pair that can't be trusted is refused with its own reason."""
    assert refusal(scene) is fault


def test_a_turned_picture_counts_as_moved() -> None:
    """Two degrees about the centre leave the middle in place and move the quarters apart."""
    dry, wet = photographs(Scene())
    turned = ndimage.rotate(dry, 2, reshape=False, order=1, mode="nearest")
    with pytest.raises(Refused) as refused:
        find_wetted(turned, wet, HOOP)
    assert refused.value.fault in {PhotoFault.MOVED, PhotoFault.NO_MATCH}


def test_a_gradual_change_is_no_wetted_area() -> None:
    """Cloth that darkens evenly from the rim to the middle falls into no two parts."""
    dry, _ = photographs(Scene(cloth=GREY))
    rows, columns = np.ogrid[: dry.shape[0], : dry.shape[1]]
    far = np.hypot(columns - dry.shape[1] / 2, rows - dry.shape[0] / 2) / (HOOP.radius * dry.shape[0])
    darker = dry * (1 - 0.5 * np.clip(1 - far, 0, 1) ** 0.5)[..., None]
    with pytest.raises(Refused) as refused:
        find_wetted(dry, darker.astype(np.uint8), HOOP)
    assert refused.value.fault is PhotoFault.NOT_TWO_PARTS


def test_pictures_of_nothing_in_common() -> None:
    """Two pictures of noise don't match."""
    draw = np.random.default_rng(4)
    pair = [draw.integers(40, 200, (200, 200, 3), dtype=np.uint8) for _ in range(2)]
    with pytest.raises(Refused) as refused:
        find_wetted(pair[0], pair[1], HOOP)
    assert refused.value.fault is PhotoFault.NO_MATCH


def test_what_is_no_picture() -> None:
    """Other sizes, grey pictures, floats and thumbnails are refused before anything is computed."""
    dry, wet = photographs(Scene(size=120))
    for one, other, fault in (
        (dry, wet[:-1], PhotoFault.SIZES_DIFFER),
        (dry[..., 0], wet[..., 0], PhotoFault.NOT_A_PICTURE),
        (dry / 255, wet / 255, PhotoFault.NOT_A_PICTURE),
        (dry[:50], wet[:50], PhotoFault.NOT_A_PICTURE),
    ):
        with pytest.raises(Refused) as refused:
            find_wetted(one, other, HOOP)
        assert refused.value.fault is fault
        assert pickle.loads(pickle.dumps(refused.value)).fault is fault


@pytest.mark.parametrize("hoop", [(0.0, 0.5, 0.3), (0.5, 1.0, 0.3), (0.5, 0.5, float("nan"))])
def test_a_hoop_lies_in_the_picture(hoop: tuple[float, float, float]) -> None:
    """Shares outside 0..1 are no hoop."""
    with pytest.raises(ValueError, match="expected a share between 0 and 1"):
        Hoop(x=hoop[0], y=hoop[1], radius=hoop[2])


def test_the_finding_is_plain_and_its_mask_comes_back() -> None:
    """A finding can be kept, twice the same pair gives the same one, and its mask has the share that it states."""
    dry, wet = photographs(Scene())
    found = find_wetted(dry, wet, HOOP)
    assert pickle.loads(pickle.dumps(found)) == found == find_wetted(dry, wet, HOOP)
    area = np.pi * (HOOP.radius * 300) ** 2
    assert wetted_mask(found).sum() / area == pytest.approx(found.share, abs=2e-3)


def test_the_overlay_marks_wet_cloth_and_leaves_the_rest() -> None:
    """Inside the wetted area pixels are changed, on dry cloth inside the hoop none is."""
    dry, wet = photographs(Scene())
    found = find_wetted(dry, wet, HOOP)
    marked = (draw_overlay(wet, found, HOOP) != wet).any(axis=2)
    rows, columns = np.ogrid[:300, :300]
    far = np.hypot(columns - 149.5, rows - 149.5) / (HOOP.radius * 300)
    assert 0.1 < marked[far < 0.45].mean() < 0.4
    assert not marked[(far > 0.56) & (far < 0.95)].any()
    with pytest.raises(ValueError, match="expected a picture that reduces to"):
        draw_overlay(wet[:-8], found, HOOP)


def test_large_pictures_are_reduced_first() -> None:
    """A picture of twice the size (blocks of equal pixels) has the same share, in a smaller mask."""
    scene = replace(Scene(), size=480)
    small = photographs(scene)
    large = [np.kron(p, np.ones((2, 2, 1), np.uint8)) for p in small]
    found = find_wetted(large[0], large[1], HOOP)
    assert (found.height, found.width) == (480, 480)
    assert np.array_equal(reduced(large[0]), small[0])
    assert found.share == find_wetted(small[0], small[1], HOOP).share


def test_a_moved_texture_is_brought_back() -> None:
    """Correlation returns the shift of a picture that was rolled: law of the shift theorem."""
    draw = np.random.default_rng(2)
    picture = ndimage.gaussian_filter(draw.uniform(0.1, 0.9, (160, 160)), 2, mode="wrap")
    shift, peak = correlate(picture, np.roll(picture, (5, -7), axis=(0, 1)))
    assert shift == pytest.approx((5, -7), abs=0.25)
    assert peak > 20


def within_parts(values: np.ndarray, bins: int) -> tuple[np.ndarray, dict[int, float]]:
    """Bin edges, and for each cut between bins the summed variance within both parts, value by value."""
    counts, edges = np.histogram(values, bins)
    every = np.repeat((edges[:-1] + edges[1:]) / 2, counts)
    costs = {}
    for cut in range(1, bins):
        low, high = every[every < edges[cut]], every[every >= edges[cut]]
        costs[cut] = float(len(low) * low.var() + len(high) * high.var())
    return edges, costs


@given(st.lists(st.integers(0, 60), min_size=2, max_size=60).filter(lambda v: len(set(v)) > 1))
def test_otsu_by_its_definition(numbers: list[int]) -> None:
    """The cut with the largest variance between the parts has the smallest within them (Otsu 1979, eq. 9)."""
    values = np.array(numbers, float)
    edges, costs = within_parts(values, 32)
    found = otsu_threshold(values, 32)
    step = edges[1] - edges[0]
    nearest = min(costs, key=lambda cut: (abs(edges[cut] - found), cut))
    assert abs(edges[nearest] - found) <= step / 2 + 1e-9
    assert costs[nearest] <= min(costs.values()) + 1e-9 * (1 + values.var() * len(values))


def test_otsu_refuses_nothing_and_nan() -> None:
    """No values, or one that isn't finite, is an error; all equal are their own threshold."""
    for bad in (np.array([]), np.array([1.0, np.nan])):
        with pytest.raises(ValueError, match="expected finite numbers"):
            otsu_threshold(bad)
    assert otsu_threshold(np.array([3.0, 3.0])) == 3.0
