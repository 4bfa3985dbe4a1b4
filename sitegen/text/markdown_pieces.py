"""What a Markdown text becomes: pieces of HTML with slots for what is known only later."""

from dataclasses import dataclass, field
from typing import TypeAlias

from sitegen.place import Place


@dataclass(frozen=True, slots=True)
class ValueSlot:
    """`{path}` in a text: a value is put in here, escaped with its quotes: it may be inside an attribute."""

    path: str
    place: Place = field(compare=False)


Words: TypeAlias = tuple[str | ValueSlot, ...]
"""Running text with values; its strings are escaped already where they stand inside `Body.html`."""


@dataclass(frozen=True, slots=True)
class ImageSlot:
    """A picture: `src` as written (percent signs undone); `alt` and `title` are plain text, not yet escaped.

    `block` is true where the picture stands alone, outside any `<p>`.
    """

    src: str
    alt: Words
    title: Words
    place: Place = field(compare=False)
    block: bool = False


@dataclass(frozen=True, slots=True)
class LinkSlot:
    """Stands for one whole opening tag `<a …>`; `</a>` follows later as text. `title` isn't escaped yet.

    `href` is http, https, mailto, one of the INTERNAL words (`review:fjellrinn`), or relative.
    """

    href: str
    title: Words
    place: Place = field(compare=False)


Piece: TypeAlias = str | ValueSlot | ImageSlot | LinkSlot


@dataclass(frozen=True, slots=True)
class Heading:
    """`text` is plain (a value stands in it as `{path}`), `words` the same with slots, not escaped."""

    level: int
    text: str
    id: str
    words: Words
    place: Place = field(compare=False)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """The source of one top-level block, for comparing editions."""

    text: str
    place: Place = field(compare=False)


@dataclass(frozen=True, slots=True)
class Body:
    """A text ready for pages: HTML in pieces (strings are finished HTML), headings, blocks."""

    html: tuple[Piece, ...]
    headings: tuple[Heading, ...]
    paragraphs: tuple[Paragraph, ...]
