"""Trousers as cloth: an outline, a weave, seams and folds, lit from a window."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .light import Canvas, Colour, Field, Points, path, rgb, smoothstep

KRAFT = rgb(196, 168, 132)
SHEET = rgb(228, 222, 209)
WALL = rgb(214, 210, 199)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabric:
    """What the cloth is like. `weight`: how broad and soft its folds are; `thread`: size of the weave."""

    colour: Colour
    weight: float = 1.0
    thread: float = 5.0
    twill: bool = False
    gloss: float = 0.04
    fuzz: float = 0.0


def weave(c: Canvas, fabric: Fabric, u: Field, v: Field) -> Field:
    """Relative brightness of the threads, near one."""
    p = fabric.thread
    if fabric.twill:
        cell = np.sin(2 * np.pi * (u + v) / p) * (0.75 + 0.25 * np.sin(2 * np.pi * (u - v) / (p * 0.7)))
    else:
        cell = np.sin(2 * np.pi * u / p) * np.sin(2 * np.pi * v / p)
    slub = c.noise(u / (p * 14), v / p, 5) + c.noise(u / p, v / (p * 14), 6) - 1.0
    fuzz = fabric.fuzz * (c.clouds(6, 2, 8) - 0.5)
    return np.asarray(1 + 0.075 * cell + 0.055 * slub + fuzz)


def folds(c: Canvas, angle: float, period: float, layer: int, sharp: float = 1.7, length: float = 5.0) -> Field:
    """Ridges that run along `angle` (degrees), wandering, 0..1."""
    a = np.radians(angle)
    bend = (c.clouds(520, 2, layer + 3) - 0.5) * period * 2.2
    along = c.X * np.cos(a) + c.Y * np.sin(a)
    across = -c.X * np.sin(a) + c.Y * np.cos(a) + bend
    n = c.noise(across / period, along / (period * length), layer)
    return np.asarray((1 - np.abs(2 * n - 1)) ** sharp)


def crumple(c: Canvas, size: float, layer: int) -> Field:
    """Facets with creases between them, as of cloth out of a small sack: 0..1."""
    total = np.zeros_like(c.X)
    for k, (angle, share) in enumerate(((12, 0.34), (63, 0.28), (117, 0.22), (160, 0.26), (92, 0.16))):
        total += share * folds(c, angle, size * (1 - 0.13 * k), layer + 5 * k, sharp=1.15, length=2.4)
    return total


def puff(c: Canvas, mask: Field, rise: float, edge: float = 15.0) -> Field:
    """Height of a soft layer: full inside, rounded down to its edge."""
    inner = smoothstep(0.46, 1.0, c.blur(mask, edge))
    outer = smoothstep(0.40, 0.98, c.blur(mask, edge * 0.28))
    return rise * (0.62 * np.sqrt(inner) + 0.38 * outer)


def lay_cloth(c: Canvas, mask: Field, fabric: Fabric, height: Field, lift: float = 14.0, turn: float = 0.0) -> None:
    """Put one layer of cloth on the canvas with its shadow below it."""
    a = np.radians(turn)
    u, v = c.X * np.cos(a) + c.Y * np.sin(a), -c.X * np.sin(a) + c.Y * np.cos(a)
    body = puff(c, mask, 8 * fabric.weight) + height * mask
    c.shadow(mask, lift)
    lit = c.relief(body, fabric.colour, fabric.gloss, deep=26)
    c.lay(mask, lit * weave(c, fabric, u + 0.35 * body, v + 0.25 * body)[..., None])


def stitch(c: Canvas, line: Points, colour: Colour, mask: Field, width: float = 3.2) -> None:
    """A seam: a groove beside a broken line of thread."""
    for i, ((x0, y0), (x1, y1)) in enumerate(pairwise(line)):
        length = float(np.hypot(x1 - x0, y1 - y0)) or 1.0
        tx, ty = (x1 - x0) / length, (y1 - y0) / length
        near = c.window(min(x0, x1) - 24, min(y0, y1) - 24, max(x0, x1) + 24, max(y0, y1) + 24)
        x, y = c.X[near] - x0, c.Y[near] - y0
        along, across = x * tx + y * ty, -x * ty + y * tx
        inside = ((along > 0) & (along < length)) * mask[near]
        groove = np.exp(-((across / (width * 1.5)) ** 2)) * inside
        dash = smoothstep(-0.2, 0.5, np.sin(along / 3.4 + i)) * np.exp(-(((across - 6) / (width * 0.5)) ** 2))
        dash = (dash * inside * 0.75)[..., None]
        seam = c.rgb[near] * (1 - 0.36 * groove)[..., None]
        c.rgb[near] = seam * (1 - dash) + np.asarray(colour) * dash


def trousers_outline(x: float, y: float, w: float, h: float, spread: float = 1.0) -> Points:
    """Front view: waist at the top; `spread` opens the legs."""
    right = [
        (0.40, 0.0),
        (0.40, 0.0),
        (0.475, 0.12),
        (0.50, 0.25),
        (0.43 + 0.08 * spread, 0.62),
        (0.36 + 0.20 * spread, 1.0),
        (0.36 + 0.20 * spread, 1.0),
        (0.08 + 0.14 * spread, 1.008),
        (0.08 + 0.14 * spread, 1.008),
        (0.05 + 0.07 * spread, 0.62),
        (0.012, 0.355),
    ]
    left = [(-px, py) for px, py in reversed(right)]
    return [(x + px * w, y + py * h) for px, py in [(0.0, 0.012), *right, *left]]


def crotch_folds(c: Canvas, x: float, y: float, reach: float) -> Field:
    """Pulls that radiate from the crotch, as in every pair of trousers ever laid down."""
    angle = np.arctan2(c.Y - y, c.X - x)
    r = np.hypot(c.X - x, c.Y - y)
    rays = (1 - np.abs(2 * c.noise(3 * np.cos(angle), 3 * np.sin(angle) + r / 800, 44) - 1)) ** 1.4
    return rays * np.exp(-((r / reach) ** 2)) * smoothstep(0, 170, r)


def flat(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """Laid out flat on the bench, seen from above, the waist to the left."""
    c.paper(SHEET)
    turned = [
        (150 + (py - 100) * 1.0, 750 + (px - 750) * 0.98) for px, py in trousers_outline(750, 100, 780, 1640, 0.55)
    ]
    mask = c.polygon(turned, wobble=6)
    height = 17 * folds(c, 8, 120, 2) + 7 * folds(c, -22, 64, 9) + 26 * crotch_folds(c, 700, 750, 380)
    lay_cloth(c, mask, fabric, height, turn=3)
    for side in (-1, 1):
        stitch(c, [(300, 750 + side * 250), (520, 750 + side * 292), (560, 750 + side * 372)], trim, mask)
        stitch(c, [(740, 750 + side * 66), (1180, 750 + side * 96), (1790, 750 + side * 148)], trim, mask)
        stitch(c, [(1090, 750 + side * 90), (1070, 750 + side * 350)], trim, mask)
        stitch(c, [(1330, 750 + side * 110), (1350, 750 + side * 350)], trim, mask)
    stitch(c, [(215, 400), (215, 1100)], trim, mask)
    stitch(c, [(150, 750), (560, 748), (720, 750)], trim, mask)
    belt = mask * smoothstep(196, 202, c.X) * (1 - smoothstep(206, 212, c.X))
    c.darken(belt, 0.25)
    c.lay(disc(c, 182, 742, 14), np.asarray(trim) * 0.9)


def disc(c: Canvas, x: float, y: float, r: float, soft: float = 1.5) -> Field:
    return 1 - smoothstep(r - soft, r + soft, np.hypot(c.X - x, c.Y - y))


def folded_once(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """Waist below, the legs turned up over it: two layers."""
    c.paper(KRAFT, 0.045)
    under = c.polygon(
        path("300,330! 900,306 1560,322 1660,350 1676,420 1682,900 1672,1080 1600,1130 1000,1156 318,1150! 296,800"),
        wobble=5,
    )
    lay_cloth(c, under, fabric, 10 * folds(c, 4, 150, 2) + 6 * folds(c, 31, 90, 8), lift=15)
    legs = c.polygon(
        path("1640,350 1700,480 1690,700 1500,735 1000,725 528,764! 520,600 512,372! 1000,346 1400,330"),
        wobble=6,
    )
    legs_low = c.polygon(
        path("1660,720 1706,820 1690,1010 1500,1060 1000,1040 572,1078! 574,900 560,742! 1000,722 1400,716"),
        wobble=6,
    )
    for k, part in enumerate((legs_low, legs)):
        height = 13 * folds(c, 3, 86, 12 + k) + 7 * folds(c, -35, 60, 18 + k)
        height += 26 * smoothstep(1250, 1680, c.X)
        lay_cloth(c, part, fabric, height, lift=12)
    stitch(c, [(548, 450), (548, 690)], trim, legs)
    stitch(c, [(600, 812), (600, 1010)], trim, legs_low)
    stitch(c, [(352, 420), (340, 1080)], trim, under)
    stitch(c, [(700, 1100), (1500, 1090)], trim, under)
    cord(c, path("300,640 220,690 170,800 210,900 190,990"), rgb(40, 44, 44), 7)


def cord(c: Canvas, points: Points, colour: Colour, width: float) -> None:
    """A round cord along points, with its own small shadow."""
    p = np.array(closed_through(points))
    best = np.full_like(c.X, 1e9)
    reach = width + 8
    for (x0, y0), (x1, y1) in pairwise(p):
        near = c.window(min(x0, x1) - reach, min(y0, y1) - reach, max(x0, x1) + reach, max(y0, y1) + reach)
        x, y, dx, dy = c.X[near] - x0, c.Y[near] - y0, x1 - x0, y1 - y0
        t = np.clip((x * dx + y * dy) / (dx * dx + dy * dy + 1e-9), 0, 1)
        best[near] = np.minimum(best[near], np.hypot(x - t * dx, y - t * dy))
    mask = 1 - smoothstep(width - 1.2, width + 1.2, best)
    c.shadow(mask, 6, 0.42)
    height = np.sqrt(np.clip(width**2 - best**2, 0, None))
    c.lay(mask, c.relief(height, colour, 0.10, deep=8))


def closed_through(points: Points, steps: int = 10) -> Points:
    """A smooth open line through points."""
    p = np.array([points[0], *points, points[-1]], dtype=np.float64)
    out: Points = []
    for i in range(1, len(p) - 2):
        for t in np.linspace(0, 1, steps, endpoint=False):
            q = 0.5 * (
                2 * p[i]
                + (p[i + 1] - p[i - 1]) * t
                + (2 * p[i - 1] - 5 * p[i] + 4 * p[i + 1] - p[i + 2]) * t**2
                + (3 * p[i] - p[i - 1] - 3 * p[i + 1] + p[i + 2]) * t**3
            )
            out.append((float(q[0]), float(q[1])))
    return [*out, points[-1]]


def lengthwise(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """One leg on the other, smooth, a diagonal across the sheet."""
    c.paper(SHEET)
    low = c.polygon(
        path("190,400! 700,470 1250,640 1846,860! 1790,1090! 1250,980 880,960 640,1060 420,1010 130,900!"),
        wobble=5,
    )
    lay_cloth(c, low, fabric, 9 * folds(c, 20, 110, 2), lift=14, turn=20)
    top = c.polygon(
        path("210,330! 700,400 1250,560 1830,770! 1766,1000! 1250,880 860,870 650,985 440,930 140,830!"),
        wobble=5,
    )
    height = 12 * folds(c, 20, 130, 6, 2.2, 7) + 22 * np.exp(-(((c.X - 1030) / 170) ** 2)) * folds(c, 95, 54, 21)
    lay_cloth(c, top, fabric, height, lift=9, turn=20)
    stitch(c, [(176, 842), (250, 336)], trim, top)
    stitch(c, path("250,376 700,436 1250,596 1820,804"), trim, top)
    stitch(c, [(1800, 758), (1736, 992)], trim, top)
    stitch(c, [(330, 400), (470, 560), (500, 640)], trim, top)


def rolled(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """Half rolled up from the hems; the waistband shows."""
    c.paper(KRAFT, 0.045)
    sheet = c.polygon(path("230,420! 700,392 1240,400 1290,720 1240,1110 700,1124 236,1100! 214,760"), wobble=5)
    lay_cloth(c, sheet, fabric, 15 * folds(c, 5, 130, 2) + 8 * folds(c, -28, 70, 9), lift=14)
    band = sheet * (1 - smoothstep(312, 318, c.X + 0.02 * c.Y))
    c.lay(band * 0.92, c.relief(puff(c, band, 16, 14), trim, 0.04, 20) * weave(c, fabric, c.X, c.Y)[..., None])
    for y in (520, 745, 970):
        loop = c.polygon([(210, y - 16), (350, y - 18), (352, y + 18), (210, y + 16)], curved=False)
        lay_cloth(c, loop, fabric, 0 * c.X, lift=5)
    stitch(c, [(400, 470), (620, 560), (760, 400)], rgb(190, 190, 188), sheet)
    stitch(c, [(330, 752), (1200, 756)], rgb(190, 190, 188), sheet)
    roll = c.polygon(path("1132,372! 1290,352 1452,372! 1470,760 1450,1142! 1290,1162 1130,1142! 1118,760"), wobble=5)
    across = np.clip((c.X - 1295) / 176, -1, 1)
    height = 165 * np.sqrt(np.clip(1 - across**2, 0, 1)) + 9 * folds(c, 88, 60, 31) + 7 * folds(c, 70, 40, 36)
    lay_cloth(c, roll, fabric, height, lift=30)
    for k in range(4):
        x = 1195 + 42 * k
        edge = np.exp(-(((c.X - x - 6 * np.sin(c.Y / 170 + k)) / 5) ** 2)) * roll
        c.darken(edge, 0.16 if k != 2 else 0.42)


def crumpled(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """Fresh out of the stuff sack, the sack beside it."""
    c.paper(SHEET)
    hips = c.polygon(path("190,470! 420,400 700,430 800,640 760,900 560,960 240,930! 205,700"), wobble=16)
    under = c.polygon(
        path("620,640 700,470 980,420 1240,520 1400,720 1440,1000! 1240,1060! 1140,830 900,690"), wobble=14
    )
    over = c.polygon(path("600,720 720,900 820,960 1020,800 1180,560 1250,330! 1050,270! 960,480 820,640"), wobble=14)
    for k, part in enumerate((under, hips, over)):
        lay_cloth(c, part, fabric, 62 * crumple(c, 170, 2 + 60 * k) + 18 * crumple(c, 74, 40 + 60 * k), lift=17)
    stitch(c, [(1432, 980), (1236, 1034)], trim, under)
    stitch(c, [(1240, 352), (1046, 296)], trim, over)
    stitch(c, [(232, 470), (244, 700), (276, 930)], trim, hips)
    sack = c.polygon(path("1500,470 1600,380 1720,400 1790,500 1780,640 1700,720 1570,710 1500,620"))
    dome = 120 * np.sqrt(np.clip(1 - ((c.X - 1645) / 190) ** 2 - ((c.Y - 560) / 220) ** 2, 0, 1))
    lay_cloth(c, sack, fabric, dome + 26 * crumple(c, 90, 101), lift=22)
    cord(c, path("1610,388 1560,300 1620,230 1720,250 1730,340 1690,398"), rgb(172, 96, 60), 6)


def rail(c: Canvas, y: float) -> None:
    """A round wooden rail from edge to edge, before a wall."""
    half = 24.0
    mask = 1 - smoothstep(half - 1.5, half + 1.5, np.abs(c.Y - y))
    c.darken(c.blur(c.shift(mask, 30, 60), 34), 0.30)
    height = np.sqrt(np.clip(half**2 - (c.Y - y) ** 2, 0, None))
    grain = 1 + 0.20 * (c.clouds(10, 3, 71, stretch=30) - 0.5)
    c.lay(mask, c.relief(height, rgb(170, 134, 92), 0.06, 20) * grain[..., None])


def wall(c: Canvas, colour: Colour = WALL) -> None:
    """Limewash with a slow fall of window light."""
    beam = smoothstep(-500, 1900, c.X * 0.9 + c.Y * 0.35)
    c.rgb = np.asarray(colour) * (1.10 - 0.36 * beam)[..., None]
    c.rgb *= (1 + 0.07 * (c.clouds(340, 5, 2) - 0.5) + 0.022 * (c.clouds(7, 2, 9) - 0.5))[..., None]


def over_rail(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """Folded over a rail at the knees: waist part behind, the legs before it."""
    wall(c)
    rail(c, 300)
    back = c.polygon(path("560,286! 1000,274 1440,286! 1452,700 1486,1196! 1000,1226 524,1204! 548,700"), wobble=7)
    lay_cloth(c, back, fabric, 20 * folds(c, 90, 120, 2, 1.5, 9), lift=26)
    for k, (x0, x1, end) in enumerate(((590, 985, 1010), (1000, 1400, 1085))):
        part = c.polygon(
            [
                (x0, 280),
                (x0, 280),
                ((x0 + x1) / 2, 268),
                (x1, 280),
                (x1, 280),
                (x1 + 8, 620),
                (x1 - 8, end),
                (x1 - 8, end),
                ((x0 + x1) / 2, end + 14),
                (x0 - 6, end - 6),
                (x0 - 6, end - 6),
                (x0 + 6, 620),
            ],
            wobble=6,
        )
        height = 30 * folds(c, 90, 96, 11 + 7 * k, 1.5, 9) + 8 * folds(c, 74, 60, 14 + 7 * k)
        height = height + 44 * np.sqrt(np.clip(1 - ((c.Y - 318) / 52) ** 2, 0, 1)) * (c.Y < 330) + 44.0 * (c.Y >= 330)
        lay_cloth(c, part, fabric, height, lift=18)
        stitch(c, [(x0 + 10, end - 40), (x1 - 14, end - 34)], trim, part)
    stitch(c, [(545, 1130), (1468, 1126)], trim, back)


def hanging(c: Canvas, fabric: Fabric, trim: Colour) -> None:
    """By its waist from two hooks on the wall, knees doubled, deep folds."""
    wall(c)
    rail(c, 120)
    outline = trousers_outline(1000, 190, 720, 1220, 0.30)
    mask = c.polygon(outline, wobble=8)
    height = 40 * folds(c, 87, 120, 2, 1.4, 8) + 12 * folds(c, 66, 70, 9) + 34 * crotch_folds(c, 1000, 620, 300)
    lay_cloth(c, mask, fabric, height, lift=30)
    for side in (-1, 1):
        x = 1000 + side * 216
        patch = c.polygon([(x - 112, 770), (x + 104, 770), (x + 106, 1060), (x - 104, 1060)], curved=False) * mask
        tone = Fabric(
            colour=tuple(v * 0.74 for v in fabric.colour),
            weight=0.7,
            thread=fabric.thread,
            gloss=fabric.gloss,
        )
        extra = height + puff(c, patch, 14, 10)
        c.shadow(patch, 5, 0.5)
        lit = c.relief(extra + puff(c, mask, 9), tone.colour, tone.gloss, 26) * weave(c, tone, c.X, c.Y)[..., None]
        c.lay(patch, lit)
        stitch(c, [(x - 104, 782), (x + 96, 782)], trim, patch)
        stitch(c, [(x - 96, 1048), (x + 98, 1048)], trim, patch)
        stitch(c, [(1000 + side * 170, 262), (1000 + side * 250, 330), (1000 + side * 318, 470)], trim, mask)
        cord(
            c,
            [(1000 + side * 210, 206), (1000 + side * 214, 120), (1000 + side * 206, 96)],
            rgb(70, 62, 54),
            6,
        )
    stitch(c, [(690, 262), (1310, 262)], trim, mask)
    stitch(c, [(1000, 270), (1006, 480), (1000, 620)], trim, mask)
