"""The record of addresses: where each published page stands, so that a title may change and its address doesn't.

Only a command writes it, into addresses.yaml, and into files of a folder where one would become too large. Each entry is
the path of a page in the finished folder; `former` holds paths at which a page stood before and which lead on to where
it stands now.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import field
from itertools import groupby

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.kinds import LANGUAGE_TAG, is_ident
from sitegen.records.names.file_names import fits
from sitegen.text.addresses import INTERNAL
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar

ADDRESSES_FILE, ADDRESSES_FOLDER = "addresses.yaml", "addresses"
FORMER = "former"
_PATH = re.compile(rf"(?P<tag>{LANGUAGE_TAG.pattern})/(?P<folder>[a-z]+)s/(?!index\.)[a-z0-9][a-z0-9\-]{{0,79}}\.html")
_HINT = "only the command writes this file: sitegen addresses --record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """The path at which a page stands in one edition, or stood (`former`)."""

    kind: str
    id: str
    lang: str
    path: str
    former: bool = False
    place: Place = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Addresses:
    """All recorded addresses, in the order of the files."""

    entries: tuple[Address, ...] = ()

    def current(self) -> dict[tuple[str, str, str], Address]:
        """The recorded address of each page, by kind, id and edition."""
        return {(e.kind, e.id, e.lang): e for e in self.entries if not e.former}

    def pages(self) -> dict[tuple[str, str], Place]:
        """Kind and id of everything recorded, with its first place."""
        found: dict[tuple[str, str], Place] = {}
        for entry in self.entries:
            found.setdefault((entry.kind, entry.id), entry.place)
        return found


def is_addresses(name: str) -> bool:
    """Whether a file of a publication records addresses: addresses.yaml, addresses/2.yaml."""
    return name == ADDRESSES_FILE or fits(name, (ADDRESSES_FOLDER, "*.yaml"))


def take_addresses(node: Node, problems: Problems) -> Addresses:
    """The record as read from its nodes; what is at fault is reported and left out."""
    entries = tuple(_entries(node, problems))
    return Addresses(tuple(_once(entries, problems)))


def _entries(node: Node, problems: Problems) -> Iterator[Address]:
    for kind, pages in _groups(node, problems):
        if kind.text not in INTERNAL:
            hint = meant_or(kind.text, INTERNAL, f"kinds: {', '.join(INTERNAL)}")
            problems.error("address-record", kind.place, f"there is no kind of page {quoted(kind.text)}", hint)
            continue
        for id, paths in _groups(pages, problems):
            if not is_ident(id.text):
                problems.error(
                    "address-record", id.place, f"expected the id of a {kind.text}, found {quoted(id.text)}", _HINT
                )
                continue
            for lang, written in _groups(paths, problems):
                yield from _paths(kind.text, id.text, lang, written, problems)


def _groups(node: Node, problems: Problems) -> Iterator[tuple[Scalar, Node]]:
    if isinstance(node, Mapping):
        yield from ((entry.key, entry.value) for entry in node.entries)
    elif not (isinstance(node, Scalar) and not node.text):
        problems.error("address-record", node.place, "expected a group of keys: kind of page, id, language", _HINT)


def _paths(kind: str, id: str, lang: Scalar, written: Node, problems: Problems) -> Iterator[Address]:
    former = lang.text == FORMER
    if not former and not LANGUAGE_TAG.fullmatch(lang.text):
        problems.error(
            "address-record", lang.place, f"expected a language tag or `{FORMER}`, found {quoted(lang.text)}", _HINT
        )
        return
    for item in written.items if isinstance(written, Listing) and former else (written,):
        path = _PATH.fullmatch(item.text) if isinstance(item, Scalar) else None
        if path is None or path["folder"] != kind or (not former and path["tag"] != lang.text):
            shown = quoted(item.text) if isinstance(item, Scalar) else "a group"
            tag = "de" if former else lang.text
            problems.error(
                "address-record", item.place, f"expected a path such as {tag}/{kind}s/{id}.html, found {shown}", _HINT
            )
        elif isinstance(item, Scalar):
            yield Address(kind=kind, id=id, lang=path["tag"], path=item.text, former=former, place=item.place)


def _once(entries: Iterable[Address], problems: Problems) -> Iterator[Address]:
    """Each path once: one address can't be that of two pages."""
    seen: dict[str, Address] = {}
    for entry in entries:
        first = seen.setdefault(entry.path, entry)
        if first is entry:
            yield entry
        else:
            message = f"the address {quoted(entry.path)} is recorded twice: first {_there(first, entry)}"
            problems.error("address-twice", entry.place, message, "keep it with the page that stood there first")


def joined(files: Iterable[Addresses], problems: Problems) -> Addresses:
    """What several files record, as one. An address or a page that stands in two of them is reported and left out."""
    standing: dict[tuple[str, str, str], Address] = {}
    kept = []
    for entry in _once([entry for file in files for entry in file.entries], problems):
        first = entry if entry.former else standing.setdefault((entry.kind, entry.id, entry.lang), entry)
        if first is entry:
            kept.append(entry)
        else:
            what = (
                f"the {entry.kind} {quoted(entry.id)} has two addresses in {entry.lang}: first {_there(first, entry)}"
            )
            problems.error("address-twice", entry.place, what, f"keep one of them, and the other under `{FORMER}`")
    return Addresses(tuple(kept))


def _there(first: Address, entry: Address) -> str:
    """Where the first of two stands, seen from the other."""
    return f"in line {first.place.line}" if first.place.file == entry.place.file else f"at {first.place}"


def addresses_text(addresses: Addresses) -> str:
    """A file's text: kinds, ids and languages in a fixed order, so that version control shows what changed."""
    lines = [
        "# Where each published page stands; the address stays when the title changes, and a former one leads on.",
        "# Written by  sitegen addresses --record",
    ]
    for kind in INTERNAL:
        of_kind = sorted((e for e in addresses.entries if e.kind == kind), key=lambda e: (e.id, e.former, e.path))
        lines += [f"{kind}:"] if of_kind else []
        for id, entries in groupby(of_kind, key=lambda e: e.id):
            lines.append(f"  {id}:")
            for former, alike in groupby(entries, key=lambda e: e.former):
                lines += [f"    {FORMER}:"] if former else []
                lines += [f"      - {e.path}" if former else f"    {e.lang}: {e.path}" for e in alike]
    return "\n".join([*lines, ""])
