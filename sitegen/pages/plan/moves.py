"""Addresses through the years: no two pages at one, and former ones that lead on to where their page stands now."""

from collections.abc import Iterator
from dataclasses import replace

from sitegen.pages.plan.plan import GUIDE, PRODUCT, REVIEW, ROUND, Page, Plan, text_of
from sitegen.pages.plan.slugs import device_paths
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.names.addresses import Address
from sitegen.records.publication import Publication
from sitegen.records.settings import SETTINGS_FILE


def with_moves(publication: Publication, plan: Plan, problems: Problems) -> Plan:
    """The plan with its former addresses. Reports two pages at one address, and addresses whose page is gone."""
    owners: dict[str, tuple[Page, str]] = {}
    for (page, tag), path in plan.paths.items():
        first = owners.setdefault(path, (page, tag))[0]
        if first != page:
            _report_double(publication, path, first, page, tag, problems)
    for (page, tag), device in device_paths(plan.paths):
        message = f"{_named(page)} would stand at {quoted(device)}, a name that Windows keeps for a device"
        hint = "give it another slug or id: nobody could copy the site there"
        problems.caution("page-name", place_of(publication, page, tag), message, hint)
    return replace(plan, moved=dict(_moved(publication, plan, owners, problems)))


def _moved(
    publication: Publication, plan: Plan, owners: dict[str, tuple[Page, str]], problems: Problems
) -> Iterator[tuple[str, tuple[Page, str]]]:
    waiting = {(entry.kind, entry.id, entry.edition) for entry in publication.held}
    told: set[object] = set()
    for entry in publication.addresses.entries:
        page, owner = Page(entry.kind, entry.id), owners.get(entry.path)
        if entry.lang not in plan.tags:
            _report_once(entry, entry.lang, told, problems)
        elif owner == (page, entry.lang) or _is_held(entry, waiting):
            continue
        elif plan.best(page, entry.lang) is None:
            if owner is None:  # a text that was renamed and kept its title has kept its address
                _report_lost(entry, page, told, problems)
        elif owner is not None:
            _report_taken(publication, entry, owner, problems)
        else:
            yield entry.path, (page, entry.lang)


def _is_held(entry: Address, waiting: set[tuple[str, str, str]]) -> bool:
    """Whether a page waits: its former addresses would tell of it."""
    kind = REVIEW if entry.kind == PRODUCT else entry.kind
    return (kind, entry.id, entry.lang) in waiting


def place_of(publication: Publication, page: Page, tag: str) -> Place:
    """Where a page's address comes from: its text's title, or its record."""
    text = text_of(publication, page, tag)
    if text is not None:
        return text.head.slug_place if text.head.slug else text.head.title.place
    if page.kind == ROUND and page.id in publication.rounds:
        return publication.rounds[page.id].place
    if page.kind == PRODUCT and page.id in publication.products:
        return publication.products[page.id].place
    return Place(SETTINGS_FILE, 1, 1)


def _named(page: Page) -> str:
    return f"the {page.kind} {quoted(page.id)}" if page.id else f"the list of {page.kind}s"


def _report_double(publication: Publication, path: str, first: Page, page: Page, tag: str, problems: Problems) -> None:
    if not page.id:
        first, page = page, first
    there = f" ({place_of(publication, first, tag)})" if first.id else ""
    message = f"{_named(page)} would stand at {quoted(path)}, where {_named(first)} stands{there}"
    problems.error("slug-twice", place_of(publication, page, tag), message, _way_out(page))


def _report_taken(publication: Publication, entry: Address, owner: tuple[Page, str], problems: Problems) -> None:
    was = f"the address of {_named(Page(entry.kind, entry.id))} ({entry.place})"
    message = f"{_named(owner[0])} would stand at {quoted(entry.path)}, which was {was} and leads there"
    problems.error("slug-twice", place_of(publication, *owner), message, _way_out(owner[0]))


def _way_out(page: Page) -> str:
    if page.kind in (REVIEW, GUIDE):
        return "give it an address of its own, such as  slug: second-look"
    return "give it another title" if page.kind == ROUND else "rename its file"


def _report_once(entry: Address, lang: str, told: set[object], problems: Problems) -> None:
    if lang not in told:
        told.add(lang)
        message = f"{quoted(lang)} is no edition of this publication, so its recorded addresses lead nowhere"
        problems.caution(
            "edition-undeclared",
            entry.place,
            message,
            "add it to `editions` in publication.yaml, or take these lines out",
        )


def _report_lost(entry: Address, page: Page, told: set[object], problems: Problems) -> None:
    if page not in told:
        told.add(page)
        message = (
            f"{_named(page)} stood at {quoted(entry.path)} and is gone: readers who kept the address will find nothing"
        )
        renamed = f"sitegen addresses --record --renamed {page.kind}/{page.id}=NEW"
        problems.caution(
            "address-lost",
            entry.place,
            message,
            f"if it was renamed: {renamed}; if it is gone for good, take its lines out",
        )
