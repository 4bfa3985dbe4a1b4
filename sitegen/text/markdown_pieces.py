"""What a Markdown text becomes: pieces of HTML with slots for what is known only later."""

import pickle
from dataclasses import field
from typing import Any, TypeAlias, cast

from sitegen.datatypes import dataclass
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


class Body:
    """A text ready for pages: HTML in pieces (strings are finished HTML), headings, blocks.

    A body that was kept is taken apart again only when somebody looks into it: most builds look into few. What it
    names (pictures and links) is known without that.
    """

    __slots__ = ("_kept", "_parts", "named")

    def __init__(
        self, html: tuple[Piece, ...], headings: tuple[Heading, ...], paragraphs: tuple[Paragraph, ...]
    ) -> None:
        self._parts: _Parts | None = (html, headings, paragraphs)
        self._kept = b""
        self.named = tuple(piece for piece in html if isinstance(piece, (ImageSlot, LinkSlot)))

    @property
    def html(self) -> tuple[Piece, ...]:
        """The text as finished HTML with slots between."""
        return self._all()[0]

    @property
    def headings(self) -> tuple[Heading, ...]:
        """All headings, in order."""
        return self._all()[1]

    @property
    def paragraphs(self) -> tuple[Paragraph, ...]:
        """The source of each top-level block, in order."""
        return self._all()[2]

    def _all(self) -> "_Parts":
        if self._parts is None:
            self._parts = cast(_Parts, pickle.loads(self._kept))
        return self._parts

    def __eq__(self, other: object) -> bool:
        return self._all() == other._all() if isinstance(other, Body) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._all())

    def __reduce__(self) -> tuple[Any, ...]:
        return _kept_body, (self._kept or pickle.dumps(self._parts, 5), self.named)


_Parts: TypeAlias = tuple[tuple[Piece, ...], tuple[Heading, ...], tuple[Paragraph, ...]]


def _kept_body(kept: bytes, named: tuple[ImageSlot | LinkSlot, ...]) -> Body:
    body = Body.__new__(Body)
    body._parts, body._kept, body.named = None, kept, named
    return body
