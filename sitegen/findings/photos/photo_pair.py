"""Two photographs of one specimen, dry and wet, made comparable: same place, same light.

Order: reduced to a workable size; the shift found by phase correlation (Kuglin & Hines, Proc. IEEE Int. Conf.
Cybernetics and Society, 1975, 163; from memory) within a band of frequencies that is neither light falling
off nor the camera's noise; the dry one moved on to the wet one; the change of light fitted as a smooth
surface where the cloth has not changed, and taken out. Bounds are common practice, no source, unless said.

All arithmetic on light is done in linear light: a wet patch and a shadow both multiply it.
"""

import math
from enum import StrEnum

from sitegen.datatypes import dataclass
from sitegen.findings.photos.colour import LUMINANCE, lab_of, linear_light
from sitegen.findings.ranking.draws import Array

LONGEST_SIDE = 720  # pixels, after reduction: a pixel is then a fifth of a millimetre to a half
SMALLEST_SIDE = 96
BLOWN, BLOWN_SHARE = 250, 0.10  # of 255; a wet surface may glitter, a tenth of it can't
DARK, DARK_SHARE = 8, 0.50
MOST_SHIFT = 0.03  # of the shorter side
LEAST_PEAK = 8.0  # the peak of the correlation, in standard deviations of the rest
QUARTERS_AGREE = 2.0  # pixels, between shifts of the four quarters: else turned or zoomed
BAND = (0.015, 0.16)  # cycles per pixel
BLUR = 1.6  # pixels; the camera's noise would otherwise count as a difference
LIGHT_ROUNDS = 6
LIGHT_GRID = 4  # every fourth pixel is enough for a surface of six coefficients
FLOOR = 1e-3  # of full light: below it the ratio of two lights is noise


class PhotoFault(StrEnum):
    """Why a pair of photographs is refused."""

    NOT_A_PICTURE = "not_a_picture"  # no 8-bit RGB, or too small
    SIZES_DIFFER = "sizes_differ"
    HOOP_OUTSIDE = "hoop_outside"  # the hoop isn't wholly in the picture
    BLOWN_OUT = "blown_out"
    TOO_DARK = "too_dark"
    NO_MATCH = "no_match"  # the two show nothing in common that could be brought to cover
    MOVED = "moved"  # too far, turned, or another distance
    TOO_SMALL_A_DIFFERENCE = "too_small_a_difference"  # dry and wet parts look alike
    NOT_TWO_PARTS = "not_two_parts"  # differences don't fall into two: all changed, or all by degrees


class Refused(ValueError):
    """A pair that can't be trusted; `fault` says why."""

    def __init__(self, fault: PhotoFault) -> None:
        super().__init__(fault.value)
        self.fault = fault

    def __reduce__(self) -> tuple[type["Refused"], tuple[PhotoFault]]:
        return type(self), (self.fault,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hoop:
    """The hoop in the picture of the wet specimen: centre as shares of width and height (from the top left),
    radius as a share of the shorter side. Errors: ValueError for shares outside 0..1.
    """

    x: float
    y: float
    radius: float

    def __post_init__(self) -> None:
        for name, value in (("x", self.x), ("y", self.y), ("radius", self.radius)):
            if not 0 < value < 1:
                raise ValueError(f"hoop {name}: expected a share between 0 and 1, found {value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Linear light of both, (height, width, 3), dry moved on to wet; `inside` the hoop; shift in pixels.

    `moved` is the dry picture moved, its light not yet corrected; `light` what it must be multiplied by;
    `wet_lab` the wet one's CIELAB colours inside the hoop. Working matter, no result.
    """

    moved: Array
    wet_lab: Array
    light: Array
    inside: Array
    shift: tuple[float, float]


def prepare(dry: Array, wet: Array, hoop: Hoop) -> Pair:
    """Both pictures (height, width, 3; uint8 sRGB) on one place and in one light. Errors: Refused."""
    check(dry, wet)
    dry, wet = reduced(dry), reduced(wet)
    inside = disc(wet.shape[:2], hoop)
    _check_exposure(dry, inside)
    _check_exposure(wet, inside)
    dry_light, wet_light = linear_light(dry), linear_light(wet)
    shift = find_shift(dry_light @ LUMINANCE, wet_light @ LUMINANCE)
    _check_margin(inside, shift)
    moved = move(blurred(dry_light), shift)
    wet_light = blurred(wet_light)
    light = light_change(moved, wet_light, inside)
    wet_lab = lab_of(wet_light[inside])
    return Pair(moved=moved, wet_lab=wet_lab, light=light, inside=inside, shift=shift)


def check(dry: Array, wet: Array) -> None:
    """Errors: Refused for what is no 8-bit RGB picture, is too small, or differs in size."""
    import numpy as np

    for picture in (dry, wet):
        if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8:
            raise Refused(PhotoFault.NOT_A_PICTURE)
        if min(picture.shape[:2]) < SMALLEST_SIDE:
            raise Refused(PhotoFault.NOT_A_PICTURE)
    if dry.shape != wet.shape:
        raise Refused(PhotoFault.SIZES_DIFFER)


def reduction(shape: tuple[int, ...]) -> int:
    """By how many pixels a side a picture is reduced to one."""
    return max(1, math.ceil(max(shape[:2]) / LONGEST_SIDE))


def reduced(picture: Array) -> Array:
    """The picture as floats 0..255, blocks of pixels averaged until it is at most `LONGEST_SIDE` long."""
    step = reduction(picture.shape)
    height, width = picture.shape[0] // step * step, picture.shape[1] // step * step
    blocks = picture[:height, :width].reshape(height // step, step, width // step, step, 3)
    return blocks.mean(axis=(1, 3))


def disc(shape: tuple[int, ...], hoop: Hoop) -> Array:
    """Which pixels lie inside the hoop. Errors: Refused when it reaches beyond the picture."""
    import numpy as np

    height, width = shape[0], shape[1]
    x, y, radius = hoop.x * width, hoop.y * height, hoop.radius * min(height, width)
    if x - radius < 0 or y - radius < 0 or x + radius > width or y + radius > height:
        raise Refused(PhotoFault.HOOP_OUTSIDE)
    rows, columns = np.ogrid[:height, :width]
    inside: Array = np.hypot(columns + 0.5 - x, rows + 0.5 - y) <= radius
    return inside


def _check_exposure(picture: Array, inside: Array) -> None:
    import numpy as np

    brightest = picture[inside].max(axis=1)
    if np.mean(brightest >= BLOWN) > BLOWN_SHARE:
        raise Refused(PhotoFault.BLOWN_OUT)
    if np.mean(brightest <= DARK) > DARK_SHARE:
        raise Refused(PhotoFault.TOO_DARK)


def _check_margin(inside: Array, shift: tuple[float, float]) -> None:
    """The dry picture must still cover the hoop once it has been moved, and by a pixel more each way."""
    import numpy as np

    for axis, by in enumerate(shift):
        filled = np.nonzero(inside.any(axis=1 - axis))[0]
        before, behind = int(filled[0]), inside.shape[axis] - 1 - int(filled[-1])
        if before < by + 1 or behind < 1 - by:
            raise Refused(PhotoFault.HOOP_OUTSIDE)


def find_shift(dry: Array, wet: Array) -> tuple[float, float]:
    """How far (down, right; pixels) the dry luminance must be moved to cover the wet one.

    Errors: Refused when nothing matches, the shift is beyond `MOST_SHIFT`, or quarters of the picture
    disagree.
    """
    found, peak = correlate(dry, wet)
    if peak < LEAST_PEAK:
        raise Refused(PhotoFault.NO_MATCH)
    if max(map(abs, found)) > MOST_SHIFT * min(dry.shape):
        raise Refused(PhotoFault.MOVED)
    height, width = dry.shape[0] // 2, dry.shape[1] // 2
    for top in (0, height):
        for left in (0, width):
            part = (slice(top, top + height), slice(left, left + width))
            own, strength = correlate(dry[part], wet[part])
            apart = max(abs(a - b) for a, b in zip(own, found, strict=True))
            if strength >= LEAST_PEAK and apart > QUARTERS_AGREE:
                raise Refused(PhotoFault.MOVED)
    return found


def correlate(dry: Array, wet: Array) -> tuple[tuple[float, float], float]:
    """The shift (down, right) that brings `dry` on to `wet`, and how far its peak stands out."""
    import numpy as np

    height, width = dry.shape
    window = np.hanning(height)[:, None] * np.hanning(width)[None, :]
    spectra = [np.fft.rfft2((np.log(p + FLOOR) - np.log(p + FLOOR).mean()) * window) for p in (dry, wet)]
    cross = spectra[1] * np.conj(spectra[0])
    frequency = np.hypot(np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None, :])
    band = np.where(frequency >= BAND[0], np.exp(-((frequency / BAND[1]) ** 2)), 0.0)
    surface = np.fft.irfft2(cross / (np.abs(cross) + 1e-12) * band, s=(height, width))
    top, left = np.unravel_index(int(np.argmax(surface)), surface.shape)
    spread = float(surface.std())
    peak = float(surface[top, left]) / spread if spread else 0.0
    down = _refine(surface[:, left], int(top))
    right = _refine(surface[top, :], int(left))
    return (down, right), peak


def _refine(line: Array, index: int) -> float:
    """The place of a peak between pixels, by the parabola through three points, and its sign unwrapped."""
    before, here, after = (float(line[(index + step) % len(line)]) for step in (-1, 0, 1))
    curve = before - 2 * here + after
    place = index + (0.5 * (before - after) / curve if curve else 0.0)
    return place - len(line) if place > len(line) / 2 else place


def move(picture: Array, shift: tuple[float, float]) -> Array:
    """The picture moved (down, right) by straight interpolation; what comes in is the edge repeated."""
    from scipy import ndimage  # type: ignore[import-untyped,unused-ignore]

    moved: Array = ndimage.shift(picture, (*shift, 0), order=1, mode="nearest")
    return moved


def blurred(picture: Array) -> Array:
    """The picture without the finest grain."""
    from scipy import ndimage

    smooth: Array = ndimage.gaussian_filter(picture, (BLUR, BLUR, 0), mode="nearest")
    return smooth


def light_change(dry: Array, wet: Array, inside: Array) -> Array:
    """By how much the light of each channel changed from dry to wet, over the picture; (height, width, 3).

    A surface of second degree through log(wet/dry): first through what lies outside the hoop, which the spray
    hardly reaches, then through everything that agrees with it to within three spreads. So a wet patch, which
    departs from any smooth surface, doesn't bend it.
    """
    import numpy as np

    height, width = inside.shape
    rows, columns = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    terms = np.stack([np.ones_like(rows), rows, columns, rows * columns, rows**2, columns**2], axis=-1)
    grid = (slice(None, None, LIGHT_GRID), slice(None, None, LIGHT_GRID))
    ratio = np.log((wet[grid] + FLOOR) / (dry[grid] + FLOOR)).reshape(-1, 3)
    few, taken = terms[grid].reshape(-1, 6), ~inside[grid].ravel()
    for _ in range(LIGHT_ROUNDS):
        fit = np.linalg.lstsq(few[taken], ratio[taken], rcond=None)[0]
        left = np.abs(ratio - few @ fit).max(axis=1)
        spread = 1.4826 * float(np.median(left[taken]))
        taken = left <= max(3 * spread, 0.01)
    light: Array = np.exp(terms @ fit)
    return light
