"""A text's pieces as the HTML of one page: values, pictures and links put in their places."""

from collections.abc import Iterable
from html import escape

from markupsafe import Markup

from sitegen.figures.prose import word_value
from sitegen.figures.typography import keep_units
from sitegen.figures.values import Values
from sitegen.pages.plan import GUIDE, METHOD, PRODUCT, REVIEW, RIG, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.term_links import term_links
from sitegen.pages.views import Link, Picture
from sitegen.problems import Problems
from sitegen.text.markdown import Body, ImageSlot, LinkSlot, ValueSlot

_INSIDE = {kind: kind for kind in (REVIEW, ROUND, GUIDE, METHOD, PRODUCT, RIG)}


def body_html(sheet: Sheet, body: Body, values: Values, problems: Problems, lang: str = "") -> Markup:
    """The body of a text in `lang`. Everything put in is escaped; the pieces themselves are finished HTML."""
    terms = term_links(sheet, lang)
    parts = []
    for piece in body.html:
        if isinstance(piece, str):
            parts.append(terms.put(keep_units(piece)) if terms else keep_units(piece))
        elif isinstance(piece, ValueSlot):
            parts.append(escape(word_value(piece.path, values, piece.place, problems)))
        elif isinstance(piece, ImageSlot):
            parts.append(_image(sheet, piece, values, problems))
        else:
            parts.append(_link(sheet, piece, values, problems))
            if terms:
                terms.enter_link()
    return Markup("".join(parts))


def words_text(words: Iterable[str | ValueSlot], values: Values, problems: Problems) -> str:
    """Running text with its values, not escaped."""
    return "".join(
        keep_units(piece) if isinstance(piece, str) else word_value(piece.path, values, piece.place, problems)
        for piece in words
    )


def _image(sheet: Sheet, slot: ImageSlot, values: Values, problems: Problems) -> str:
    alt, caption = (words_text(words, values, problems) for words in (slot.alt, slot.title))
    picture = sheet.picture(slot.src, alt, caption)
    if picture is None:
        return ""
    return picture_html(picture) if slot.block else _img(picture)


def picture_html(picture: Picture) -> str:
    """A picture standing alone, with its caption."""
    inner = f'<picture><source type="image/webp" srcset="{escape(picture.webp)}" sizes="{picture.sizes}">{_img(picture)}</picture>'
    if not picture.caption:
        return f'<div class="photo">{inner}</div>'
    return f'<figure class="photo">{inner}<figcaption>{escape(picture.caption)}</figcaption></figure>'


def _img(picture: Picture) -> str:
    return (
        f'<img src="{escape(picture.src)}" srcset="{escape(picture.jpeg)}" sizes="{picture.sizes}" width="{picture.width}"'
        f' height="{picture.height}" alt="{escape(picture.alt)}" loading="lazy">'
    )


def _link(sheet: Sheet, slot: LinkSlot, values: Values, problems: Problems) -> str:
    title = words_text(slot.title, values, problems)
    shown = f' title="{escape(title)}"' if title else ""
    kind, _, rest = slot.href.partition(":")
    if kind not in _INSIDE:
        # A link to a maker's page is a source and no recommendation: it passes nothing on.
        outside = ' rel="nofollow noopener"' if kind in {"http", "https"} else ""
        return f'<a href="{escape(slot.href)}"{outside}{shown}>'
    id, _, fragment = rest.partition("#")
    found = sheet.link(Page(_INSIDE[kind], id), "")
    if found is None:
        return f"<a{shown}>"
    language = f' lang="{found.lang}" hreflang="{found.lang}"' if found.lang else ""
    return f'<a href="{escape(found.href)}{"#" + escape(fragment) if fragment else ""}"{language}{shown}>'


def contents(body: Body, values: Values, problems: Problems) -> tuple[Link, ...]:
    """The headings of a text as links, for texts long enough to want them."""
    found = [h for h in body.headings if h.level == 2]
    if len(found) < 3:
        return ()
    return tuple(Link(text=words_text(h.words, values, problems), href=f"#{h.id}") for h in found)
