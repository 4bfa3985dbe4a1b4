"""Where an entrant stands, in words that fit into a sentence, and the words of a grade."""

from decimal import Decimal

from sitegen.editorial.standing import Standing
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.messages import msgid
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import Protocol

COUNTS = (
    msgid("two"), msgid("three"), msgid("four"), msgid("five"), msgid("six"), msgid("seven"), msgid("eight"),
    msgid("nine"), msgid("ten"), msgid("eleven"), msgid("twelve"),
)  # fmt: skip
PLACES = (
    msgid("first of {n}"), msgid("second of {n}"), msgid("third of {n}"), msgid("fourth of {n}"), msgid("fifth of {n}"),
    msgid("sixth of {n}"), msgid("seventh of {n}"), msgid("eighth of {n}"), msgid("ninth of {n}"), msgid("tenth of {n}"),
    msgid("eleventh of {n}"), msgid("twelfth of {n}"),
)  # fmt: skip
FEW = 2  # entrants that are named; more are counted


def counted(edition: Edition, n: int) -> str:
    """A count in running text: a word from two to twelve, figures beyond."""
    return edition.lang.text(COUNTS[n - 2]) if 2 <= n < 2 + len(COUNTS) else numbers.number(edition.lang, n)


def rank_text(edition: Edition, protocol: Protocol, standing: Standing) -> str:
    """`the lightest of eight`, `third of eight`, `level with Halde`; empty where there is nothing to say.

    Only differences that could be shown count: an entrant that is level with another has no place of its own.
    """
    t = edition.lang
    n = counted(edition, standing.of)
    for is_there, lowest in ((standing.is_lowest, True), (standing.is_highest, False)):
        if is_there and (most := end_words(edition, protocol, lowest=lowest)):
            return t.text("{most} of {n}", most=most, n=n)
    if standing.level:
        return level_text(edition, standing)
    place = standing.place(protocol.better)
    if place is None:
        return ""
    if place > len(PLACES):
        return t.text("place {place} of {n}", place=place, n=n)
    return t.text(PLACES[place - 1], n=n)


def end_words(edition: Edition, protocol: Protocol, *, lowest: bool) -> str:
    """What whoever has the lowest or the highest value is; empty where the edition's language has no word for it.

    A foreign word inside a sentence would help nobody.
    """
    words: Words | None = protocol.lowest if lowest else protocol.highest
    if words is None:
        return ""
    found, tag = words.choose(edition.tag, edition.lead)
    return found if tag.split("-")[0] == edition.tag.split("-")[0] else ""


def level_text(edition: Edition, standing: Standing) -> str:
    """Between whom and the entrant no difference could be shown."""
    t = edition.lang
    if len(standing.level) <= FEW:
        names = numbers.listing(t, [edition.product(product) for product in standing.level])
        return t.text("level with {products}", products=names)
    return t.text("level with {n} others", n=counted(edition, len(standing.level)))


def grade_words(edition: Edition, protocol: Protocol, grade: Decimal) -> str:
    """What a grade looks or feels like; empty between two grades."""
    found = next((entry for entry in protocol.grades if entry.grade == grade), None)
    return edition.say(found.name) if found else ""
