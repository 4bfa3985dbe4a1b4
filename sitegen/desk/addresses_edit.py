"""The record of addresses with new entries, and everything else in the file as somebody wrote it.

Only lines whose entries change are changed, and new ones stand where the command's own order has them; comments and
blank lines stay where they are, also those beside an entry that goes.
"""

import re
from collections import Counter
from collections.abc import Mapping as Table
from typing import Any

from sitegen.editions.worksheets.edits import LineEdit, edited
from sitegen.problems import Problems
from sitegen.records.names.addresses import ADDRESSES_FILE, FORMER, Addresses, addresses_text, take_addresses
from sitegen.text.addresses import INTERNAL
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import Entry, Listing, Mapping, Node, Scalar, parse_yaml

# No kind, id, language or path holds this sign, so whatever follows it in a sound file is a comment (YAML 1.2, 6.6).
_COMMENT = re.compile(r"(?:^|(?<=[ \t]))#.*")
_STEP = "  "
Tree = dict[str, Any]  # kind → id → language (or `former`) → its paths


def record_edits(text: str, new: Addresses) -> tuple[LineEdit, ...]:
    """The edits that give a sound record `new` for its entries; none where it has them."""
    if _set(_read(text)) == _set(new):
        return ()
    node = parse_yaml(Source(ADDRESSES_FILE, text, ""), Problems())
    changed = _Lines(text)
    if isinstance(node, Mapping):
        changed.fit(node, _tree(new), changed.head(node), "")
    edits = changed.edits()
    after = edited(text, edits)
    if _set(_read(after)) == _set(new) and _comments(after) == _comments(text):
        return edits
    return (LineEdit(1, text.count("\n") + 1, tuple(_written_anew(text, new))),)


def _written_anew(text: str, new: Addresses) -> list[str]:
    """For files laid out in another way (several entries on a line, references): the comments first, then the entries."""
    lines = addresses_text(new).split("\n")
    return [*(comment for comment in _comments(text).elements() if comment not in lines), *lines]


def _read(text: str) -> Addresses:
    problems = Problems()
    node = parse_yaml(Source(ADDRESSES_FILE, text, ""), problems)
    found = take_addresses(node, problems) if node is not None else Addresses()
    return Addresses() if problems.has_errors else found


def _set(addresses: Addresses) -> set[tuple[str, str, str, str, bool]]:
    return {(e.kind, e.id, e.lang, e.path, e.former) for e in addresses.entries}


def _comments(text: str) -> Counter[str]:
    found = (_COMMENT.search(line) for line in text.split("\n"))
    return Counter(comment[0].rstrip() for comment in found if comment)


def _tree(addresses: Addresses) -> Tree:
    """The entries as they are nested in the file, in its fixed order."""
    tree: Tree = {}
    order = {kind: number for number, kind in enumerate(INTERNAL)}
    for entry in sorted(addresses.entries, key=lambda e: (order[e.kind], e.id, e.former, e.path)):
        paths = tree.setdefault(entry.kind, {}).setdefault(entry.id, {})
        paths.setdefault(FORMER if entry.former else entry.lang, []).append(entry.path)
    return tree


class _Lines:
    """The lines of a file under change. Places are those of the file as it was, so changes don't move one another."""

    def __init__(self, text: str) -> None:
        self._lines = text.split("\n")
        self._now: dict[int, list[str]] = {}  # what stands for a line
        self._behind: dict[int, list[str]] = {}  # what was put in behind it

    def edits(self) -> tuple[LineEdit, ...]:
        """All changes."""
        changed = (LineEdit(number, number, tuple(lines)) for number, lines in self._now.items())
        return (*changed, *(LineEdit(number + 1, number, tuple(lines)) for number, lines in self._behind.items()))

    def head(self, node: Mapping) -> int:
        """The line behind which a first kind is put: the last of the file, or the last of our own words on top of it."""
        ours = addresses_text(Addresses()).rstrip("\n").split("\n")
        if self._lines[: len(ours)] == ours:
            return len(ours)
        return max((number for number, line in enumerate(self._lines, 1) if line.strip()), default=0)

    def fit(self, node: Mapping, wanted: Table[str, Any], behind: int, indent: str) -> None:
        """Make the entries of a group the wanted ones; a first one that is new goes behind the line `behind`."""
        known = {entry.key.text: entry for entry in node.entries}
        for key, entry in known.items():
            if key in wanted:
                self._fit_entry(entry, wanted[key])
            else:
                self._take_out(entry.key.place.line, _last_line(entry.value))
        if node.entries:
            first = node.entries[0].key.place
            indent = self._lines[first.line - 1][: first.column - 1]
        for key, value in wanted.items():
            if key in known:
                behind = max(known[key].key.place.line, _last_line(known[key].value))
            else:
                self._put_in(behind, _written(key, value, indent))

    def _fit_entry(self, entry: Entry, wanted: Any) -> None:
        node, place = entry.value, entry.key.place
        if isinstance(wanted, list):
            self._fit_paths(node, wanted, place.line)
        elif isinstance(node, Mapping):
            self.fit(node, wanted, place.line, " " * (place.column - 1) + _STEP)

    def _fit_paths(self, node: Node, wanted: list[str], behind: int) -> None:
        known = [item for item in (node.items if isinstance(node, Listing) else (node,)) if isinstance(item, Scalar)]
        lines = {item.text: item.place.line for item in known}
        if set(lines) == set(wanted):
            return
        dash = self._lines[known[-1].place.line - 1][: known[-1].place.column - 1] if known else ""
        if not (isinstance(node, Listing) and dash.strip() == "-"):
            kept = [path for path in lines if path in wanted]
            self._replace(node, [*kept, *(path for path in wanted if path not in lines)])
            return
        for path, line in lines.items():
            if path not in wanted:
                self._take_out(line, line)
        for path in wanted:
            if path in lines:
                behind = lines[path]
            else:
                self._put_in(behind, [dash + path])

    def _replace(self, node: Node, paths: list[str]) -> None:
        """Another value on the same line; what stands behind it stays."""
        value = paths[0] if len(paths) == 1 else f"[{', '.join(paths)}]"
        place = node.place
        line, start = self._lines[place.line - 1], place.column - 1
        end = line.find("]", start) + 1 if isinstance(node, Listing) else start + place.width
        self._now[place.line] = [line[:start] + value + line[end:]]

    def _take_out(self, first: int, last: int) -> None:
        for number in range(first, max(first, last) + 1):
            line = self._lines[number - 1]
            comment = _COMMENT.search(line)
            indent = line[: len(line) - len(line.lstrip())]
            self._now[number] = [indent + comment[0]] if comment else [line] if not line.strip() else []

    def _put_in(self, behind: int, lines: list[str]) -> None:
        self._behind.setdefault(behind, []).extend(lines)


def _written(key: str, value: Any, indent: str) -> list[str]:
    """The lines of an entry that is new."""
    if isinstance(value, dict):
        return [f"{indent}{key}:", *(line for k, v in value.items() for line in _written(k, v, indent + _STEP))]
    if key == FORMER:
        return [f"{indent}{key}:", *(f"{indent}{_STEP}- {path}" for path in value)]
    return [f"{indent}{key}: {value[0]}"]


def _last_line(node: Node) -> int:
    if isinstance(node, Mapping):
        return max([node.place.line, *(max(e.key.place.line, _last_line(e.value)) for e in node.entries)])
    if isinstance(node, Listing):
        return max([node.place.line, *(_last_line(item) for item in node.items)])
    return node.place.line
