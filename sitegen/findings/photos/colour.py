"""Colour as the eye counts it: from sRGB to CIELAB, and the difference of two colours by CIEDE2000.

Sources: sRGB IEC 61966-2-1 (transfer curve, primaries, D65 white); CIELAB CIE 15 / ISO/CIE 11664-4; CIEDE2000
ISO/CIE 11664-6, by the formulas of Sharma, Wu & Dalal, Color Research & Application 30 (2005) 21, whose pairs
the tests use. A photograph without a chart gives no colour difference worth printing; here one only serves to
tell two parts of one picture apart.
"""

from sitegen.findings.ranking.draws import Array

# Linear sRGB to XYZ for D65, and the white that this matrix gives to (1, 1, 1) (IEC 61966-2-1).
TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
WHITE = tuple(sum(row) for row in TO_XYZ)
LUMINANCE = TO_XYZ[1]

SMALL = (6 / 29) ** 3  # below it the cube root is replaced by a straight line (CIE 15)
SEVENTH = 25.0**7


def linear_light(rgb: Array) -> Array:
    """sRGB values 0..255 (any shape) as linear light 0..1 (IEC 61966-2-1).

    >>> import numpy as np
    >>> [round(float(v), 4) for v in linear_light(np.array([0.0, 10.0, 188.0, 255.0]))]
    [0.0, 0.003, 0.5029, 1.0]
    """
    import numpy as np

    value = np.asarray(rgb, float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab_of(light: Array) -> Array:
    """CIELAB of linear sRGB light 0..1, last axis R, G, B in and L*, a*, b* out.

    >>> import numpy as np
    >>> [round(float(v), 2) + 0.0 for v in lab_of(np.array([1.0, 1.0, 1.0]))]
    [100.0, 0.0, 0.0]
    """
    import numpy as np

    ratio = (light @ np.array(TO_XYZ).T) / np.array(WHITE)
    f = np.where(ratio > SMALL, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def colour_difference(one: Array, other: Array) -> Array:
    """ΔE00 of CIELAB colours (last axis L*, a*, b*; shapes broadcast), with kL = kC = kH = 1.

    It is the same both ways. Source: the module's text; names as in the paper.

    >>> import numpy as np
    >>> round(float(colour_difference(np.array([50, 2.5, 0]), np.array([50, 0, -2.5]))), 4)
    4.3065
    """
    import numpy as np

    l1, c1, h1, l2, c2, h2 = _primed(np.asarray(one, float), np.asarray(other, float))
    grey = c1 * c2 == 0
    turn = np.where(grey, 0.0, (h2 - h1 + 180) % 360 - 180)
    # A difference of exactly 180° may be taken either way round; its sine is squared or, where it isn't
    # (the rotation term), the paper's rule keeps +180.
    turn = np.where((turn == -180) & (h2 > h1), 180.0, turn)
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    middle_c, hue = (c1 + c2) / 2, _middle_hue(h1, h2, grey)
    off = ((l1 + l2) / 2 - 50) ** 2
    t = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    sl = 1 + 0.015 * off / np.sqrt(20 + off)
    sc, sh = 1 + 0.045 * middle_c, 1 + 0.015 * middle_c * t
    lean = np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2)))
    twist = 2 * np.sqrt(_seventh_share(middle_c)) * np.sin(lean)
    a, b, c = dl / sl, dc / sc, dh / sh
    return np.sqrt(np.maximum(a * a + b * b + c * c - twist * b * c, 0))


def _primed(one: Array, other: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """L, C' and h' (degrees) of both; a* is stretched near grey (steps 1 to 4 of the paper)."""
    import numpy as np

    chroma = (np.hypot(one[..., 1], one[..., 2]) + np.hypot(other[..., 1], other[..., 2])) / 2
    stretch = 1 + 0.5 * (1 - np.sqrt(_seventh_share(chroma)))
    found: list[Array] = []
    for colour in (one, other):
        a, b = colour[..., 1] * stretch, colour[..., 2]
        hue = np.degrees(np.arctan2(b, a)) % 360
        found += [colour[..., 0], np.hypot(a, b), np.where((a == 0) & (b == 0), 0.0, hue)]
    return found[0], found[1], found[2], found[3], found[4], found[5]


def _middle_hue(h1: Array, h2: Array, grey: Array) -> Array:
    import numpy as np

    total, apart = h1 + h2, np.abs(h1 - h2) > 180
    mean = np.where(apart, np.where(total < 360, total + 360, total - 360), total) / 2
    return np.where(grey, total, mean)


def _seventh_share(chroma: Array) -> Array:
    seventh = chroma**7
    return seventh / (seventh + SEVENTH)
