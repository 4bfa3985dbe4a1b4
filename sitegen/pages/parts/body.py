"""A text's pieces as the HTML of one page: values, pictures and links put in their places."""

from collections.abc import Iterable
from dataclasses import replace
from html import escape

from markupsafe import Markup

from sitegen.figures.answers.prose import word_value
from sitegen.figures.answers.values import Values
from sitegen.figures.forms.typography import keep_units
from sitegen.pages.parts.placed import placed_block
from sitegen.pages.plan.plan import GUIDE, METHOD, PRODUCT, REVIEW, RIG, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.term_links import TermLinks, term_links
from sitegen.pages.views import Block, Link, Picture
from sitegen.problems import Problems
from sitegen.text.markdown import Body, ImageSlot, LinkSlot, Placement, ValueSlot

_INSIDE = {kind: kind for kind in (REVIEW, ROUND, GUIDE, METHOD, PRODUCT, RIG)}


def body_blocks(sheet: Sheet, body: Body, values: Values, problems: Problems, lang: str = "") -> tuple[Block, ...]:
    """The body of a text in `lang`: HTML, and between it what its author placed. Everything put in is escaped."""
    terms = term_links(sheet, lang)
    blocks: list[Block] = []
    parts: list[str] = []
    for piece in body.html:
        if isinstance(piece, Placement):
            blocks += [Block(html=Markup("".join(parts)))] if parts else []
            parts = []
            placed = placed_block(sheet, piece, len(blocks) + 1, values, problems)
            blocks += [_named_once(placed, blocks)] if placed is not None else []
        else:
            parts.append(_piece_html(sheet, piece, values, problems, terms))
    return (*blocks, Block(html=Markup("".join(parts)))) if parts else tuple(blocks)


def _named_once(block: Block, before: list[Block]) -> Block:
    """The block; a chart that the text shows already gets an id of its own."""
    if block.chart is None or all(b.chart is None or b.chart.id != block.chart.id for b in before):
        return block
    return replace(block, chart=replace(block.chart, id=f"{block.chart.id}-{len(before) + 1}"))


def _piece_html(
    sheet: Sheet,
    piece: str | ValueSlot | ImageSlot | LinkSlot,
    values: Values,
    problems: Problems,
    terms: TermLinks | None,
) -> str:
    """One piece; its strings are finished HTML."""
    if isinstance(piece, str):
        return terms.put(keep_units(piece)) if terms else keep_units(piece)
    if isinstance(piece, ValueSlot):
        return escape(word_value(piece.path, values, piece.place, problems))
    if isinstance(piece, ImageSlot):
        return _image(sheet, piece, values, problems)
    if terms:
        terms.enter_link()
    return _link(sheet, piece, values, problems)


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
