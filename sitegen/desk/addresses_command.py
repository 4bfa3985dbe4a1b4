"""`sitegen addresses`: where the pages of texts stand, what is not recorded yet, and the record itself.

Recording is a command of its own, so that a build never writes into the author's folder.
"""

import datetime as dt
from dataclasses import replace
from pathlib import Path

from sitegen.build import read
from sitegen.desk.addresses_edit import record_edits
from sitegen.desk.write_source import ChangedMeanwhile, create_file, edit_file
from sitegen.pages.moves import with_moves
from sitegen.pages.plan import GUIDE, LISTS, REVIEW, ROUND, Page, Plan, id_slug, make_plan
from sitegen.place import Place
from sitegen.problems import Problems, unknown_name
from sitegen.records.addresses import ADDRESSES_FILE, Address, Addresses, addresses_text
from sitegen.records.embargo import as_of
from sitegen.records.publication import Publication
from sitegen.text.source import Source, read_source

RECORDED = (REVIEW, ROUND, GUIDE)  # the pages whose addresses come from titles; the others stand at their ids
_HERE = Place(ADDRESSES_FILE, 1, 1)


class Refused(Exception):
    """Why the command can't do what was asked, in words for the author."""


def addresses(folder: Path, day: dt.date, renamed: tuple[str, ...], *, record: bool) -> tuple[str, Problems]:
    """What became of the addresses, a line each; with `record` the file is written.

    `renamed` holds `KIND/OLD=NEW`: pages whose id has changed. Raises Refused, NotWritten where somebody changed the
    file meanwhile, OSError where the disk fails; the file is then as it was.
    """
    problems = Problems()
    before = read_source(folder, ADDRESSES_FILE, Problems()) if (folder / ADDRESSES_FILE).is_file() else None
    publication = read(folder, problems)
    if publication is None or problems.has_errors:
        return "", problems
    publication = as_of(publication, day)
    plan = make_plan(publication)
    for wish in renamed:
        publication = replace(publication, addresses=_renamed(publication.addresses, plan, wish))
    plan = with_moves(publication, make_plan(publication), problems)
    if problems.has_errors:
        return "", problems
    new = _recorded(publication, plan)
    if record:
        _write(folder, before, new)
    return "\n".join(_lines(publication.addresses, new)), problems


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


def _write(folder: Path, before: Source | None, new: Addresses) -> None:
    """Change what has to be changed in the file that was read, or make a first one."""
    if before is not None:
        edit_file(folder, ADDRESSES_FILE, before.digest, record_edits(before.text, new))
    elif (folder / ADDRESSES_FILE).exists():  # what could be read a moment ago as part of the publication
        raise ChangedMeanwhile(ADDRESSES_FILE)
    else:
        create_file(folder, ADDRESSES_FILE, addresses_text(new).encode())
