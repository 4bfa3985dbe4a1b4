"""What the picture of a page says to those with whom it is shared: its finding, in few words."""

from typing import NamedTuple

from sitegen.figures.answers.picks import fact_sentences
from sitegen.figures.answers.prose import fill_prose
from sitegen.pages.kinds.lists import lead_of
from sitegen.pages.kinds.review import key_lines
from sitegen.pages.parts import parts
from sitegen.pages.parts.orders import choices
from sitegen.pages.plan.plan import GUIDE, HOME, REVIEW, ROUND
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import description_of
from sitegen.problems import Problems
from sitegen.records.texts.text_files import Guide

LONGEST = 130  # letters in three lines below a title of three lines


class SharedWords(NamedTuple):
    """What the picture of a page shows: its title, one figure (or none), and what that says."""

    title: str
    figure: str
    says: str


def shared_words(sheet: Sheet) -> SharedWords:
    """The finding that a page's picture shows: its first key figure, the pick for its first use, else its summary.

    For pages that `is_shared`. What is wrong with the words of a text is reported where its page is made.
    """
    makers = {REVIEW: _review, ROUND: _round, GUIDE: _guide, HOME: _home}
    return makers[sheet.page.kind](sheet)


def _review(sheet: Sheet) -> SharedWords:
    review = sheet.site.publication.cards[sheet.page.id]
    assert review.facts.product is not None
    words = _text(sheet, review, review.id)
    findings = sheet.site.findings.get(parts.text_values(sheet, review.id).round)
    lines = key_lines(sheet, review, findings, review.facts.product.id)
    if not lines:
        return words
    name = f"{lines[0].name}, {lines[0].detail}" if lines[0].detail else lines[0].name
    return SharedWords(words.title, lines[0].value, " ".join(_whole((f"{name}.", *lines[0].says))))


def _round(sheet: Sheet) -> SharedWords:
    findings = sheet.site.findings[sheet.page.id]
    title, picked = sheet.say(findings.round.title), choices(sheet, findings)
    if picked:
        return SharedWords(title, picked[0].use, picked[0].sentences[0])
    facts = fact_sentences(sheet.edition, findings)
    said = facts[0] if facts else description_of(sheet, sheet.say(findings.round.summary) or title)
    return SharedWords(title, "", said)


def _guide(sheet: Sheet) -> SharedWords:
    return _text(sheet, sheet.site.publication.guides[sheet.page.id])


def _home(sheet: Sheet) -> SharedWords:
    return SharedWords(sheet.say(sheet.site.publication.settings.name), "", lead_of(sheet))


def _text(sheet: Sheet, guide: Guide, review: str = "") -> SharedWords:
    """Title and summary of a text."""
    text, problems = guide.text(sheet.tag) or guide.texts[0], Problems()
    values = parts.text_values(sheet, review, text)
    title, summary = (fill_prose(prose, values, problems) for prose in (text.head.title, text.head.summary))
    return SharedWords(title, "", description_of(sheet, summary))


def _whole(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """The first of some sentences, as many as fit: a verdict that is cut could say the opposite.

    >>> _whole(("Mass.", "The lightest of eight.", "x" * 120))
    ('Mass.', 'The lightest of eight.')
    """
    fit = [n for n in range(len(sentences) + 1) if len(" ".join(sentences[:n])) <= LONGEST]
    return sentences[: fit[-1]]
