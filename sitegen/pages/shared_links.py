"""What a page says of itself where a link to it is shared: the Open Graph protocol (ogp.me, from memory).

Required there: og:title, og:type, og:image, og:url. Nothing of it is loaded by whoever reads the page.
"""

from babel.core import get_global

from sitegen.figures.forms.language import Language
from sitegen.pages.plan.plan import GUIDE, HOME, REVIEW, ROUND, Page
from sitegen.pages.plan.standing import canonical, own_languages
from sitegen.pages.site import Sheet

WIDTH, HEIGHT = 1200, 630  # of the picture, in pixels; common practice for this shape, no source


def is_shared(page: Page) -> bool:
    """Whether a page has a picture for those who share it: reviews, comparisons, guides, front pages."""
    return page.kind == HOME or (page.kind in {REVIEW, ROUND, GUIDE} and bool(page.id))


def picture_path(path: str) -> str:
    """Where the picture of the page at `path` stands.

    >>> picture_path("en/reviews/halde.html")
    'shared/en/reviews/halde.png'
    """
    return f"shared/{path.removesuffix('.html')}.png"


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
