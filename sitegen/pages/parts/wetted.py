"""Wetted shares from photographs, as a page shows them."""

from collections.abc import Iterable

from sitegen.pages.site import Sheet, WettedShown
from sitegen.pages.views import Picture, Wetted
from sitegen.records.fields.stage import Stage


def wetted_views(sheet: Sheet, round: str, product: str = "", stage: Stage | None = None) -> tuple[Wetted, ...]:
    """The pairs of a round, or of one product or stage in it."""
    shown: Iterable[WettedShown] = sheet.site.wetted.get(round, ())
    return tuple(
        _view(sheet, one) for one in shown if product in ("", one.pair.product.id) and stage in (None, one.pair.stage)
    )


def _view(sheet: Sheet, one: WettedShown) -> Wetted:
    from sitegen.figures.wording.wetted import (  # few rounds have such photographs
        overlay_alt,
        refusal_sentence,
        share_sentence,
    )

    if one.fault:
        return Wetted(sentence=refusal_sentence(sheet.edition, one.pair, one.fault))
    webp, jpeg = sheet.href(one.webp), sheet.href(one.jpeg)
    picture = Picture(
        src=jpeg,
        webp=f"{webp} {one.width}w",
        jpeg=f"{jpeg} {one.width}w",
        sizes="(min-width: 40rem) 34rem, 100vw",
        width=one.width,
        height=one.height,
        alt=overlay_alt(sheet.edition, one.pair),
    )
    return Wetted(sentence=share_sentence(sheet.edition, one.pair, one.share, one.low, one.high), picture=picture)
