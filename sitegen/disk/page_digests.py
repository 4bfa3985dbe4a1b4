"""What each page depends on, as digests of the files that it comes from."""

from collections.abc import Iterable, Iterator
from itertools import chain, islice
from pathlib import Path

from sitegen.disk.digests import Digests
from sitegen.disk.kept_pages import KeptPages
from sitegen.disk.memory import Memory, key_of, key_of_all
from sitegen.pages.site import Site
from sitegen.pages.traced import BEHIND, CARD, EVERY, TEXT, Use

AT_A_TIME = 256  # things written out before they are summed up


def kept_pages(files: Digests, to: Path, site: Site, memory: Memory, tool: str) -> KeptPages | None:
    """The pages of the last build; None where it can't be known what they were made with."""
    if not tool:
        return None
    publication = site.publication

    def digest(use: Use) -> str:
        name, key = use
        if name == BEHIND:
            return key_of(repr(dict(site.behind) if key == EVERY else site.behind.get(key)))  # type: ignore[call-overload]
        if name == "findings" and key != EVERY:
            entrants = publication.rounds[str(key)].entrants if key in publication.rounds else ()
            return key_of(
                files.group(f"rounds/{key}"), *(files.group(f"products/{entrant.product.id}") for entrant in entrants)
            )
        if name == CARD:
            return publication.reviews.digest(str(key)) or files.group(f"reviews/{key}")  # type: ignore[attr-defined]
        if name == TEXT:
            return files.file(str(key))
        if key == EVERY:
            return key_of(*(files.group(group) for group in (name, "rounds", "products")))
        return files.group(f"{name}/{key}")

    return KeptPages(memory, to, key_of(tool, _used_by_all(site, files)), digest)


def _used_by_all(site: Site, files: Digests) -> str:
    """The digest of what every page may depend on: with any of it changed, all are made anew."""
    publication = site.publication
    in_rounds = [name for name in publication.files if name.startswith("rounds/") and name.endswith(".yaml")]
    singles = [name for name in publication.files if "/" not in name]
    groups = [
        files.group(name)
        for name in (
            *singles,
            "about",
            "ledger",
            "theme",
            "protocols",
            "rigs",
            *(f"reviews/{id}" for id in sorted(publication.short)),
        )
    ]
    plan = site.plan
    many = (
        publication.files,
        publication.names.items(),
        publication.reviewed.items(),
        publication.measured.items(),
        plan.paths.items(),
        plan.moved.items(),
        site.pictures.items(),
    )
    seen = (publication.held, site.wetted, site.assets)
    return key_of_all(chain(groups, map(files.file, in_rounds), *map(_written, many), [repr(seen)]))


def _written(things: Iterable[object]) -> Iterator[str]:
    """Very many things as text, some at a time, and where they end."""
    waiting = iter(things)
    while some := tuple(islice(waiting, AT_A_TIME)):
        yield repr(some)
    yield "."
