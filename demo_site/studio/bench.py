"""The workshop: the drying line, the bench and the window."""

import numpy as np

from .cloth import Fabric, cord, folds, lay_cloth, stitch, trousers_outline, wall, weave
from .light import Canvas, Colour, Field, Points, path, rgb, smoothstep
from .solids import box, cast, ellipse, plank, rod, table
from .stand import spray_stand


def peg(c: Canvas, x: float, y: float) -> None:
    plank(c, x - 11, y - 34, x + 11, y + 52, rgb(196, 166, 122), upright=True)
    c.darken(box(c, x - 14, y - 4, x + 14, y + 4, 2), 0.4)


def drying_line(c: Canvas) -> None:
    """Four pairs on a line across the room, the light from the left."""
    wall(c, rgb(206, 204, 194))
    glow = np.exp(-(((c.X + 200) / 900) ** 2) - ((c.Y - 500) / 900) ** 2)
    c.add(glow * 0.16, (1.0, 0.97, 0.88))
    pairs = (
        (300, 380, rgb(84, 104, 99), 4),
        (730, 430, rgb(112, 86, 62), 7),
        (1200, 400, rgb(178, 136, 70), 6),
        (1650, 390, rgb(132, 134, 134), 5),
    )
    sag = path("-60.0,150.0 500,190 1000,205 1500,192 2060,150")
    cord(c, sag, rgb(96, 92, 84), 5)
    for k, (x, w, colour, thread) in enumerate(pairs):
        fabric = Fabric(colour=colour, thread=thread, twill=k == 1)
        y = 200 + 12 * np.sin(np.pi * x / 2000) - 10
        mask = c.polygon(trousers_outline(x, y, w, 1010 + 60 * (k % 2), 0.12 + 0.06 * k), wobble=8)
        height = 34 * folds(c, 88 + 2 * k, 84, 3 + 9 * k, 1.4, 9) + 9 * folds(c, 64, 60, 5 + 9 * k)
        lay_cloth(c, mask, fabric, height, lift=40)
        tone = (colour[0] * 0.55, colour[1] * 0.55, colour[2] * 0.55)
        stitch(c, [(x - w * 0.44, y + 54), (x + w * 0.44, y + 54)], tone, mask, 2.4)
        stitch(c, [(x, y + 60), (x + 3, y + 350)], tone, mask, 2.4)
        c.darken(mask * smoothstep(900, 1280, c.Y) * (0.6 + 0.6 * c.noise(c.X / 60, c.Y / 200, 9)), 0.22)
        for side in (-1, 1):
            peg(c, x + side * w * 0.30, y + 6)


def hills(c: Canvas) -> Field:
    """Ranges one behind the other in wet air; the nearest has firs."""
    sky = smoothstep(0, 900, c.Y)[..., None]
    view = np.asarray(rgb(186, 198, 206)) * (1 - sky) + np.asarray(rgb(232, 228, 214)) * sky
    view = view + 0.16 * (c.clouds(420, 5, 41, 2.6)[..., None] - 0.5)
    ranges = (
        (470, 190, 520, rgb(164, 180, 190)),
        (590, 150, 380, rgb(128, 150, 156)),
        (720, 130, 300, rgb(98, 118, 120)),
        (850, 120, 260, rgb(78, 94, 90)),
        (1010, 80, 240, rgb(66, 76, 66)),
    )
    for k, (y, rise, cell, colour) in enumerate(ranges):
        top = (
            y
            - rise * (2 * c.noise(c.X / cell, 0 * c.X, 140 + k) - 1)
            - 0.25 * rise * c.noise(c.X / (cell / 5), 0 * c.X, 150 + k)
        )
        if k >= 3:
            tooth = np.abs((c.X / (13 + 5 * (k - 3)) + 3 * c.noise(c.X / 60, 0 * c.X, 160)) % 1 - 0.5)
            top = top - (26 + 22 * (k - 3)) * (1 - 2 * tooth) * smoothstep(
                0.42, 0.6, c.noise(c.X / 130, 0 * c.X, 170 + k)
            )
        mask = smoothstep(-1.5, 1.5, c.Y - top)[..., None]
        mist = smoothstep(30, 330, c.Y - top)[..., None] * (0.62 - 0.09 * k)
        body = np.asarray(colour) * (0.92 + 0.20 * c.clouds(60, 4, 45 + k)[..., None])
        view = view * (1 - mask) + (body * (1 - mist) + np.asarray(rgb(206, 212, 208)) * mist) * mask
    return view


def window_picture(c: Canvas) -> None:
    """The north window: hills in rain, drops on the panes, a sill with a folded cloth."""
    c.rgb = hills(c)
    rain_on_glass(c)
    dark = rgb(96, 92, 84)
    for x0, x1 in ((-40, 120), (968, 1032), (1880, 2040)):
        plank(c, x0, -40, x1, 1240, dark, upright=True)
    for y0, y1 in ((-40, 70), (560, 604)):
        plank(c, -40, y0, 2040, y1, dark)
    table(c, 1225, rgb(126, 106, 84))
    c.darken(smoothstep(1500, 1225, c.Y) * (c.Y > 1225), 0.12)
    for k, (w, colour) in enumerate(((300, rgb(112, 86, 62)), (285, rgb(84, 104, 99)), (292, rgb(178, 136, 70)))):
        folded_layer(c, 1500, 1330 - 58 * k, w, colour, k)
    mug(c, 470, 1150)


def rain_on_glass(c: Canvas) -> None:
    rng = np.random.default_rng(c.seed + 5)
    soft = np.stack([c.blur(c.rgb[..., k], 26) for k in range(3)], axis=-1)
    fog = smoothstep(0.48, 0.80, c.clouds(500, 4, 61)) * 0.55
    c.rgb = c.rgb * (1 - fog[..., None]) + (soft * 0.94 + 0.06) * fog[..., None]
    mask, light = np.zeros_like(c.X), np.zeros_like(c.X)
    for _ in range(260):
        x, y, r = 2000 * rng.random(), 1230 * rng.random(), 3 + 9 * rng.random() ** 2.4
        tail = 1.0 + 0.35 * rng.random()
        near = c.window(x - 60, y - 60, x + 60, y + 60)
        u, v = c.X[near] - x, c.Y[near] - y
        mask[near] = np.maximum(mask[near], 1 - smoothstep(0.85, 1.1, np.hypot(u / r, v / (r * tail))))
        light[near] += np.exp(-((u / (r * 0.7)) ** 2) - ((v - r * tail * 0.5) / (r * 0.4)) ** 2)
    c.darken(mask, 0.26)
    c.add(np.clip(light, 0, 1) * mask * 0.40, (1, 1, 1))


def folded_layer(c: Canvas, x: float, y: float, w: float, colour: Colour, k: int) -> None:
    """One folded pair in a pile, seen from its fold."""
    shape: Points = [
        (x - w, y - 22),
        (x - w + 14, y - 34),
        (x, y - 38),
        (x + w - 12, y - 33),
        (x + w, y - 16),
        (x + w - 4, y + 20),
        (x, y + 27),
        (x - w + 10, y + 24),
    ]
    mask = c.polygon(shape, wobble=6)
    cast(c, mask, y, 50, 0.42)
    fabric = Fabric(colour=colour, thread=4)
    bulge = 30 * np.sqrt(np.clip(1 - ((c.Y - y + 5) / 34) ** 2, 0, 1)) + 6 * folds(c, 2, 30, 21 + 5 * k)
    c.lay(mask, c.relief(bulge, colour, 0.03, 20) * weave(c, fabric, c.X, c.Y)[..., None])


def mug(c: Canvas, x: float, y: float) -> None:
    """An enamel mug with a dark rim."""
    half, tall = 92.0, 190.0
    cast(c, ellipse(c, x + 10, y + tall, half, 22), y + tall - 20, 60, 0.5)
    handle = np.hypot((c.X - x - 98) / 54, (c.Y - y - 92) / 66)
    ring = np.exp(-(((handle - 1) / 0.16) ** 4))
    c.lay(ring, np.asarray(rgb(210, 214, 208)) * (0.86 - 0.25 * (c.Y - y) / tall)[..., None])
    side = ellipse(c, x, y + tall, half, 22) + box(c, x - half, y, x + half, y + tall)
    height = np.sqrt(np.clip(half**2 - (c.X - x) ** 2, 0, None))
    c.lay(np.clip(side, 0, 1), c.relief(height, rgb(222, 224, 216), 0.22, 60))
    c.lay(ellipse(c, x, y, half + 4, 25), rgb(48, 62, 74))
    c.lay(
        ellipse(c, x, y + 2, half - 5, 20),
        np.asarray(rgb(70, 48, 34)) * (0.9 + 0.3 * (c.X < x - 20))[..., None],
    )


def scale(c: Canvas, x: float, y: float) -> None:
    """A flat bench scale with a steel plate and a blank window."""
    foot = ellipse(c, x + 12, y + 92, 250, 26)
    cast(c, foot, y + 60, 70, 0.5)
    case = c.polygon(
        [
            (x - 215, y),
            (x - 215, y),
            (x + 215, y),
            (x + 215, y),
            (x + 250, y + 96),
            (x + 250, y + 96),
            (x - 250, y + 96),
            (x - 250, y + 96),
        ]
    )
    c.lay(case, np.asarray(rgb(74, 80, 82)) * (1.12 - 0.30 * (c.X - x + 250) / 500)[..., None])
    c.lay(
        box(c, x - 80, y + 34, x + 80, y + 76),
        np.asarray(rgb(150, 164, 150)) * (0.85 + 0.2 * (c.X < x))[..., None],
    )
    plate = ellipse(c, x, y - 10, 232, 42)
    c.lay(c.shift(plate, 0, 9), rgb(92, 96, 100))
    sweep = 0.80 + 0.22 * np.cos(3 * np.arctan2((c.Y - y + 10) * 5, c.X - x) - 0.6)
    c.lay(plate, np.asarray(rgb(196, 200, 202)) * sweep[..., None])


def notebook(c: Canvas, x: float, y: float) -> None:
    """An open notebook with ruled, empty pages, lying flat."""
    for side in (-1, 1):
        page = c.polygon(
            [
                (x, y),
                (x, y),
                (x + side * 300, y - 10),
                (x + side * 300, y - 10),
                (x + side * 350, y + 150),
                (x + side * 350, y + 150),
                (x + side * 10, y + 170),
                (x + side * 10, y + 170),
            ]
        )
        c.shadow(page, 9, 0.5)
        bend = 1.04 - 0.30 * np.exp(-np.abs(c.X - x) / 40) - 0.10 * (side > 0)
        rule = np.exp(-(((((c.Y - y) * (1 - 0.0006 * np.abs(c.X - x))) % 17 - 8) / 1.2) ** 2))
        c.lay(page, np.asarray(rgb(234, 228, 212)) * (bend * (1 - 0.10 * rule))[..., None])
    cord(c, [(x + 60, y + 120), (x + 240, y + 40)], rgb(44, 87, 72), 7)


def bench_picture(c: Canvas) -> None:
    """The whole bench: the stand on the right, scale, notebook, folded trousers and a mug."""
    wall(c, rgb(204, 203, 193))
    c.add(np.exp(-(((c.X + 100) / 800) ** 2) - ((c.Y - 350) / 700) ** 2) * 0.15, (1.0, 0.97, 0.88))
    plank(c, 90, 330, 1060, 372, rgb(150, 116, 78))
    c.darken(box(c, 100, 372, 1070, 430, 26), 0.28)
    for k, (x, h, tone) in enumerate(
        ((180, 130, rgb(126, 74, 52)), (330, 100, rgb(92, 104, 96)), (470, 150, rgb(178, 150, 96)))
    ):
        jar(c, x, 330 - h, 52 + 6 * k, h, tone)
    for k, (w, tone) in enumerate(((150, rgb(84, 104, 99)), (140, rgb(46, 58, 88)))):
        folded_layer(c, 820, 302 - 56 * k, w, tone, 3 + k)
    table(c, 960)
    small = Canvas(c.seed, c.scale, zoom=0.80, middle=(640.0, 745.0))
    small.rgb, small.table = c.rgb, c.table
    spray_stand(small, 1080, rgb(178, 136, 70))
    c.rgb = small.rgb
    scale(c, 420, 1030)
    folded_layer(c, 420, 1002, 170, rgb(132, 134, 134), 9)
    notebook(c, 560, 1250)
    mug(c, 900, 1010)


def jar(c: Canvas, x: float, y: float, half: float, tall: float, colour: Colour) -> None:
    rod(c, x - half, x + half, y, y + tall, colour, 0.22)
    c.lay(ellipse(c, x, y, half, 10), tuple(v * 0.6 for v in colour))
    c.darken(box(c, x + half, y + 20, x + half + 40, y + tall, 14), 0.24)
