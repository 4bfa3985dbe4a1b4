"""The wetted share of a specimen, from a photograph before and one after the spray.

Where the cloth took up water its colour differs from before. The differences (CIEDE2000) inside the hoop fall
into two parts, dry and wet; Otsu's threshold divides them (IEEE Trans. Systems, Man, Cybernetics 9 (1979)
62). How far the share may be trusted: the threshold is moved by `THRESHOLD_PLAY` of the distance between both
parts, the alignment by one pixel each way, and the edge of the wetted area by half a pixel.

It supports a grade given by eye and never replaces it: a grade looks at drops and at wetting through, which
no outline shows. Pairs that can't be trusted are refused (`photo_pair.PhotoFault`).
"""

import math

from sitegen.datatypes import dataclass
from sitegen.findings.photos.colour import colour_difference, lab_of
from sitegen.findings.photos.photo_pair import Hoop, Pair, PhotoFault, Refused, disc, prepare, reduced
from sitegen.findings.ranking.draws import Array

BINS = 256
LEAST_DIFFERENCE = 2.0  # ΔE00 between the middles of both parts; 1 is what an eye just sees
LEAST_SEPARATION = 4.0  # of the means, in root-mean-square spreads; an even spread has 3.5, a bell 2.7
THRESHOLD_PLAY = 0.15
SPECK = 2e-4  # of the hoop's area: smaller spots are grain
INK, PAPER = (20, 20, 20), (255, 255, 255)
HATCH = 8  # pixels between hatching lines


@dataclass(frozen=True, slots=True, kw_only=True)
class WettedShare:
    """The wetted share of the hoop's area, `low` to `high` its interval; shares 0 to 1.

    `threshold` and `difference` (between the means of both parts) in ΔE00; `separation` in their spreads;
    `shift` of the dry picture (down, right) in pixels of the reduced picture, whose `height` and `width` are
    those of the `mask`: one bit a pixel, row after row.
    """

    share: float
    low: float
    high: float
    threshold: float
    difference: float
    separation: float
    shift: tuple[float, float]
    height: int
    width: int
    mask: bytes


def find_wetted(dry: Array, wet: Array, hoop: Hoop) -> WettedShare:
    """The wetted share. `dry`, `wet`: uint8 sRGB arrays (height, width, 3) of one specimen in one framing.

    Errors: Refused, with a `fault`, for a pair that can't be trusted. Source: the module's text.
    """
    import numpy as np

    pair = prepare(dry, wet, hoop)
    differences = difference_map(pair)
    inside = differences[pair.inside]
    threshold = otsu_threshold(inside)
    gap, separation = parts(inside, threshold)
    mask = _clean(differences > threshold, pair.inside)
    share = _share(mask, pair.inside)
    low, high = _interval(pair, differences, threshold, gap, mask)
    return WettedShare(
        share=share,
        low=min(low, share),
        high=max(high, share),
        threshold=threshold,
        difference=gap,
        separation=separation,
        shift=pair.shift,
        height=mask.shape[0],
        width=mask.shape[1],
        mask=np.packbits(mask).tobytes(),
    )


def difference_map(pair: Pair, down: int = 0, right: int = 0) -> Array:
    """ΔE00 between the dry picture in the wet one's light and the wet one; zero outside the hoop.

    `down`, `right`: a further shift of the dry picture in whole pixels.
    """
    import numpy as np

    # What leaves on one side comes in on the other, but the hoop lies within the picture.
    moved = np.roll(pair.moved, (down, right), axis=(0, 1))
    found = np.zeros(pair.inside.shape)
    expected = np.clip(moved[pair.inside] * pair.light[pair.inside], 0, 1)
    found[pair.inside] = colour_difference(lab_of(expected), pair.wet_lab)
    return found


def otsu_threshold(values: Array, bins: int = BINS) -> float:
    """The threshold that sets both parts apart most: the largest variance between their means.

    Over a histogram of `bins` equal bins; where thresholds side by side do equally well, the middle one. Errors:
    ValueError when empty or not finite. Source: Otsu 1979, equation 18.

    >>> import numpy as np
    >>> round(otsu_threshold(np.array([1.0, 1.0, 2.0, 9.0, 10.0])), 1)
    5.5
    """
    import numpy as np

    if not values.size or not np.isfinite(values).all():
        raise ValueError("values: expected finite numbers, at least one")
    if values.min() == values.max():
        return float(values[0])
    counts, edges = np.histogram(values, bins)
    middles = (edges[:-1] + edges[1:]) / 2
    below, sums = np.cumsum(counts)[:-1], np.cumsum(counts * middles)
    above = counts.sum() - below
    with np.errstate(divide="ignore", invalid="ignore"):
        between = below * above * ((sums[-1] - sums[:-1]) / above - sums[:-1] / below) ** 2
    best = np.nonzero(between >= np.nanmax(between) * (1 - 1e-12))[0]
    stretch = best[best - best[0] == np.arange(len(best))]  # across empty bins the variance stays the same
    return float((edges[stretch[0] + 1] + edges[stretch[-1] + 1]) / 2)


def parts(values: Array, threshold: float) -> tuple[float, float]:
    """How far the means of both parts lie apart, in ΔE00 and in their root-mean-square spreads.

    Errors: Refused when that is too little. When nearly all of the hoop has changed, dry cloth to compare
    with is lacking: all of it may be wet, or the light may have changed. That isn't for a picture to decide.
    """
    import numpy as np

    wet, dry = values[values > threshold], values[values <= threshold]
    gap = float(wet.mean() - dry.mean()) if len(wet) and len(dry) else 0.0
    if gap < LEAST_DIFFERENCE:
        changed = float(np.median(values)) >= LEAST_DIFFERENCE
        raise Refused(PhotoFault.NOT_TWO_PARTS if changed else PhotoFault.TOO_SMALL_A_DIFFERENCE)
    spread = math.sqrt((float(wet.var()) + float(dry.var())) / 2)
    separation = gap / spread if spread else math.inf
    if separation < LEAST_SEPARATION:
        raise Refused(PhotoFault.NOT_TWO_PARTS)
    return gap, separation


def _clean(mask: Array, inside: Array) -> Array:
    """Opened and closed by a cross of three, then without specks and pinholes."""
    import numpy as np
    from scipy import ndimage  # type: ignore[import-untyped,unused-ignore]

    cross = ndimage.generate_binary_structure(2, 1)
    found = ndimage.binary_closing(ndimage.binary_opening(mask, cross), cross) & inside
    smallest = max(4, round(SPECK * int(np.count_nonzero(inside))))
    found = _without_specks(found, smallest)
    return inside & ~_without_specks(inside & ~found, smallest)


def _without_specks(mask: Array, smallest: int) -> Array:
    import numpy as np
    from scipy import ndimage

    labels, _ = ndimage.label(mask)
    sizes = np.bincount(labels.ravel())
    kept = sizes >= smallest
    kept[0] = False
    return kept[labels]


def _share(mask: Array, inside: Array) -> float:
    import numpy as np

    return int(np.count_nonzero(mask)) / int(np.count_nonzero(inside))


def _interval(pair: Pair, differences: Array, threshold: float, gap: float, mask: Array) -> tuple[float, float]:
    play = THRESHOLD_PLAY * gap
    shares = []
    for side in (-1, 1):
        moved = _clean(differences > threshold + side * play, pair.inside)
        shares.append(_share(moved, pair.inside))
    for down, right in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        again = difference_map(pair, down, right)
        shares.append(_share(_clean(again > threshold, pair.inside), pair.inside))
    edge = _edge_share(mask, pair.inside) / 2
    return max(0.0, min(shares) - edge), min(1.0, max(shares) + edge)


def _edge_share(mask: Array, inside: Array) -> float:
    """The share of the hoop's pixels through which the edge of the wetted area runs."""
    from scipy import ndimage

    rim = mask & ~ndimage.binary_erosion(mask | ~inside)
    return _share(rim, inside)


def draw_overlay(wet: Array, found: WettedShare, hoop: Hoop) -> Array:
    """The wet picture (as given to `find_wetted`), reduced, with the wetted area hatched and outlined.

    A uint8 RGB array. Lines are dark on light cloth and light on dark cloth, so that they show in grey and in
    print too. Errors: ValueError when picture and finding don't belong together.
    """
    import numpy as np
    from scipy import ndimage

    picture = np.rint(reduced(wet)).astype(np.uint8)
    if picture.shape[:2] != (found.height, found.width):
        raise ValueError(
            f"wet: expected a picture that reduces to {found.width} × {found.height}, "
            f"found {picture.shape[1]} × {picture.shape[0]}"
        )
    mask = wetted_mask(found)
    inside = disc(picture.shape, hoop)
    rows, columns = np.ogrid[: found.height, : found.width]
    lines = mask & ((rows + columns) % HATCH == 0)
    outline = ndimage.binary_dilation(mask) & ~ndimage.binary_erosion(mask)
    ring = inside & ~ndimage.binary_erosion(inside, iterations=2)
    light = float(picture[inside].mean()) > 127
    picture[lines | outline | ring] = INK if light else PAPER
    return picture


def wetted_mask(found: WettedShare) -> Array:
    """The wetted area as an array of truth values (height, width)."""
    import numpy as np

    bits = np.unpackbits(np.frombuffer(found.mask, np.uint8), count=found.height * found.width)
    return bits.reshape(found.height, found.width).astype(bool)
