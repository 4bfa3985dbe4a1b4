"""XML read into a small tree that keeps its lines; documents with a DOCTYPE are refused, so no entity is ever expanded."""

from collections.abc import Iterator
from dataclasses import field
from xml.parsers import expat

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems

DEEPEST = 60
MOST_PARTS = 400_000  # elements and attributes, some 500 bytes each; the worksheet of a thick book has half of that
LONGEST_NAME = 1_000  # characters: each element holds its namespace, so that a long one is multiplied by their number
_BETWEEN = "\x1f"  # parts a namespace from a name; no XML 1.0 document can hold it


@dataclass(slots=True)
class Element:
    """An element: its name as `{namespace}name`, its attributes likewise, its line, and what is in it in order."""

    name: str
    attributes: dict[str, str]
    line: int
    content: "list[Element | str]" = field(default_factory=list)

    def children(self, name: str) -> "Iterator[Element]":
        """The elements of a name directly inside."""
        return (child for child in self.content if isinstance(child, Element) and child.name == name)

    def child(self, name: str) -> "Element | None":
        """The first element of a name directly inside."""
        return next(self.children(name), None)

    def descendants(self, name: str) -> "Iterator[Element]":
        """The elements of a name anywhere inside, in document order."""
        for child in self.content:
            if isinstance(child, Element):
                if child.name == name:
                    yield child
                yield from child.descendants(name)

    @property
    def text(self) -> str:
        """All text inside."""
        return "".join(child if isinstance(child, str) else child.text for child in self.content)


class _Refused(Exception):
    """Stops the reading; what is wrong is its argument."""


def read_xml(data: bytes, name: str, problems: Problems) -> Element | None:
    """The root of a document, None once its fault is reported. Never raises, whatever the bytes."""
    parser = expat.ParserCreate(namespace_separator=_BETWEEN)
    parser.buffer_text = True
    names: dict[str, str] = {}  # each once in memory, whatever the number of elements
    parts = 0
    root = Element("", {}, 1)
    open_elements = [root]

    def full(name: str) -> str:
        return names.setdefault(name, _full(name))

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal parts
        parts += 1 + len(attributes)
        if parts > MOST_PARTS:
            raise _Refused(f"it has more than {MOST_PARTS:,} elements and attributes")
        if len(open_elements) > DEEPEST:
            raise _Refused(f"elements stand inside one another more than {DEEPEST} times")
        element = Element(full(tag), {full(key): value for key, value in attributes.items()}, parser.CurrentLineNumber)
        open_elements[-1].content.append(element)
        open_elements.append(element)

    def namespace(_: str | None, uri: str | None) -> None:
        if uri and len(uri) > LONGEST_NAME:
            raise _Refused(f"the name of a namespace has more than {LONGEST_NAME:,} characters")

    def doctype(*_: object) -> None:
        raise _Refused("it has a DOCTYPE, which no worksheet needs")

    parser.StartElementHandler = start
    parser.EndElementHandler = lambda _: open_elements.pop()
    parser.CharacterDataHandler = lambda text: open_elements[-1].content.append(text)
    parser.StartNamespaceDeclHandler = namespace
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(data, True)
    except (_Refused, expat.ExpatError, LookupError, ValueError) as fault:
        told = expat.errors.messages.get(fault.code, str(fault)) if isinstance(fault, expat.ExpatError) else str(fault)
        problems.error(
            "worksheet-form",
            Place(name, max(1, parser.CurrentLineNumber), 1),
            f"this is no sound XML: {told}",
            "export it anew",
        )
        return None
    return next(child for child in root.content if isinstance(child, Element))


def _full(name: str) -> str:
    space, between, local = name.rpartition(_BETWEEN)
    return f"{{{space}}}{local}" if between else name
