"""Care labels and finish chemistry in words; never as pictograms, which are protected marks."""

from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import Edition
from sitegen.records.product import Finish, Version
from sitegen.records.stock_records import CARE_GROUPS, Stock


def care_words(edition: Edition, version: Version, stock: Stock) -> tuple[str, ...]:
    """The label's instructions in the order of ISO 3758: washing, bleaching, drying, ironing, professional care."""
    known = [stock.care[ref.id] for ref in version.care if ref.id in stock.care]
    known.sort(key=lambda word: CARE_GROUPS.index(word.group))
    return tuple(edition.say(word.words) for word in known)


def finish_source(edition: Edition, finish: Finish) -> str:
    """Who says so and when; that a bench can't verify it."""
    t = edition.lang
    date = date_text(t, finish.date)
    return t.text("Source: {source}, {date}. A bench cannot verify this.", source=edition.say(finish.source), date=date)
