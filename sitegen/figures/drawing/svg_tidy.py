"""From the renderer's SVG to SVG that a page can hold: no style attributes, colours by class, short ids.

A page under a Content-Security-Policy without inline styles drops `style="…"`, so what the renderer says
there becomes presentation attributes, and its colours, which only stand for roles, become classes.
"""

import re
from functools import lru_cache
from itertools import pairwise

from sitegen.datatypes import dataclass

ROLES = ("ink", "quiet", "accent", "second", "third", "paper", "hatch", "dots", "rules")
PAINTS = {role: f"#0000{index:02x}" for index, role in enumerate(ROLES, start=1)}
PATTERNS = ("hatch", "dots", "rules")  # fills that are patterns, defined once in the frame
ROLE_OF = {paint: role for role, paint in PAINTS.items()}
USUAL = frozenset(  # what holds without being said: the svg element asks for round joins
    ("stroke-linejoin: miter", "stroke-linejoin: round", "stroke-linecap: butt", "stroke-dashoffset: 0")
)

STYLED = re.compile(r' style="([^"]*)"')
PATH = re.compile(r'(?<= d=")[^"]*')
USED = re.compile(r'<use [^>]*? style="([^"]*)"')
CORNER = re.compile(r"(-?[\d.]+) (-?[\d.]+)(?=[A-Za-z]|$)")
BOX = re.compile(r"M([\d.]+) ([\d.]+)L([\d.]+) \2L\3 ([\d.]+)L\1 \4z")
STROKE = re.compile(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)(?=M|$)")


def tidy_paths(svg: str) -> str:
    """Tidy the paths that the renderer wrote: shorter, and coloured by class."""
    svg = PATH.sub(lambda match: _compact(match[0]), svg)
    return STYLED.sub(lambda match: attributes(match[1]), svg).replace("\n  ", "").replace("\n", "").strip()


@dataclass(frozen=True, slots=True)
class Outline:
    """A mark's outline: its first corner from the middle of the mark, and the path from there on in steps."""

    x: float
    y: float
    onward: str


def tidy_mark(svg: str) -> tuple[Outline, str]:
    """The outline of a mark, and the attributes of a group of such marks, from one that the renderer drew.

    Round marks, of which the renderer knows the circle alone, become two arcs (SVG 2, 9.5.1).
    """
    found, use = PATH.search(svg), USED.search(svg)
    if found is None or use is None:
        raise ValueError("the renderer drew no mark")
    path = _compact(found[0])
    corners = [(float(x), float(y)) for x, y in CORNER.findall(path)]
    if "C" in path:
        radius = round(max(x for x, _ in corners), 2)
        outline = Outline(
            -radius,
            0.0,
            f"a{radius:g} {radius:g} 0 0 0 {2 * radius:g} 0" + f"a{radius:g} {radius:g} 0 0 0 {-2 * radius:g} 0z",
        )
    else:
        steps = [f"{_short(x - before[0])} {_short(y - before[1])}" for before, (x, y) in pairwise(corners)]
        x, y = (round(number, 2) or 0.0 for number in corners[0])
        outline = Outline(x, y, "l" + " ".join(steps) + "z")
    return outline, attributes(use[1])


def _compact(path: str) -> str:
    path = path.replace("\n", "").replace("M ", "M").replace("z ", "z")
    for letter in "LMCz":
        path = path.replace(f" {letter} ", letter).replace(f" {letter}", letter)
    return BOX.sub(r"M\1 \2H\3V\4H\1z", STROKE.sub(_stroke, path.strip()))


def _short(number: float) -> str:
    return f"{round(number, 2) or 0:g}"


def _stroke(match: re.Match[str]) -> str:
    x, y, x2, y2 = match.groups()
    if x == x2:
        return f"M{x} {y}V{y2}"
    return f"M{x} {y}H{x2}" if y == y2 else match[0]


@lru_cache(maxsize=512)
def attributes(style: str) -> str:
    """The class and presentation attributes that say the same as a style of the renderer."""
    said = dict(part.split(": ", 1) for part in style.split("; ") if part and part not in USUAL)
    stroke, fill = said.pop("stroke", "none"), said.pop("fill", "none")
    colour = ROLE_OF.get(stroke) or ROLE_OF.get(fill, "")
    classes = [f"c-{colour}"] if colour and colour not in PATTERNS else []
    painted = {}
    if ROLE_OF.get(fill) in PATTERNS:
        painted["fill"] = f"url(#@id@{ROLE_OF[fill]})"
    elif fill == PAINTS["paper"]:
        classes = [*(name for name in classes if name != "c-paper"), "c-paper"]
    else:
        painted["fill"] = "currentColor" if fill in ROLE_OF else "none"
    if stroke in ROLE_OF:
        painted["stroke"] = "currentColor"
    named = f' class="{" ".join(classes)}"' if classes else ""
    return named + "".join(f' {name}="{value}"' for name, value in {**painted, **said}.items())
