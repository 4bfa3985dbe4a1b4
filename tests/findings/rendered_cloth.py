"""Rendered photographs of a hooped specimen, dry and wet, with a wetted area that is known exactly."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sitegen.findings.photos.photo_pair import Hoop

Array = Any
HOOP = Hoop(x=0.5, y=0.5, radius=0.36)
FINER = 3  # points a pixel and direction: edges come out between the colours, as in a camera

NAVY, OLIVE, ORANGE, GREY, BLACK, SAND = (
    (38, 48, 82), (88, 96, 58), (205, 96, 38), (128, 128, 130), (34, 34, 37), (196, 180, 148),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What stands before the camera: cloth colour (sRGB), wet patches (x, y, radius; hoop radii), wetness.

    `wetness` is what a wet place sends back of its light. `light`: strength of the fall-off across the
    picture. `shift` (down, right) of the dry picture's camera in pixels. `noise` in sRGB steps.
    """

    cloth: tuple[int, int, int] = NAVY
    patches: tuple[tuple[float, float, float], ...] = ((0.0, 0.0, 0.5),)
    wetness: float = 0.55
    size: int = 300
    noise: float = 2.0
    light: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)
    seed: int = 1
    texture: float = 0.06
    bright: float = 1.0
    hoop: Hoop = field(default=HOOP)


def photographs(scene: Scene) -> tuple[Array, Array]:
    """The dry and the wet picture, uint8."""
    draw = np.random.default_rng(scene.seed)
    pattern = _pattern(scene, np.random.default_rng(99))
    dry = _exposed(_seen(scene, pattern, wet=False), _fall_off(scene, 0.7, -0.4), scene, draw)
    wet = _exposed(_seen(scene, pattern, wet=True), _fall_off(scene, -0.5, 0.8), scene, draw)
    return dry, wet


def true_share(scene: Scene) -> float:
    """The wetted share of the hoop's area, counted on a grid far finer than the picture."""
    points = np.linspace(-1, 1, 2001)
    x, y = np.meshgrid(points, points)
    inside = np.hypot(x, y) <= 1
    return float(_is_wet(scene, x, y)[inside].mean())


def _is_wet(scene: Scene, x: Array, y: Array) -> Array:
    wet = np.zeros(x.shape, bool)
    for left, top, radius in scene.patches:
        wet |= np.hypot(x - left, y - top) <= radius
    return wet


def _pattern(scene: Scene, draw: Any) -> Array:
    """The grain of cloth and table: it belongs to the things, not to the camera, and moves with them."""
    side = (scene.size + 60) * FINER
    coarse = np.kron(draw.normal(0, 1, (side // 6 + 1, side // 6 + 1)), np.ones((6, 6)))[:side, :side]
    return 1 + scene.texture * coarse


def _seen(scene: Scene, pattern: Array, *, wet: bool) -> Array:
    """Linear light of the scene, (size, size, 3)."""
    down, right = (0.0, 0.0) if wet else scene.shift
    count = scene.size * FINER
    places = (np.arange(count) + 0.5) / FINER
    rows, columns = places[:, None] + down, places[None, :] + right
    radius = scene.hoop.radius * scene.size
    y = (rows - scene.hoop.y * scene.size) / radius + 0 * columns
    x = (columns - scene.hoop.x * scene.size) / radius + 0 * rows
    far = np.hypot(x, y)
    light = np.where((far < 1.06)[..., None], _linear(scene.cloth), _linear((150, 140, 128)))
    light = np.where(((far > 1.0) & (far < 1.06))[..., None], _linear((70, 70, 72)), light)
    top, left = (np.rint((v + 30) * FINER).astype(int) for v in (rows, columns))
    light = light * pattern[top.clip(0, pattern.shape[0] - 1), left.clip(0, pattern.shape[1] - 1)][..., None]
    if wet:
        light = np.where((_is_wet(scene, x, y) & (far <= 1))[..., None], light * scene.wetness, light)
    return light.reshape(scene.size, FINER, scene.size, FINER, 3).mean(axis=(1, 3))


def _fall_off(scene: Scene, right: float, down: float) -> Array:
    line = np.linspace(-1, 1, scene.size)
    field = 1 + scene.light * (right * line[None, :] + down * line[:, None] - 0.4 * line[None, :] ** 2)
    return field[..., None]


def _exposed(light: Array, fall_off: Array, scene: Scene, draw: Any) -> Array:
    value = np.clip(light * fall_off * scene.bright, 0, 1)
    srgb = np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055) * 255
    return np.clip(np.rint(srgb + draw.normal(0, scene.noise, srgb.shape)), 0, 255).astype(np.uint8)


def _linear(colour: tuple[int, int, int]) -> Array:
    value = np.array(colour) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
