"""What a Markdown text becomes: pieces of HTML with slots for what is known only later."""

from collections.abc import Callable
from dataclasses import field
from typing import Any, TypeAlias

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


@dataclass(frozen=True, slots=True)
class Placement:
    """A chart, a table or photos where the author puts them: a line that holds only `{chart: spray}`.

    `kind` is one of PLACED, `subject` what is shown: a measure, with ` of PRODUCT` and ` in ROUND` as in a value.
    """

    kind: str
    subject: str
    place: Place = field(compare=False)


Piece: TypeAlias = str | ValueSlot | ImageSlot | LinkSlot | Placement


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

    A body that was kept is loaded when somebody looks into it: most builds look into few. What it names (pictures and
    links) is known without that.
    """

    __slots__ = ("_load", "_parts", "named")

    def __init__(
        self, html: tuple[Piece, ...], headings: tuple[Heading, ...], paragraphs: tuple[Paragraph, ...]
    ) -> None:
        self._parts: Parts | None = (html, headings, paragraphs)
        self._load: Callable[[], Parts] | None = None
        self.named = tuple(piece for piece in html if isinstance(piece, (ImageSlot, LinkSlot)))

    @property
    def html(self) -> tuple[Piece, ...]:
        """The text as finished HTML with slots between."""
        return self.parts()[0]

    @property
    def headings(self) -> tuple[Heading, ...]:
        """All headings, in order."""
        return self.parts()[1]

    @property
    def paragraphs(self) -> tuple[Paragraph, ...]:
        """The source of each top-level block, in order."""
        return self.parts()[2]

    def parts(self) -> "Parts":
        """HTML, headings and blocks. Raises LookupError where only what the body names is at hand."""
        if self._parts is None:
            if self._load is None:
                raise LookupError("the body of this text is not at hand")
            self._parts = self._load()
        return self._parts

    def naming(self, load: "Callable[[], Parts] | None" = None) -> "Body":
        """What the body names, without the rest, or with what loads it."""
        return _naming(self.named, load)

    def __eq__(self, other: object) -> bool:
        return self.parts() == other.parts() if isinstance(other, Body) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.parts())

    def __reduce__(self) -> tuple[Any, ...]:
        if self._parts is None and self._load is None:
            return _naming, (self.named, None)
        return Body, self.parts()


Parts: TypeAlias = tuple[tuple[Piece, ...], tuple[Heading, ...], tuple[Paragraph, ...]]


def _naming(named: tuple[ImageSlot | LinkSlot, ...], load: Callable[[], Parts] | None) -> Body:
    body = Body.__new__(Body)
    body._parts, body._load, body.named = None, load, named
    return body
