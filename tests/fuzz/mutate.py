"""Random changes to a file that keep most of it, so that a change is met deep in a reading and not on its first byte."""

import random
import re
from collections.abc import Sequence

LONGEST = 4096  # bytes of a mutated input: long ones are slow and find little that short ones don't

# What stands between the words of the formats, and what is at the edge of what they allow.
PIECES: tuple[bytes, ...] = tuple(
    piece.encode()
    for piece in (
        *"\n \t,;:|>-#*&!%@`'\"[]{}()<>\\/=_~^$+.?0\0",
        "---\n", "- ", "? ", ": ", "<<: ", "{}", "[]", "''", '""', '""""', "|-\n  ", ">+\n\n", "\r\n", "\r", "\n\n", "    ", "  - ", "**", "__", "```\n", "~~~",
        "> ", "1. ", "![", "](", "](x \"{m}\")", "[x]: /y\n", "|--|\n", "<b>", "</b>", "<!--", "<script>", "&amp;", "\\{", "{mass}", "{meant}", "{mass of }",
        "sep=;\n", '"a""', "NaN", "inf", "1e999", "-0.0", "1.234,5", "999999999999999.999999999999", "0.000000000001", "-1", "0", "5", "12,5",
        "2026-02-30", "9999-12-31", "0001-01-01", "after 3 washes", "after 999 washes and heat", "re-proofed", "new", "yes", "no", "not yet", "none",
        "\u00a0", "\u2009", "\u202f", "\u2212", "\u00bd", "\u2070", "\u0661", "\u017f", "\u212a", "\u0130", "\u00df", "e\u0301", "\u202e", "\u200b", "\ufeff", "\ufdd0",
        "\u2028", "\x85", "\ud7ff", "\U0001f9e5", "\ufffd", "\u0149", "\u1e9e", "\u00b5", "\u2044", "3/0", "30 K", "0 %", "5 °F", "1 000", "12 €",
    )
) + (b"\xff", b"\xc3", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xef\xbb\xbf", b"\xff\xfe")  # fmt: skip
_WORD = re.compile(rb"[\w.+-]+|[^\w\s]|\s+")


def mutated(data: bytes, others: Sequence[bytes], chance: random.Random) -> bytes:
    """`data` after one to five changes; a part of one of `others` may be put into it."""
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5))):
        data = chance.choice(_CHANGES)(data, chance.choice(others) if others else data, chance)
    return data[:LONGEST]


def _at(data: bytes, chance: random.Random) -> int:
    return chance.randint(0, len(data))


def _flip(data: bytes, other: bytes, chance: random.Random) -> bytes:
    if not data:
        return bytes((chance.randrange(256),))
    at = chance.randrange(len(data))
    return data[:at] + bytes((data[at] ^ (1 << chance.randrange(8)),)) + data[at + 1 :]


def _insert(data: bytes, other: bytes, chance: random.Random) -> bytes:
    at = _at(data, chance)
    return data[:at] + chance.choice(PIECES) * chance.choice((1, 1, 1, 1, 2, 3, 40)) + data[at:]


def _cut(data: bytes, other: bytes, chance: random.Random) -> bytes:
    at = _at(data, chance)
    return data[:at] + data[at + chance.choice((1, 1, 2, 4, 16, 64)) :]


def _replace_word(data: bytes, other: bytes, chance: random.Random) -> bytes:
    words = list(_WORD.finditer(data))
    theirs = _WORD.findall(other)
    if not words:
        return data + chance.choice(PIECES)
    found = chance.choice(words)
    new = chance.choice(theirs) if theirs and chance.random() < 0.5 else chance.choice(PIECES)
    return data[: found.start()] + new + data[found.end() :]


def _double(data: bytes, other: bytes, chance: random.Random) -> bytes:
    start = _at(data, chance)
    end = min(len(data), start + chance.choice((1, 2, 8, 32)))
    at = _at(data, chance)
    return data[:at] + data[start:end] * chance.choice((1, 1, 2, 20)) + data[at:]


def _lines(data: bytes, other: bytes, chance: random.Random) -> bytes:
    """Drop, double, swap or indent a line."""
    lines = data.split(b"\n")
    one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
    way = chance.randrange(4)
    if way == 0:
        del lines[one]
    elif way == 1:
        lines.insert(two, lines[one])
    elif way == 2:
        lines[one], lines[two] = lines[two], lines[one]
    else:
        lines[one] = chance.choice((b" ", b"  ", b"\t", b"    ")) + lines[one]
    return b"\n".join(lines)


def _splice(data: bytes, other: bytes, chance: random.Random) -> bytes:
    return data[: _at(data, chance)] + other[_at(other, chance) :]


def _any_bytes(data: bytes, other: bytes, chance: random.Random) -> bytes:
    at = _at(data, chance)
    return data[:at] + chance.randbytes(chance.choice((1, 2, 4))) + data[at:]


_CHANGES = (
    _flip,
    _insert,
    _insert,
    _cut,
    _cut,
    _replace_word,
    _replace_word,
    _replace_word,
    _double,
    _lines,
    _lines,
    _splice,
    _any_bytes,
)

# ruff: noqa: E501, RUF005 - tables of inputs read best with one a line
