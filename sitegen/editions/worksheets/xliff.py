"""Worksheets as XLIFF 2.1 (OASIS Standard, 13 February 2018): a unit a paragraph, protected pieces as ph and pc.

Core only, with the translation candidates module (clause 5.1) for the memory's suggestions. XLIFF's core
namespace is that of 2.0; 2.2 has another one and is refused.
"""

import re
from collections.abc import Iterator
from html import escape

from sitegen.editions.following.placeholders import ALONE, OPEN, TEXT, Piece, pieces
from sitegen.editions.worksheets.memory import Suggestion
from sitegen.editions.worksheets.worksheet import Unit, Worksheet

CORE = "urn:oasis:names:tc:xliff:document:2.0"
MATCHES = "urn:oasis:names:tc:xliff:matches:2.0"
VERSION = "2.1"
NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")  # XML 1.0, production 2 (Char)


def xliff_text(sheet: Worksheet) -> str:
    """The XLIFF file of a worksheet."""
    units = "".join(map(_unit, sheet.units))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<xliff xmlns="{CORE}" xmlns:mtc="{MATCHES}" version="{VERSION}" '
        f'srcLang="{_value(sheet.lead)}" trgLang="{_value(sheet.lang)}" xml:space="preserve">\n'
        f' <file id="f1" original="{_value(sheet.text)}">\n'
        f'  <notes>\n   <note id="n1" category="file">{_text(sheet.lead_file)}</note>\n  </notes>\n'
        f"{units} </file>\n</xliff>\n"
    )  # fmt: skip


def _unit(unit: Unit) -> str:
    source, target = pieces(unit.source), pieces(unit.target)
    numbers = _numbers(source, target)
    state = "initial" if not unit.target or unit.stale else "translated"
    written = f"     <target>{_inline(target, numbers)}</target>\n" if unit.target else ""
    notes = "".join(
        f'    <note id="n{n}">{_text(note)}</note>\n' for n, note in enumerate((*unit.notes, unit.place), 1)
    )
    return (
        f'  <unit id="{unit.key}" name="{unit.name}">\n'
        f"{_matches(unit.suggestions)}   <notes>\n{notes}   </notes>\n{_data(numbers)}"
        f'   <segment id="s1" state="{state}">\n     <source>{_inline(source, numbers)}</source>\n{written}   </segment>\n  </unit>\n'
    )


def _numbers(source: tuple[Piece, ...], target: tuple[Piece, ...]) -> dict[str, int]:
    """A number for the original data of each protected piece."""
    kept = dict.fromkeys(piece.text for piece in (*source, *target) if piece.kind != TEXT)
    return {text: number for number, text in enumerate(kept, 1)}


def _data(numbers: dict[str, int]) -> str:
    if not numbers:
        return ""
    lines = "".join(f'    <data id="d{number}">{_text(text)}</data>\n' for text, number in numbers.items())
    return f"   <originalData>\n{lines}   </originalData>\n"


def _inline(found: tuple[Piece, ...], numbers: dict[str, int]) -> str:
    """Text with inline codes. A code's id is its data's number and how many like it came before.

    So the target's code has the id of the source's that it stands for (XLIFF 2.1, 4.7.2.4).
    """
    met: dict[str, int] = {}
    closes = iter(_closes(found))
    made = []
    for piece in found:
        if piece.kind == TEXT:
            made.append(_text(piece.text))
            continue
        if piece.kind not in (ALONE, OPEN):
            made.append("</pc>")
            continue
        close = next(closes) if piece.kind == OPEN else ""
        key = f"{numbers[piece.text]}-{numbers[close]}" if close else str(numbers[piece.text])
        met[key] = met.get(key, 0) + 1
        if close:
            made.append(
                f'<pc id="c{key}-{met[key]}" dataRefStart="d{numbers[piece.text]}" dataRefEnd="d{numbers[close]}">'
            )
        else:
            made.append(f'<ph id="c{key}-{met[key]}" dataRef="d{key}" disp="{_value(piece.text)}"/>')
    return "".join(made)


def _closes(found: tuple[Piece, ...]) -> list[str]:
    """What closes each OPEN, in the order of the OPENs."""
    waiting: list[int] = []
    closes: list[str] = []
    for piece in found:
        if piece.kind == OPEN:
            waiting.append(len(closes))
            closes.append("")
        elif piece.kind not in (TEXT, ALONE):
            closes[waiting.pop()] = piece.text
    return closes


def _matches(suggestions: tuple[Suggestion, ...]) -> str:
    if not suggestions:
        return ""
    made = "".join(_match(number, suggestion) for number, suggestion in enumerate(suggestions, 1))
    return f"   <mtc:matches>\n{made}   </mtc:matches>\n"


def _match(number: int, suggestion: Suggestion) -> str:
    """A candidate in plain text: its codes are not this unit's, so none are claimed to be."""
    one = suggestion.remembered
    return (
        f'    <mtc:match id="m{number}" ref="#s1" similarity="{suggestion.likeness * 100:.1f}" origin="{_value(one.where)}">'
        f"<source>{_text(one.source)}</source><target>{_text(one.target)}</target></mtc:match>\n"
    )


def _text(text: str) -> str:
    """Text for an element; what XML can't hold becomes `cp` (XLIFF 2.1, 4.3.1.1)."""
    return NOT_XML.sub(
        lambda found: f'<cp hex="{ord(found[0]):04X}"/>', escape(text, quote=False).replace("\r", "&#13;")
    )


def _value(text: str) -> str:
    """Text for an attribute, line breaks kept."""
    return NOT_XML.sub("\ufffd", "".join(_escaped(text)))


def _escaped(text: str) -> Iterator[str]:
    yield escape(text).replace("\n", "&#10;").replace("\t", "&#9;").replace("\r", "&#13;")
