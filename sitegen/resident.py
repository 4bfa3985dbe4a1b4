"""A publication in a process that stays: after an edit within one text only that text is read, checked and made again.

What that takes doesn't grow with the publication. Nothing is published here: the pages are given back, for whoever shows
an author the text being written. Whatever else changed (a title, a fact, a table, a file more or less) is a matter for a
build, and said to be one.
"""

from collections import ChainMap
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import cast

from sitegen.datatypes import dataclass
from sitegen.disk.packs import said
from sitegen.editions.against_data import Bench
from sitegen.editions.freshness import Behind
from sitegen.pages.plan import REVIEW, Page
from sitegen.pages.render import render_sheet
from sitegen.pages.site import Sheet, Site
from sitegen.pages_made import theme_of
from sitegen.problems import Problem, Problems
from sitegen.records.file_names import stem_of
from sitegen.records.keeping import Altered
from sitegen.records.text_files import Review, read_review, review_of, without_bodies
from sitegen.supported import check_one


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit within a text came to: the pages that show it, by path, and what is to be said of the text.

    There are no pages where an error stands in the text.
    """

    pages: Mapping[str, bytes]
    problems: tuple[Problem, ...]


class Resident:
    """The site of a build that went well, kept up with edits within the texts of reviews."""

    def __init__(self, folder: Path, site: Site, compiled: dict[str, bytes] | None = None) -> None:
        """`site` is that of the build (see `Built`), `compiled` the byte code of templates, as far as it is known."""
        publication = replace(site.publication, known_index=site.publication.index)
        self._folder, self._site = folder, replace(site, publication=publication)
        self._themes = {
            tag: theme_of(folder, edition, {} if compiled is None else compiled)
            for tag, edition in site.editions.items()
        }
        self._bench = Bench(publication, site.findings)
        self._reviews, self._edited = publication.reviews, dict[str, Review]()
        self._lagging = site.behind
        self._behind = dict[tuple[str, str, str], Behind | None]()  # of the edited reviews

    def after(self, name: str) -> Edited | None:
        """What came of an edit of the file `name` (from the publication's folder); None where a build has to look at it."""
        id, publication, problems = review_of(name), self._site.publication, Problems()
        if not id or id not in publication.reviews:
            return None
        before = publication.reviews[id]
        if any(
            (held.kind, held.id) == ("review", id) for held in publication.held
        ):  # a text that waits has been taken out of it
            return None
        if before.short or name not in {text.file for text in before.texts}:
            return None
        review = read_review(self._folder, before, publication.settings, publication.protocols, problems)
        if problems.has_errors:
            return Edited({}, tuple(problems))
        if review is None or said(without_bodies(review)) != said(without_bodies(before)):
            return None
        self._take_over(review, problems)
        pages = self._pages(review, name, problems)
        return Edited({} if problems.has_errors else pages, tuple(dict.fromkeys(problems)))

    def _take_over(self, review: Review, problems: Problems) -> None:
        """Put the review into the site, and look at it beside its translations and the readings as a build does."""
        site = self._site
        self._edited[review.id] = review
        publication = replace(site.publication, reviews=Altered(self._reviews, replaced=self._edited))
        found = check_one(publication, REVIEW, review.id, self._bench)
        problems.extend(found.editions)
        problems.extend(found.figures)
        for text in review.texts:
            self._behind[REVIEW, review.id, text.lang] = found.behind.get(text.lang)
        behind = ChainMap(self._behind, cast(dict[tuple[str, str, str], Behind | None], self._lagging))
        # Those that lag no more stand in it as None, which is what is given for them anyway.
        self._site = replace(site, publication=publication, behind=cast(Mapping[tuple[str, str, str], Behind], behind))

    def _pages(self, review: Review, name: str, problems: Problems) -> dict[str, bytes]:
        """The pages that show the text in the file `name`, or that it lags behind it."""
        site, page = self._site, Page(REVIEW, review.id)
        made = {}
        for tag, path in site.plan.showing(page, stem_of(name)).items():
            made[path] = render_sheet(Sheet(site, site.editions[tag], page, path), self._themes, problems)
        return made
