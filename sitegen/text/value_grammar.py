"""How a value is written in a text: `{path}`. Checks, translation, rendering and the search for names all read it by this.

A path may be wrapped onto a second line by an editor. The bound keeps a stray brace cheap. `\\{` is a brace, and
`412 g{meant}` says that a figure is meant as it stands, whatever the data and the other languages say; the mark prints
nothing.
"""

import re

__all__ = ["MEANT", "VALUE", "VALUE_OR_BRACE", "WRITTEN", "tidy_path"]

MEANT = "meant"
PLACED = ("chart", "table", "photos")
PLACEMENT = re.compile(rf"^({'|'.join(PLACED)}): ?(.*)$")
_PATH = r"[^{}\[\]\\`\n]{1,200}(?:\n[^{}\[\]\\`\n]{0,200})?"
WRITTEN = rf"\{{{_PATH}\}}"  # without groups, for use in larger patterns
VALUE = re.compile(rf"(?<!\{{)\{{({_PATH})\}}(?!\}})")  # group 1 is the path; a doubled brace is no value
VALUE_OR_BRACE = re.compile(
    rf"\\([{{}}])|(?<!\{{)\{{({_PATH})\}}(?!\}})"
)  # group 1 is an escaped brace, group 2 a path


def tidy_path(written: str) -> str:
    """A path with single blanks, however its lines are broken.

    >>> tidy_path(VALUE.fullmatch("{mass at\\nwash_3}")[1])
    'mass at wash_3'
    """
    return " ".join(written.split())
