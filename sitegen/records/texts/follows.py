"""The small file beside a translation that says which paragraphs of the lead it follows: `en.follows.yaml`.

One line a paragraph: a mark of the lead's text, a mark of the translation's, and how the lead began. Only a
command writes it; a person may read it, and version control shows what a translation caught up with.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from pathlib import Path, PurePosixPath

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.text.source import read_source
from sitegen.text.yaml_nodes import Listing, Node, Scalar, parse_yaml
from sitegen.text.yaml_nodes import Mapping as MappingNode

ENDING = ".follows.yaml"
EXCERPT = 80  # characters of the lead that are kept, enough to see what was changed
_LINE = re.compile(r"([0-9a-f]{12}) ([0-9a-f]{12}) (.*)", re.DOTALL)
_FILES = re.compile(r"([0-9a-f]{64}) ([0-9a-f]{64})")
_HINT = "only the command writes this file: delete it and run  sitegen editions --record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """One paragraph as it stood when it was recorded: marks of the lead's text and of the translation's."""

    part: str
    lead: str
    own: str
    excerpt: str
    place: Place = field(compare=False, repr=False)

    @property
    def group(self) -> str:
        """What the paragraph is one of, as its key begins: `text`, `good`, `title` …"""
        return self.part.split(".", 1)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows:
    """What a translation follows. `files` are the digests of the lead's and the translation's file at a moment
    when nothing was behind; empty texts where there was no such moment.

    Front-matter texts come first, then the blocks of the text in their order then.
    """

    lead: str
    files: tuple[str, str]
    parts: tuple[Followed, ...]
    place: Place = field(compare=False, repr=False)


def follows_name(translation: str) -> str:
    """The file beside a translation.

    >>> follows_name("reviews/halde/en.md")
    'reviews/halde/en.follows.yaml'
    """
    return translation.removesuffix(".md") + ENDING


def read_follows(root: Path, names: Iterable[str], problems: Problems) -> dict[str, Follows]:
    """Every such file, by the name of its translation. One without its translation is a caution."""
    known = frozenset(names)
    found: dict[str, Follows] = {}
    for name in sorted(known):
        if not name.endswith(ENDING) or PurePosixPath(name).parts[0] not in ("reviews", "guides", "about"):
            continue
        translation = name.removesuffix(ENDING) + ".md"
        if translation not in known:
            message = f"this file belongs to {translation}, which isn't there"
            problems.caution("follows-alone", Place(name, 1, 1), message, "delete it, or bring the translation back")
            continue
        follows = read_one(root, name, problems)
        if follows is not None:
            found[translation] = follows
    return found


def read_one(root: Path, name: str, problems: Problems) -> Follows | None:
    """One file of this kind, None once its fault is reported."""
    source = read_source(root, name, problems)
    node = parse_yaml(source, problems) if source else None
    return take_follows(node, problems) if node is not None else None


def take_follows(node: Node, problems: Problems) -> Follows | None:
    """A file's nodes as a record, None once their fault is reported."""
    if not isinstance(node, MappingNode) or not isinstance(lead := node.get("lead"), Scalar):
        problems.error("follows-form", node.place, "expected the keys lead, files, head and text", _HINT)
        return None
    written = node.get("files")
    files = _FILES.fullmatch(written.text) if isinstance(written, Scalar) else None
    head, text = node.get("head") or MappingNode((), node.place), node.get("text") or Listing((), node.place)
    if not isinstance(head, MappingNode) or not isinstance(text, Listing):
        problems.error("follows-form", node.place, "expected keys below head and a list below text", _HINT)
        return None
    lines = [(e.key.text, e.value) for e in head.entries] + [
        (f"text.{n}", item) for n, item in enumerate(text.items, 1)
    ]
    parts = [_take_line(part, line, problems) for part, line in lines]
    sound = tuple(part for part in parts if part is not None)
    digests = (files[1], files[2]) if files else ("", "")
    return Follows(lead=lead.text, files=digests, parts=sound, place=node.place) if len(sound) == len(parts) else None


def _take_line(part: str, node: Node, problems: Problems) -> Followed | None:
    found = _LINE.fullmatch(node.text) if isinstance(node, Scalar) else None
    if found is None:
        what = quoted(node.text) if isinstance(node, Scalar) else "something else"
        message = f"expected two marks of twelve characters and the first words, found {what}"
        problems.error("follows-form", node.place, message, _HINT)
        return None
    return Followed(part=part, lead=found[1], own=found[2], excerpt=found[3], place=node.place)


def follows_text(lead: str, files: tuple[str, str], lines: Mapping[str, tuple[str, str, str]]) -> str:
    """The file's text from (lead mark, own mark, excerpt) by part, in the order of the text."""
    head = [f"  {part}: {_line(line)}" for part, line in lines.items() if not part.startswith("text.")]
    text = [f"  - {_line(line)}" for part, line in lines.items() if part.startswith("text.")]
    files_line = [f"files: {' '.join(files)}"] if all(files) else []
    return "\n".join([
        "# Which paragraphs of the lead this translation follows, one a line: a mark of the lead's text, a mark of the",
        "# translation's, and how the lead began. Written by  sitegen editions --record",
        f"lead: {lead}", *files_line, *(["head:", *head] if head else []), *(["text:", *text] if text else []), "",
    ])  # fmt: skip


def _line(line: tuple[str, str, str]) -> str:
    """A line in double quotes: JSON's form of a text is YAML's too (YAML 1.2, 7.3.1)."""
    return json.dumps(" ".join(line), ensure_ascii=False)
