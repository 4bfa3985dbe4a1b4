"""Renders every picture of this publication: none is a photograph, all are arithmetic with a fixed seed.

    python demo_site/make_photos.py              all pictures, into demo_site/photos
    python demo_site/make_photos.py halde bench  these two
    python demo_site/make_photos.py --out DIR    elsewhere

The wet and dry pairs in photos/spray show one hooped specimen before and after the spray. Their wet share of
the area inside the ring is known, so that whatever measures it can be checked: it is printed here and listed
in WET_SHARES.

Some files carry what a camera leaves behind, on purpose: a position out at sea, a camera's name, a date, and
in one case a sideways picture with an orientation mark. What is published must have lost all of it.
"""

import argparse
import io
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from studio import bench, cloth, stand, torches, water
from studio.cloth import Fabric
from studio.light import Canvas, rgb
from studio.torches import Torch

PHOTOS = Path(__file__).parent / "photos"
LARGEST = 490_000
AT_SEA = ((-31.0, 12.0, 40.5), (-18.0, 47.0, 9.0))
WITH_POSITION = ("halde", "spray_rig", "window", "morgengrau")
SIDEWAYS = "drying_line"
WET_SHARES = {"halde": 0.062, "wegwarte": 0.46}
FRAMES = {
    "halde": (1.06, (980.0, 740.0)),
    "wegwarte": (1.05, (985.0, 715.0)),
    "kaarnu": (1.25, (850.0, 755.0)),
    "luv180": (1.14, (985.0, 655.0)),
    "duinlo": (1.12, (1000.0, 780.0)),
    "zweihang": (1.12, (1000.0, 780.0)),
}

Scene = Callable[[Canvas], object]

SLATE = Fabric(colour=rgb(84, 104, 99), weight=0.7, thread=6, gloss=0.06)
PEAT = Fabric(colour=rgb(112, 86, 62), weight=1.5, thread=8, twill=True, gloss=0.05)
NIGHT = Fabric(colour=rgb(46, 58, 88), weight=0.9, thread=6, twill=True, gloss=0.12)
SAND = Fabric(colour=rgb(190, 172, 142), thread=10, gloss=0.02, fuzz=0.05)
GREY = Fabric(colour=rgb(132, 134, 134), thread=7, gloss=0.04)
CHARCOAL = Fabric(colour=rgb(74, 78, 84), weight=0.7, thread=6, gloss=0.14)
MOSS = Fabric(colour=rgb(98, 108, 72), weight=1.5, thread=9, twill=True, gloss=0.0, fuzz=0.14)
OCHRE = Fabric(colour=rgb(178, 136, 70), thread=7, gloss=0.03)

TROUSERS: dict[str, tuple[int, Scene]] = {
    "halde": (100, lambda c: cloth.folded_once(c, SLATE, rgb(160, 176, 168))),
    "sturzel": (101, lambda c: cloth.hanging(c, PEAT, rgb(178, 142, 96))),
    "wegwarte": (102, lambda c: cloth.lengthwise(c, NIGHT, rgb(120, 140, 180))),
    "duinlo": (103, lambda c: cloth.over_rail(c, SAND, rgb(150, 122, 84))),
    "kaarnu": (104, lambda c: cloth.rolled(c, GREY, rgb(164, 78, 46))),
    "luv180": (105, lambda c: cloth.crumpled(c, CHARCOAL, rgb(140, 146, 150))),
    "zweihang": (108, lambda c: cloth.over_rail(c, MOSS, rgb(64, 72, 44))),
    "arbeitstitel": (106, lambda c: cloth.flat(c, OCHRE, rgb(66, 48, 34))),
}

TORCHES: dict[str, Torch] = {
    "irrwisch": Torch(
        shell=rgb(30, 31, 34),
        strap=rgb(128, 130, 132),
        stripe=rgb(90, 92, 96),
        body=(190, 112),
        lens=78,
        lit=True,
        shape=4,
    ),
    "morgengrau": Torch(
        shell=rgb(198, 198, 192),
        strap=rgb(62, 92, 132),
        stripe=rgb(48, 72, 106),
        body=(170, 160),
        shape=2.3,
        lens=84,
        strap_width=190,
        kraft=True,
    ),
    "kwint": Torch(
        shell=rgb(206, 112, 48),
        strap=rgb(70, 72, 76),
        stripe=rgb(196, 110, 54),
        body=(180, 104),
        lens=64,
        pack=True,
        second_lens=True,
    ),
    "pillok": Torch(
        shell=rgb(70, 158, 158),
        strap=rgb(64, 96, 98),
        stripe=rgb(64, 96, 98),
        body=(120, 84),
        lens=50,
        lit=True,
        cord_only=True,
        shape=3,
    ),
    "stollen": Torch(
        shell=rgb(204, 164, 52),
        strap=rgb(52, 54, 56),
        stripe=rgb(78, 80, 80),
        body=(240, 140),
        lens=92,
        lit=True,
        fins=4,
        over_top=True,
        pack=True,
        strap_width=170,
        second_lens=True,
    ),
    "zaunkoenig": Torch(
        shell=rgb(168, 52, 44),
        strap=rgb(92, 88, 86),
        stripe=rgb(150, 140, 132),
        body=(150, 98),
        lens=60,
        strap_width=110,
        shape=3.2,
    ),
}

WORKSHOP: dict[str, tuple[int, Scene]] = {
    "droplets_grade_5": (
        300,
        lambda c: water.beads(c, Fabric(colour=rgb(96, 118, 112), thread=24, gloss=0.05)),
    ),
    "wetted_grade_2": (
        321,
        lambda c: water.hooped(c, Fabric(colour=rgb(132, 134, 134), thread=12), 0.34, 14),
    ),
    "drying_line": (303, bench.drying_line),
    "spray_rig": (304, stand.stand_picture),
    "spray_rig_nozzle": (305, stand.nozzle_picture),
    "bench": (306, bench.bench_picture),
    "window": (307, bench.window_picture),
}

SPECIMENS = {
    "halde": (302, Fabric(colour=rgb(84, 104, 99), thread=13, gloss=0.05), 60),
    "wegwarte": (301, Fabric(colour=rgb(60, 74, 108), thread=10, gloss=0.08, twill=True), 10),
}


def camera_traces(name: str) -> Image.Exif:
    """What a careless camera would have written; empty for most pictures."""
    exif = Image.Exif()
    if name in WITH_POSITION:
        exif[0x010F], exif[0x0110] = "Rendered", "no camera"
        exif[0x0132] = "2026:08:12 09:30:00"
        position = exif.get_ifd(0x8825)
        for tag, mark, parts in ((1, "S", AT_SEA[0]), (3, "W", AT_SEA[1])):
            position[tag], position[tag + 1] = mark, tuple(abs(part) for part in parts)
    if name == SIDEWAYS:
        exif[0x0112] = 6
    return exif


def save(picture: Image.Image, name: str, folder: Path) -> None:
    """Write a JPEG under the size limit, with the best quality that fits."""
    exif = camera_traces(name)
    if name == SIDEWAYS:
        picture = picture.transpose(Image.Transpose.ROTATE_90)
    for quality in range(87, 60, -2):
        made = io.BytesIO()
        picture.save(made, "JPEG", quality=quality, optimize=True, progressive=True, exif=exif.tobytes())
        if made.tell() <= LARGEST:
            break
    (folder / f"{name}.jpg").write_bytes(made.getvalue())
    print(f"{name}.jpg  {made.tell() / 1000:.0f} kB, quality {quality}")


def render_pair(name: str, scale: float, folder: Path) -> None:
    """The same specimen dry and wet: other noise, and two pixels beside where it lay before."""
    seed, fabric, drops = SPECIMENS[name]
    for state, share, moved in (("dry", 0.0, 0.0), ("wet", WET_SHARES[name], 2.0)):
        canvas = Canvas(seed, scale, middle=(1000.0 - moved / scale, 750.0 - moved / scale))
        known = water.hooped(canvas, fabric, share, drops if share else 0)
        canvas.seed += 0 if state == "dry" else 50
        save(canvas.finish(), f"{name}_{state}", folder)
        print(f"    wet share inside the ring: {known:.4f}")


def render(name: str, scale: float, folder: Path) -> None:
    """One picture by its name, or one pair by `spray/NAME`."""
    if name.startswith("spray/"):
        render_pair(name.removeprefix("spray/"), scale, folder / "spray")
    elif name in TORCHES:
        canvas = Canvas(200 + list(TORCHES).index(name), scale, zoom=1.24, middle=(1000.0, 765.0))
        torches.still_life(canvas, TORCHES[name])
        save(canvas.finish(), name, folder)
    else:
        seed, scene = (TROUSERS | WORKSHOP)[name]
        zoom, middle = FRAMES.get(name, (1.0, (1000.0, 750.0)))
        canvas = Canvas(seed, scale, zoom=zoom, middle=middle)
        scene(canvas)
        save(canvas.finish(), name, folder)


def main() -> None:
    every = [*TROUSERS, *TORCHES, *WORKSHOP, *(f"spray/{name}" for name in SPECIMENS)]
    parser = argparse.ArgumentParser(description="Render the pictures of the demonstration publication.")
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help=f"which ones; all if none is given: {', '.join(every)}"
    )
    parser.add_argument("--out", type=Path, default=PHOTOS)
    parser.add_argument("--scale", type=float, default=1.0, help="1 is 2000 by 1500 pixels")
    given = parser.parse_args()
    unknown = [name for name in given.names if name not in every]
    if unknown:
        parser.error(f"no picture is called {', '.join(unknown)}")
    (given.out / "spray").mkdir(parents=True, exist_ok=True)
    for name in given.names or every:
        render(name, given.scale, given.out)


if __name__ == "__main__":
    main()
