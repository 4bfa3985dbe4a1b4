"""Changes to single lines of a text file, so that everything between them stays as it was written."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher

import yaml

from sitegen.datatypes import dataclass

Path = tuple[str | int, ...]
_PLAIN = re.compile(r"[^\W_][^:#\[\]{},&*!|>'\"%@`\n]*", re.UNICODE)


@dataclass(frozen=True, slots=True)
class LineEdit:
    """Lines `first` to `last` (from 1) become `lines`; with `last` = `first` - 1 they are put in before `first`."""

    first: int
    last: int
    lines: tuple[str, ...]


def edited(text: str, edits: Iterable[LineEdit]) -> str:
    """A text whose lines end in line feeds, with its edits made."""
    lines = text.split("\n")
    for edit in sorted(edits, key=lambda e: (e.first, e.last), reverse=True):
        lines[edit.first - 1 : edit.last] = edit.lines
    return "\n".join(lines)


def line_edits(before: Sequence[str], after: Sequence[str], first: int = 1) -> tuple[LineEdit, ...]:
    """The edits that make one run of lines into another; `first` is the number of the run's first line."""
    steps = SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
    return tuple(LineEdit(first + a, first + b - 1, tuple(after[c:d])) for what, a, b, c, d in steps if what != "equal")


@dataclass(frozen=True, slots=True)
class Span:
    """Where a scalar stands in a YAML text: lines and columns from 0, the end behind its last character."""

    text: str
    style: str
    line: int
    column: int
    end_line: int
    end_column: int


def scalar_spans(text: str) -> dict[Path, Span]:
    """Every scalar of a YAML document by its path (`photos`, 0, `alt`). Raises yaml.YAMLError.

    Keys are among them, with the path of their mapping and `key:` before their text.
    """
    spans: dict[Path, Span] = {}
    events = iter(yaml.parse(text, Loader=yaml.SafeLoader))
    for event in events:
        if not isinstance(event, (yaml.StreamStartEvent, yaml.DocumentStartEvent)):
            _walk(event, events, (), spans)
            break
    return spans


def _walk(event: yaml.Event, events: Iterator[yaml.Event], path: Path, spans: dict[Path, Span]) -> None:
    if isinstance(event, yaml.ScalarEvent):
        start, end = event.start_mark, event.end_mark
        assert start is not None and end is not None, "a parser always knows where it is"
        spans[path] = Span(event.value, event.style or "", start.line, start.column, end.line, end.column)
    elif isinstance(event, yaml.SequenceStartEvent):
        number = 0
        while not isinstance(inner := next(events), yaml.SequenceEndEvent):
            _walk(inner, events, (*path, number), spans)
            number += 1
    elif isinstance(event, yaml.MappingStartEvent):
        while not isinstance(key := next(events), yaml.MappingEndEvent):
            name = key.value if isinstance(key, yaml.ScalarEvent) else "?"
            _walk(key, events, (*path, f"key:{name}"), spans)
            _walk(next(events), events, (*path, name), spans)


def _spans(text: str) -> dict[Path, Span]:
    """As `scalar_spans`, none where this parser refuses the text: the faster one by which texts are read takes some more
    (a tab behind a colon)."""
    try:
        return scalar_spans(text)
    except yaml.YAMLError:
        return {}


def path_of(key: str) -> Path:
    """The path of a part in its front matter.

    >>> path_of("photos.1.alt")
    ('photos', 0, 'alt')
    """
    return tuple(int(word) - 1 if word.isdigit() else word for word in key.split("."))


def scalar_edit(text: str, path: Path, value: str) -> LineEdit | None:
    """The edit that gives a scalar of a YAML text another value, in its own style where that can hold it.

    None where no way of writing leaves everything else as it reads now (aliases, odd layouts).
    """
    spans = _spans(text)
    span = spans.get(path)
    if span is None:
        return None
    lines = text.split("\n")
    wanted = {key: other.text for key, other in spans.items() if key != path}
    for edit in _ways(lines, span, value):
        if _reads(edited(text, [edit]), path, value, wanted):
            return edit
    return None


def _ways(lines: Sequence[str], span: Span, value: str) -> Iterator[LineEdit]:
    before = lines[span.line][: span.column]
    if span.style in ("|", ">"):
        end = span.end_line - 1 if span.end_column == 0 else min(span.end_line, len(lines) - 1)
        while end > span.line and not lines[end].strip():
            end -= 1
        first = next((line for line in lines[span.line + 1 : end + 1] if line.strip()), " " * 2)
        indent = first[: len(first) - len(first.lstrip(" "))]
        yield LineEdit(
            span.line + 1, end + 1, (lines[span.line], *(indent + line if line else "" for line in value.split("\n")))
        )
        yield LineEdit(span.line + 1, end + 1, (before + double_quoted(value),))
        return
    after = lines[span.end_line][span.end_column :]
    single = "'" + value.replace("'", "''") + "'"
    forms = {"": [value] if _PLAIN.fullmatch(value) else [], "'": [single] if "\n" not in value else []}.get(
        span.style, []
    )
    for form in (*forms, double_quoted(value)):
        yield LineEdit(span.line + 1, span.end_line + 1, (before + form + after,))


def double_quoted(value: str) -> str:
    """A text in double quotes: JSON's form is YAML's too (YAML 1.2, 7.3.1)."""
    return json.dumps(value, ensure_ascii=False)


def _reads(text: str, path: Path, value: str, others: Mapping[Path, str]) -> bool:
    spans = _spans(text)
    found = spans.pop(path, None)
    same = {key: span.text for key, span in spans.items()} == dict(others)
    return found is not None and found.text.strip(" \n") == value.strip(" \n") and same


def insertion(text: str, path: Path, value: str) -> LineEdit | None:
    """The edit that adds a text which the front matter hasn't got: a key of its own, or the next item of a list.

    None where it can't be added line by line: the list is written on one line, or belongs to something that isn't there.
    """
    spans = _spans(text)
    lines = text.split("\n")
    end = max((n for n, line in enumerate(lines, 1) if line.strip()), default=0)
    flow = any("{" in line.split(":")[0] for line in lines[:1])
    if not spans or flow or (len(path) > 1 and not isinstance(path[1], int)) or len(path) > 2:
        return None
    name = str(path[0])
    if len(path) == 1:
        edit = LineEdit(end + 1, end, (f"{name}: {double_quoted(value)}",))
    elif (name, 0) not in spans:
        edit = LineEdit(end + 1, end, (f"{name}:", f"  - {double_quoted(value)}"))
    else:
        last = spans[
            name, max(int(key[1]) for key in spans if len(key) == 2 and key[0] == name and isinstance(key[1], int))
        ]
        dash = lines[last.line][: last.column]
        if dash.strip() != "-":
            return None
        line = last.end_line + (0 if last.style in ("|", ">") and last.end_column == 0 else 1)
        edit = LineEdit(line + 1, line, (dash + double_quoted(value),))
    wanted = {key: span.text for key, span in spans.items()}
    wanted |= {} if len(path) == 1 and (f"key:{name}",) in spans else {(f"key:{name}",): name}
    return (
        edit
        if (f"key:{name}",) not in spans or (len(path) > 1 and _reads(edited(text, [edit]), path, value, wanted))
        else None
    )
