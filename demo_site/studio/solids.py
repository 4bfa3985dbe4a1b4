"""Boards, bars, a bench top and what they throw a shadow on."""

import numpy as np

from .light import Canvas, Colour, Field, rgb, smoothstep

ASH = rgb(188, 154, 108)
STEEL = rgb(168, 172, 176)
BOARDS = rgb(158, 124, 86)


def box(c: Canvas, x0: float, y0: float, x1: float, y1: float, soft: float = 1.2) -> Field:
    inside = smoothstep(x0 - soft, x0 + soft, c.X) * (1 - smoothstep(x1 - soft, x1 + soft, c.X))
    return np.asarray(inside * smoothstep(y0 - soft, y0 + soft, c.Y) * (1 - smoothstep(y1 - soft, y1 + soft, c.Y)))


def plank(c: Canvas, x0: float, y0: float, x1: float, y1: float, colour: Colour = ASH, upright: bool = False) -> None:
    """A board with grain along its length and broken edges."""
    mask = box(c, x0, y0, x1, y1)
    along, across = (c.Y, c.X) if upright else (c.X, c.Y)
    ring = across / 7 + 3.0 * c.noise(along / 420, across / 60, 81)
    grain = (
        1
        + 0.10 * np.sin(ring * 2.1) * c.noise(along / 190, across / 20, 83)
        + 0.16 * (c.noise(along / 150, across / 2.6, 85) - 0.5)
    )
    edge = np.minimum(np.minimum(c.X - x0, x1 - c.X), np.minimum(c.Y - y0, y1 - c.Y))
    height = 9 * smoothstep(0, 11, edge)
    c.lay(mask, c.relief(height, colour, 0.04, 20) * grain[..., None])


def rod(
    c: Canvas,
    x0: float,
    x1: float,
    y0: float,
    y1: float,
    colour: Colour,
    gloss: float = 0.4,
    upright: bool = True,
) -> None:
    """A round bar, upright or level."""
    mask = box(c, x0, y0, x1, y1)
    across, mid, half = (c.X, (x0 + x1) / 2, (x1 - x0) / 2) if upright else (c.Y, (y0 + y1) / 2, (y1 - y0) / 2)
    height = np.sqrt(np.clip(half**2 - (across - mid) ** 2, 0, None))
    c.lay(mask, c.relief(height, colour, gloss, 14))


def table(c: Canvas, y: float, colour: Colour = BOARDS) -> None:
    """A bench top seen a little from above: boards that run away from the eye, light from the left."""
    depth = np.clip((c.Y - y) / (1500 - y), 0, 1)
    u = (c.X - 1000) / (0.75 + 0.6 * depth)
    ring = u / 26 + 2.5 * c.noise(u / 70, depth * 2.2, 87)
    grain = 1 + 0.06 * np.sin(ring * 2) + 0.16 * (c.noise(u / 5, depth * 7, 88) - 0.5)
    gap = np.exp(-((((u + 5000) % 330 - 165) / 3.2) ** 2))
    light = (1.12 - 0.40 * smoothstep(200, 2100, c.X)) * (0.86 + 0.22 * depth)
    c.lay(smoothstep(y - 1.5, y + 1.5, c.Y), np.asarray(colour) * (light * grain * (1 - 0.42 * gap))[..., None])
    c.add(np.exp(-(((c.Y - y - 5) / 4) ** 2)) * 0.10, (1, 0.95, 0.85))


def cast(c: Canvas, mask: Field, y: float, reach: float = 90, strength: float = 0.5) -> None:
    """A shadow on the table under something that stands at height `y` of the picture."""
    c.darken(c.blur(mask, reach * 0.2) * (c.Y > y - 30), strength)
    c.darken(c.blur(c.shift(mask, reach * 0.6, reach * 0.1), reach * 0.6) * (c.Y > y - 60), strength * 0.6)


def ellipse(c: Canvas, x: float, y: float, a: float, b: float) -> Field:
    d = np.hypot((c.X - x) / a, (c.Y - y) / b)
    return np.asarray(1 - smoothstep(1 - 1.5 / b, 1 + 1.5 / b, d))
