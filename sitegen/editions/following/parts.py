"""The parts of a text that are compared and translated: each front-matter text and each top-level block."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import field
from functools import lru_cache
from hashlib import blake2b
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.records.texts.follows import EXCERPT
from sitegen.text.front_matter import FrontMatter
from sitegen.text.markdown_grammar import markdown_parser
from sitegen.text.value_grammar import WRITTEN
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar

if TYPE_CHECKING:  # records of whole texts are slow to import, and the command does without them
    from sitegen.records.texts.texts import Text

TEXT = "text"
SINGLE = ("title", "summary", "suits")
LISTS = ("good", "less_good")
GROUPED = {"photos": ("alt", "caption"), "corrections": ("text",)}
HEAD_KEYS = ("title", "summary", "photos", "good", "less_good", "suits", "corrections")

_BLANKS = re.compile(r"[ \t\r\n]+")  # a no-break space is the author's
_HEADING = re.compile(r" {0,3}(#{1,6})(?:[ \t]|$)")
_LIST = re.compile(r" {0,3}(?:[-+*]|\d{1,9}[.)])(?:[ \t]|$)")
_RULE = re.compile(r" {0,3}([-_*])[ \t]*(?:\1[ \t]*){2,}")
_SETEXT = re.compile(r" {0,3}(=+|-+)[ \t]*")
_TABLE = re.compile(r" {0,3}\|?[ \t]*:?-+:?[ \t]*(\|[ \t]*:?-+:?[ \t]*)*\|?[ \t]*")
_PICTURE = re.compile(r"!\[[^\]]*\]\([^)]*\)(?:\s*!\[[^\]]*\]\([^)]*\))*")
_ANCHOR = re.compile(WRITTEN + r"|\]\(\s*<?([^\s)>]+)")


@dataclass(frozen=True, slots=True)
class Part:
    """One text: `key` is its place in the file (`title`, `good.2`, `photos.1.alt`, `text.7`, from 1)."""

    key: str
    text: str
    place: Place = field(compare=False)

    @property
    def group(self) -> str:
        """What it is one of: `text`, `good`, `title` …"""
        return self.key.split(".", 1)[0]

    @property
    def mark(self) -> str:
        """Its fingerprint."""
        return mark(self.text)

    @property
    def excerpt(self) -> str:
        """How it begins, on one line."""
        return tidy(self.text)[:EXCERPT]

    @property
    def kind(self) -> str:
        """What kind of block or text it is, for a person."""
        return kind_of(self.text) if self.group == TEXT else self.group.replace("_", " ")


def tidy(text: str) -> str:
    """A text without what doesn't change it: line breaks within a paragraph, blanks at its ends, composed letters."""
    return unicodedata.normalize("NFC", _BLANKS.sub(" ", text)).strip(" ")


@lru_cache(maxsize=1 << 11)  # each text is asked for several times while it is compared
def mark(text: str) -> str:
    """A fingerprint of twelve characters (BLAKE2b, RFC 7693, of the tidied text in UTF-8).

    >>> mark("two words") == mark(" two\\nwords")
    True
    """
    return blake2b(tidy(text).encode("utf-8", "replace"), digest_size=6).hexdigest()


def kind_of(block: str) -> str:
    """The kind of a top-level Markdown block, by how it begins (CommonMark 0.31, 4 and 5)."""
    first, *rest = block.split("\n")
    heading = _HEADING.match(first)
    if heading:
        return f"heading {len(heading[1])}"
    if _RULE.fullmatch(first):
        return "rule"
    if first.lstrip().startswith(("```", "~~~")) or first.startswith(("    ", "\t")):
        return "code"
    if first.lstrip().startswith(">"):
        return "quotation"
    if _LIST.match(first):
        return "list"
    if rest and "|" in first and _TABLE.fullmatch(rest[0]):
        return "table"
    if rest and (under := _SETEXT.fullmatch(rest[-1])):
        return "heading 1" if under[1][0] == "=" else "heading 2"
    return "picture" if _PICTURE.fullmatch(block.strip()) else "paragraph"


def anchors(text: str) -> tuple[str, ...]:
    """What a translation keeps: the values and the addresses in a text, in a fixed order."""
    return tuple(sorted(found[1] or tidy(found[0]) for found in _ANCHOR.finditer(text)))


def parts_of(text: "Text") -> tuple[Part, ...]:
    """The parts of a text that was read as a record."""
    from sitegen.records.texts.texts import ReviewHead

    head = text.head
    prose = [("title", head.title), ("summary", head.summary)]
    for number, photo in enumerate(head.photos, 1):
        prose += [(f"photos.{number}.alt", photo.alt), (f"photos.{number}.caption", photo.caption)]
    if isinstance(head, ReviewHead):
        prose += [(f"good.{n}", item) for n, item in enumerate(head.good, 1)]
        prose += [(f"less_good.{n}", item) for n, item in enumerate(head.less_good, 1)]
        prose += [("suits", head.suits)]
        prose += [(f"corrections.{n}.text", note.text) for n, note in enumerate(head.corrections, 1)]
    blocks = (Part(f"{TEXT}.{n}", block.text, block.place) for n, block in enumerate(text.body.paragraphs, 1))
    return (*(Part(key, words.text, words.place) for key, words in prose if words), *blocks)


def parts_of_file(front: FrontMatter, name: str) -> tuple[Part, ...]:
    """The parts of a text file, without judging what else is in it; the same as `parts_of` gives."""
    head = tuple(_head_parts(front.data))
    blocks = tuple(blocks_of(front.body, front.body_line, name))
    return (*head, *(Part(f"{TEXT}.{n}", text, place) for n, (text, place) in enumerate(blocks, 1)))


def _head_parts(data: Mapping) -> Iterator[Part]:
    for key in HEAD_KEYS:
        node = data.get(key)
        if key in SINGLE:
            yield from _part(key, node)
        elif isinstance(node, Listing) and key in LISTS:
            for number, item in enumerate(node.items, 1):
                yield from _part(f"{key}.{number}", item)
        elif isinstance(node, Listing):
            for number, item in enumerate(node.items, 1):
                for field_name in GROUPED[key]:
                    yield from _part(
                        f"{key}.{number}.{field_name}", item.get(field_name) if isinstance(item, Mapping) else None
                    )


def _part(key: str, node: Node | None) -> Iterator[Part]:
    if isinstance(node, Scalar) and (text := node.text.strip(" \t\r\n")):
        yield Part(key, text if key != "title" else _BLANKS.sub(" ", text), node.place)


def blocks_of(body: str, first_line: int, name: str) -> Iterator[tuple[str, Place]]:
    """The top-level blocks of a Markdown text with their places; running text isn't read, which is quick."""
    lines = body.split("\n")
    parser = markdown_parser()
    tokens: list[object] = []
    parser.block.parse(body, parser, {}, tokens)  # type: ignore[arg-type]
    for token in tokens:
        if token.level == 0 and token.nesting >= 0 and token.map is not None:  # type: ignore[attr-defined]
            start, end = token.map  # type: ignore[attr-defined]
            text = "\n".join(lines[start:end]).strip("\n")
            yield text, Place(name, first_line + start, 1, max(1, len(lines[start])))


def in_group(parts: Sequence[Part], group: str) -> tuple[Part, ...]:
    """The parts of one group, in their order."""
    return tuple(part for part in parts if part.group == group)
