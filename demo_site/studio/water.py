"""Water on cloth: drops that stand, patches that are soaked, and a hooped specimen seen from above."""

from dataclasses import dataclass

import numpy as np

from .cloth import SHEET, Fabric, folds, weave
from .light import Canvas, Colour, Field, path, rgb, smoothstep

HOOP = (1000.0, 750.0, 560.0)
BEECH = rgb(186, 148, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    x: float
    y: float
    r: float
    tall: float


def scatter(seed: int, count: int, sizes: tuple[float, float], within: float) -> list[Drop]:
    """Drops that don't touch, the big ones first; `within` is the reach from the middle."""
    rng = np.random.default_rng(seed)
    drops: list[Drop] = []
    radii = np.sort(sizes[0] + (sizes[1] - sizes[0]) * rng.random(count) ** 2.6)[::-1]
    for r in radii:
        for _ in range(40):
            x, y = 1000 + within * (2 * rng.random() - 1), 750 + 0.75 * within * (2 * rng.random() - 1)
            if all(np.hypot(x - d.x, y - d.y) > 1.12 * (r + d.r) for d in drops):
                drops.append(Drop(x=x, y=y, r=float(r), tall=float(0.75 + 0.35 * rng.random())))
                break
    return drops


def window_of(c: Canvas, d: Drop) -> tuple[slice, slice]:
    """The pixels round a drop, so that a hundred drops cost little."""
    left, top = c.corner()
    h, w = c.X.shape
    x, y, r = (d.x - left) * c.unit, (d.y - top) * c.unit, d.r * 2.8 * c.unit
    return (
        slice(max(int(y - r), 0), min(int(y + r) + 1, h)),
        slice(max(int(x - r), 0), min(int(x + r) + 1, w)),
    )


def place_drop(c: Canvas, d: Drop) -> None:
    """A clear bead: shadow, the light it gathers, the cloth seen through it, two highlights."""
    ys, xs = window_of(c, d)
    if ys.stop <= ys.start or xs.stop <= xs.start:
        return
    u, v = (c.X[ys, xs] - d.x) / d.r, (c.Y[ys, xs] - d.y) / d.r
    swell = 1 + 0.05 * np.sin(2 * np.arctan2(v, u) + d.x) + 0.03 * np.sin(3 * np.arctan2(v, u) + d.y)
    rho = np.hypot(u, v) / swell
    patch = c.rgb[ys, xs]
    shade = 0.58 * np.exp(-(((np.hypot(u - 0.34 * d.tall, v - 0.42 * d.tall)) / 1.02) ** 4))
    patch = patch * (1 - shade[..., None] * np.asarray((1.0, 0.97, 0.92)))
    edge = 1.6 / (d.r * c.unit)
    inside = 1 - smoothstep(1 - edge, 1 + edge, rho)
    z = np.sqrt(np.clip(1 - rho**2, 0, 1))
    base = np.median(c.rgb[ys, xs].reshape(-1, 3), axis=0)
    gathered = 0.62 + 0.75 * np.clip(0.62 * u + 0.72 * v + 0.10, 0, 1) ** 1.5 - 0.30 * (1 - z) ** 2
    thread = 1 + 0.10 * np.sin(9 * u) * np.sin(9 * v)
    look = base * (gathered * thread)[..., None] + 0.10 * ((1 - z) ** 3)[..., None]
    spot = np.exp(-((((u + 0.40) / 0.17) ** 2 + ((v + 0.46) / 0.13) ** 2) ** 2))
    rim = np.exp(-(((rho - 0.88) / 0.07) ** 2)) * np.clip(0.6 * u + 0.8 * v, 0, 1)
    look = look + (0.95 * spot + 0.30 * rim)[..., None] * np.asarray((0.96, 1.0, 1.02))
    c.rgb[ys, xs] = patch * (1 - inside[..., None]) + look * inside[..., None]


def cloth_field(c: Canvas, fabric: Fabric, turn: float = 0.0, wavy: float = 5.0) -> Field:
    """A taut cloth over the whole picture."""
    a = np.radians(turn)
    u, v = c.X * np.cos(a) + c.Y * np.sin(a), -c.X * np.sin(a) + c.Y * np.cos(a)
    height = wavy * folds(c, 20, 420, 3, 1.0) + wavy * 0.5 * c.clouds(300, 2, 7)
    thread_height = 0.9 * np.sin(2 * np.pi * u / fabric.thread) * np.sin(2 * np.pi * v / fabric.thread)
    lit = c.relief(height + thread_height * fabric.thread / 14, fabric.colour, fabric.gloss, 40)
    return np.asarray(lit * weave(c, fabric, u, v)[..., None])


def beads(c: Canvas, fabric: Fabric) -> None:
    """Near view of a face on which nothing holds: grade 5, the beads about to roll."""
    c.rgb = cloth_field(c, fabric, 12.0)
    focus = smoothstep(420, 1000, np.abs(c.Y - 800))
    for d in scatter(c.seed, 130, (7, 112), 1080):
        place_drop(c, d)
    for k in range(3):
        c.rgb[..., k] = c.rgb[..., k] * (1 - focus) + c.blur(c.rgb[..., k], 5) * focus


def soaked(c: Canvas, mask: Field) -> None:
    """Wet cloth: darker, richer, with a film that shines a little where it is thick."""
    deep = mask[..., None]
    wet = c.rgb**1.32 * np.asarray((0.60, 0.62, 0.66))
    c.rgb = c.rgb * (1 - deep) + wet * deep
    rim = np.clip(mask - c.blur(mask, 7), 0, 1)
    c.darken(rim, 0.30)
    film = np.clip(c.clouds(130, 3, 51) - 0.56, 0, 1) * smoothstep(0.6, 1.0, c.blur(mask, 14))
    c.add(film * 1.1, (0.80, 0.90, 1.0))


def patches(c: Canvas, share: float, inside: Field, layer: int = 31) -> Field:
    """Soft-edged wet patches that cover `share` of `inside`, found by ranking a noise field."""
    x, y, r = HOOP
    centred = 0.34 * np.exp(-(((c.X - x) / (r * 0.62)) ** 2) - ((c.Y - y - 40) / (r * 0.80)) ** 2)
    value = c.clouds(210, 4, layer, stretch=0.8) + centred
    limit = float(np.quantile(value[inside > 0.5], 1 - share))
    return smoothstep(limit - 0.006, limit + 0.006, value) * inside


def hoop_rings(c: Canvas, wood: Colour = BEECH) -> Field:
    """The two rings; returns the cloth area inside them."""
    x, y, r = HOOP
    d = np.hypot(c.X - x, c.Y - y)
    ring = smoothstep(r - 2, r + 2, d) * (1 - smoothstep(r + 58, r + 62, d))
    c.shadow(ring, 16, 0.5)
    across = np.clip(np.abs(d - r - 30) / 31, 0, 1)
    height = 26 * np.sqrt(1 - across**2) - 5 * np.exp(-(((d - r - 30) / 3) ** 2))
    ang = np.arctan2(c.Y - y, c.X - x)
    grain = 1 + 0.16 * (c.noise(ang * 5, (d - r) / 4.5, 91) - 0.5) + 0.12 * (c.noise(ang * 30, (d - r) / 9, 95) - 0.5)
    c.lay(ring, c.relief(height, wood, 0.12, 24) * grain[..., None])
    return np.asarray(1 - smoothstep(r - 2, r + 2, d))


def hooped(c: Canvas, fabric: Fabric, share: float, drops: int) -> float:
    """A specimen in its hoop from straight above; returns the wet share of the area inside the ring."""
    c.paper(SHEET)
    cloth = c.polygon(path("190,150! 1000,120 1800,160! 1830,760 1790,1360! 1000,1390 210,1350! 170,700"), wobble=9)
    c.shadow(cloth, 12, 0.5)
    picture = cloth_field(c, fabric, 4.0, 7.0)
    c.lay(cloth, picture)
    inside = hoop_inside(c)
    wet = patches(c, share, inside) if share else 0 * inside
    if share:
        soaked(c, wet)
    for d in scatter(c.seed + 3, drops, (5, 26), 380):
        place_drop(c, d)
    hoop_rings(c)
    return float(wet.sum() / inside.sum())


def hoop_inside(c: Canvas) -> Field:
    x, y, r = HOOP
    return np.asarray(1 - smoothstep(r - 2, r + 2, np.hypot(c.X - x, c.Y - y)))
