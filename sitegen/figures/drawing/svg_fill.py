"""Put words into a chart's template, and literal colours where no page gives them. No matplotlib here."""

import re
from functools import lru_cache

from sitegen.datatypes import dataclass

SLOT = re.compile(r"@(t\d+|id)@")
PREFIX = re.compile(r"[A-Za-z][A-Za-z0-9_-]*\Z")
CLASSES = re.compile(r' class="(c-[^"]*)"')
NOT_XML = dict.fromkeys((*range(0x20), 0x7F, 0xFFFE, 0xFFFF, *range(0xD800, 0xE000)))
ESCAPES = {**NOT_XML, 9: " ", 10: " ", 13: " ", 38: "&amp;", 60: "&lt;", 62: "&gt;"}
STANDALONE_FACE = "sans-serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Literal colours, as #rrggbb, for a chart outside a page."""

    ink: str
    quiet: str
    accent: str
    second: str
    third: str
    paper: str


LIGHT = Palette(ink="#26241f", quiet="#cdd3d4", accent="#7a2e1d", second="#1f5566", third="#5d5a1a", paper="#fbfaf5")
DARK = Palette(ink="#e6e2d6", quiet="#454b4c", accent="#e39a82", second="#86bccb", third="#c9c583", paper="#1c1d1b")


def fill(template: str, texts: tuple[str, ...], id_prefix: str) -> str:
    """The chart in one language: texts in slot order, ids beginning with `id_prefix` (unique on the page).

    Texts are escaped; characters that XML can't hold are left out. Raises ValueError where the number of
    texts isn't that of the slots, or the prefix is no XML name.
    """
    if not PREFIX.match(id_prefix):
        raise ValueError(f"ids can't begin with {id_prefix!r}")
    parts, places, count = _opened(template)
    if count != len(texts):
        raise ValueError(f"the chart has {count} places for texts, not {len(texts)}")
    words = [*(text.translate(ESCAPES) for text in texts), f"{id_prefix}-"]
    filled = list(parts)
    filled[1::2] = [words[place] for place in places]
    return "".join(filled)


@lru_cache(maxsize=64)
def _opened(template: str) -> tuple[tuple[str, ...], tuple[int, ...], int]:
    """The pieces of a template, the text for each gap (-1: the prefix of ids), the number of texts."""
    parts = tuple(SLOT.split(template))
    places = tuple(-1 if name == "id" else int(name[1:]) for name in parts[1::2])
    return parts, places, max(places, default=-1) + 1


def standalone(svg: str, palette: Palette, face: str = STANDALONE_FACE) -> str:
    """A filled chart as a file of its own: literal colours beside the classes, paper behind, a text face."""
    coloured = CLASSES.sub(lambda match: match[0] + _literal(match[1], palette), svg)
    head, body = coloured.split(">", 1)
    width, height = head.split('viewBox="0 0 ', 1)[1].split('"', 1)[0].split(" ")
    family = face.translate({**ESCAPES, 34: "&quot;"})
    title_end = body.index("</desc>") + len("</desc>")
    ground = f'<rect width="{width}" height="{height}" fill="{palette.paper}"/>'
    return f'{head} font-family="{family}">{body[:title_end]}{ground}{body[title_end:]}'


@lru_cache(maxsize=256)
def _literal(classes: str, palette: Palette) -> str:
    said = []
    for name in classes.split():
        match name.removeprefix("c-"):
            case "paper":
                said.append(f'fill="{palette.paper}"')
            case "text":
                said.append(f'fill="{palette.ink}"')
            case "halo":
                said.append(f'stroke="{palette.paper}"')
            case role:
                said.append(f'color="{getattr(palette, role)}"')
    return "".join(f" {part}" for part in said)
