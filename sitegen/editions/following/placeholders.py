"""What a translator must not change in a text: values, code, addresses, the marks of a heading."""

import re
from collections import Counter
from collections.abc import Iterator

from sitegen.datatypes import dataclass
from sitegen.text.value_grammar import WRITTEN

TEXT, ALONE, OPEN, CLOSE = "text", "alone", "open", "close"

_CODE = r"(?P<code>(?<!`)(?P<ticks>`+)(?!`)(?:.|\n)+?(?<!`)(?P=ticks)(?!`))"
_ESCAPED = r"(?P<escaped>\\.)"
_VALUE = rf"(?P<value>{WRITTEN})"
_AUTOLINK = r"(?P<auto><[A-Za-z][A-Za-z0-9+.\-]{1,31}:[^\s<>]*>)"
_TAIL = r"(?P<tail>\]\([ \t\n]*(?:<[^<>\n]*>|(?:[^\s()\\]|\\.|\([^\s()]*\))+)[ \t]*(?P<quote>\n?[ \t]*\")?)"
_TOKEN = re.compile(
    "|".join(
        (_ESCAPED, _CODE, _VALUE, _AUTOLINK, _TAIL, r"(?P<bracket>!?\[)", r"(?P<end>\"[ \t]*\))", r"(?P<close>\))")
    )
)
_HEADING = re.compile(r" {0,3}#{1,6}[ \t]+")


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a text as written. OPEN and CLOSE stand around the words of a link without a title."""

    kind: str
    text: str


def pieces(text: str) -> tuple[Piece, ...]:
    """A text taken apart; the pieces put together are the text again.

    >>> [(p.kind, p.text) for p in pieces("at [the rig](rig:spray): {mass}")]
    [('text', 'at '), ('open', '['), ('text', 'the rig'), ('close', '](rig:spray)'), ('text', ': '), ('alone', '{mass}')]
    """
    found = list(_scan(text))
    kinds = _paired(found)
    made: list[Piece] = []
    for kind, (_, piece) in zip(kinds, found, strict=True):
        if kind == TEXT and made and made[-1].kind == TEXT:
            made[-1] = Piece(TEXT, made[-1].text + piece)
        elif piece:
            made.append(Piece(kind, piece))
    return tuple(made)


def _scan(text: str) -> Iterator[tuple[str, str]]:
    """(name of what it may be, text); a link's tail with a title runs up to the title's quote."""
    at, in_title = 0, False
    heading = _HEADING.match(text)
    if heading:
        yield "heading", heading[0]
        at = heading.end()
    while found := _TOKEN.search(text, at):
        yield "text", text[at : found.start()]
        name, piece = found.lastgroup or "text", found[0]
        name = "code" if found["code"] else "titled" if found["quote"] else "tail" if found["tail"] else name
        if name == "tail" and not text.startswith(")", found.end()):
            name = "text"
        elif name == "tail":
            piece += ")"
        elif name == "titled":
            in_title = True
        elif name == "end" and in_title:
            in_title = False
        elif name in ("end", "close", "escaped"):
            name, piece = "text", piece[:1] if name == "end" else piece
        yield name, piece
        at = found.start() + len(piece)
    yield "text", text[at:]


def _paired(found: list[tuple[str, str]]) -> list[str]:
    """The kind of each piece: brackets that open nothing, and tails that close nothing, are text."""
    kinds = [ALONE if name in ("heading", "code", "value", "auto") else TEXT for name, _ in found]
    open_brackets: list[int] = []
    titled = -1  # the tail whose title is being read
    for number, (name, _) in enumerate(found):
        if name == "bracket":
            open_brackets.append(number)
        elif name in ("tail", "titled") and open_brackets:
            start = open_brackets.pop()
            kinds[start], kinds[number] = (OPEN, CLOSE) if name == "tail" else (ALONE, ALONE)
            titled = number if name == "titled" else titled
        elif name == "end" and titled >= 0:
            kinds[number], titled = ALONE, -1
    return kinds


def protected(text: str) -> Counter[str]:
    """How often each protected piece stands in a text; a link counts by its address."""
    return Counter(
        " ".join(piece.text.split()) for piece in pieces(text) if piece.kind != TEXT and piece.text not in ("[", '")')
    )


def difference(source: str, target: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The protected pieces that a translation lacks, and those that it has too many."""
    wanted, found = protected(source), protected(target)
    return tuple((wanted - found).elements()), tuple((found - wanted).elements())
