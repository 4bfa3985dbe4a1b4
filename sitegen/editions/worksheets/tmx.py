"""The publication's translation memory as TMX 1.4b (LISA OSCAR, 2005; the element and attribute names from memory)."""

from collections.abc import Iterable
from html import escape

from sitegen import __version__
from sitegen.editions.following.placeholders import TEXT, pieces
from sitegen.editions.worksheets.memory import Remembered
from sitegen.editions.worksheets.xliff import NOT_XML


def tmx_text(remembered: Iterable[Remembered], lead: str) -> str:
    """One translation unit for each paragraph of the lead, with its translations; ordered by text."""
    units: dict[str, dict[str, Remembered]] = {}
    for one in sorted(remembered, key=lambda r: (r.where, r.lang, r.source)):
        units.setdefault(one.source, {}).setdefault(one.lang, one)
    body = "".join(_unit(source, found, lead) for source, found in units.items())
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE tmx SYSTEM "tmx14.dtd">\n<tmx version="1.4">\n'
        f'<header creationtool="sitegen" creationtoolversion="{_clean(escape(__version__))}" segtype="paragraph" o-tmf="Markdown" '
        f'adminlang="en" srclang="{_clean(escape(lead))}" datatype="plaintext"/>\n<body>\n{body}</body>\n</tmx>\n'
    )


def _unit(source: str, found: dict[str, Remembered], lead: str) -> str:
    where = next(iter(found.values())).where
    variants = [(lead, source), *((lang, one.target) for lang, one in found.items())]
    numbers: dict[str, int] = {}
    lines = "".join(
        f'<tuv xml:lang="{_clean(escape(lang))}"><seg>{_segment(text, numbers)}</seg></tuv>\n'
        for lang, text in variants
    )
    return f'<tu>\n<prop type="x-part">{_clean(escape(where))}</prop>\n{lines}</tu>\n'


def _segment(text: str, numbers: dict[str, int]) -> str:
    """Text with each protected piece in a `ph`; like ones in the two languages have the same `x`."""
    made = []
    for piece in pieces(text):
        written = _clean(escape(piece.text, quote=False))
        made.append(
            written
            if piece.kind == TEXT
            else f'<ph x="{numbers.setdefault(piece.text, len(numbers) + 1)}">{written}</ph>'
        )
    return "".join(made)


def _clean(text: str) -> str:
    return NOT_XML.sub("\ufffd", text)
