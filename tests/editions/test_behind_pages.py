"""A page whose text lags says so to its reader."""

from pathlib import Path

from sitegen.editions.following.freshness import behind
from sitegen.pages.kinds.review import review_page
from sitegen.pages.plan.plan import REVIEW, Page
from sitegen.pages.site import Sheet
from sitegen.pipeline.build import opened, read
from sitegen.pipeline.site import site_without_drawings
from sitegen.problems import Problems


def test_the_demo_has_one_translation_behind_by_two_paragraphs(repository: Path) -> None:
    """One complete, one behind by two, one missing; the page of the one that lags links to the lead's."""
    root, problems = repository / "demo_site", Problems()
    publication = read(root, problems)
    assert publication is not None
    lags = behind(publication)
    assert {key: len(lag.changes) for key, lag in lags.items()} == {("review", "luv180", "en"): 2}
    assert "reviews/halde/en.md" in publication.follows and publication.reviews["luv180"].text("nl") is None
    with opened(root):
        made_of, notes = site_without_drawings(), {}
        for page, tag in made_of.plan.paths:
            if page.kind == REVIEW and page.id in ("luv180", "halde"):
                sheet = Sheet(made_of, made_of.editions[tag], page, made_of.plan.paths[page, tag])
                notes[page.id, tag] = review_page(sheet, problems).byline.notes
        path = made_of.plan.path(Page(REVIEW, "luv180"), "de")
    assert not [p for p in problems if p.code.startswith(("edition-", "follows-"))]
    (note,) = notes["luv180", "en"]
    assert path == f"de/{note.href.removeprefix('../../de/')}" and "German" in note.text
    assert not notes["luv180", "de"] and not notes["halde", "en"]
