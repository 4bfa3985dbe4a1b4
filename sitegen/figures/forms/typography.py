"""The small care that a text needs between keyboard and page: a number never parts from its unit.

Authors type an ordinary blank; SI Brochure 9th edition, 5.4.3 asks for a space between number and
unit, and a line must not break there. Nothing else of a text is changed.
"""

import re
from functools import cache

from sitegen.records.fields.units import UNITS

NO_BREAK = "\u00a0"
_ALSO = ("Uhr", "Std.", "€", "EUR")  # no units, and as inseparable from their number
_WORDS = {"d", "in", "A", "t", "den"}  # symbols that are also words


@cache
def _between() -> re.Pattern[str]:
    units = sorted({*UNITS, *_ALSO} - _WORDS, key=lambda unit: (-len(unit), unit))
    return re.compile(rf"(?<=[\d\u00bd\u00bc\u00be])[ ](?=(?:{'|'.join(map(re.escape, units))})(?![\w²³/]))")


_DIGIT_BEFORE_BLANK = re.compile("[\\d\u00bd\u00bc\u00be] ")  # without one there is nothing to keep: a quick look


def keep_units(text: str) -> str:
    """The text with no-break spaces between numbers and units.

    >>> keep_units("2.0 kg at 30 °C") == "2.0\u00a0kg at 30\u00a0°C"
    True
    """
    return _between().sub(NO_BREAK, text) if _DIGIT_BEFORE_BLANK.search(text) else text
