"""A small publication with every kind of page and file in it: what the small one of `builders` lacks is laid over it."""

import io
from functools import cache
from pathlib import Path
from typing import Any

from builders import GUIDE_DE, PUBLICATION, REVIEW_DE, REVIEW_EN, ROUND, SMALL, TARN, write
from findings.rendered_cloth import Scene, photographs

from sitegen.findings.photos.photo_pair import Hoop

DAY = "2026-11-25"  # one review waits beyond it, in one edition

PHOTO = "photo: {file: photos/tarn.jpg, alt: {de: Eine Hose am Haken, en: Trousers on a hook}}\n"
PAIR = (
    "photo_pairs: [{product: tarn, stage: new, specimen: 1, dry: photos/spray/dry.jpg, wet: photos/spray/wet.jpg,"
    " hoop: {x: 0.5, y: 0.5, radius: 0.37}}]\n"
)
SHORT_HEAD = """\
name: Luv 180
maker: Otterbach
kind: Tarp
date: 2026-10-20
measured: {mass: [412.0 g, 411.5 g, 412.5 g], spray: {new: [5, 4, 5]}}
sample: {obtained: bought, from: a shop in town, role: shop, selected_by: us, received: 2026-08-03, receipt: R-1}
first_published:
  outlet: Der Hangbote
  date: 2026-10-01
  language: de
  terms: {de: mit Erlaubnis, en: by permission}
  fee: no
  address: https://hangbote.example/luv-180
  canonical: yes
  embargo: {en: 2026-12-24}
"""
GLOSSARY = """\
vliegen:
  term: {de: aufgeben, en: give up}
  means: {de: nicht mehr dicht sein, en: to let water through}
wet_out:
  term: {en: wet out, de: sich vollsaugen}
  means: {en: to take up water, de: Wasser aufnehmen}
  also: {en: [wetting out, wets out]}
"""
ADDRESSES = """\
review:
  tarn:
    de: de/reviews/tarn.html
    en: en/reviews/tarn.html
    former: [de/reviews/die-hose.html, en/reviews/the-pair.html]
"""
ADDED: dict[str, str | bytes | None] = {
    "publication.yaml": PUBLICATION + "theme: {accent: '#224466'}\n",
    "products/tarn.yaml": TARN + PHOTO,
    "rounds/trousers/round.yaml": ROUND + PAIR,
    "reviews/tarn/de.md": REVIEW_DE + "\nSie kann sich vollsaugen, ehe sie aufgeben muss.\n",
    "reviews/tarn/en.md": REVIEW_EN + "\nIt may wet out in the end.\n",
    "reviews/luv180/de.md": f"---\ntitle: Ein Dach\nsummary: Leicht.\n{SHORT_HEAD}---\nEs wiegt {{mass}}.\n",
    "reviews/luv180/en.md": "---\ntitle: A roof\nsummary: Light.\n---\nIt weighs {mass}.\n",
    "guides/care/en.md": GUIDE_DE.replace("Pflege", "Care").replace("date: 2026-10-01\n", ""),
    "about/en.md": "---\ntitle: Who we are\n---\nA bench.\n",
    "glossary.yaml": GLOSSARY,
    "addresses.yaml": ADDRESSES,
    "theme/extra.css": "p { margin: 0 }\n",
    "theme/templates/list.html": '{% extends "stock/list.html" %}\n',
}  # fmt: skip


@cache
def photos() -> dict[str, bytes]:
    """Pictures, rendered here: a cloth in its hoop before and after the spray, one of them for the product too."""
    dry, wet = photographs(Scene(hoop=Hoop(x=0.5, y=0.5, radius=0.37), size=420))
    return {"photos/tarn.jpg": _jpeg(dry), "photos/spray/dry.jpg": _jpeg(dry), "photos/spray/wet.jpg": _jpeg(wet)}


def _jpeg(picture: Any) -> bytes:
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=95)
    return file.getvalue()


def rich_files() -> dict[str, bytes]:
    """Every file of it by name."""
    merged: dict[str, str | bytes | None] = {**SMALL, **ADDED, **photos()}
    return {name: text.encode() if isinstance(text, str) else text for name, text in merged.items() if text is not None}


def write_rich(folder: Path) -> Path:
    """The publication, written into a folder."""
    return write(folder, rich_files(), base={})
