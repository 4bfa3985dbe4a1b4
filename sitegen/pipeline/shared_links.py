"""The pictures that go with links to pages: made again only when the words on them change."""

from sitegen.disk.shared_pictures import shared_picture
from sitegen.pages.plan.plan import Page
from sitegen.pages.render import make_view
from sitegen.pages.shared_links import shared_words
from sitegen.pages.site import Sheet
from sitegen.pages.views import ListPage, ReviewPage, RoundPage, TextPage
from sitegen.pipeline.demand import derived, derived_bytes, unstored_bytes
from sitegen.pipeline.reading import usable_settings
from sitegen.pipeline.site import plan, site_without_drawings
from sitegen.problems import Problems

ACCENT = "#2c5748"  # where a publication chooses none


@derived
def words_of_shared(kind: str, id: str, tag: str) -> tuple[str, str, str]:
    """Title, figure and what it says, of a page's picture. What is wrong with the page is reported where it is made."""
    made_of, page = site_without_drawings(), Page(kind, id)
    view = make_view(Sheet(made_of, made_of.editions[tag], page, plan().paths[page, tag]), Problems())
    assert isinstance(view, ReviewPage | RoundPage | TextPage | ListPage)
    title, figure, says = shared_words(view)
    return title, figure, says


@derived_bytes
def drawn_shared(title: str, figure: str, says: str, name: str, accent: str) -> bytes:
    """The picture of these words, which looks nothing up."""
    return shared_picture(title, figure, says, name, accent)


@unstored_bytes
def shared_file(kind: str, id: str, tag: str) -> bytes:
    """The picture of one page of one edition."""
    settings = usable_settings()
    name = site_without_drawings().editions[tag].say(settings.name)
    return drawn_shared(*words_of_shared(kind, id, tag), name, settings.theme.accent or ACCENT)
