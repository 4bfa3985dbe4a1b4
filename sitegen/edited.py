"""The build after edits within the texts of reviews: what it takes doesn't grow with the publication, but for looking at its files.

All else is as it was at the last build, which kept its site to be looked things up in (`disk/kept_site.py`). Whatever may
show elsewhere than on the pages of the edited review, and whatever is at fault, is left to an ordinary build.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from sitegen.build import Built, open_editions, unique
from sitegen.disk.digests import tool_digest
from sitegen.disk.kept_pages import text_of
from sitegen.disk.kept_site import KeptSite, forget_site, kept_site, tell
from sitegen.disk.lookups import Damaged, NotAtHand
from sitegen.disk.memory import Memory, Pieces
from sitegen.disk.output import Output
from sitegen.pages.plan import REVIEW
from sitegen.pages.theme import ThemeError
from sitegen.pages.traced import BEHIND, EVERY, TEXT, Trace
from sitegen.pages_made import remembered
from sitegen.problems import Problems
from sitegen.records.text_files import review_of
from sitegen.resident import Edited, Resident

Progress = Callable[[str, int, int], None]


def build_edited(
    folder: Path, to: Path, memory: Memory, names: Iterable[str], called: str, others: Callable[[], Iterable[str]],
    progress: Progress,
) -> Built | None:  # fmt: skip
    """Publish what came of edits in the files `names`, where the build that is called so was the last; None where an ordinary
    build has to.

    `others` gives the files of the published site, which are seen to be as that build left them. Raises as `build` does.
    """
    edited = tuple(sorted(names))
    ids = {review_of(name) for name in edited}
    tool = tool_digest()
    if not tool or not edited or "" in ids:
        return None
    keep = Pieces(memory, tool)
    try:
        progress("reading", 0, 1)
        kept = kept_site(keep, called)
        found = _made(folder, memory, tool, keep, kept, edited) if kept is not None else None
    except Damaged:
        forget_site(keep)  # so that it is kept anew, and not met again and again
        return None
    except (NotAtHand, ThemeError):  # the one isn't known, the other has to be told
        return None
    finally:
        keep.close()
    if kept is None or found is None:
        return None
    pages = {path: data for one in found for path, data in one.pages.items()}
    output = _published(to, pages, others, progress)
    problems = unique(_problems(kept, ids, found))
    if tuple(problems) != kept.problems:
        called = tell(keep, called, tuple(problems))
    return Built(
        problems, True, kept.pages, kept.files, output.changed, kept.pictures, kept.site.publication.held,
        made=tuple(pages), called=called,
    )  # fmt: skip


def _made(
    folder: Path, memory: Memory, tool: str, keep: Pieces, kept: KeptSite, names: Iterable[str]
) -> list[Edited] | None:
    """What came of each edit; None where one may show elsewhere, or something has to be told that this doesn't look at."""
    publication = kept.site.publication
    editions = open_editions(publication, Problems())
    if editions is None:
        return None
    site = replace(kept.site, editions=editions, draw=remembered(memory, Trace(), tool))
    stays, found = Resident(folder, site, keep.table("templates")), []
    for name in names:
        if any(_is_of(file, {review_of(name)}) for file in kept.faulty) or not _shows_alone(kept, name):
            return None
        one = stays.after(name)
        if one is None or not one.pages:
            return None
        found.append(one)
    return found


def _shows_alone(kept: KeptSite, name: str) -> bool:
    """Whether only pages that an edit of a text makes anew look into it, or tell whether it lags."""
    plan, id = kept.site.plan, review_of(name)
    uses = ((TEXT, name), (BEHIND, EVERY), *((BEHIND, (REVIEW, id, tag)) for tag in plan.tags))
    return kept.shown.isdisjoint(map(text_of, uses))


def _published(to: Path, pages: dict[str, bytes], others: Callable[[], Iterable[str]], progress: Progress) -> Output:
    output = Output(to)
    try:
        for path, data in pages.items():
            output.put(path, data)
        progress("pages", len(pages), len(pages))
        output.finish(others)
    except BaseException:
        output.discard()
        raise
    return output


def _problems(kept: KeptSite, ids: set[str], found: Iterable[Edited]) -> Problems:
    """What the last build told of all else, and what is to be told of the edited reviews."""
    problems = Problems()
    problems.extend(problem for problem in kept.problems if not _is_of(problem.place.file, ids))
    for one in found:
        problems.extend(one.problems)
    return problems


def _is_of(file: str, ids: set[str]) -> bool:
    """Whether a file belongs to one of these reviews: reviews/ID/…, and reviews/ID.md."""
    top, _, rest = file.partition("/")
    return top == "reviews" and rest.partition("/")[0].removesuffix(".md") in ids
