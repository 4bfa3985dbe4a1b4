"""publication.yaml: what the publication is called, its languages, where it lives, its promises."""

import re
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields import RecordOf, fail, placed, written
from sitegen.records.kinds import LANGUAGE_TAG, LINE, WORDS, YES_NO, Choice, ListOf, Pattern
from sitegen.records.words import Words
from sitegen.text.yaml_nodes import Node, Scalar

LEAVE_OUT = "leave out"
SHOW_LEAD = "show lead"
_TAG = Pattern(LANGUAGE_TAG.pattern, "a language tag (BCP 47)", "de or en-GB")
# RFC 3986, 2 (reserved and unreserved characters, percent sign), letters of other scripts as people write them.
_ADDRESS = re.compile(r"[\w\-.~:/?#\[\]@!$&()*+,;=%]+")
_FACE = Pattern(r"[\w \-,'\"]{1,200}", "a CSS font list", "Georgia, serif")


@dataclass(frozen=True, slots=True)
class SiteAddress:
    """An absolute https address that ends in a slash, without query or fragment."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The address, with its closing slash."""
        text = node.text if isinstance(node, Scalar) else ""
        try:
            parts = urlsplit(text if _ADDRESS.fullmatch(text) else "")
            parts.port  # noqa: B018  (raises for one that is no number)
        except ValueError:
            parts = urlsplit("")
        if parts.scheme not in {"http", "https"} or not parts.hostname or parts.query or parts.fragment or parts.username:
            return fail(node, name, "the site's address such as https://bench.example/", problems, code="address")
        return text if text.endswith("/") else text + "/"

    def schema(self) -> dict[str, Any]:
        """A URI."""
        return {"type": "string", "format": "uri", "examples": ["https://bench.example/"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a publication may set of its theme without touching a template."""

    accent: str = written(Pattern(r"#[0-9a-fA-F]{6}", "a colour as six hex digits", '"#7a2e1d"'), "the one accent colour", default="")
    text_face: str = written(_FACE, "typefaces for running text", default="")
    label_face: str = written(_FACE, "typefaces for labels and tables", default="")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Policies:
    """What the publication takes; the statement of independence is printed only where all are no."""

    paid: bool = written(YES_NO, "whether anybody pays for a review")
    affiliate: bool = written(YES_NO, "whether links bring a commission")
    advertising: bool = written(YES_NO, "whether there is advertising")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The settings of a publication."""

    name: Words = written(WORDS, "the publication's name")
    lead: str = written(_TAG, "the language that texts are first written in")
    address: str = written(SiteAddress(), "where the site will live")
    author: str = written(LINE, "who writes and answers for it")
    editions: tuple[str, ...] = written(ListOf(_TAG), "the further languages", default=())
    tagline: Words | None = written(WORDS, "one line on what it is", default=None)
    bench: Words | None = written(WORDS, "where the bench stands", key="place", default=None)
    contact: str = written(LINE, "how to reach the author", default="")
    missing_texts: str = written(
        Choice((LEAVE_OUT, SHOW_LEAD)), "what an edition does where it has no text", default=LEAVE_OUT
    )
    theme: Look = written(RecordOf(Look, "theme"), "accent and typefaces", default_factory=Look)
    policies: Policies | None = written(RecordOf(Policies, "policies"), "what the publication takes", default=None)
    data_licence: str = written(LINE, "the licence of the published readings", default="")
    place: Place = placed()

    @property
    def tags(self) -> tuple[str, ...]:
        """All editions, the lead first."""
        return (self.lead, *self.editions)

    @property
    def independent(self) -> bool:
        """Whether it takes no pay, no commission and no advertising."""
        p = self.policies
        return p is not None and not (p.paid or p.affiliate or p.advertising)


def check_settings(settings: Settings, problems: Problems) -> None:
    """What one field alone can't tell: an edition named twice."""
    seen = {settings.lead}
    for tag in settings.editions:
        if tag in seen:
            message = f"the edition {tag} is named twice" if tag != settings.lead else f"{tag} is the lead language already"
            problems.error("edition-double", settings.place, message, "name each further language once under `editions`")
        seen.add(tag)


