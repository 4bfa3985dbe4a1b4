"""The wetted share of a photo pair in words: a support for the grade given by eye, never its replacement."""

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.messages import msgid
from sitegen.records.fields.photo_pair import PhotoPair

FAULTS = {
    "not_a_picture": msgid("one of the files is too small or no colour picture"),
    "sizes_differ": msgid("the two pictures have different sizes"),
    "hoop_outside": msgid("the hoop is not wholly in the picture"),
    "blown_out": msgid("the picture is overexposed"),
    "too_dark": msgid("the picture is too dark"),
    "no_match": msgid("the two pictures show nothing in common"),
    "moved": msgid("the camera or the specimen moved between the two"),
    "too_small_a_difference": msgid("wet and dry parts look too much alike"),
    "not_two_parts": msgid("the differences do not fall into a wet and a dry part"),
}


def pair_name(edition: Edition, pair: PhotoPair) -> str:
    """Which specimen a pair shows."""
    t = edition.lang
    parts = [edition.product(pair.product.id), edition.stage(pair.stage)]
    parts += [t.text("specimen {id}", id=pair.specimen)] if pair.specimen else []
    return ", ".join(parts)


def share_sentence(edition: Edition, pair: PhotoPair, share: float, low: float, high: float) -> str:
    """The share with its interval, and what it is worth."""
    t = edition.lang
    value = numbers.percent(t, numbers.round_to(100 * share, 0))
    interval = numbers.span(t, numbers.round_to(100 * low, 0), numbers.round_to(100 * high, 0), "%")
    return t.text(
        "{specimen}: {share} of the area in the hoop looks wet ({interval}, with threshold and alignment varied). "
        "A gleam on wet cloth can pass for dry. The picture supports the grade given by eye and does not replace it.",
        specimen=pair_name(edition, pair),
        share=value,
        interval=interval,
    )


def refusal_sentence(edition: Edition, pair: PhotoPair, fault: str) -> str:
    """Why a pair gives no share."""
    t = edition.lang
    cause = t.text(FAULTS[fault])
    return t.text(
        "{specimen}: no wetted share can be read from the photographs, since {cause}.",
        specimen=pair_name(edition, pair),
        cause=cause,
    )


def overlay_alt(edition: Edition, pair: PhotoPair) -> str:
    """What the overlay picture shows."""
    return edition.lang.text(
        "{specimen}: the wet area is hatched and outlined in the photograph of the hoop.",
        specimen=pair_name(edition, pair),
    )
