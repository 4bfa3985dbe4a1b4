"""The spray stand, whole and its nozzle from near by."""

import numpy as np

from .cloth import cord, disc, wall
from .light import Canvas, Colour, rgb, smoothstep
from .solids import ASH, STEEL, box, cast, ellipse, plank, rod, table

CLOTH = rgb(92, 112, 108)


def funnel(c: Canvas, x: float, y: float, r: float, fill: float) -> None:
    """A glass funnel, partly full, seen from the side."""
    tall = r * 1.25
    s = np.clip((c.Y - y) / tall, 0, 1)
    half = r * (1 - s) + 16 * s
    inside = (c.Y > y) * (c.Y < y + tall) * (1 - smoothstep(half - 1.5, half + 1.5, np.abs(c.X - x)))
    q = np.clip((c.X - x) / half, -1, 1)
    wall_light = (
        0.10 * np.abs(q) ** 6 + 0.26 * np.exp(-(((q + 0.66) / 0.07) ** 2)) + 0.12 * np.exp(-(((q - 0.74) / 0.05) ** 2))
    )
    level = y + tall * (1 - fill)
    water = inside * smoothstep(level - 1.5, level + 1.5, c.Y)
    c.lay(inside * 0.22, rgb(214, 226, 230))
    c.lay(water * 0.42, np.asarray(rgb(138, 168, 178)) * (0.85 + 0.4 * q**2)[..., None])
    line = r * fill + 16 * (1 - fill)
    c.lay(ellipse(c, x, level, line, line * 0.10) * 0.55, rgb(198, 216, 222))
    c.darken(inside * np.abs(q) ** 14, 0.42)
    c.add(inside * wall_light * 1.5, (0.95, 1.0, 1.0))
    rim = ellipse(c, x, y, r + 5, r * 0.11) - ellipse(c, x, y + 1, r - 4, r * 0.085)
    c.lay(np.clip(rim, 0, 1) * 0.75, rgb(226, 234, 236))
    rod(c, x - 15, x + 15, y + tall - 8, y + tall + 70, rgb(188, 200, 202), 0.5)


def hoop_at_45(c: Canvas, x: float, y: float, r: float, cloth: Colour) -> None:
    """The hooped cloth on its slope: a thick disc seen nearly edge-on, with wet below the jets."""
    a = np.radians(38)
    u = (c.X - x) * np.cos(a) + (c.Y - y) * np.sin(a)
    v = -(c.X - x) * np.sin(a) + (c.Y - y) * np.cos(a)
    flat = 0.34
    for drop in range(26, -1, -2):
        d = np.hypot(u / r, (v - drop) / (r * flat))
        mask = 1 - smoothstep(1 - 0.008, 1 + 0.008, d)
        c.lay(mask, np.asarray(ASH) * (0.42 + 0.22 * (1 - u / r))[..., None])
    d = np.hypot(u / r, v / (r * flat))
    c.lay(1 - smoothstep(0.992, 1.008, d), np.asarray(rgb(206, 172, 126)) * (1.02 - 0.16 * u / r)[..., None])
    inside = 1 - smoothstep(0.872, 0.888, d)
    threads = 1 + 0.07 * np.sin(u / 1.5) * np.sin(v / 0.6)
    light = (0.98 - 0.20 * u / r) * threads * (1 - 0.30 * np.exp(-(((d - 0.87) / 0.06) ** 2)))
    c.lay(inside, np.asarray(cloth) * light[..., None])
    wet = np.exp(-((np.hypot((u - 30) / (r * 0.46), (v - 4) / (r * 0.15))) ** 4)) * inside
    c.darken(wet * (0.6 + 0.6 * c.noise(u / 22, v / 9, 33)), 0.5)
    c.add(wet * np.clip(c.noise(u / 16, v / 6, 37) - 0.72, 0, 1) * 2.2, (0.9, 1, 1))


def jets(c: Canvas, x: float, y: float, end: float, spread: float, count: int = 9) -> None:
    """Thin ropes of water that break into drops on their way down."""
    s = np.clip((c.Y - y) / (end - y), 0, 1)
    span = (c.Y > y) * (c.Y < end)
    for k in range(count):
        lean = (k - (count - 1) / 2) / ((count - 1) / 2)
        mid = x + lean * (30 + spread * s) + 2.0 * np.sin(c.Y / 37 + k * 2)
        beads = 0.5 + 0.5 * np.sin(c.Y / 11.0 + 5.1 * k + 4 * s)
        width = 2.2 + 2.4 * beads * s
        rope = np.exp(-(((c.X - mid) / width) ** 2)) * span * (0.75 + 0.25 * beads)
        c.darken(c.shift(rope, 3, 1), 0.16)
        c.add(rope * 0.34, (0.92, 1.0, 1.04))


def nozzle(c: Canvas, x: float, y: float, w: float) -> None:
    """A brass rose with a convex face, from the side."""
    rod(c, x - 18, x + 18, y - 70, y, rgb(96, 84, 70), 0.1)
    s = np.clip((c.Y - y) / (w * 0.9), 0, 1)
    half = 20 + (w - 20) * s**0.7
    mask = (c.Y >= y) * (c.Y <= y + w * 0.9) * (1 - smoothstep(half - 1.5, half + 1.5, np.abs(c.X - x)))
    height = np.sqrt(np.clip(half**2 - (c.X - x) ** 2, 0, None))
    c.lay(mask, c.relief(height, rgb(176, 140, 78), 0.5, 30))
    c.lay(
        ellipse(c, x, y + w * 0.9, w, w * 0.18),
        np.asarray(rgb(150, 116, 62)) * (1.0 - 0.25 * (c.X - x) / w)[..., None],
    )


def spray_stand(c: Canvas, x: float = 1000.0, cloth: Colour = CLOTH) -> None:
    """Post, arms, funnel, hose, nozzle, jets, the hoop on its slope and a basin."""
    base = ellipse(c, x + 20, 1330, 520, 50)
    cast(c, base, 1290, 90, 0.55)
    plank(c, x - 430, 1270, x + 420, 1318, rgb(172, 138, 94))
    plank(c, x - 350, 90, x - 286, 1272, upright=True)
    c.darken(box(c, x - 286, 100, x - 262, 1272, 9), 0.26)
    for y in (228, 640):
        plank(c, x - 360, y, x - 30, y + 34)
        c.lay(disc(c, x - 318, y + 17, 13), np.asarray(STEEL) * (0.9 - 0.3 * (c.Y - y) / 34)[..., None])
    funnel(c, x, 150, 190, 0.62)
    cord(c, [(x, 456), (x - 4, 520), (x + 3, 590), (x, 640)], rgb(120, 92, 74), 15)
    nozzle(c, x, 690, 62)
    jets(c, x, 752, 1010, 62)
    slope = c.polygon(
        [
            (x - 250, 1272),
            (x - 250, 1272),
            (x - 206, 900),
            (x - 206, 900),
            (x - 168, 900),
            (x - 168, 900),
            (x - 60, 1010),
            (x + 250, 1200),
            (x + 262, 1272),
            (x + 262, 1272),
        ]
    )
    c.lay(slope, np.asarray(rgb(150, 118, 80)) * (0.86 + 0.10 * (c.clouds(9, 3, 66, 12) - 0.5))[..., None])
    hoop_at_45(c, x + 6, 1046, 262, cloth)
    jets(c, x, 752, 1020, 62, 7)
    splash(c, x + 4, 1030)


def splash(c: Canvas, x: float, y: float) -> None:
    rng = np.random.default_rng(c.seed + 9)
    for _ in range(70):
        a, r = rng.random() * np.pi, 30 + 190 * rng.random() ** 1.6
        px, py, size = x + r * np.cos(a), y - 0.55 * r * np.sin(a), 1.5 + 3.4 * rng.random()
        near = c.window(px - 20, py - 20, px + 20, py + 20)
        spot = np.exp(-(((c.X[near] - px) ** 2 + (c.Y[near] - py) ** 2) / size**2))
        c.rgb[near] = c.rgb[near] + 0.34 * spot[..., None] * np.asarray((0.9, 1.0, 1.03))


def stand_picture(c: Canvas) -> None:
    wall(c, rgb(198, 199, 192))
    table(c, 1180)
    spray_stand(c)


def nozzle_picture(c: Canvas) -> None:
    """Near view of the rose from below the front: nineteen holes, a drop at some of them."""
    wall(c, rgb(150, 156, 156))
    for k in range(3):
        c.rgb[..., k] = c.blur(c.rgb[..., k], 12)
    rod(c, 930, 1070, -20, 210, rgb(112, 84, 66), 0.16)
    rod(c, 900, 1100, 190, 300, rgb(172, 136, 76), 0.5)
    s = np.clip((c.Y - 300) / 330, 0, 1)
    half = 110 + 420 * s**0.62
    bell = (c.Y >= 298) * (c.Y <= 640) * (1 - smoothstep(half - 2, half + 2, np.abs(c.X - 1000)))
    height = np.sqrt(np.clip(half**2 - (c.X - 1000) ** 2, 0, None))
    c.lay(
        bell,
        c.relief(height, rgb(178, 141, 80), 0.5, 60) * (1 + 0.05 * (c.clouds(5, 2, 14, 9) - 0.5))[..., None],
    )
    d = np.hypot((c.X - 1000) / 530, (c.Y - 640) / 232)
    c.lay(
        1 - smoothstep(0.994, 1.006, d),
        np.asarray(rgb(190, 152, 88)) * (0.86 - 0.14 * (c.X - 1000) / 530)[..., None],
    )
    dome = 150 * np.sqrt(np.clip(1 - (d / 0.955) ** 2, 0, 1))
    face = 1 - smoothstep(0.950, 0.960, d)
    c.lay(
        face,
        c.relief(dome * 0.7, rgb(168, 130, 72), 0.32, 60) * (1 + 0.06 * (c.clouds(6, 2, 18) - 0.5))[..., None],
    )
    for ring, (count, reach) in enumerate(((1, 0.0), (6, 0.38), (12, 0.74))):
        for k in range(count):
            a = 2 * np.pi * (k + 0.5 * (ring == 2)) / count
            hole(c, 1000 + 530 * reach * np.cos(a), 650 + 226 * reach * np.sin(a), (k + ring) % 3 == 0)


def hole(c: Canvas, x: float, y: float, wet: bool) -> None:
    c.darken(ellipse(c, x, y, 15, 8), 0.86)
    c.add(np.exp(-(((c.X - x) / 14) ** 2) - ((c.Y - y - 10) / 3.5) ** 2) * 0.22, (1.0, 0.9, 0.66))
    if not wet:
        width = 4.6 + 1.6 * np.sin(c.Y / 23 + x)
        rope = np.exp(-(((c.X - x - 3 * np.sin(c.Y / 90 + x)) / width) ** 2)) * (c.Y > y)
        c.darken(c.shift(rope, 5, 2), 0.22)
        c.add(rope * 0.26, (0.9, 1.0, 1.04))
        c.add(np.exp(-(((c.X - x + 2) / 1.6) ** 2)) * (c.Y > y) * 0.22, (1, 1, 1))
        return
    r = np.hypot((c.X - x) / 15, (c.Y - y - 26) / np.where(c.Y > y + 26, 17.0, 30.0))
    drop = 1 - smoothstep(0.93, 1.07, r)
    v = (c.Y - y - 26) / 24
    c.lay(drop * 0.72, np.asarray(rgb(150, 152, 140)) * (0.72 + 0.5 * np.clip(v, -1, 1))[..., None])
    c.add(np.exp(-(((c.X - x + 5) / 3.2) ** 2) - ((c.Y - y - 20) / 6) ** 2) * 0.8, (1, 1, 1))
