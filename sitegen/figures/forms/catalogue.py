"""Catalogues of messages (gettext .po), read straight from their text.

A catalogue is small and its form is plain, so it is read as it is written: nothing to compile, nothing that
can be older than its source, the same from a checkout and from an installed package. Format: GNU gettext, "PO
Files".
"""

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from gettext import c2py
from hashlib import blake2b
from pathlib import Path

from sitegen.datatypes import dataclass

__all__ = [
    "Catalogue",
    "CatalogueFault",
    "catalogue_file",
    "missing_messages",
    "nearest_catalogue",
    "read_catalogue",
]

SOURCE_LANGUAGE = "en"
CONTEXT_MARK = "\x04"

_LINE = re.compile(r'(msg(?:ctxt|id_plural|id|str(?:\[\d\])?))?\s*"(.*)"\s*').fullmatch
_ESCAPED = re.compile(r"\\(.)")
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r"}
_PLURAL_RULE = re.compile(r"\bplural\s*=\s*([^;]+)")
_PLURAL_COUNT = re.compile(r"\bnplurals\s*=\s*(\d)")


class CatalogueFault(ValueError):
    """A catalogue that can't be read: not there, not UTF-8, or a line that isn't one of a .po file."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catalogue:
    """The messages of one language.

    `messages` is keyed by msgid, or by context, U+0004 and msgid, as compiled catalogues are; `plurals` by
    the singular msgid. A message that isn't translated or is fuzzy stands in `open_messages` only, so that
    its English shows. `form_of` gives the number of the plural form for a whole number, of `form_count`.
    """

    tag: str
    messages: dict[str, str]
    plurals: dict[str, tuple[str, ...]]
    open_messages: frozenset[str]
    form_of: Callable[[int], int]
    form_count: int
    digest: str


def catalogue_file(folder: Path, tag: str) -> Path:
    """Where the catalogue of a language lies below the folder of catalogues."""
    return folder / tag.replace("-", "_") / "LC_MESSAGES" / "sitegen.po"


def nearest_catalogue(tag: str, folder: Path) -> Catalogue:
    """The catalogue of the tag, of the nearest tag that it starts with, or the English one.

    Raises `CatalogueFault` when even the English one is missing.
    """
    parts = tag.split("-")
    for length in range(len(parts), 0, -1):
        nearer = "-".join(parts[:length])
        if (path := catalogue_file(folder, nearer)).is_file():
            return read_catalogue(path, nearer)
    return read_catalogue(catalogue_file(folder, SOURCE_LANGUAGE), SOURCE_LANGUAGE)


def missing_messages(folder: Path, tag: str) -> tuple[str, ...]:
    """The msgids of the English catalogue that the one of `tag` lacks, leaves empty or marks fuzzy, sorted.

    A language without a catalogue of its own lacks them all. A context stands before its msgid, with U+0004
    between.
    """
    path = catalogue_file(folder, tag)
    if not path.is_file():
        english = read_catalogue(catalogue_file(folder, SOURCE_LANGUAGE), SOURCE_LANGUAGE)
        return tuple(sorted(english.messages.keys() | english.plurals.keys()))
    return untranslated(read_catalogue(path, tag), folder)


def untranslated(catalogue: Catalogue, folder: Path) -> tuple[str, ...]:
    """What `missing_messages` reports, for a catalogue already read."""
    if catalogue.tag == SOURCE_LANGUAGE:
        return tuple(sorted(catalogue.open_messages))
    english = read_catalogue(catalogue_file(folder, SOURCE_LANGUAGE), SOURCE_LANGUAGE)
    wanted = english.messages.keys() | english.plurals.keys() | english.open_messages
    return tuple(sorted(wanted - catalogue.messages.keys() - catalogue.plurals.keys()))


def read_catalogue(path: Path, tag: str) -> Catalogue:
    """The catalogue in a .po file. Raises `CatalogueFault` with the file and the line."""
    try:
        return _read(path.read_bytes(), path, tag)
    except (OSError, UnicodeDecodeError) as fault:
        raise CatalogueFault(f"{path}: can't be read: {fault}") from fault


@lru_cache(maxsize=16)  # each language looks into the English one as well
def _read(raw: bytes, path: Path, tag: str) -> Catalogue:
    text = raw.decode("utf-8")
    messages: dict[str, str] = {}
    plurals: dict[str, tuple[str, ...]] = {}
    open_messages: set[str] = set()
    for entry in _entries(text, path):
        key = f"{entry['msgctxt']}{CONTEXT_MARK}{entry['msgid']}" if "msgctxt" in entry else entry["msgid"]
        plural = "msgid_plural" in entry
        texts = _forms(entry) if plural else (entry.get("msgstr", ""),)
        if "fuzzy" in entry or not texts or "" in texts:
            open_messages.add(key)
        elif plural:
            plurals[key] = texts
        else:
            messages[key] = texts[0]
    header = messages.pop("", "")
    rule, number = _PLURAL_RULE.search(header), _PLURAL_COUNT.search(header)
    return Catalogue(
        tag=tag,
        messages=messages,
        plurals=plurals,
        open_messages=frozenset(open_messages - {""}),
        form_of=c2py(rule[1].strip() if rule else "n != 1"),
        form_count=int(number[1]) if number else 2,
        digest=blake2b(raw, digest_size=16).hexdigest(),
    )


def _forms(entry: dict[str, str]) -> tuple[str, ...]:
    return tuple(entry[name] for name in sorted(entry) if name.startswith("msgstr["))


def _entries(text: str, path: Path) -> Iterator[dict[str, str]]:
    """The entries as fields by keyword; a fuzzy one has a field of that name. An empty line ends an entry."""
    entry: dict[str, str] = {}
    name = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if not line or line[0] == "#":
            fuzzy = line[:2] == "#," and "fuzzy" in line
            if "msgid" in entry and (fuzzy or not line):
                yield entry
                entry, name = {}, ""
            if fuzzy:
                entry["fuzzy"] = line
            continue
        match = _LINE(line)
        if match is None or not (match[1] or name):
            raise CatalogueFault(f"{path}:{number}: is not a line of a catalogue: {line}")
        keyword, said = match.groups()
        if "\\" in said:
            said = _ESCAPED.sub(_unescape, said)
        if not keyword:
            entry[name] += said
            continue
        if keyword in ("msgctxt", "msgid") and ("msgstr" in entry or "msgstr[0]" in entry):
            yield entry
            entry = {}
        name = keyword
        entry[name] = said
    if "msgid" in entry:
        yield entry


def _unescape(match: re.Match[str]) -> str:
    return _ESCAPES.get(match[1], match[1])
