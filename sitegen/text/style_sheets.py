"""What a style sheet would fetch from elsewhere: each such address would tell a foreign host of every reader.

The text is taken apart as browsers do it (CSS Syntax Module Level 3, section 4; from memory), for an address may be
written with escapes, as in `\\75rl(…)`, and what looks like one may stand in a comment or a text. Where browsers and
years differ in how they read on (a text or a comment left open, an address that is broken, odd blanks), the sheet is
refused as well: who reads on otherwise than the reader's browser can't tell what that one will fetch.
"""

import re
from collections.abc import Iterator
from itertools import islice
from typing import cast

from sitegen.datatypes import dataclass
from sitegen.problems import quoted

MOST_FAULTS = 20
LARGEST_SHEET = 1024 * 1024  # characters; the theme's own has 40,000

_ESCAPE = r"\\(?:[0-9a-fA-F]{1,6}[ \t\n\f]?|[^\n\f0-9a-fA-F])"
_NAME = rf"(?:[A-Za-z0-9_\-\x80-\U0010ffff]|{_ESCAPE})"
_START = rf"(?:--|-?(?:[A-Za-z_\x80-\U0010ffff]|{_ESCAPE}))"
_WORD = rf"{_START}{_NAME}*+"
_BLANK = r"[ \t\n\f]"
# In the order in which they are tried (section 4.3.1).
_TOKENS = re.compile(
    rf"""
    (?P<blank>{_BLANK}++|/\*(?s:.*?)\*/)
    |(?P<open_comment>/\*)
    |"(?P<double>(?:[^"\\\n\f]++|\\(?s:.))*+)(?P<double_end>"?)
    |'(?P<single>(?:[^'\\\n\f]++|\\(?s:.))*+)(?P<single_end>'?)
    |(?:[+-]?(?:[0-9]*\.)?[0-9]+(?:[eE][+-]?[0-9]+)?)(?:{_WORD}|%)?
    |\#{_NAME}+
    |@(?P<rule>{_WORD})
    |<!--|-->
    |(?P<word>{_WORD})(?P<call>\(?)
    |(?P<bracket>[()\[\]{{}}])
    |(?P<backslash>\\)
    |(?s:.)
    """,
    re.VERBOSE,
)
_ADDRESS = re.compile(
    rf"{_BLANK}*+(?P<address>(?:[^\"'()\\ \t\n\f\x00-\x08\x0b\x0e-\x1f\x7f]|{_ESCAPE})*+){_BLANK}*+\)"
)
_QUOTE_NEXT = re.compile(rf"{_BLANK}*+[\"']")
_ESCAPED = re.compile(rf"{_ESCAPE}|\\\n|\\\f|\\$")
# Beyond ASCII, what is no sign of a name by the newer definition (section 4.2), so that browsers differ.
_ODD = re.compile(
    "[\x80-\xb6\xb8-\xbf\xd7\xf7\u037e\u2000-\u200b\u200e-\u203e\u2041-\u206f\u2190-\u2bff\u2ff0-\u3000"
    "\ud800-\uf8ff\ufdd0-\ufdef\ufffe\uffff]"
)
_CLOSING = {"(": ")", "[": "]", "{": "}"}
# Functions whose texts are addresses (CSS Images 4, CSS Values 5), also with a browser's prefix; and those that bring a text in.
_TEXT_IS_ADDRESS = re.compile(r"(?:-[a-z]+-)?(?:image-set|image|cross-fade|src|url)")
_BRINGS_TEXT = ("var", "attr", "env", "if", "inherit")
_SMALL = {ord(letter): letter.lower() for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
_AROUND = "".join(map(chr, range(33)))
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.\-]*:")
_PACKED = re.compile(r"data:(?:image|font)/", re.IGNORECASE)
_END_OF_STYLE = re.compile("</style", re.IGNORECASE)  # wherever it stands: HTML ends the element there (13.2.5.3)
_PACK = "pack it into the sheet as data:image/… or data:font/…, or leave it out"


@dataclass(frozen=True, slots=True)
class StyleFault:
    """Line and column (from 1) of what can't stay in a style sheet, and why."""

    line: int
    column: int
    message: str


def style_faults(text: str) -> tuple[StyleFault, ...]:
    """What a style sheet would fetch from elsewhere, in order; after a fault in its grammar nothing more is told.

    Let through are addresses without scheme and host, and pictures and typefaces packed into the sheet (RFC 2397);
    to `@import` only paths from where the sheet stands. Never raises.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "\ufffd")
    if len(text) > LARGEST_SHEET:
        return (too_large(),)
    return tuple(
        StyleFault(text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at), message)
        for at, message in islice(_end_of_style(text) or _Sheet(text).faults(), MOST_FAULTS)
    )


def too_large() -> StyleFault:
    """What is told of a sheet beyond its bound, whether its characters or the bytes of its file are more."""
    return StyleFault(1, 1, f"expected at most {LARGEST_SHEET:,} characters, found more")


def _end_of_style(text: str) -> tuple[tuple[int, str], ...]:
    """Where a page that carries the sheet within itself would read on as HTML, even in a comment or a text."""
    found = _END_OF_STYLE.search(text)
    if found is None:
        return ()
    return (
        (found.start(), f"{quoted(found[0])} would end the sheet in a page that carries it: write <\\/style in a text"),
    )


class _Sheet:
    """One style sheet while it is read."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.open: list[tuple[str, str]] = []  # functions and brackets: the name, and what closes them
        self.addresses = 0  # how many of them take texts as addresses
        self.importing = False  # after `@import`, where its address is expected

    def faults(self) -> Iterator[tuple[int, str]]:
        """Position and words of each fault."""
        at = 0
        while at < len(self.text):
            found = cast(re.Match[str], _TOKENS.match(self.text, at))
            broken = _broken(found)
            if broken:
                yield broken
                return
            end = found.end()
            if found["blank"] is None:
                if found["call"] and _name(found["word"]) == "url" and not _QUOTE_NEXT.match(self.text, end):
                    address = _ADDRESS.match(self.text, end)
                    if address is None:
                        yield at, 'the address that begins here is broken: write it in quotes, such as url("…")'
                        return
                    end = address.end()
                    yield from self._told(at, self._of_address(_plain(address["address"])))
                else:
                    yield from self._told(at, self._of_token(found))
            at = end

    def _told(self, at: int, message: str) -> Iterator[tuple[int, str]]:
        if message:
            yield at, message

    def _of_token(self, found: re.Match[str]) -> str:
        """What is wrong with a token that is no blank and no address without quotes."""
        for kind in ("double", "single"):
            if found[kind] is not None:
                return self._of_address(_plain(found[kind])) if self.importing or self.addresses else ""
        if found["rule"] is not None:
            self.importing = _name(found["rule"]) == "import"
            return ""
        if found["call"]:
            return self._begin(_name(found["word"]), "(")
        if found["bracket"] is not None:
            return self._bracket(found["bracket"])
        return self._unless_address()

    def _begin(self, name: str, bracket: str) -> str:
        takes_texts = bool(_TEXT_IS_ADDRESS.fullmatch(name))
        fault = "" if takes_texts else self._unless_address()
        if self.addresses and (name in _BRINGS_TEXT or name.startswith("--")):
            fault = f"{quoted(name + '(…)')} may bring an address of elsewhere in here: write the address itself"
        self.open.append((name, _CLOSING[bracket]))
        self.addresses += takes_texts
        return fault

    def _bracket(self, bracket: str) -> str:
        if bracket in _CLOSING:
            return self._begin("", bracket)
        if self.open and self.open[-1][1] == bracket:
            name, _ = self.open.pop()
            self.addresses -= bool(_TEXT_IS_ADDRESS.fullmatch(name))
        return ""

    def _unless_address(self) -> str:
        """Something else where `@import` wants its address."""
        if not self.importing:
            return ""
        self.importing = False
        return "@import: expected the path of a style sheet in quotes"

    def _of_address(self, address: str) -> str:
        importing, self.importing = self.importing, False
        # As browsers read an address (URL Standard, 4.4): without blanks around and line ends within, and \\ is /.
        plain = re.sub("[\t\n\r]", "", address).strip(_AROUND).replace("\\", "/")
        if importing:
            foreign = bool(_SCHEME.match(plain)) or plain.startswith("/") or not plain
            return f"@import: expected a path from this sheet, found {quoted(address)}" if foreign else ""
        if plain.startswith("//") or (_SCHEME.match(plain) and not _PACKED.match(plain)):
            return f"{quoted(address)} lies elsewhere, and each reader's browser would ask for it: {_PACK}"
        return ""


def _broken(found: re.Match[str]) -> tuple[int, str] | None:
    """Where a browser would read on otherwise than another, and why."""
    if found["open_comment"] is not None:
        return found.start(), "the comment that opens here is never closed: write */ where it ends"
    if (found["double"] is not None and not found["double_end"]) or (
        found["single"] is not None and not found["single_end"]
    ):
        return found.start(), "the quote that opens here is not closed on its line"
    if found["backslash"] is not None:
        return found.start(), "a backslash at the end of a line can't stand here: delete it"
    if found["double"] is None and found["single"] is None and found["blank"] is None:
        odd = _ODD.search(found[0])
        if odd is not None:
            sign = f"U+{ord(odd[0]):04X}"
            return found.start() + odd.start(), f"the sign {sign} can't stand outside quotes: type the line anew"
    return None


def _plain(written: str) -> str:
    """A text, a name or an address with its escapes undone."""
    return _ESCAPED.sub(_meant, written) if "\\" in written else written


def _name(written: str) -> str:
    """A name in small letters: of ASCII alone, for a Kelvin sign is no k."""
    return _plain(written).translate(_SMALL)


def _meant(escape: re.Match[str]) -> str:
    """The sign that an escape stands for (section 4.3.7); a line end that is escaped in a text stands for nothing."""
    sign = escape[0][1:]
    if sign[:1] in ("", "\n", "\f"):
        return ""
    if not re.match("[0-9a-fA-F]", sign):
        return sign
    number = int(sign.strip(" \t\n\f"), 16)
    return "\ufffd" if number == 0 or 0xD800 <= number <= 0xDFFF or number > 0x10FFFF else chr(number)
