"""A canvas with soft light: noise, blur, masks, height fields and shadows.

Every length is in design units: a picture is 2000 wide and 1500 high, whatever its size in pixels.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

Field = NDArray[np.float64]
Points = list[tuple[float, float]]
Colour = tuple[float, float, float]

WIDTH, HEIGHT = 2000, 1500
LIGHT = np.array([-0.46, -0.58, 0.67])


def smoothstep(low: float, high: float, value: Field) -> Field:
    """0 below `low`, 1 above `high`, an S-curve between."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def box_blur(plane: Field, radius: int, axis: int) -> Field:
    """One running mean over `2 * radius + 1` pixels, edges held."""
    pad = [(0, 0), (0, 0)]
    pad[axis] = (radius + 1, radius)
    total = np.cumsum(np.pad(plane, pad, mode="edge"), axis=axis)
    n = plane.shape[axis]
    span = 2 * radius + 1
    high = np.take(total, range(span, span + n), axis=axis)
    low = np.take(total, range(n), axis=axis)
    return np.asarray((high - low) / span)


def resize(plane: Field, size: tuple[int, int]) -> Field:
    picture = Image.fromarray(plane.astype(np.float32))
    return np.asarray(picture.resize(size, Image.Resampling.BILINEAR), dtype=np.float64)


def blur_pixels(plane: Field, sigma: float) -> Field:
    """Near-Gaussian blur; wide ones are done on a smaller copy, which is invisible and quick."""
    if sigma < 0.4:
        return plane
    if sigma > 9.0:
        h, w = plane.shape
        k = min(int(sigma // 4), 24)
        small = resize(plane, (max(w // k, 8), max(h // k, 8)))
        return resize(blur_pixels(small, sigma * small.shape[1] / w), (w, h))
    radius = max(round(sigma * 0.98), 1)
    for axis in (0, 1, 0, 1, 0, 1):
        plane = box_blur(plane, radius, axis)
    return plane


def path(text: str) -> Points:
    """Points written as "x,y x,y"; a "!" behind one makes it a corner of the curve."""
    points: Points = []
    for word in text.split():
        x, y = (float(part) for part in word.rstrip("!").split(","))
        points += [(x, y)] * (2 if word.endswith("!") else 1)
    return points


def closed_curve(points: Points, steps: int = 14) -> Points:
    """A Catmull-Rom curve through all points, closed; a point given twice running is a corner."""
    p = np.array(points, dtype=np.float64)
    a, b, c, d = np.roll(p, 1, 0), p, np.roll(p, -1, 0), np.roll(p, -2, 0)
    out: Points = []
    for i in range(len(p)):
        if (b[i] == c[i]).all():
            continue
        for t in np.linspace(0.0, 1.0, steps, endpoint=False):
            q = 0.5 * (
                2 * b[i]
                + (c[i] - a[i]) * t
                + (2 * a[i] - 5 * b[i] + 4 * c[i] - d[i]) * t**2
                + (3 * b[i] - a[i] - 3 * c[i] + d[i]) * t**3
            )
            out.append((float(q[0]), float(q[1])))
    return out


@dataclass
class Canvas:
    """A picture under construction: `rgb` between 0 and about 1.2, `X` and `Y` in design units.

    `scale` is the picture's size in pixels per design unit, `zoom` goes nearer to its middle.
    """

    seed: int
    scale: float = 1.0
    zoom: float = 1.0
    middle: tuple[float, float] = (1000.0, 750.0)
    rgb: Field = field(init=False)
    X: Field = field(init=False)
    Y: Field = field(init=False)
    table: Field = field(init=False)
    unit: float = field(init=False)

    def __post_init__(self) -> None:
        w, h = round(WIDTH * self.scale), round(HEIGHT * self.scale)
        self.rgb = np.zeros((h, w, 3))
        y, x = np.mgrid[0:h, 0:w]
        self.unit = self.scale * self.zoom
        left, top = self.corner()
        self.X, self.Y = (x + 0.5) / self.unit + left, (y + 0.5) / self.unit + top
        self.table = np.random.default_rng(self.seed).random((256, 256))

    def corner(self) -> tuple[float, float]:
        """Design coordinates of the upper left corner of the picture."""
        return self.middle[0] - WIDTH / 2 / self.zoom, self.middle[1] - HEIGHT / 2 / self.zoom

    def blur(self, plane: Field, sigma: float) -> Field:
        return blur_pixels(plane, sigma * self.unit)

    def noise(self, u: Field, v: Field, layer: int = 0) -> Field:
        """Smooth value noise between 0 and 1 over any coordinates; `layer` picks an independent one."""
        u, v = u + layer * 37.7, v + layer * 91.3
        i, j = np.floor(u).astype(np.int32), np.floor(v).astype(np.int32)
        f, g = u - i, v - j
        f, g = f * f * (3 - 2 * f), g * g * (3 - 2 * g)
        t = self.table.ravel()
        row, below, right = (i & 255) << 8, ((i + 1) & 255) << 8, (j + 1) & 255
        j = j & 255
        top = t[row + j] * (1 - f) + t[below + j] * f
        low = t[row + right] * (1 - f) + t[below + right] * f
        return np.asarray(top * (1 - g) + low * g)

    def window(self, x0: float, y0: float, x1: float, y1: float) -> tuple[slice, slice]:
        """The pixels of a rectangle in design units, so that small things cost little."""
        left, top = self.corner()
        h, w = self.X.shape
        ys = slice(int(np.clip((y0 - top) * self.unit, 0, h)), int(np.clip((y1 - top) * self.unit + 1, 0, h)))
        return ys, slice(int(np.clip((x0 - left) * self.unit, 0, w)), int(np.clip((x1 - left) * self.unit + 1, 0, w)))

    def clouds(self, cell: float, octaves: int = 4, layer: int = 0, stretch: float = 1.0) -> Field:
        """Sum of noise at halving sizes, 0 to 1; `stretch` lengthens it along X."""
        total, weight = np.zeros_like(self.X), 0.0
        h, w = self.X.shape
        for k in range(octaves):
            size = cell / 2**k
            coarse = max(min(int(size * self.unit / 10), 8), 1)
            if coarse > 1:
                x, y = resize(self.X, (w // coarse, h // coarse)), resize(self.Y, (w // coarse, h // coarse))
                plane = resize(self.noise(x / (size * stretch), y / size, layer + k), (w, h))
            else:
                plane = self.noise(self.X / (size * stretch), self.Y / size, layer + k)
            total += plane / 2**k
            weight += 1 / 2**k
        return total / weight

    def polygon(self, points: Points, curved: bool = True, wobble: float = 0.0) -> Field:
        """Coverage 0..1 of a closed shape, drawn at three times the size and reduced."""
        h, w = self.X.shape
        k = 3
        picture = Image.new("L", (w * k, h * k), 0)
        line = closed_curve(points) if curved else points
        if wobble:
            line = self.wobbled(line, wobble)
        (left, top), size = self.corner(), self.unit * k
        ImageDraw.Draw(picture).polygon([((x - left) * size, (y - top) * size) for x, y in line], fill=255)
        return np.asarray(picture.resize((w, h), Image.Resampling.BOX), dtype=np.float64) / 255

    def wobbled(self, line: Points, size: float) -> Points:
        """The same outline as a hand would lay it: up to `size` units off, slowly varying."""
        p = np.array(line)
        off = [
            self.noise(p[:, 0] / 90, p[:, 1] / 90, layer) + 0.5 * self.noise(p[:, 0] / 31, p[:, 1] / 31, layer) - 0.75
            for layer in (211, 223)
        ]
        return [(float(x), float(y)) for x, y in p + 2 * size * np.stack(off, axis=1)]

    def lay(self, mask: Field, colour: Colour | Field) -> None:
        """Cover the canvas with a colour (0..1) or a picture where the mask is."""
        m = mask[..., None]
        self.rgb = self.rgb * (1 - m) + np.asarray(colour) * m

    def darken(self, mask: Field, strength: float, tint: Colour = (0.90, 0.97, 1.06)) -> None:
        """Take light away; shadows keep a little of the cool sky."""
        loss = np.clip(mask, 0, 1)[..., None] * strength
        self.rgb = self.rgb * (1 - loss * (2.0 - np.asarray(tint)))

    def add(self, plane: Field, colour: Colour) -> None:
        self.rgb = self.rgb + plane[..., None] * np.asarray(colour)

    def shift(self, plane: Field, dx: float, dy: float) -> Field:
        """Move a mask by design units; what leaves the canvas is gone."""
        px, py = round(dx * self.unit), round(dy * self.unit)
        return np.roll(np.pad(plane, 200), (py, px), (0, 1))[200:-200, 200:-200]

    def shadow(self, mask: Field, lift: float = 14.0, strength: float = 0.5) -> None:
        """Contact shadow and a wide soft one, as from a window up on the left."""
        self.darken(self.blur(self.shift(mask, lift * 0.5, lift * 0.6), lift * 0.55), strength * 0.8)
        self.darken(self.blur(self.shift(mask, lift * 2.2, lift * 2.6), lift * 2.6), strength * 0.55)

    def normals(self, height: Field) -> tuple[Field, Field, Field]:
        gy, gx = np.gradient(height, 1.0 / self.unit)
        n = np.sqrt(gx**2 + gy**2 + 1.0)
        return -gx / n, -gy / n, 1.0 / n

    def relief(self, height: Field, colour: Colour | Field, gloss: float = 0.05, deep: float = 30.0) -> Field:
        """A lit picture of a height field: diffuse light, a soft highlight, darker hollows."""
        nx, ny, nz = self.normals(height)
        diffuse = np.clip(nx * LIGHT[0] + ny * LIGHT[1] + nz * LIGHT[2], 0, 1)
        half = LIGHT + np.array([0.0, 0.0, 1.0])
        half = half / np.linalg.norm(half)
        shine = np.clip(nx * half[0] + ny * half[1] + nz * half[2], 0, 1) ** 26
        hollow = np.clip((height - self.blur(height, deep)) / deep * 1.6, -0.45, 0.30)
        level = 0.34 + 0.90 * diffuse + 0.40 * hollow
        cool = np.array([0.95, 0.99, 1.06]) ** (1.6 * (1 - diffuse[..., None]))
        return np.asarray(np.asarray(colour) * level[..., None] * cool + gloss * shine[..., None])

    def paper(self, colour: Colour, fibre: float = 0.03) -> None:
        """A sheet seen from above: a slow fall of light, fibres, a few flecks."""
        light = 1.12 - 0.26 * smoothstep(-200, 2700, self.X * 0.8 + self.Y)
        self.rgb = np.asarray(colour) * light[..., None]
        soft = self.clouds(420, 3, 3) - 0.5
        grain = self.clouds(9, 2, 11) - 0.5
        long = self.clouds(5, 2, 17, stretch=9.0) - 0.5
        fleck = smoothstep(0.86, 0.95, self.noise(self.X / 7, self.Y / 5, 23))
        self.rgb *= (1 + fibre * (1.6 * soft + grain + 1.2 * long) - 0.05 * fleck)[..., None]

    def finish(self, vignette: float = 0.14, grain: float = 0.016) -> Image.Image:
        """Fall-off towards the corners, a shoulder in the lights, film grain; 8-bit picture."""
        left, top = self.corner()
        r = np.hypot((self.X - left) * self.zoom / WIDTH - 0.5, (self.Y - top) * self.zoom / HEIGHT - 0.5)
        rgb = self.rgb * (1 - vignette * smoothstep(0.30, 0.78, r))[..., None]
        rng = np.random.default_rng(self.seed + 1)
        rgb = rgb * (1 + grain * self.blur(rng.standard_normal(self.X.shape), 0.8)[..., None])
        rgb = np.where(rgb > 0.82, 0.82 + 0.18 * np.tanh((rgb - 0.82) / 0.18), rgb)
        return Image.fromarray((np.clip(rgb, 0, 1) * 255 + 0.5).astype(np.uint8))


def rgb(r: int, g: int, b: int) -> Colour:
    """An 8-bit colour as shares of one."""
    return (r / 255, g / 255, b / 255)
