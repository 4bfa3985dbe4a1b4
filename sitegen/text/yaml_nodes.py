"""YAML as nodes that keep their text and their place; nothing is turned into a value here."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import field
from typing import Any, TypeAlias

import yaml

from sitegen.datatypes import dataclass
from sitegen.place import Place, quick_place
from sitegen.problems import Problems, quoted
from sitegen.text.source import Source, control_character, without_control_characters


class _PureParser(yaml.reader.Reader, yaml.scanner.Scanner, yaml.parser.Parser):
    """PyYAML's own parser, made as its loaders make it."""

    def __init__(self, text: str) -> None:
        yaml.reader.Reader.__init__(self, text)
        yaml.scanner.Scanner.__init__(self)
        yaml.parser.Parser.__init__(self)


# libyaml is several times faster where PyYAML was built with it; both give the same events
_Parser: Any = getattr(yaml.cyaml, "CParser", _PureParser) if yaml.__with_libyaml__ else _PureParser

DEEPEST = 60  # levels of nesting, aliases followed; the deepest honest file has 7, and readers recurse
TOO_DEEP = (
    f"expected at most {DEEPEST} levels of lists and keys inside one another, found more",
    "look for a bracket or an indentation that was repeated by mistake",
)
MOST_WRITTEN = 500_000  # texts, lists and groups of one document; a ledger of ten thousand samples has 400,000
MOST_FAULTS = 20  # of one kind in one file: a file made by a script has the same one on every line
MOST_NODES = 200_000  # of one document with its aliases followed: nine aliases can stand for a billion texts


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text exactly as written: 412.0, no, 12:30 stay what they are.

    `quoted` is true for texts in quotes and for those after | and >.
    """

    text: str
    place: Place = field(compare=False)
    quoted: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """An ordered list of nodes."""

    items: "tuple[Node, ...]"
    place: Place = field(compare=False)


@dataclass(frozen=True, slots=True)
class Entry:
    """One key of a mapping with its value."""

    key: Scalar
    value: "Node"


@dataclass(frozen=True, slots=True)
class Mapping:
    """Entries in the order they were written; no key comes twice."""

    entries: tuple[Entry, ...]
    place: Place = field(compare=False)

    def get(self, key: str) -> "Node | None":
        """The value of `key`, None where there is none."""
        for entry in self.entries:
            if entry.key.text == key:
                return entry.value
        return None

    def keys(self) -> tuple[str, ...]:
        """The keys in the order they were written."""
        return tuple(entry.key.text for entry in self.entries)


Node: TypeAlias = Scalar | Listing | Mapping


def parse_yaml(source: Source, problems: Problems, first_line: int = 1, text: str | None = None) -> Node | None:
    """The one document of a source as nodes; None after a syntax error was noted. Never raises.

    `text` is a slice of the source that begins on its line `first_line` (front matter). An empty document is
    an empty Mapping. Aliases stand for the node they name, within MOST_NODES and DEEPEST; tags, merge keys
    and keys that are no plain text are refused, as is a key given twice. YAML 1.2, 3.2.1 (representation)
    says what a document is; nothing is resolved (10.1, failsafe schema).
    """
    # YAML 1.1, which libyaml follows, ends lines here too; places count lines as an editor does.
    content = (source.text if text is None else text).translate(_OTHER_LINE_ENDS)
    builder = _Builder(source.name, content, first_line, problems)
    try:
        return builder.build()
    except yaml.YAMLError as fault:
        from sitegen.text.yaml_faults import report_fault  # a millisecond to load, and most files have no fault

        report_fault(fault, source.name, builder.lines, first_line, problems)
    except _Refused:
        pass
    return None


_COMMENT = re.compile(r"[ \t]+(#\w.*)")  # with a blank behind # somebody meant a comment
_SURROGATES = dict.fromkeys(range(0xD800, 0xE000), "\ufffd")  # no parser takes them
_OTHER_LINE_ENDS = {0x85: " ", 0x2028: " ", 0x2029: " ", 0xD: " "} | _SURROGATES


class _Refused(Exception):
    """Stops the reading after its problem was noted."""


@dataclass(slots=True)
class _Open:
    """A collection whose end has not come yet."""

    is_mapping: bool
    place: Place
    anchor: str | None
    nodes_before: int
    items: list[Node]
    height: int = 1


class _Builder:
    """One document under construction, from the stream of events: depth costs no stack."""

    def __init__(self, name: str, content: str, first_line: int, problems: Problems) -> None:
        self.lines = content.split("\n")
        self._name = name
        self._content = content
        self._first = first_line
        self._problems = problems
        self._anchors: dict[str, tuple[Node, int, int]] = {}  # node, nodes in it, height
        self._texts: dict[
            str, str
        ] = {}  # each once: thousands of samples are `bought`, and hold that for a whole build
        self._nodes = 0
        self._told: Counter[str] = Counter()
        self._open: list[_Open] = []
        self._root: Node | None = None

    def build(self) -> Node:
        parser: Any = _Parser(self._content)
        try:
            return self._build(parser.get_event)
        finally:
            parser.dispose()

    def _build(self, next_event: Callable[[], Any]) -> Node:
        take_scalar = self._take_scalar
        while (event := next_event()) is not None:
            kind = type(event)
            if kind is yaml.ScalarEvent:
                take_scalar(event)
            elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                self._begin(event, kind is yaml.MappingStartEvent)
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                self._end()
            elif kind is yaml.AliasEvent:
                self._take_alias(event)
            elif kind is yaml.DocumentStartEvent and self._root is not None:
                self._refuse(
                    "yaml-documents",
                    self._place(event.start_mark, 3),
                    "expected one document in a file, found a second one after '---'",
                    "put it in a file of its own, or delete the line '---'",
                )
        root = self._root
        if root is None or (isinstance(root, Scalar) and not root.text and not root.quoted):
            return Mapping((), Place(self._name, self._first, 1))
        return root

    def _place(self, mark: Any, width: int = 1) -> Place:
        return Place(self._name, self._first + mark.line, mark.column + 1, width)

    def _tell(self, code: str, place: Place, message: str, hint: str) -> None:
        """Note a fault after which the reading goes on; of very many of one kind only the first."""
        self._told[code] += 1
        if self._told[code] == MOST_FAULTS:
            message += "; further ones like it are not listed"
        if self._told[code] <= MOST_FAULTS:
            self._problems.error(code, place, message, hint)

    def _refuse(self, code: str, place: Place, message: str, hint: str) -> None:
        self._problems.error(code, place, message, hint)
        raise _Refused

    def _refuse_size(self, place: Place) -> None:
        self._refuse(
            "yaml-size",
            place,
            f"expected at most {MOST_WRITTEN:,} values in a file, found more",
            "split the file, or look for what was repeated by mistake",
        )

    def _take_scalar(self, event: Any) -> None:
        start, end, style = event.start_mark, event.end_mark, event.style
        line, column = start.line, start.column
        if not event.value and not style:
            line, column, width = self._where_nothing_is(line, column)
        elif style == "|" or style == ">":
            width = 1
        elif line == end.line:
            width = end.column - column or 1
        else:
            width = max(1, len(self.lines[line].rstrip()) - column)
        place = quick_place(self._name, self._first + line, column + 1, width)
        text = self._texts.setdefault(event.value, event.value)
        if style == '"' and control_character(text):
            text = self._without_escaped_controls(text, event)
        elif not style and line == end.line and "#" in self.lines[line]:
            self._look_for_comment(text, end)
        node = _quick_scalar(text, place, bool(style))
        if event.tag is not None:
            self._report_tag(event)
        self._nodes += 1
        if self._nodes > MOST_WRITTEN:
            self._refuse_size(place)
        if event.anchor is not None:
            self._anchors[event.anchor] = (node, 1, 0)
        if self._open:
            self._open[-1].items.append(node)
        else:
            self._root = node

    def _without_escaped_controls(self, text: str, event: Any) -> str:
        """Report an escape such as \\0, by which a text comes to hold what no text file may; the text without."""
        from sitegen.text.yaml_faults import control_escape

        (line, column), written = control_escape(self.lines, event.start_mark, event.end_mark)
        self._tell(
            "control-character",
            Place(self._name, self._first + line, column + 1, max(1, len(written))),
            f"expected text, found the invisible control character {control_character(text)}, written {quoted(written)}",
            "delete it; to show a backslash, double it or write the text in single quotes",
        )
        return without_control_characters(text)

    def _look_for_comment(self, text: str, end: Any) -> None:
        """Caution where a text goes on with ` #1`, which YAML takes for a comment."""
        found = _COMMENT.match(self.lines[end.line], end.column)
        if found is not None and text:
            place = Place(self._name, self._first + end.line, found.start(1) + 1, len(found[1]))
            message = f"the text ends with {quoted(text)}: what follows # is read as a comment"
            hint = "put the whole text into quotation marks, or write a blank after the # of a comment"
            self._problems.caution("yaml-comment", place, message, hint)

    def _where_nothing_is(self, line: int, column: int) -> tuple[int, int, int]:
        """Line, column and width of an empty value: behind its key, not where the parser stopped."""
        if line == len(self.lines):  # the parser adds an end to a last line without one
            line, column = line - 1, len(self.lines[-1].rstrip())
        while line > 0 and not self.lines[line][:column].strip():
            line -= 1
            column = len(self.lines[line].rstrip())
        return line, min(column, len(self.lines[line])), 1

    def _begin(self, event: Any, is_mapping: bool) -> None:
        if event.tag is not None:
            self._report_tag(event)
        place = self._place(event.start_mark)
        if len(self._open) >= DEEPEST:
            self._refuse(
                "yaml-depth",
                place,
                *TOO_DEEP,
            )
        self._nodes += 1
        if self._nodes > MOST_WRITTEN:
            self._refuse_size(place)
        self._open.append(_Open(is_mapping, place, event.anchor, self._nodes - 1, []))

    def _end(self) -> None:
        done = self._open.pop()
        node: Node
        if done.is_mapping:
            node = Mapping(self._entries(done.items), done.place)
        else:
            node = Listing(tuple(done.items), done.place)
        if done.anchor is not None:
            self._anchors[done.anchor] = (node, self._nodes - done.nodes_before, done.height)
        self._attach(node, done.height)

    def _attach(self, node: Node, height: int) -> None:
        if self._open:
            above = self._open[-1]
            above.items.append(node)
            above.height = max(above.height, height + 1)
        else:
            self._root = node

    def _entries(self, items: list[Node]) -> tuple[Entry, ...]:
        seen: dict[str, Entry] = {}
        for key, value in zip(items[::2], items[1::2], strict=True):
            if not isinstance(key, Scalar):
                self._report_key(key)
            elif key.text in seen:
                first = seen[key.text].key.place
                self._tell(
                    "yaml-twice",
                    key.place,
                    f"{quoted(key.text)} is given twice; the first stands at {first}",
                    "keep one of the two",
                )
            elif key.text == "<<" and not key.quoted:
                self._tell(
                    "yaml-merge",
                    key.place,
                    "expected a key, found '<<'; keys of another place can't be merged in",
                    "write the keys out here",
                )
            else:
                seen[key.text] = Entry(key, value)
        return tuple(seen.values())

    def _take_alias(self, event: Any) -> None:
        name = event.anchor
        place = self._place(event.start_mark, event.end_mark.column - event.start_mark.column)
        if name not in self._anchors:
            self._refuse(
                "yaml-alias",
                place,
                f"{quoted('*' + name)} stands for a text marked '&{name}' further up, but there is none",
                f'if it is meant as a text, put it in quotes: "*{name}"',
            )
        node, nodes, height = self._anchors[name]
        self._nodes += nodes
        if self._nodes > MOST_NODES:
            self._refuse(
                "yaml-size",
                place,
                f"with all '*' references followed this file has more than {MOST_NODES:,} values",
                "write out what is needed instead of referring to it",
            )
        if len(self._open) + height > DEEPEST:
            self._refuse(
                "yaml-depth",
                place,
                f"with this reference followed there are more than {DEEPEST} levels inside one another",
                "write out what is needed instead of referring to it",
            )
        self._attach(node, height)

    def _report_tag(self, event: Any) -> None:
        written = self.lines[event.start_mark.line][event.start_mark.column :]
        tag = next((word for word in written.split() if word.startswith("!")), "!")
        self._tell(
            "yaml-tag",
            self._place(event.start_mark, len(tag)),
            f"expected a text, a list or keys, found the tag {quoted(tag)}",
            "delete it; if the text begins with '!', put it in quotes",
        )

    def _report_key(self, key: Listing | Mapping) -> None:
        kind = "a list" if isinstance(key, Listing) else "keys in braces"
        self._tell(
            "yaml-key",
            key.place,
            f"expected a word as key, found {kind}",
            "put a word before the colon; a text with brackets or braces needs quotes",
        )


# For the same reason as quick_place.
_new: Any = object.__new__
_set_text, _set_place, _set_quoted = (Scalar.__dict__[name].__set__ for name in ("text", "place", "quoted"))


def _quick_scalar(text: str, place: Place, quoted_: bool) -> Scalar:
    scalar: Scalar = _new(Scalar)
    _set_text(scalar, text)
    _set_place(scalar, place)
    _set_quoted(scalar, quoted_)
    return scalar
