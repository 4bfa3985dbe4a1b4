"""What a YAML parser objects to, in an author's words."""

import re
from typing import Any

import yaml

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.text.source import control_character
from sitegen.text.yaml_nodes import TOO_DEEP

_KEY = re.compile(r"^(?P<lead>\s*(?:- +)*)(?P<key>[^\s:'\"\[\]{},#][^:'\"\[\]{},#]*):(?P<rest> .*)?$")
_GLUED = re.compile(r"(\s*[\w-]+):([^\s/].*)")  # a key without the blank; an address such as https:// is none
_TAB_INDENT = re.compile(r"^ *\t")
_SHOWN_IN_HINT = 50
_ESCAPE = re.compile(r"\\(?:x(..)|u(.{4})|U(.{8})|(.))")
_SHORT_CONTROLS = frozenset("0abvfreNLP")  # of the escapes of one letter those for control characters (YAML 1.2.2, 5.7)


@dataclass(frozen=True, slots=True)
class _Fault:
    """A parser's complaint with its two marks as (line, column) from 0 within the slice."""

    context: str
    context_at: tuple[int, int]
    problem: str
    at: tuple[int, int]
    lines: list[str]

    def line(self, at: tuple[int, int]) -> str:
        return self.lines[at[0]] if at[0] < len(self.lines) else ""


@dataclass(frozen=True, slots=True)
class _Said:
    """What the author is told, and where it points."""

    at: tuple[int, int]
    message: str
    hint: str
    width: int = 1
    code: str = "yaml-syntax"
    also: int | None = None  # a second line that the message ends with, from 0 within the slice


def control_escape(lines: list[str], start: Any, end: Any) -> tuple[tuple[int, int], str]:
    """Line and column, from 0, of the first escape between two marks that stands for a control character; and the escape."""
    for number in range(start.line, end.line + 1):
        for found in _ESCAPE.finditer(lines[number], start.column if number == start.line else 0):
            digits = found[1] or found[2] or found[3]
            if found[4] in _SHORT_CONTROLS or (digits and control_character(chr(int(digits, 16)))):
                return (number, found.start()), found[0]
    return (start.line, start.column), ""  # never: such a character comes by an escape alone


def report_fault(fault: yaml.YAMLError, name: str, lines: list[str], first_line: int, problems: Problems) -> None:
    """Note the syntax error of `lines`, the first of which is line `first_line` of the file `name`."""
    said = _explain(fault, lines)
    line, column = said.at
    line = min(line, len(lines) - 1)
    while line > 0 and said.at[0] != line and not lines[line].strip():  # the end of the file is no place to look at
        line -= 1
    column = min(column, len(lines[line]))
    message = said.message
    if said.also is not None:
        message = f"{message} {first_line + said.also}"
    problems.error(said.code, Place(name, first_line + line, column + 1, said.width), message, said.hint)


def _explain(fault: yaml.YAMLError, lines: list[str]) -> _Said:
    if not isinstance(fault, yaml.MarkedYAMLError) or fault.problem_mark is None:
        return _explain_character(lines)
    mark, context = fault.problem_mark, fault.context_mark or fault.problem_mark
    known = _Fault(
        fault.context or "",
        (context.line, context.column),
        fault.problem or "",
        (mark.line, mark.column),
        lines,
    )
    tab = _tab(known)
    if tab is not None:
        return tab
    for part, explain in _EXPLANATIONS:
        if part in known.problem or part in known.context:
            said = explain(known)
            if said is not None:
                return said
    return _Said(known.at, "expected 'key: value' or '- item' here", "compare this line with the one above it")


def _explain_character(lines: list[str]) -> _Said:
    """The reader's own complaint is about a character that may not stand in YAML at all."""
    # libyaml counts bytes, the pure parser characters: look for it instead
    strange = (
        (line, column)
        for line, text in enumerate(lines)
        for column, sign in enumerate(text)
        if sign != "\t" and not sign.isprintable() and (sign < "\xa0" or sign >= "\ufeff")
    )
    return _Said(next(strange, (0, 0)), "found a character that can't stand in a YAML file", "delete it")


def _tab(fault: _Fault) -> _Said | None:
    for number in (fault.at[0], fault.context_at[0]):
        text = fault.line((number, 0))
        found = _TAB_INDENT.match(text)
        if found:
            at = (number, found.end() - 1)
            return _Said(
                at,
                "expected blanks at the start of the line, found a tab",
                "indent with two blanks",
                code="yaml-tab",
            )
    return None


def _second_colon(fault: _Fault) -> _Said | None:
    """`key: text: more`, or a key that is indented deeper than the line above allows."""
    text = fault.line(fault.at)
    found = _KEY.match(text)
    before = text[: fault.at[1]]
    colon = re.search(r":\s", before)
    if colon and found:
        value = (found["rest"] or "").strip()
        return _Said(
            fault.at,
            f"expected one value after {quoted(found['key'] + ':')}, found a second colon",
            f"put the text in quotes: {found['key']}: {_in_quotes(value)}",
        )
    above = max((n for n in range(fault.at[0]) if fault.lines[n].strip()), default=None)
    glued = None if above is None else _GLUED.match(fault.lines[above])
    if glued and above is not None:
        return _Said((above, glued.start(2)), "expected a blank after the colon", _glued_hint(glued))
    if found and above is not None:
        start = len(found["lead"])
        return _Said(
            (fault.at[0], start),
            f"{quoted(found['key'] + ':')} is indented deeper than the line above allows",
            "start it in the same column as the key above, or leave the value of that key empty",
            len(found["key"]),
        )
    return _Said(fault.at, "found a colon where none can stand", "put the whole text in quotes")


def _in_quotes(value: str) -> str:
    shown = value if len(value) <= _SHOWN_IN_HINT else value[: _SHOWN_IN_HINT - 1] + "…"
    return f"'{shown}'" if '"' in shown and "'" not in shown else '"' + shown.replace('"', '\\"') + '"'


def _open_quote(fault: _Fault) -> _Said | None:
    mark = fault.line(fault.context_at)[fault.context_at[1] : fault.context_at[1] + 1] or '"'
    if "unknown escape" in fault.problem or "hex" in fault.problem or "Unicode" in fault.problem:
        return _Said(
            fault.at,
            "in a text in double quotes a backslash begins a sign of its own, and this one is unknown",
            "write the text in single quotes, or double the backslash",
            2,
        )
    return _Said(fault.context_at, f"the quote {mark} that opens here is never closed", f"close the text with {mark}")


def _no_colon(fault: _Fault) -> _Said | None:
    text = fault.line(fault.context_at)
    words = text[fault.context_at[1] :].strip()
    glued = _GLUED.match(words)
    if glued:
        hint = _glued_hint(glued)
    else:
        hint = "write a colon and a blank after the key; a longer text goes on in lines indented under its key"
    return _Said(fault.context_at, f"expected 'key: value', found {quoted(words)}", hint, max(1, len(words)))


def _glued_hint(glued: re.Match[str]) -> str:
    return f"write {glued[1].strip()}: {glued[2][:_SHOWN_IN_HINT]}"


def _no_key(fault: _Fault) -> _Said | None:
    text = fault.line(fault.at)
    before, after = text[: fault.at[1]], text[fault.at[1] :].strip()
    opened = re.search(r":\s+(['\"])", before)
    if opened and before.rstrip()[-1:] == opened[1] and after:
        quote = opened[1]
        if opened.end(1) == len(before.rstrip()):  # the quote that should open this text has closed another
            return _left_open(fault, quote)
        hint = "put the whole text in quotes; " + (
            "inside single quotes write ' twice" if quote == "'" else 'inside double quotes write \\" for "'
        )
        return _Said(fault.at, f"the text ended at the quote {quote}, but {quoted(after)} follows", hint, len(after))
    if after.startswith("- "):
        return _Said(
            fault.at,
            "expected a key, found an item of a list",
            "indent the item deeper than the key it belongs to",
        )
    return _indented(fault)


def _left_open(fault: _Fault, quote: str) -> _Said:
    earlier = (n for n in range(fault.at[0] - 1, -1, -1) if fault.lines[n].count(quote) % 2)
    line = next(earlier, fault.at[0])
    return _Said(
        (line, max(0, fault.lines[line].find(quote))),
        f"the quote {quote} that opens here is closed only on line",
        f"close the text with {quote} on its own line",
        also=fault.at[0],
    )


def _indented(fault: _Fault) -> _Said | None:
    here, above = fault.at[1] + 1, fault.context_at[1] + 1
    return _Said(
        fault.at,
        f"this line begins in column {here}, which fits no line above it",
        f"begin it in column {above} or deeper, as the line it belongs to" if above != here else "check the line above",
    )


def _no_dash(fault: _Fault) -> _Said | None:
    return _Said(
        fault.at,
        f"expected a further item '- …', found {quoted(fault.line(fault.at)[fault.at[1] :].strip())}",
        "begin the line with '- ', or indent it so that it belongs to the item above",
    )


def _open_bracket(fault: _Fault) -> _Said | None:
    opening = fault.line(fault.context_at)[fault.context_at[1] : fault.context_at[1] + 1]
    closing = {"[": "]", "{": "}"}.get(opening)
    if closing is None:
        return None
    if fault.at[0] == fault.context_at[0]:
        return _Said(fault.at, f"expected ',' or '{closing}' here", "put texts with , : [ ] { } in quotes")
    return _Said(
        fault.context_at,
        f"the bracket '{opening}' that opens here is never closed",
        f"close it with '{closing}'; a text that begins with '{opening}' goes in quotes",
    )


def _start_character(fault: _Fault) -> _Said | None:
    text = fault.line(fault.at)[fault.at[1] :].strip()
    return _Said(fault.at, f"a text can't begin with {quoted(text[:1])}", f"put it in quotes: {_in_quotes(text)}")


def _reference(fault: _Fault) -> _Said | None:
    text = fault.line(fault.context_at)[fault.context_at[1] :].strip()
    return _Said(
        fault.context_at,
        f"a text can't begin with {quoted(text[:1])}",
        f"put it in quotes: {_in_quotes(text)}",
    )


def _inner_list(fault: _Fault) -> _Said | None:
    return _Said(
        fault.at,
        "a list can't begin on the line of its key",
        "begin the list on the next line, indented; a text that begins with '-' goes in quotes",
    )


def _tag_handle(fault: _Fault) -> _Said | None:
    tag = fault.line(fault.at)[fault.at[1] :].split(" ")[0]
    return _Said(
        fault.at,
        f"expected a text, a list or keys, found the tag {quoted(tag)}",
        "delete it; if the text begins with '!', put it in quotes",
        max(1, len(tag)),
        "yaml-tag",
    )


def _second_start(fault: _Fault) -> _Said | None:
    return _Said(
        fault.at,
        "this line doesn't belong to what stands above it",
        "begin all keys of the file in the same column, and give the file one list or one set of keys",
    )


def _no_content(fault: _Fault) -> _Said | None:
    text = fault.line(fault.at)[fault.at[1] :].strip()
    if not text:  # the end of the file, or of the front matter
        opened = [(n, c) for n, line in enumerate(fault.lines) for c, sign in enumerate(line) if sign in "[{"]
        at = opened[-1] if opened else fault.at
        return _Said(at, "a value is missing at the end of the file", "close what was opened, or delete it")
    return _Said(fault.at, f"expected a value, found {quoted(text[:1])}", "put a text with such a sign in quotes")


def _too_deep(fault: _Fault) -> _Said | None:
    """libyaml looks ahead, and has a limit of its own (1,000), which can come before ours."""
    return _Said(fault.at, *TOO_DEEP, code="yaml-depth")


# Looked through in order; the left part is a piece of libyaml's own sentence.
_EXPLANATIONS = (
    ("exceeded maximum nesting depth", _too_deep),
    ("mapping values are not allowed", _second_colon),
    ("quoted scalar", _open_quote),
    ("could not find expected ':'", _no_colon),
    ("did not find expected key", _no_key),
    ("did not find expected '-' indicator", _no_dash),
    ("did not find expected ','", _open_bracket),
    ("block sequence entries are not allowed", _inner_list),
    ("scanning an alias", _reference),
    ("scanning an anchor", _reference),
    ("scanning a block scalar", _reference),
    ("cannot start any token", _start_character),
    ("undefined tag handle", _tag_handle),
    ("scanning a tag", _tag_handle),
    ("parsing a tag", _tag_handle),
    ("<document start>", _second_start),
    ("did not find expected node content", _no_content),
)
