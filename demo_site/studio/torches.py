"""Head torches: a standing loop of strap, a body, a lens, and light if it is lit."""

from dataclasses import dataclass

import numpy as np

from .cloth import KRAFT, SHEET, cord, disc
from .light import Canvas, Colour, Field, path, rgb, smoothstep


@dataclass(frozen=True, slots=True, kw_only=True)
class Torch:
    """One head torch. `body` and `lens` in design units; `shape` is the power of the rounded box."""

    shell: Colour
    strap: Colour
    stripe: Colour
    body: tuple[float, float]
    shape: float = 5.0
    lens: float = 74.0
    strap_width: float = 150.0
    loop: tuple[float, float] = (600.0, 250.0)
    lit: bool = False
    fins: int = 0
    pack: bool = False
    second_lens: bool = False
    kraft: bool = False
    cord_only: bool = False
    over_top: bool = False


CENTRE = (1000.0, 700.0)


def dusk(c: Canvas, reach: float) -> None:
    """A dim room: a table that the lamp lights in front of itself."""
    far = smoothstep(380, 620, c.Y)
    back = np.asarray(rgb(46, 54, 66)) * (1.0 - 0.35 * smoothstep(0, 480, 480 - c.Y))[..., None]
    grain = 1 + 0.12 * (c.clouds(30, 4, 5, stretch=22) - 0.5) + 0.05 * (c.clouds(9, 2, 8, stretch=14) - 0.5)
    table = np.asarray(rgb(92, 78, 66)) * (0.62 + 0.25 * smoothstep(500, 1500, c.Y))[..., None] * grain[..., None]
    c.rgb = back * (1 - far[..., None]) + table * far[..., None]
    pool = np.exp(-(((c.X - 1000) / (620 * reach)) ** 2) - ((c.Y - 1180) / (300 * reach)) ** 2)
    c.rgb = c.rgb * (1 + 1.9 * pool[..., None] * np.asarray((1.10, 1.0, 0.82)))


def strap_side(c: Canvas, t: Torch, front: bool) -> None:
    """The front or the back half of the loop that stands on its edge."""
    (cx, cy), (a, b), w = CENTRE, t.loop, t.strap_width
    s = np.clip((c.X - cx) / a, -1, 1)
    curve = cy + (1 if front else -1) * b * np.sqrt(1 - s**2)
    wave = 7 * np.sin(s * 5.1 + (0.4 if front else 2.0))
    q = (curve + w / 2 - c.Y + wave) / w
    inside = (np.abs(c.X - cx) < a) * smoothstep(-0.012, 0.012, q) * (1 - smoothstep(0.988, 1.012, q))
    turn = np.sqrt(np.clip(1 - s**2, 0, 1))
    light = (0.42 + 0.62 * turn - 0.24 * s) if front else (0.30 + 0.30 * turn + 0.20 * s)
    rib = 1 + 0.10 * np.sin(2 * np.pi * q * 17) + 0.07 * np.sin(2 * np.pi * np.arcsin(s) * a / 7.5)
    round_edge = 1 - 0.28 * np.abs(2 * q - 1) ** 6
    tone = np.where((np.abs(q - 0.5) < 0.13)[..., None], np.asarray(t.stripe), np.asarray(t.strap))
    c.lay(inside, tone * (light * rib * round_edge)[..., None])


def floor_shadow(c: Canvas, t: Torch) -> None:
    (cx, cy), (a, b), w = CENTRE, t.loop, t.strap_width
    r = np.sqrt(((c.X - cx - 26) / a) ** 2 + ((c.Y - cy - w / 2 - 14) / b) ** 2)
    ring = np.exp(-(((r - 1) / 0.055) ** 2))
    c.darken(c.blur(ring, 10), 0.55)
    c.darken(c.blur(np.exp(-(((r - 1.04) / 0.16) ** 2)), 40), 0.42)


def superbox(c: Canvas, x: float, y: float, w: float, h: float, power: float) -> Field:
    """Distance-like value of a rounded box: below one inside."""
    return np.asarray((np.abs((c.X - x) / w) ** power + np.abs((c.Y - y) / h) ** power) ** (1 / power))


def solid(c: Canvas, value: Field, rise: float, colour: Colour, gloss: float, round_off: float = 0.55) -> Field:
    """Paint a domed solid where `value` is below one; returns its mask."""
    step = float(np.abs(np.gradient(value)[1]).max()) + 1e-6
    mask = 1 - smoothstep(1 - step, 1 + step, value)
    edge = np.clip((1 - value) / round_off, 0, 1)
    height = rise * np.sqrt(np.clip(1 - (1 - edge) ** 2, 0, 1))
    speck = 1 + 0.06 * (c.clouds(5, 2, 61) - 0.5)
    c.lay(mask, c.relief(height, colour, gloss, 36) * speck[..., None])
    return np.asarray(mask)


def lens(c: Canvas, x: float, y: float, r: float, lit: bool) -> None:
    """A bezel, a reflector and the chip; a lit one is white-hot in the middle."""
    d = np.hypot(c.X - x, c.Y - y)
    ang = np.arctan2(c.Y - y, c.X - x)
    c.lay(
        disc(c, x, y, r * 1.20),
        c.relief(18 * np.exp(-(((d - r * 1.08) / (r * 0.11)) ** 2)), rgb(58, 60, 64), 0.5, 12),
    )
    depth = np.clip(d / r, 0, 1)
    facets = 0.5 + 0.5 * np.sin(ang * 18 + 9 * depth) * np.sin(depth * 34)
    bowl = 0.32 + 0.42 * depth**2 + 0.16 * facets + 0.22 * np.cos(ang - 0.9) * depth
    c.lay(disc(c, x, y, r), np.asarray(rgb(196, 202, 208)) * np.clip(bowl, 0.08, 1.1)[..., None])
    chip = smoothstep(r * 0.24, r * 0.20, np.maximum(np.abs(c.X - x), np.abs(c.Y - y)))
    c.lay(chip, rgb(222, 196, 92))
    glint = np.exp(-(((c.X - x + r * 0.36) / (r * 0.30)) ** 2) - (((c.Y - y + r * 0.46) / (r * 0.12)) ** 2))
    c.add(glint * disc(c, x, y, r), (0.34, 0.36, 0.38))
    if lit:
        c.add(np.exp(-((d / (r * 0.62)) ** 2)) * 1.5, (1.0, 0.97, 0.86))
        c.add(disc(c, x, y, r) * 0.55, (1.0, 0.95, 0.80))


def glow(c: Canvas, x: float, y: float, r: float) -> None:
    """The halo that the eye and the air make around a bright lamp."""
    d = np.hypot(c.X - x, c.Y - y)
    ang = np.arctan2(c.Y - y, c.X - x)
    c.add(0.40 * np.exp(-d / (r * 1.1)) + 0.15 * np.exp(-d / (r * 5.2)), (1.0, 0.94, 0.80))
    rays = (0.5 + 0.5 * np.cos(ang * 6 + 0.5)) ** 60 + 0.6 * (0.5 + 0.5 * np.cos(ang * 6 + 0.92)) ** 90
    c.add(0.17 * rays * np.exp(-d / (r * 3.2)), (1.0, 0.95, 0.84))


def body(c: Canvas, t: Torch) -> None:
    (cx, cy), (w, h) = CENTRE, t.body
    y = cy + t.loop[1] - 6
    plate = superbox(c, cx, y + 8, w * 1.12, h * 0.92, 4)
    c.shadow(1 - smoothstep(0.98, 1.02, plate), 12, 0.55)
    solid(c, plate, 12, rgb(52, 54, 58), 0.10, 0.2)
    value = superbox(c, cx, y, w, h, t.shape)
    c.shadow(1 - smoothstep(0.98, 1.02, value), 16, 0.55)
    mask = solid(c, value, min(w, h) * 0.42, t.shell, 0.10 if t.lit else 0.30)
    for k in range(t.fins):
        for side in (-1, 1):
            x = cx + side * (w * 0.66 + 15 * k - 8)
            groove = np.exp(-(((c.X - x) / 3.4) ** 2)) * mask * (np.abs(c.Y - y) < h * 0.62)
            c.darken(groove, 0.62)
            c.add(
                np.exp(-(((c.X - x - 6) / 2.6) ** 2)) * mask * (np.abs(c.Y - y) < h * 0.62),
                (0.09, 0.09, 0.08),
            )
    button = superbox(c, cx + w * 0.12, y - h * 0.90, w * 0.26, 13, 3)
    solid(c, button, 10, rgb(60, 62, 66), 0.22)
    lamps(c, t, cx, y, w)


def lamps(c: Canvas, t: Torch, cx: float, y: float, w: float) -> None:
    x = cx - w * 0.30 if t.second_lens else cx
    lens(c, x, y + 4, t.lens, t.lit)
    if t.second_lens:
        lens(c, cx + w * 0.50, y + 8, t.lens * 0.46, False)
    if t.lit:
        glow(c, x, y + 4, t.lens)


def back_pack(c: Canvas, t: Torch) -> None:
    """A battery box at the back of the loop."""
    cx, y = CENTRE[0], CENTRE[1] - t.loop[1]
    value = superbox(c, cx, y - 6, 196, 84, 5)
    solid(c, value, 40, tuple(v * 0.82 for v in t.shell), 0.12, 0.5)
    for x in (cx - 70, cx, cx + 70):
        c.darken(np.exp(-(((c.X - x) / 4) ** 2)) * (np.abs(c.Y - y + 6) < 60), 0.30)


def top_strap(c: Canvas, t: Torch) -> None:
    """The third strap, from the back over the head to the front."""
    (cx, cy), (_, b) = CENTRE, t.loop
    s = np.clip((c.Y - (cy - b)) / (2 * b), 0, 1)
    x = cx + 150 * np.sin(np.pi * s)
    q = (c.X - x) / 62
    mask = (1 - smoothstep(0.97, 1.03, np.abs(q))) * (c.Y > cy - b - 30) * (c.Y < cy + b)
    c.shadow(mask, 20, 0.35)
    rib = 1 + 0.09 * np.sin(q * 40) + 0.06 * np.sin(c.Y / 1.3)
    tone = np.where((np.abs(q) < 0.24)[..., None], np.asarray(t.stripe), np.asarray(t.strap))
    c.lay(mask, tone * ((0.55 + 0.42 * np.sin(np.pi * s)) * rib * (1 - 0.2 * q))[..., None])


def torch_on_cord(c: Canvas, t: Torch) -> None:
    """A tiny lamp on a thin cord, laid down in two turns."""
    cord(c, path("880,900 640,800 420,560 640,330 1100,290 1500,420 1560,700 1320,880 1120,920"), t.strap, 11)
    cord(c, path("900,860 760,700 700,540 860,430 1160,430 1330,560 1250,740 1110,860"), t.strap, 11)


def still_life(c: Canvas, t: Torch) -> None:
    """The whole picture of one head torch."""
    if t.lit:
        dusk(c, 1.0 if t.lens > 60 else 0.7)
    else:
        c.paper(KRAFT if t.kraft else SHEET, 0.04)
    if t.cord_only:
        torch_on_cord(c, t)
    else:
        floor_shadow(c, t)
        strap_side(c, t, front=False)
        if t.pack:
            back_pack(c, t)
        if t.over_top:
            top_strap(c, t)
        strap_side(c, t, front=True)
    body(c, t)
