"""publication.yaml: what the publication is called, its languages, where it lives, its promises."""

import re
from collections.abc import Mapping as PlaceMap
from dataclasses import field, replace
from typing import Any
from urllib.parse import SplitResult, urlsplit

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.fields.fields import FAILED, RecordOf, fail, place_at, placed, written
from sitegen.records.fields.kinds import LANGUAGE_TAG, LINE, WORDS, YES_NO, Choice, ListOf, Pattern, Quantity
from sitegen.records.fields.units import defined, known_unit
from sitegen.records.fields.words import Words
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar

SETTINGS_FILE = "publication.yaml"
LEAVE_OUT = "leave out"
SHOW_LEAD = "show lead"
LINK_TERMS, PLAIN_TERMS = "link", "plain"
NO_HTML, ALLOWED_HTML = "no", "allow list"
COUNT = "count"
_OFFSET = ("°C", "°F")  # a multiple of these means nothing
_UNIT_NAME = re.compile(r"[^\W\d_]{1,20}")
_TAG = Pattern(LANGUAGE_TAG.pattern, "the tag of a language (BCP 47), such as de or en-GB", "de")
# RFC 3986, 2 (reserved and unreserved characters, percent sign), letters of other scripts as people write them.
_ADDRESS = re.compile(r"[\w\-.~:/?#\[\]@!$&()*+,;=%]+")
_KEPT = Pattern(
    r"(?!\.{1,2}$)[^/\\\x00-\x1f\x7f]{1,200}",
    "the name of a file or folder at the top of the published folder",
    "CNAME",
)
_FACE = Pattern(r"[\w \-,'\"]{1,200}", "a CSS font list", "Georgia, serif")


def _taken_apart(node: Node) -> tuple[str, SplitResult]:
    """A text, and its parts if it has the shape of an address (else empty ones)."""
    text = node.text if isinstance(node, Scalar) else ""
    return text, _parts(text)


def _parts(text: str) -> SplitResult:
    """The parts of a text that has the shape of an address, else empty ones."""
    try:
        parts = urlsplit(text if _ADDRESS.fullmatch(text) else "")
        parts.port  # noqa: B018  (raises for one that is no number)
    except ValueError:
        return urlsplit("")
    return parts


def _is_of_a_page(parts: SplitResult) -> bool:
    return parts.scheme in {"http", "https"} and bool(parts.hostname) and not parts.username


@dataclass(frozen=True, slots=True)
class SiteAddress:
    """An absolute https address that ends in a slash, without query or fragment."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The address, with its closing slash."""
        text, parts = _taken_apart(node)
        if not _is_of_a_page(parts) or parts.query or parts.fragment:
            hint = f"write https://{text}/" if re.fullmatch(r"[\w\-]+(\.[\w\-]+)+", text) else ""
            return fail(node, name, "the site's address such as https://bench.example/", problems, hint, code="address")
        return text if text.endswith("/") else text + "/"

    def schema(self) -> dict[str, Any]:
        """A URI."""
        return {"type": "string", "format": "uri", "examples": ["https://bench.example/"]}


@dataclass(frozen=True, slots=True)
class WebAddress:
    """The absolute address of a page somewhere else."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The address as written."""
        text, parts = _taken_apart(node)
        if not _is_of_a_page(parts):
            hint = f"write https://{text}" if re.fullmatch(r"[\w\-]+(\.[\w\-]+)+(/.*)?", text) else ""
            return fail(
                node,
                name,
                "the whole address of a page such as https://outlet.example/tarn",
                problems,
                hint,
                code="address",
            )
        return text

    def schema(self) -> dict[str, Any]:
        """A URI."""
        return {"type": "string", "format": "uri", "examples": ["https://outlet.example/tarn"]}


@dataclass(frozen=True, slots=True)
class DeclaredUnits:
    """Units by name: so many of a known unit, or `count` for what is counted in a unit of its own."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """Pairs of name and definition, as `declare` in `sitegen.records.fields.units` takes them."""
        if not isinstance(node, Mapping):
            return fail(node, name, "a group of names, each with its size, such as stone: 6.35 kg", problems)
        taken = [self._one(entry.key, entry.value, name, problems) for entry in node.entries]
        return FAILED if FAILED in taken else tuple(taken)

    def _one(self, key: Scalar, value: Node, name: str, problems: Problems) -> Any:
        """The name of a unit and its definition."""
        known = known_unit(key.text)
        if known:
            meant = f" as {known}" if known != key.text else ""
            message = f"`{name}`: {quoted(key.text)} is known{meant}, so it can't be declared"
            problems.error("unit-declared", key.place, message, "choose another name, or leave it out")
            return FAILED
        if not _UNIT_NAME.fullmatch(key.text):
            message = f"`{name}`: expected a name of letters only, found {quoted(key.text)}"
            problems.error("unit-declared", key.place, message, "such as stone: 6.35 kg")
            return FAILED
        size = self._size(value, f"{name}.{key.text}", problems)
        if size is FAILED:
            return FAILED
        return key.text, defined(key.text, size.value, size.unit) if size is not None else defined(key.text)

    def _size(self, node: Node, name: str, problems: Problems) -> Any:
        """An Amount, or None for a count."""
        if isinstance(node, Scalar) and node.text == COUNT:
            return None
        size = Quantity(positive=True).take(node, name, problems)
        if size is not FAILED and (not size.unit or size.unit in _OFFSET):
            what = f"a number and a known unit, such as 6.35 kg, or `{COUNT}`"
            return fail(node, name, what, problems, code="unit-declared")
        return size

    def schema(self) -> dict[str, Any]:
        """An object with any keys."""
        return {"type": "object", "additionalProperties": {"type": "string"}, "examples": ["…"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a publication may set of its theme without touching a template."""

    accent: str = written(
        Pattern(r"#[0-9a-fA-F]{6}", "a colour as six hex digits", '"#7a2e1d"'), "the one accent colour", default=""
    )
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
    editions: tuple[str, ...] = written(ListOf(_TAG, unique=True), "the further languages", default=())
    tagline: Words | None = written(WORDS, "one line on what it is", default=None)
    bench: Words | None = written(WORDS, "where the bench stands", key="place", default=None)
    contact: str = written(LINE, "how to reach the author", default="")
    missing_texts: str = written(
        Choice((LEAVE_OUT, SHOW_LEAD)), "what an edition does where it has no text", default=LEAVE_OUT
    )
    theme: Look = written(RecordOf(Look, "theme"), "accent and typefaces", default_factory=Look)
    policies: Policies | None = written(RecordOf(Policies, "policies"), "what the publication takes", default=None)
    terms: str = written(
        Choice((LINK_TERMS, PLAIN_TERMS)),
        "whether the first use of a glossary term on a page leads to the glossary",
        default=LINK_TERMS,
    )
    html_in_texts: str = written(
        Choice((NO_HTML, ALLOWED_HTML)),
        "whether HTML tags in texts are printed as they stand, or the harmless ones obeyed",
        default=NO_HTML,
    )
    units: tuple[tuple[str, str], ...] = written(DeclaredUnits(), "units of its own, each with its size", default=())
    data_licence: str = written(LINE, "the licence of the published readings: its name or its address", default="")
    keep: tuple[str, ...] = written(
        ListOf(_KEPT, most=50, unique=True),
        "files and folders of the published folder that builds leave alone",
        default=(),
    )
    tag_places: PlaceMap[str, Place] = field(compare=False, repr=False, default_factory=dict)
    place: Place = placed()

    @property
    def tags(self) -> tuple[str, ...]:
        """All editions, the lead first."""
        return (self.lead, *self.editions)

    def place_of(self, tag: str) -> Place:
        """Where an edition's language is named."""
        return self.tag_places.get(tag, self.place)

    @property
    def licence_address(self) -> str:
        """The licence of the readings where it was given by its address; else empty."""
        return self.data_licence if _is_of_a_page(_parts(self.data_licence)) else ""

    @property
    def independent(self) -> bool:
        """Whether it takes no pay, no commission and no advertising."""
        p = self.policies
        return p is not None and not (p.paid or p.affiliate or p.advertising)


def check_settings(settings: Settings, node: Node, problems: Problems) -> Settings:
    """What one field alone can't tell: the lead among the further languages. Adds where each language is named."""
    editions = node.get("editions") if isinstance(node, Mapping) else None
    places = {settings.lead: place_at(node, "lead")}
    for item in editions.items if isinstance(editions, Listing) else ():
        if isinstance(item, Scalar) and item.text == settings.lead:
            problems.error(
                "edition-double", item.place, f"{item.text} is the lead language already", "take it out of `editions`"
            )
        elif isinstance(item, Scalar):
            places[item.text] = item.place
    return replace(settings, tag_places=places)
