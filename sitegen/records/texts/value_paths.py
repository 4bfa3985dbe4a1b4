"""The words of a value's path in a text, and which paths are wrong whatever the readings say.

A path is held against the findings when a page is made. Where other errors stop a build before that, what is
said here is all that can be said without a false alarm: only words are looked at that no mended file could turn
into a value.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass, replace

from sitegen.place import Place
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.kinds import Prose
from sitegen.records.measured.round import Measure, parse_measure
from sitegen.records.names.references import is_written
from sitegen.records.publication import Publication
from sitegen.records.texts.texts import Text
from sitegen.text.markdown import ImageSlot, LinkSlot, ValueSlot
from sitegen.text.value_grammar import MEANT, PLACEMENT, VALUE_OR_BRACE, tidy_path

DATES = ("price date", "received", "returned", "tested from", "tested to")
FACTS = ("name", "maker", "price", "version", *DATES)
ASPECTS = ("claimed", "interval", "letters", "number", "rank", "readings", "spread", "words")
PLACED_WITHIN = (
    "this places a chart, a table or photos, which can't stand within a line",
    "write it on a line of its own, between blank lines",
)
_SHARE = re.compile(r"^(.*) to (\d{1,2}) ?%$")


def split_aspect(subject: str) -> tuple[Measure | None, str]:
    """A subject as measure and aspect (a share of a curve's start as its digits); None where no measure is written."""
    share = _SHARE.match(subject)
    if share:
        return parse_measure(share[1]), share[2]
    head, _, last = subject.rpartition(" ")
    if last in ASPECTS:
        return parse_measure(head), last
    return parse_measure(subject), ""


def subjects_like(subject: str, measures: Sequence[str]) -> tuple[str, ...]:
    """What a subject that names nothing may have been meant to be: facts, and these measures with and without an aspect.

    >>> subjects_like("mas to 10 %", ["mass"])[-2:]
    ('mass readings', 'mass to 10 %')
    """
    share = _SHARE.match(subject)
    aspects = (*ASPECTS, f"to {share[2]} %") if share else ASPECTS
    return (*measures, *FACTS, *(f"{measure} {aspect}" for measure in measures for aspect in aspects))


def check_value_paths(texts: Iterator[Text], publication: Publication, problems: Problems) -> None:
    """Report the paths that can't name a value in any state of the readings."""
    told: set[tuple[Place, str]] = set()
    for text in texts:
        for path, place in (*_of_body(text), *_of_head(text.head)):
            message, hint = _fault(" ".join(path.split()), publication)
            if message and (place, path) not in told:
                told.add((place, path))
                problems.error("value-unknown", place, f"{quoted('{' + path + '}')}: {message}", hint)


def _of_body(text: Text) -> Iterator[tuple[str, Place]]:
    for piece in text.body.html:
        slots: tuple[object, ...] = (piece,)
        if isinstance(piece, ImageSlot):
            slots = (*piece.alt, *piece.title)
        elif isinstance(piece, LinkSlot):
            slots = piece.title
        yield from ((slot.path, slot.place) for slot in slots if isinstance(slot, ValueSlot))


def _of_head(value: object) -> Iterator[tuple[str, Place]]:
    """The paths in a front matter's texts, however deep they stand in it."""
    if isinstance(value, Prose):
        for found in VALUE_OR_BRACE.finditer(value.text):
            if found[2] and found[2].strip() != MEANT:
                place = replace(value.place, column=value.place.column + found.start(), width=len(found[0]))
                yield tidy_path(found[2]), place
    elif isinstance(value, tuple):
        for item in value:
            yield from _of_head(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _of_head(getattr(value, field.name))


def _fault(path: str, publication: Publication) -> tuple[str, str]:
    """What is wrong with a path, and what could be meant; two empty texts where nothing can be said yet."""
    if PLACEMENT.match(path):
        return PLACED_WITHIN
    path, _, round = path.partition(" in ")
    subject, _, product = path.partition(" of ")
    for what, id, known in (("product", product, publication.products), ("round", round, publication.rounds)):
        if id and id not in known and not is_written(id, what, publication):
            return f"there is no {what} `{id}`", meant_or(id, known)
    measure, _ = split_aspect(subject)
    if subject in FACTS or (measure and _is_protocol(measure.protocol, publication)):
        return "", ""
    like = measure or parse_measure(subject.rpartition(" ")[0])
    measures = [replace(like, protocol=id).text if like else id for id in publication.protocols]
    return f"`{subject}` names no value", meant_or(subject, subjects_like(subject, measures))


def _is_protocol(id: str, publication: Publication) -> bool:
    return id in publication.protocols or is_written(id, "protocol", publication)
