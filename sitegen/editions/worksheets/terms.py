"""Terms that one language of a text uses and the other doesn't.

A paragraph that uses a term of the glossary (any of its forms) should do so in each language. That is a
question for a person, not a fault: the word may be left out for style. So gaps are listed on demand and are never
problems of a build.
"""

from collections.abc import Iterator, Sequence
from dataclasses import field

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import texts_of
from sitegen.editions.following.pairing import pair_parts
from sitegen.editions.following.parts import Part, parts_of
from sitegen.editions.typed.figure_reader import place_in, running_text
from sitegen.figures.forms.term_forms import TermForms, term_forms
from sitegen.place import Place
from sitegen.records.publication import Publication
from sitegen.records.texts.text_files import Guide

__all__ = ["TermGap", "term_report"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TermGap:
    """A paragraph that uses a term while its counterpart uses none of that term's names.

    `word` is the term as it stands at `place` in `lang`; `expected` are its names in `other_lang`, `other` the
    beginning of the paragraph that lacks them.
    """

    term: str
    lang: str
    word: str
    place: Place = field(compare=False)
    other_lang: str
    other: Place = field(compare=False)
    expected: tuple[str, ...]


def term_report(publication: Publication) -> tuple[TermGap, ...]:
    """Every gap between a translation and its lead, in both directions, in the order of the texts."""
    forms: dict[str, TermForms] = {}
    for tag in publication.settings.tags:
        forms[tag] = term_forms(publication.terms, tag, publication.settings.lead)
    return tuple(gap for _, _, holder in texts_of(publication) for gap in _gaps(holder, forms))


def _gaps(holder: Guide, forms: dict[str, TermForms]) -> Iterator[TermGap]:
    if len(holder.texts) < 2:
        return
    lead, *others = holder.texts
    lead_parts = parts_of(lead)
    for text in others:
        for there, here in pair_parts(lead_parts, parts_of(text)):
            yield from _between(there, here, forms[lead.lang], forms[text.lang])
            yield from _between(here, there, forms[text.lang], forms[lead.lang])


def _between(part: Part, other: Part, own: TermForms, others: TermForms) -> Iterator[TermGap]:
    told: set[str] = set()
    text = running_text(part.text)
    counterpart = ""
    for id, start, end in own.find(text):
        if id in told or id not in others.forms:
            continue
        told.add(id)
        counterpart = counterpart or running_text(other.text)
        if not _uses(id, counterpart, others, own.forms[id]):
            yield TermGap(
                term=id, lang=own.tag, word=text[start:end], place=place_in(part, start, end),
                other_lang=others.tag, other=other.place, expected=others.forms[id],
            )  # fmt: skip


def _uses(id: str, text: str, forms: TermForms, foreign: Sequence[str]) -> bool:
    """Whether a text uses a term; its name in the other language will do, as people quote it."""
    return forms.uses(id, text) or any(name in text for name in foreign)
