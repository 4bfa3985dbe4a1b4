"""A page whose text lags says so to its reader."""

from pathlib import Path

from sitegen import build, stock
from sitegen.editions.freshness import behind
from sitegen.pages.plan import REVIEW, Page
from sitegen.pages.render import sheets
from sitegen.pages.review import review_page
from sitegen.pages.site import PictureFile, PictureSet
from sitegen.problems import Problems
from sitegen.records.publication import read_publication
from sitegen.records.references import used_photos
from sitegen.records.stock_records import read_stock
from sitegen.text.source import walk_sources


def test_the_demo_has_one_translation_behind_by_two_paragraphs(repository: Path) -> None:
    """One complete, one behind by two, one missing; the page of the one that lags links to the lead's."""
    root, problems = repository / "demo_site", Problems()
    publication = read_publication(root, walk_sources(root), read_stock(stock.content_folder(), problems), problems)
    assert publication is not None
    lags = behind(publication)
    assert {key: len(lag.changes) for key, lag in lags.items()} == {("review", "luv180", "en"): 2}
    assert "reviews/halde/en.md" in publication.follows and publication.reviews["luv180"].text("nl") is None
    pictures = {ref.id: PictureSet(1, 1, (PictureFile(1, ref.id, ref.id),)) for ref in used_photos(publication)}
    site = build.make_site(root, publication, pictures, problems)
    assert site is not None and not [p for p in problems if p.code.startswith(("edition-", "follows-"))]
    notes = {
        (sheet.page.id, sheet.tag): review_page(sheet, problems).byline.notes
        for sheet in sheets(site)
        if sheet.page.kind == "review" and sheet.page.id in ("luv180", "halde")
    }
    (note,) = notes["luv180", "en"]
    assert (
        site.plan.path(Page(REVIEW, "luv180"), "de") == f"de/{note.href.removeprefix('../../de/')}"
        and "German" in note.text
    )
    assert not notes["luv180", "de"] and not notes["halde", "en"]
