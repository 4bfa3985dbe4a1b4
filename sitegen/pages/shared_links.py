"""What a page says of itself where a link to it is shared: the Open Graph protocol (ogp.me, from memory).

Required there: og:title, og:type, og:image, og:url. Nothing of it is loaded by whoever reads the page.
"""

from typing import NamedTuple

from babel.core import get_global

from sitegen.figures.forms.language import Language
from sitegen.pages.plan.plan import GUIDE, HOME, REVIEW, ROUND, Page
from sitegen.pages.plan.standing import canonical, own_languages
from sitegen.pages.site import Sheet
from sitegen.pages.views import ListPage, ReviewPage, RoundPage, TextPage

WIDTH, HEIGHT = 1200, 630  # of the picture, in pixels; common practice for this shape, no source

LONGEST = 130  # letters in three lines below a title of three lines


class SharedWords(NamedTuple):
    """What the picture of a page shows: its title, one figure (or none), and what that says."""

    title: str
    figure: str
    says: str


def is_shared(page: Page) -> bool:
    """Whether a page has a picture for those who share it: reviews, comparisons, guides, front pages."""
    return page.kind == HOME or (page.kind in {REVIEW, ROUND, GUIDE} and bool(page.id))


def picture_path(path: str) -> str:
    """Where the picture of the page at `path` stands.

    >>> picture_path("en/reviews/halde.html")
    'shared/en/reviews/halde.png'
    """
    return f"shared/{path.removesuffix('.html')}.png"


def shared_words(view: ReviewPage | RoundPage | TextPage | ListPage) -> SharedWords:
    """The finding that a page's picture shows: its first key figure, the pick for its first use, else its summary."""
    title = view.frame.title
    if isinstance(view, ReviewPage) and view.key:
        key = view.key[0]
        name = f"{key.name}, {key.detail}" if key.detail else key.name
        return SharedWords(title, key.value, " ".join(_whole((f"{name}.", *key.says))))
    if isinstance(view, RoundPage) and view.choices:
        choice = view.choices[0]
        return SharedWords(title, choice.use, choice.sentences[0])
    if isinstance(view, RoundPage) and view.key_facts:
        return SharedWords(title, "", view.key_facts[0])
    if isinstance(view, ListPage):
        return SharedWords(title, "", view.lead)
    return SharedWords(title, "", view.frame.description)


def _whole(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """The first of some sentences, as many as fit: a verdict that is cut could say the opposite.

    >>> _whole(("Mass.", "The lightest of eight.", "x" * 120))
    ('Mass.', 'The lightest of eight.')
    """
    fit = [n for n in range(len(sentences) + 1) if len(" ".join(sentences[:n])) <= LONGEST]
    return sentences[: fit[-1]]


def properties(sheet: Sheet, title: str, description: str) -> tuple[tuple[str, str], ...]:
    """The properties of a page, in the protocol's names; none for pages that have no picture."""
    if not is_shared(sheet.page):
        return ()
    site = sheet.site
    image = site.plan.absolute(picture_path(sheet.path))
    others = [site.editions[tag].lang for tag in own_languages(sheet) if tag != sheet.tag]
    return (
        ("og:title", title),
        ("og:type", "website" if sheet.page.kind == HOME else "article"),
        ("og:url", canonical(sheet)),
        ("og:image", image),
        ("og:image:type", "image/png"),
        ("og:image:width", str(WIDTH)),
        ("og:image:height", str(HEIGHT)),
        ("og:image:alt", title),
        ("og:description", description),
        ("og:site_name", sheet.say(site.publication.settings.name)),
        ("og:locale", locale_of(sheet.edition.lang)),
        *(("og:locale:alternate", locale_of(lang)) for lang in others),
    )


def locale_of(lang: Language) -> str:
    """A language with a territory, as the protocol asks for; where its tag has none, the likely one (CLDR)."""
    locale = lang.locale
    likely = str(get_global("likely_subtags").get(locale.language, ""))
    territory = locale.territory or likely.rpartition("_")[2]
    return f"{locale.language}_{territory}" if territory else locale.language
