"""The stock content as records, read by the same readers as the author's own files."""

import datetime as dt
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import TypeVar

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.fields import fail, placed, take_record, written
from sitegen.records.fields.kinds import DAY, LINE, WORDS, YES_NO, Choice, ListOf, PairsOf, Pattern, check_ident
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import Protocol, check_protocol
from sitegen.text.source import read_source, walk_sources
from sitegen.text.yaml_nodes import Listing, Node, Scalar, parse_yaml
from sitegen.text.yaml_nodes import Mapping as MappingNode

R = TypeVar("R")
CARE_GROUPS = ("washing", "bleaching", "drying", "ironing", "professional", "other")
_TERMS_BY_LANGUAGE = PairsOf(Pattern("[a-z]{2,3}", "a language tag", "de"), ListOf(LINE))


@dataclass(frozen=True, slots=True, kw_only=True)
class CareWord:
    """One instruction of a care label, in words."""

    group: str = written(Choice(CARE_GROUPS), "which of the five groups it belongs to")
    words: Words = written(WORDS, "the label's words")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A word of the trade: its name, other names, and what it means."""

    term: Words = written(WORDS, "the word")
    means: Words = written(WORDS, "what it means")
    also: tuple[tuple[str, tuple[str, ...]], ...] = written(_TERMS_BY_LANGUAGE, "other names by language", default=())
    everyday: bool = written(
        YES_NO, "whether it is an everyday word too, so that its use in texts says nothing", default=False
    )
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishRule:
    """A dated rule on finish chemistry: information, not legal advice."""

    where: Words = written(WORDS, "where it holds")
    act: str = written(LINE, "the act")
    says: Words = written(WORDS, "what it says")
    start: dt.date = written(DAY, "from when", key="from")
    as_of: dt.date = written(DAY, "the day on which this was the state of the law")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Everything in content/ but the message catalogues."""

    protocols: Mapping[str, Protocol]
    care: Mapping[str, CareWord]
    sentences: Mapping[str, Words]
    terms: Mapping[str, Term]
    finish_rules: tuple[FinishRule, ...]


def read_stock(folder: Path, problems: Problems) -> Stock:
    """The stock content below `folder`."""
    return Stock(
        protocols=read_protocols(folder, walk_sources(folder), problems, stock=True),
        care=_read_group(folder, "care.yaml", CareWord, "a care word", problems),
        sentences=dict(_flat_words(_read_yaml(folder, "disclosure.yaml", problems), "", problems)),
        terms=_read_group(folder, "glossary.yaml", Term, "a term", problems),
        finish_rules=_read_rules(folder, problems),
    )


def read_protocols(folder: Path, names: tuple[str, ...], problems: Problems, *, stock: bool) -> dict[str, Protocol]:
    """The protocols among `names` (paths below `folder`), by id."""
    found = {}
    for name in names:
        if not name.startswith("protocols/") or not name.endswith(".yaml") or name.count("/") > 1:
            continue
        path = PurePosixPath(name)
        if not check_ident(path.stem, "the name of a protocol", Place(name, 1, 1), problems, "rename the file"):
            continue
        node = _read_yaml(folder, name, problems)
        protocol = take_record(Protocol, node, problems, "a protocol", id=path.stem, stock=stock) if node else None
        if protocol is not None:
            check_protocol(protocol, problems)
            found[protocol.id] = protocol
    return found


def _read_yaml(folder: Path, name: str, problems: Problems) -> Node | None:
    source = read_source(folder, name, problems)
    return parse_yaml(source, problems) if source else None


def _read_group(folder: Path, name: str, cls: type[R], what: str, problems: Problems) -> dict[str, R]:
    node = _read_yaml(folder, name, problems)
    found = {}
    for entry in node.entries if isinstance(node, MappingNode) else ():
        record = take_record(cls, entry.value, problems, what)
        if record is not None:
            found[entry.key.text] = record
    return found


def read_terms(folder: Path, name: str, problems: Problems) -> dict[str, Term]:
    """A publication's own glossary: the terms by id, in the same form as the stock's."""
    node = _read_yaml(folder, name, problems)
    if node is not None and not isinstance(node, MappingNode):
        fail(node, name, "a group of terms, each with `term` and `means`", problems, code="not-a-group")
    found = {}
    for entry in node.entries if isinstance(node, MappingNode) else ():
        id = entry.key.text
        if not check_ident(id, "the id of a term", entry.key.place, problems, "write one such as  wet_out:"):
            continue
        record = take_record(Term, entry.value, problems, "a term")
        if record is not None:
            found[id] = record
    return found


def _flat_words(node: Node | None, prefix: str, problems: Problems) -> Iterator[tuple[str, Words]]:
    """Nested groups of sentences, flattened to keys such as `obtained.loaned.maker`."""
    for entry in node.entries if isinstance(node, MappingNode) else ():
        key = f"{prefix}{entry.key.text}"
        inner = entry.value
        if isinstance(inner, MappingNode) and not all(isinstance(e.value, Scalar) for e in inner.entries):
            yield from _flat_words(inner, f"{key}.", problems)
        else:
            words = WORDS.take(inner, key, problems)
            if isinstance(words, Words):
                yield key, words


def _read_rules(folder: Path, problems: Problems) -> tuple[FinishRule, ...]:
    node = _read_yaml(folder, "finish_rules.yaml", problems)
    items = node.items if isinstance(node, Listing) else ()
    rules = (take_record(FinishRule, item, problems, "a rule") for item in items)
    return tuple(rule for rule in rules if rule is not None)
