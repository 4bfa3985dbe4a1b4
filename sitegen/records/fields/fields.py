"""How a record is declared, read from nodes and described to an editor: one declaration for all three.

A record is a frozen dataclass whose fields are made with `written(kind, doc)`. `take_record`
reads such a class from a mapping; `schema_of` turns the same declaration into a JSON Schema.
Faults are collected, never raised: what could not be read is None, and the record is not made.
"""

from collections.abc import Callable, Iterable
from dataclasses import MISSING, Field, field, fields
from typing import Any, Protocol, TypeVar, cast

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, nearest, quoted
from sitegen.text.yaml_nodes import Entry, Listing, Mapping, Node, Scalar

R = TypeVar("R")
FAILED: Any = object()  # what a kind returns once it has reported; never stored in a record


MOST_UNKNOWN = 20  # keys of one group that are told one by one


class Kind(Protocol):
    """What a field may hold: reads a node, and describes itself as JSON Schema."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The value of `node`, or FAILED once the fault is reported; `name` is the key in the author's words."""
        ...

    def schema(self) -> dict[str, Any]:
        """A JSON Schema (draft 2020-12) for what may be written."""
        ...


def written(kind: Kind, doc: str, *, key: str = "", **default: Any) -> Any:
    """A field that an author writes; without `default` or `default_factory` it is required."""
    return field(metadata={"kind": kind, "doc": doc, "key": key}, **default)


def placed() -> Any:
    """The field for a record's place: no part of what the record says."""
    return field(compare=False, repr=False, default=Place("", 1, 1))


@dataclass(frozen=True, slots=True)
class Ref:
    """The id of another record, with the place where it was named."""

    id: str
    place: Place = field(compare=False, repr=False)

    def __str__(self) -> str:
        return self.id


def describe(node: Node) -> str:
    """What stands there, in the author's words."""
    if isinstance(node, Mapping):
        return "a group of keys"
    if isinstance(node, Listing):
        return "a list"
    return quoted(node.text) if node.text else "nothing"


def fail(node: Node, name: str, expected: str, problems: Problems, hint: str = "", code: str = "field-value") -> Any:
    """Report what was expected under `name` and what stood there instead."""
    problems.error(code, node.place, f"`{name}`: expected {expected}, found {describe(node)}", hint)
    return FAILED


def is_empty(node: Node | None) -> bool:
    """Whether a key is absent or has nothing after its colon."""
    return node is None or (isinstance(node, Scalar) and not node.text and not node.quoted)


def author_fields(cls: type) -> Iterable[tuple[str, Field[Any]]]:
    """The fields that an author writes, each with the key it has in a file."""
    for declared in fields(cls):
        if "kind" in declared.metadata:
            yield declared.metadata["key"] or declared.name, declared


def _is_required(declared: Field[Any]) -> bool:
    return declared.default is MISSING and declared.default_factory is MISSING


def take_values(
    cls: type, node: Mapping, problems: Problems, what: str, also: Iterable[str] = ()
) -> dict[str, Any] | None:
    """The fields of `cls` as read from `node`, by field name; None once any fault is reported.

    `also` are keys that may stand beside them and are read elsewhere.
    """
    known = dict(author_fields(cls))
    found: dict[str, Any] = {}
    sound = True
    entries = {entry.key.text: entry for entry in node.entries}
    meant: set[str | None] = set()
    unknown = [
        (before, entry)
        for before, entry in zip((None, *node.entries), node.entries, strict=False)
        if entry.key.text not in known and entry.key.text not in also
    ]
    for before, entry in unknown[:MOST_UNKNOWN]:
        meant.add(unknown_key(entry.key, (*known, *also), problems, what, before))
        sound = False
    if len(unknown) > MOST_UNKNOWN:  # hardly slips of the keyboard: another kind of file, or somebody's bad joke
        message = f"{what} has {len(unknown) - MOST_UNKNOWN} more keys that nobody reads"
        problems.error("unknown-key", unknown[MOST_UNKNOWN][1].key.place, message)
    for key, declared in known.items():
        value_node = entries[key].value if key in entries else None
        if value_node is None or is_empty(value_node):
            if _is_required(declared) and key not in meant:
                _missing_key(node, key, declared, problems, what)
                sound = False
            continue
        value = cast(Kind, declared.metadata["kind"]).take(value_node, key, problems)
        if value is FAILED:
            sound = False
        else:
            found[declared.name] = value
    return found if sound else None


def unknown_key(
    key: Scalar, known: Iterable[str], problems: Problems, what: str, before: Entry | None = None
) -> str | None:
    """Report a key that nobody reads and give back the one that was probably meant. `before` is the entry above it."""
    known = tuple(known)
    near = nearest(key.text, known)
    hint = f"did you mean `{near}`?" if near else f"known keys: {', '.join(sorted(known))}"
    message = f"{what} has no key {quoted(key.text)}"
    if before and isinstance(before.value, Scalar) and key.text[:1].isdigit() and before.value.text[-1:].isdigit():
        message = f"the comma cuts {quoted(f'{before.value.text},{key.text}')} in two, and {quoted(key.text)} is no key"
        hint = f"inside {{ }} a comma ends a value: write {before.value.text}.{key.text}"
    problems.error("unknown-key", key.place, message, hint)
    return near


def place_at(node: Node, key: str) -> Place:
    """Where the value under a key stands; the place of the whole where there is none."""
    value = node.get(key) if isinstance(node, Mapping) else None
    return value.place if value is not None else node.place


def _missing_key(node: Mapping, key: str, declared: Field[Any], problems: Problems, what: str) -> None:
    example = cast(Kind, declared.metadata["kind"]).schema().get("examples", ["…"])[0]
    problems.error(
        "missing-key",
        node.place,
        f"{what} needs `{key}`: {declared.metadata['doc']}",
        f"add a line such as  {key}: {example}",
    )


def take_record(cls: type[R], node: Node, problems: Problems, what: str, **given: Any) -> R | None:
    """A record of `cls` from a mapping, None once its faults are reported.

    `given` are values that stand outside the mapping, such as an id that is a file's name.
    """
    if not isinstance(node, Mapping):
        fail(node, what, "a group of keys, one a line, each with a colon", problems, code="not-a-group")
        return None
    values = take_values(cls, node, problems, what)
    if values is None:
        return None
    if any(f.name == "place" for f in fields(cast(Any, cls))):
        given.setdefault("place", node.place)
    return cls(**values, **given)


def schema_of(cls: type) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a record, from the declarations that also read it."""
    properties: dict[str, Any] = {}
    required = []
    for key, declared in author_fields(cls):
        kind = cast(Kind, declared.metadata["kind"])
        properties[key] = {"description": declared.metadata["doc"], **kind.schema()}
        if _is_required(declared):
            required.append(key)
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


@dataclass(frozen=True, slots=True)
class RecordOf:
    """A group of keys that is a record of its own. `short` names the field that a plain value stands for."""

    cls: type
    what: str
    short: str = ""
    check: Callable[[Any, Problems], bool] | None = None

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A record, also from the short form where there is one."""
        if self.short and isinstance(node, Scalar):
            node = Mapping((Entry(Scalar(self.short, node.place), node),), node.place)
        record = take_record(self.cls, node, problems, self.what)
        if record is None or (self.check and not self.check(record, problems)):
            return FAILED
        return record

    def schema(self) -> dict[str, Any]:
        """The record's schema, or the short form's."""
        whole = schema_of(self.cls)
        if not self.short:
            return whole
        return {"anyOf": [whole["properties"][self.short], whole]}
