"""Colours that can be read on their paper, by the contrast ratio of WCAG 2.2."""

import colorsys
import re

__all__ = ["contrast", "is_hex_colour", "readable"]

Channels = tuple[float, float, float]

# WCAG 2.2, 1.4.3, wants 4.5 for text. The rest is for the squared lines behind charts, a shade off the paper.
WANTED = 5.0
STEP = 1 / 255  # one step of an 8-bit channel: no lighter or darker than it has to be

_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})", re.IGNORECASE | re.ASCII)


def is_hex_colour(text: str) -> bool:
    """Whether `text` is a colour as CSS writes it in three or six hexadecimal digits: #7a2e1d."""
    return _HEX.fullmatch(text) is not None


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two hex colours, 1 to 21, whichever comes first (WCAG 2.2, "contrast ratio")."""
    darker, lighter = sorted((_luminance(_channels(one)), _luminance(_channels(other))))
    return (lighter + 0.05) / (darker + 0.05)


def readable(colour: str, paper: str, wanted: float = WANTED) -> str:
    """`colour`, made lighter or darker in its own hue until it stands out from `paper` by `wanted` to 1.

    Away from the paper: darker on light, lighter on dark. Black or white, the farthest there is, where
    nothing less will do. Raises ValueError for a `wanted` that even they miss.
    """
    hue, lightness, saturation = colorsys.rgb_to_hls(*_channels(colour))
    away, end = (STEP, 1.0) if contrast("#fff", paper) > contrast("#000", paper) else (-STEP, 0.0)
    tried = _hex(_channels(colour))
    while contrast(tried, paper) < wanted:
        if lightness == end:
            raise ValueError(f"no colour has a contrast of {wanted} to {paper}")
        lightness = min(1.0, max(0.0, lightness + away))
        tried = _hex(colorsys.hls_to_rgb(hue, lightness, saturation))
    return tried


def _channels(colour: str) -> Channels:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    red, green, blue = (int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4))
    return red, green, blue


def _hex(channels: Channels) -> str:
    return "#" + "".join(f"{round(channel * 255):02x}" for channel in channels)


def _luminance(channels: Channels) -> float:
    """Relative luminance, 0 black to 1 white (WCAG 2.2, "relative luminance", threshold as corrected)."""
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
