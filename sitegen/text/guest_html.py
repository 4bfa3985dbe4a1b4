"""The tags of a guest's HTML, read one by one and written anew with what is allowed of them.

The running text with these tags then goes through the sanitiser as a whole, which lets only what `allowed_html` names
through and balances it by the rules that browsers have (HTML Living Standard, 13.2.6). Values, pictures and links
travel through it as marks and are put back afterwards, so that a guest's link is judged and led like one in Markdown.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import field
from functools import cache
from html import escape
from html.parser import HTMLParser
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.text.addresses import address_fault
from sitegen.text.allowed_html import ATTRIBUTES, BLOCKS, OPENING, RUNNING, GuestTag
from sitegen.text.markdown_grammar import DEEPEST
from sitegen.text.markdown_pieces import LinkSlot, Piece, ValueSlot
from sitegen.text.value_grammar import MEANT, VALUE, tidy_path

if TYPE_CHECKING:
    from nh3 import Cleaner

_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8}){0,8}")
_SPAN = re.compile(r"[1-9][0-9]{0,2}")
_SOUND = {
    "lang": _LANGUAGE,
    "dir": re.compile("ltr|rtl|auto"),
    "scope": re.compile("row|col|rowgroup|colgroup"),
    "colspan": _SPAN,
    "rowspan": _SPAN,
    "datetime": re.compile(r"[0-9A-Za-z:.+\- ]{1,40}"),
}

_MARK = "\ufdd0"  # a noncharacter (Unicode 23.7), taken out of every text before it is read
_MARKED = re.compile(f"{_MARK}([0-9]+){_MARK}")
_TAGS = re.compile(r'<(/?)([a-z]+)((?:[^>"]|"[^"]*")*)>')
_LINK = re.compile(f' href="{_MARK}([0-9]+)"')
_HINT = "use Markdown, such as *word* or a table; for a plain < write \\<"


def clean(pieces: Sequence[Piece | GuestTag], blocks: bool, problems: Problems) -> tuple[Piece, ...]:
    """As `allowed_html.harmless`."""
    reading = _Reading(RUNNING | BLOCKS if blocks else RUNNING, problems)
    written = "".join([*map(reading.take, pieces), reading.end()])
    cleaned = _sanitiser(blocks).clean(written).replace("&nbsp;", "\u00a0")
    lost = Counter(_names(written)) - Counter(_names(cleaned))
    place = next((piece.place for piece in pieces if isinstance(piece, GuestTag)), None)
    if lost and place is not None:
        names = ", ".join(f"<{name}>" for name in sorted(lost))
        problems.caution("html-taken", place, f"HTML was removed: {names} can't stand in such a place", _HINT)
    return tuple(_pieces(cleaned, reading.slots))


@cache
def _sanitiser(blocks: bool) -> "Cleaner":
    from nh3 import Cleaner

    names = RUNNING | BLOCKS if blocks else RUNNING
    return Cleaner(
        tags=names,
        attributes={name: ATTRIBUTES[name] for name in sorted(names & ATTRIBUTES.keys())},
        url_schemes=set(),  # addresses are marks by now
        link_rel=None,
    )


def _names(html: str) -> Iterator[str]:
    return (found[2] for found in _TAGS.finditer(html) if not found[1])


@dataclass(slots=True)
class _Reading:
    """Puts one running text together for the sanitiser, and says what of it is left out."""

    allowed: frozenset[str]
    problems: Problems
    slots: list[Piece] = field(default_factory=list)
    open: list[tuple[str, Place]] = field(default_factory=list)  # the guest's elements
    refused: Counter[str] = field(default_factory=Counter)  # whose closing tags are left out in silence
    in_link: bool = False  # of Markdown

    def take(self, piece: Piece | GuestTag) -> str:
        if isinstance(piece, str):
            self.in_link = self.in_link and piece != "</a>"
            return piece
        if isinstance(piece, LinkSlot):
            self.in_link = True
            return self._link(piece)
        if isinstance(piece, GuestTag):
            return self._tag(piece)
        return self._marked(piece)

    def end(self) -> str:
        """What closes all that is still open."""
        return self._close(0)

    def _marked(self, slot: Piece) -> str:
        self.slots.append(slot)
        return f"{_MARK}{len(self.slots) - 1}{_MARK}"

    def _link(self, slot: LinkSlot) -> str:
        self.slots.append(slot)
        return f'<a href="{_MARK}{len(self.slots) - 1}">'

    def _tag(self, tag: GuestTag) -> str:
        read = OneTag(tag.text)
        if read.name and not read.closing:
            return self._opened(read, tag)
        names = [name for name, _ in self.open]
        if read.name in names:
            return self._close(len(names) - 1 - names[::-1].index(read.name), told=1)
        if self.refused[read.name] > 0:
            self.refused[read.name] -= 1
            return ""
        return self._refuse(tag, "it closes nothing that is open here" if read.name else "", "")

    def _opened(self, read: "OneTag", tag: GuestTag) -> str:
        name = read.name
        if name not in self.allowed:
            hint = f"begin a paragraph with <{_opener(name)}>" if name in BLOCKS else _HINT
            return self._refuse(tag, "", name, hint)
        if len(self.open) >= DEEPEST:
            return self._refuse(tag, f"it stands in more than {DEEPEST} others", name)
        kept, gone, fault = self._attributes(read, tag.place)
        if gone:
            self._tell(tag, f"{', '.join(quoted(key) for key in gone)} of {quoted(tag.text)}", fault)
        if name == "a" and not kept:
            self.refused[name] += 1
            return "" if gone else self._refuse(tag, "it leads nowhere", "")
        if name == "a" and (self.in_link or any(outer == "a" for outer, _ in self.open)):
            return self._refuse(tag, "a link can't stand in a link", name)
        if name != "br":
            self.open.append((name, tag.place))
        return f"<{name}{kept}>"

    def _attributes(self, read: "OneTag", place: Place) -> tuple[str, list[str], str]:
        """The attributes as they are let through, the names of the others, and why."""
        kept, gone, fault = "", [], ""
        for key, value in read.attributes.items():
            why = _fault(read.name, key, value)
            if why is not None:
                gone.append(key)
                fault = why
            elif key == "href":
                self.slots.append(LinkSlot(value, (), place))
                kept += f' href="{_MARK}{len(self.slots) - 1}"'
            else:
                kept += f' {key}="{self._with_values(value, place)}"'
        return kept, gone, fault

    def _with_values(self, text: str, place: Place) -> str:
        written, end = "", 0
        for found in VALUE.finditer(text):
            path = tidy_path(found[1])
            if path:
                slot = self._marked(ValueSlot(path, place)) if path != MEANT else ""
                written += escape(text[end : found.start()]) + slot
                end = found.end()
        return written + escape(text[end:])

    def _close(self, down_to: int, told: int = 0) -> str:
        """Close the innermost elements; but for the outermost `told`, that is news to the author."""
        closed = ""
        while len(self.open) > down_to:
            name, place = self.open.pop()
            closed += f"</{name}>"
            if len(self.open) >= down_to + told:
                message = f"<{name}> is not closed where it should be, so it ends with what it stands in"
                self.problems.caution("html-open", place, message, f"write </{name}> where it ends")
        return closed

    def _refuse(self, tag: GuestTag, why: str, name: str, hint: str = _HINT) -> str:
        """Leave a tag out; with a `name` its closing tag too."""
        self.refused[name] += bool(name)
        self._tell(tag, quoted(tag.text), why, hint)
        return ""

    def _tell(self, tag: GuestTag, what: str, why: str, hint: str = _HINT) -> None:
        message = f"HTML was removed: {what}" + (f" ({why})" if why else "")
        self.problems.caution("html-taken", tag.place, message, hint)


def _opener(name: str) -> str:
    if name in OPENING:
        return name
    return {"dd": "dl", "dt": "dl", "li": "ul", "summary": "details", "figcaption": "figure"}.get(name, "table")


def _fault(name: str, key: str, value: str) -> str | None:
    """Why an attribute can't stay; None if it can."""
    if key not in ATTRIBUTES.get(name, ()) or _MARK in value:
        return ""
    if key == "href":
        fault = address_fault(value)
        return fault[0] if fault else None
    return None if key not in _SOUND or _SOUND[key].fullmatch(value) else f"found {quoted(value)}"


class OneTag(HTMLParser):
    """What one tag says; `name` is empty for a comment or what isn't one whole tag."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.name = ""
        self.closing = False
        self.attributes: dict[str, str] = {}
        self._tags = 0
        self.feed(text)
        if self._tags != 1:
            self.name = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._tags += 1
        self.name = tag
        for key, value in attrs:
            self.attributes.setdefault(key, value or "")  # the first counts (HTML Living Standard, 13.2.5.33)

    def handle_endtag(self, tag: str) -> None:
        self._tags += 1
        self.name, self.closing = tag, True

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)  # in HTML the slash says nothing


def _pieces(html: str, slots: Sequence[Piece]) -> Iterator[Piece]:
    """Finished HTML with the slots put back in place of their marks."""
    end = 0
    links: list[bool] = []
    for found in _TAGS.finditer(html):
        if found[2] != "a":
            continue
        yield from _values(html[end : found.start()], slots)
        end = found.end()
        if found[1]:
            yield "</a>" if links and links.pop() else ""
            continue
        link = _LINK.fullmatch(found[3])
        links.append(link is not None)
        yield slots[int(link[1])] if link else ""
    yield from _values(html[end:], slots)


def _values(html: str, slots: Sequence[Piece]) -> Iterator[Piece]:
    for number, part in enumerate(_MARKED.split(html)):
        yield slots[int(part)] if number % 2 else part
