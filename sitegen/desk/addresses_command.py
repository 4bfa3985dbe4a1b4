"""`sitegen addresses`: where the pages of texts stand, what is not recorded yet, and the record itself.

Recording is a command of its own, so that a build never writes into the author's folder.
"""

import datetime as dt
from collections.abc import Mapping as Table
from dataclasses import replace
from pathlib import Path

from sitegen.desk.addresses_edit import record_edits
from sitegen.desk.addresses_files import by_file
from sitegen.desk.write_source import create_file, edit_file, edited_bytes
from sitegen.pages.plan.moves import with_moves
from sitegen.pages.plan.plan import GUIDE, LISTS, REVIEW, ROUND, Page, Plan, id_slug, make_plan
from sitegen.pipeline.build import read
from sitegen.place import Place
from sitegen.problems import Problems, unknown_name
from sitegen.records.names.addresses import (
    ADDRESSES_FILE,
    ADDRESSES_FOLDER,
    Address,
    Addresses,
    addresses_text,
    is_addresses,
)
from sitegen.records.publication import Publication
from sitegen.text.source import LARGEST_TEXT, Source, read_inside, read_source, walk_sources

RECORDED = (REVIEW, ROUND, GUIDE)  # the pages whose addresses come from titles; the others stand at their ids
_HERE = Place(ADDRESSES_FILE, 1, 1)


class Refused(Exception):
    """Why the command can't do what was asked, in words for the author."""


def addresses(folder: Path, day: dt.date, renamed: tuple[str, ...], *, record: bool) -> tuple[str, Problems]:
    """What became of the addresses, a line each; with `record` they are written down.

    `renamed` holds `KIND/OLD=NEW`: pages whose id has changed. Raises Refused, NotWritten where somebody changed a file
    meanwhile, OSError where the disk fails; that file is then as it was. A file that would become too large is a problem.
    """
    problems = Problems()
    names = filter(is_addresses, walk_sources(folder))
    before = {name: source for name in names if (source := read_source(folder, name, Problems())) is not None}
    publication = read(folder, problems, day=day)
    if publication is None or problems.has_errors:
        return "", problems
    plan = make_plan(publication)
    for wish in renamed:
        publication = replace(publication, addresses=_renamed(publication.addresses, plan, wish))
    plan = with_moves(publication, make_plan(publication), problems)
    if problems.has_errors:
        return "", problems
    new = _recorded(publication, plan)
    if record:
        _record(folder, before, _parts(publication.addresses, new, before), problems)
    return "" if problems.has_errors else "\n".join(_lines(publication.addresses, new)), problems


def _parts(known: Addresses, new: Addresses, before: Table[str, Source]) -> dict[str, Addresses]:
    return by_file(known, new, {name: len(source.text.encode()) for name, source in before.items()})


def _renamed(known: Addresses, plan: Plan, wish: str) -> Addresses:
    """The record with a page's entries handed on to its new id, as former ones."""
    kind, _, ids = wish.partition("/")
    old, _, new = ids.partition("=")
    if kind not in LISTS or not old or not new:
        raise Refused(f"'{wish}' doesn't say what was renamed: write --renamed review/old=new")
    if not plan.languages(Page(kind, new)):
        raise Refused(unknown_name(kind, new, [page.id for page in plan.by_page if page.kind == kind and page.id]))
    if plan.languages(Page(kind, old)):
        raise Refused(f"the {kind} '{old}' is still there; rename its file or folder first")
    entries = known.entries
    if kind not in RECORDED:
        paths = {tag: f"{tag}/{LISTS[kind]}/{id_slug(old)}.html" for tag in plan.tags}
        entries += tuple(Address(kind=kind, id=old, lang=tag, path=path, place=_HERE) for tag, path in paths.items())
    if not any((e.kind, e.id) == (kind, old) for e in entries):
        raise Refused(f"nothing is recorded of a {kind} '{old}'")
    return Addresses(tuple(replace(e, id=new, former=True) if (e.kind, e.id) == (kind, old) else e for e in entries))


def _recorded(publication: Publication, plan: Plan) -> Addresses:
    """Where everything stands now; what stood elsewhere is kept as former, what can't be judged now is kept as it is."""
    now = {
        path: Address(kind=page.kind, id=page.id, lang=tag, path=path, place=_HERE)
        for (page, tag), path in plan.paths.items() if page.kind in RECORDED and page.id
    }  # fmt: skip
    standing = {(a.kind, a.id, a.lang) for a in now.values()}
    live = set(plan.paths.values())
    kept = [
        replace(entry, former=entry.former or (entry.kind, entry.id, entry.lang) in standing)
        for entry in publication.addresses.entries if entry.path not in live
    ]  # fmt: skip
    return Addresses((*now.values(), *kept))


def _lines(old: Addresses, new: Addresses) -> list[str]:
    was = {entry.path: entry for entry in old.entries}
    lines = []
    for entry in sorted(new.entries, key=lambda e: e.path):
        before = was.get(entry.path)
        state = "former" if entry.former else "recorded" if before and not before.former else "new"
        lines.append(f"{state:<9} {entry.path}")
    return lines


def _record(folder: Path, before: Table[str, Source], parts: Table[str, Addresses], problems: Problems) -> None:
    """Change what has to be changed in the files that were read, and make further ones; nothing where that is refused."""
    edits = {name: record_edits(before[name].text, part) for name, part in parts.items() if name in before}
    made = {name: addresses_text(part).encode() for name, part in parts.items() if name not in before}
    for name in parts:
        # 500,000 values, the other bound of a file, don't fit into so many bytes: a path with its keys takes too much.
        data = made[name] if name in made else edited_bytes(read_inside(folder, name), edits[name])
        if len(data) > LARGEST_TEXT:
            message = f"with what is new this file would be larger than {LARGEST_TEXT // 1024**2} MiB, and no build could read it"
            hint = (
                f"nothing was recorded; move some of its pages into another file, such as {ADDRESSES_FOLDER}/older.yaml"
            )
            problems.error("file-size", Place(name, 1, 1), message, hint)
    if problems.has_errors:
        return
    for name, lines in edits.items():
        edit_file(folder, name, before[name].digest, lines)
    for name, data in made.items():
        create_file(folder, name, data)
