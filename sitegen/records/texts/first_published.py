"""Where a review appeared first, on what terms it may appear here, and until when an edition waits."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import field
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.fields import FAILED, placed, written
from sitegen.records.fields.kinds import DAY, LANGUAGE_TAG, LINE, WORDS, YES_NO, Pattern
from sitegen.records.fields.words import Words
from sitegen.records.settings import WebAddress
from sitegen.text.yaml_nodes import Mapping, Node

EVERY = ""  # the edition of an embargo that holds for all
_TAG = Pattern(LANGUAGE_TAG.pattern, "the tag of a language (BCP 47), such as de or en-GB", "de")


@dataclass(frozen=True, slots=True)
class Wait:
    """Until which day an edition waits; it may appear on that day."""

    edition: str
    until: dt.date
    place: Place = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class EmbargoOf:
    """One day for all editions, or a group of editions each with its day."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A tuple of Wait."""
        if not isinstance(node, Mapping):
            day = DAY.take(node, name, problems)
            return FAILED if day is FAILED else (Wait(EVERY, day, node.place),)
        waits = []
        for entry in node.entries:
            tag = _TAG.take(entry.key, name, problems)
            day = DAY.take(entry.value, f"{name}.{entry.key.text}", problems)
            if tag is FAILED or day is FAILED:
                return FAILED
            waits.append(Wait(tag, day, entry.key.place))
        return tuple(waits)

    def schema(self) -> dict[str, Any]:
        """A date, or an object with a date for each language tag."""
        day = DAY.schema()
        return {"anyOf": [day, {"type": "object", "additionalProperties": day}], "examples": ["2026-12-01"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPublished:
    """A first publication by somebody else. With `canonical` the outlet's address counts as the original in its language."""

    outlet: str = written(LINE, "who published it first")
    date: dt.date = written(DAY, "the day it appeared there")
    language: str = written(_TAG, "the language it appeared in")
    terms: Words = written(WORDS, "on what terms it may appear here, in words that readers see")
    fee: bool = written(YES_NO, "whether the outlet paid for the text")
    address: str = written(WebAddress(), "where it stands there", default="")
    canonical: bool = written(YES_NO, "whether the terms ask search engines to be pointed there", default=False)
    embargo: tuple[Wait, ...] = written(EmbargoOf(), "the day from which it may appear here", default=())
    place: Place = placed()

    def until(self, edition: str) -> dt.date | None:
        """The day from which an edition may show it; None where it need not wait."""
        own = [wait.until for wait in self.embargo if wait.edition in (EVERY, edition)]
        return max(own, default=None)

    def is_original_of(self, lang: str) -> bool:
        """Whether a text in this language has its original at the outlet, by the terms."""
        return self.canonical and self.language == lang


def check_first_published(first: FirstPublished, tags: Iterable[str], problems: Problems) -> None:
    """What one field alone can't tell: editions that there aren't, dates the wrong way round, terms without an address."""
    tags = tuple(tags)
    for wait in first.embargo:
        if wait.edition not in (EVERY, *tags):
            hint = meant_or(wait.edition, tags, f"declared: {', '.join(tags)}")
            problems.error(
                "edition-undeclared", wait.place, f"{quoted(wait.edition)} is no edition of this publication", hint
            )
        if wait.until < first.date:
            message = f"the embargo ends on {wait.until}, before {first.outlet} published it on {first.date}"
            problems.error("embargo", wait.place, message, "exchange the two dates, or leave the embargo out")
    if first.canonical and not first.address:
        message = "`canonical: yes` points to the original, but there is no `address`"
        problems.error(
            "canonical",
            first.place,
            message,
            "add where it stands there, such as  address: https://outlet.example/tarn",
        )
    elif first.canonical and first.language not in tags:
        message = (
            f"`canonical: yes` is for the edition in the original's language, but {first.language} is no edition here"
        )
        problems.error(
            "canonical", first.place, message, "write canonical: no; a translation is no copy of its original"
        )
