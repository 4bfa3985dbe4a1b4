"""The family of small readers: each takes one kind of value from a node and says what it expected."""

import datetime as dt
import re
from dataclasses import field
from decimal import Decimal
from functools import lru_cache
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, nearest, quoted
from sitegen.records.fields.fields import FAILED, Kind, Ref, describe, fail
from sitegen.records.fields.stage import Stage, parse_stage
from sitegen.records.fields.units import KINDS, SPELLINGS, UNITS, declared_units, known_unit, name_of
from sitegen.records.fields.words import Words, plain_words
from sitegen.text.yaml_nodes import Listing, Mapping, Node, Scalar

NUMBER = re.compile(r"[+\-\u2212]?[0-9]{1,15}(?:\.[0-9]{1,12})?")
_AMOUNT = re.compile(rf"({NUMBER.pattern})(?:([ \t\u00a0\u2009\u202f]*)([^\s\d.,+\-\u2212].*))?")
_APART = re.compile(r"([+\-\u2212]?[0-9][0-9.,\s]*[0-9])\s*([^\s\d].*)?")
_BLANKS = re.compile(r"[ \t\r\n]+")
_IDENT = re.compile(r"[a-z0-9][a-z0-9_\-]{0,79}")
# RFC 5646 in the shape that publications use: language, optional script, optional region or variant.
LANGUAGE_TAG = re.compile(r"[a-z]{2,3}(-[A-Z][a-z]{3})?(-[A-Z]{2}|-\d{3})?(-[a-z0-9]{5,8})?")
LONGEST_LINE = 300
LONGEST_TEXT = 5000


# The same few days and words stand in thousands of samples, and are held for a whole build: one object for each.
_same_day = lru_cache(1024)(dt.date.fromisoformat)
_same_words = lru_cache(1024)(plain_words)


@lru_cache(1024)  # the weights, anchors and amounts of all rounds are much the same few
def parse_number(text: str) -> Decimal | None:
    """A number with a decimal point, digits kept as written; None for anything else.

    >>> parse_number("412.0")
    Decimal('412.0')
    """
    return Decimal(text.replace("\u2212", "-")) if NUMBER.fullmatch(text) else None


def split_amount(text: str) -> tuple[Decimal, str] | None:
    """One whole number and the unit behind it (empty for none); None for anything else.

    >>> split_amount("412.0 g"), split_amount("1 893 g")
    ((Decimal('412.0'), 'g'), None)
    """
    found = _AMOUNT.fullmatch(text.strip())
    number = parse_number(found[1]) if found else None
    if found is None or number is None:
        return None
    unit = (found[3] or "").rstrip()
    is_apart = bool(found[2]) or not unit
    return (number, unit) if is_apart or known_unit(unit) else None


def number_hint(text: str, example: str = "412.0") -> str:
    """The most likely slip in something that should have been a number."""
    apart = _APART.fullmatch(text.strip())
    joined = re.sub(r"\s", "", apart[1]).replace(",", ".") if apart else ""
    if apart and re.search(r"\s", apart[1]) and parse_number(joined) is not None:
        return f"no blank inside a number: {joined} {apart[2] or ''}".rstrip()
    if re.fullmatch(r"[+\-\u2212]?[0-9]{1,15},[0-9]{1,12}", text.split(" ")[0]):
        return f"write {text.replace(',', '.')}; each language puts its own decimal mark on the page"
    return f"write a number such as {example}"


@dataclass(frozen=True, slots=True)
class Text:
    """One line or paragraph of plain text."""

    longest: int = LONGEST_LINE
    example: str = "…"

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The text without surrounding blanks."""
        if not isinstance(node, Scalar):
            hint = "a text that begins with [ or {, or holds a colon, goes in quotes"
            return fail(node, name, "a text", problems, hint)
        # Only ordinary blanks are folded: a no-break space between number and unit is the author's and stays.
        text = _BLANKS.sub(" ", node.text) if self.longest <= LONGEST_LINE else node.text
        text = text.strip(" \t\r\n")
        if not text:
            return fail(node, name, "a text", problems)
        if len(text) > self.longest:
            return fail(node, name, f"at most {self.longest} characters (here {len(text)})", problems)
        return text

    def schema(self) -> dict[str, Any]:
        """A string."""
        return {"type": ["string", "number"], "maxLength": self.longest, "examples": [self.example]}


@dataclass(frozen=True, slots=True)
class Prose:
    """A text in the language of its file, in which `{…}` may name values; `place` is where it begins."""

    text: str
    place: Place = field(compare=False, repr=False)

    def __bool__(self) -> bool:
        return bool(self.text)


@dataclass(frozen=True, slots=True)
class ProseOf:
    """A text of a text file's front matter."""

    longest: int = LONGEST_TEXT

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Prose."""
        text = Text(self.longest).take(node, name, problems)
        return text if text is FAILED else Prose(text, node.place)

    def schema(self) -> dict[str, Any]:
        """A string."""
        return Text(self.longest).schema()


@dataclass(frozen=True, slots=True)
class WordsOf:
    """A text in one language, or a group of language tags each with its text."""

    longest: int = LONGEST_TEXT

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """Words."""
        if isinstance(node, Scalar):
            text = Text(self.longest).take(node, name, problems)
            return text if text is FAILED else _same_words(text)
        if isinstance(node, Listing) or not node.entries:
            return fail(node, name, "a text, or one text a language (de: …, en: …)", problems)
        entries = []
        for entry in node.entries:
            if not LANGUAGE_TAG.fullmatch(entry.key.text):
                return fail(entry.key, name, "a language tag such as de or en-GB", problems, code="language-tag")
            text = Text(self.longest).take(entry.value, f"{name}.{entry.key.text}", problems)
            if text is FAILED:
                return FAILED
            entries.append((entry.key.text, text))
        return Words(tuple(entries))

    def schema(self) -> dict[str, Any]:
        """A string, or strings by language tag."""
        text = {"type": ["string", "number"]}
        return {"anyOf": [text, {"type": "object", "additionalProperties": text}], "examples": ["…"]}


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    options: tuple[str, ...]

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The chosen word."""
        text = " ".join(node.text.split()) if isinstance(node, Scalar) else None
        if text in self.options:
            return text
        hint = meant_or(text or "", self.options)
        return fail(node, name, "one of: " + ", ".join(self.options), problems, hint, code="choice")

    def schema(self) -> dict[str, Any]:
        """An enumeration."""
        return {"enum": list(self.options), "examples": [self.options[0]]}


@dataclass(frozen=True, slots=True)
class YesNo:
    """yes or no (true and false are understood too)."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A bool."""
        text = node.text if isinstance(node, Scalar) else ""
        if text in {"yes", "true"}:
            return True
        if text in {"no", "false"}:
            return False
        return fail(node, name, "yes or no", problems, "write yes or no, in English in every publication")

    def schema(self) -> dict[str, Any]:
        """A boolean or one of the two words."""
        return {"enum": ["yes", "no", True, False], "examples": ["yes"]}


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number with its digits as written, between `low` and `high` where these are given."""

    low: Decimal | None = None
    high: Decimal | None = None
    whole: bool = False
    positive: bool = False

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Decimal."""
        text = node.text if isinstance(node, Scalar) else ""
        value = parse_number(text)
        if value is None or (self.whole and value != value.to_integral_value()):
            what = "a whole number" if self.whole else "a number"
            example = "3" if self.whole else "412.0"
            return fail(node, name, what, problems, number_hint(text, example), code="number-syntax")
        if self.positive and value <= 0:
            return fail(node, name, "a number above 0", problems, code="number-range")
        if (self.low is not None and value < self.low) or (self.high is not None and value > self.high):
            return fail(node, name, self._bounds(), problems, code="number-range")
        return value

    def _bounds(self) -> str:
        if self.high is None:
            return f"a number not below {self.low}"
        return f"a number not above {self.high}" if self.low is None else f"a number from {self.low} to {self.high}"

    def schema(self) -> dict[str, Any]:
        """A number with its bounds."""
        bounds = {"minimum": self.low, "maximum": self.high}
        shown = {key: float(value) for key, value in bounds.items() if value is not None}
        if self.positive:
            shown["exclusiveMinimum"] = 0.0
        return {"type": "integer" if self.whole else "number", **shown, "examples": [3 if self.whole else 1.5]}


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit; `unit` is empty where none was written. `place` is where it stands."""

    value: Decimal
    unit: str
    place: Place = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with a unit, such as 412.0 g; a bare number leaves the unit to the protocol.

    `low` is the lowest value that may be written; with `positive` it must lie above 0.
    """

    low: Decimal | None = None
    positive: bool = False

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """An Amount."""
        if not isinstance(node, Scalar):
            return fail(node, name, "a number with its unit, such as 412.0 g", problems)
        found = split_amount(node.text)
        if found is None:
            return fail(
                node, name, "a number with its unit, such as 412.0 g", problems, number_hint(node.text), "number-syntax"
            )
        value, unit = found
        if (self.positive and value <= 0) or (self.low is not None and value < self.low):
            return fail(
                node, name, "more than 0" if self.positive else f"{self.low} or more", problems, code="number-range"
            )
        return self._with_unit(node, name, value, unit, problems)

    def _with_unit(self, node: Scalar, name: str, value: Decimal, unit: str, problems: Problems) -> Any:
        if not unit:
            return Amount(value, "", node.place)
        known = known_unit(unit)
        if known is None:
            return unknown_unit(node, name, unit, problems)
        return Amount(value, known, node.place)

    def schema(self) -> dict[str, Any]:
        """A number, or a string of number and unit."""
        return {"type": ["number", "string"], "examples": ["412.0 g"]}


def unknown_unit(node: Node, name: str, unit: str, problems: Problems) -> Any:
    """Report a unit that is not in the table, with the nearest that is."""
    near = nearest(unit, (*UNITS, *SPELLINGS, *declared_units()))
    if near:
        hint = f"did you mean `{name_of(known_unit(near) or near)}`?"
    else:
        some = ", ".join((*(units[0] for units in KINDS.values()), *declared_units()))
        hint = f"units such as {some}; docs/reference.md lists all, and publication.yaml may declare more under `units`"
    problems.error("unit-unknown", node.place, f"`{name}`: {quoted(unit)} is no unit that this tool knows", hint)
    return FAILED


@dataclass(frozen=True, slots=True)
class Day:
    """A date as 2026-10-04; with `month` also 2026-10."""

    month: bool = False

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A datetime.date; a month alone gives its text."""
        text = node.text if isinstance(node, Scalar) else ""
        if self.month and re.fullmatch(r"[0-9]{4}-(0[1-9]|1[0-2])", text):
            return text
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            try:
                return _same_day(text)
            except ValueError:
                return fail(node, name, "a day that is in the calendar", problems, code="date")
        forms = "a date such as 2026-10-04" + (" or a month such as 2026-10" if self.month else "")
        return fail(node, name, forms, problems, _date_hint(text), code="date")

    def schema(self) -> dict[str, Any]:
        """A date string."""
        pattern = r"^\d{4}-\d\d(-\d\d)?$" if self.month else r"^\d{4}-\d\d-\d\d$"
        return {"type": "string", "pattern": pattern, "examples": ["2026-10-04"]}


def _date_hint(text: str) -> str:
    found = re.fullmatch(r"([0-9]{1,2})\.\s?([0-9]{1,2})\.\s?([0-9]{4})", text)
    if found:
        return f"write {found[3]}-{int(found[2]):02}-{int(found[1]):02}: year, month, day"
    return "year, month, day, joined by hyphens"


@dataclass(frozen=True, slots=True)
class Ident:
    """The id of a record: lower-case letters, digits, hyphen and underscore."""

    what: str

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Ref, which keeps the place for a later check that there is such a record."""
        text = node.text if isinstance(node, Scalar) else ""
        if is_ident(text):
            return Ref(text, node.place)
        return fail(node, name, f"the id of {self.what}: lower-case letters, digits, - and _", problems, code="id")

    def schema(self) -> dict[str, Any]:
        """An id string."""
        return {"type": ["string", "number"], "examples": ["an-id"]}


def is_ident(text: str) -> bool:
    """Whether a text may be an id (and so a file's or folder's name)."""
    return bool(_IDENT.fullmatch(text))


def check_ident(
    text: str, what: str, place: Place, problems: Problems, hint: str = "rename the file or folder"
) -> bool:
    """Whether a text may be an id; reports one that may not. `what` names it: "the name of a round"."""
    if not is_ident(text):
        message = f"{what} may hold lower-case letters, digits, - and _, found {quoted(text)}"
        problems.error("id", place, message, hint)
    return is_ident(text)


@dataclass(frozen=True, slots=True)
class Pattern:
    """A text of a given shape."""

    pattern: str
    expected: str
    example: str

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """The text."""
        if isinstance(node, Scalar) and re.fullmatch(self.pattern, node.text):
            return node.text
        return fail(node, name, self.expected, problems, f"such as {self.example}", code="pattern")

    def schema(self) -> dict[str, Any]:
        """A string with its pattern."""
        return {"type": "string", "pattern": f"^(?:{self.pattern})$", "examples": [self.example]}


@dataclass(frozen=True, slots=True)
class StageOf:
    """A stage such as new or after 3 washes."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A Stage."""
        stage: Stage | None = parse_stage(node.text) if isinstance(node, Scalar) else None
        if stage is None:
            expected = "a stage: new, after 3 washes, after 3 washes and heat, or re-proofed"
            return fail(node, name, expected, problems, code="stage")
        return stage

    def schema(self) -> dict[str, Any]:
        """A string."""
        return {"type": "string", "examples": ["after 3 washes"]}


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list; a single value is understood as a list of one where `single` says so."""

    kind: Kind
    least: int = 0
    most: int = 1000
    single: bool = False
    unique: bool = False

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A tuple."""
        if self.single and not isinstance(node, Listing):
            node = Listing((node,), node.place)
        if not isinstance(node, Listing):
            hint = f"write [{node.text}]" if isinstance(node, Scalar) and node.text else ""
            return fail(node, name, "a list, each item on a line that starts with a hyphen", problems, hint)
        if not self.least <= len(node.items) <= self.most:
            limit = self.least if len(node.items) < self.least else self.most
            wanted = f"at {'least' if limit == self.least else 'most'} {limit} {'entry' if limit == 1 else 'entries'}"
            message = f"`{name}`: expected {wanted}, found {len(node.items) or 'none'}"
            problems.error("list-length", node.place, message)
            return FAILED
        taken = tuple(self.kind.take(item, f"{name}[{i}]", problems) for i, item in enumerate(node.items, 1))
        for i, item in enumerate(node.items if self.unique else ()):
            if taken[i] is not FAILED and taken[i] in taken[:i]:
                problems.error(
                    "double", item.place, f"`{name}`: {describe(item)} is listed twice", "keep one of the two"
                )
                return FAILED
        return FAILED if any(value is FAILED for value in taken) else taken

    def schema(self) -> dict[str, Any]:
        """An array."""
        items = self.kind.schema()
        array = {
            "type": "array",
            "items": items,
            "minItems": self.least,
            "examples": [f"[{items.get('examples', ['…'])[0]}]"],
        }
        return {"anyOf": [array, items], "examples": items.get("examples", ["…"])} if self.single else array


@dataclass(frozen=True, slots=True)
class PairsOf:
    """A group whose keys the author chooses, such as protocols with their weights."""

    key: Kind
    value: Kind

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A tuple of (key, value) pairs in the order written."""
        if not isinstance(node, Mapping):
            return fail(node, name, "a group of keys, each with its value", problems)
        pairs = []
        for entry in node.entries:
            key = self.key.take(entry.key, name, problems)
            value = self.value.take(entry.value, f"{name}.{entry.key.text}", problems)
            pairs.append((key, value))
        return FAILED if any(part is FAILED for pair in pairs for part in pair) else tuple(pairs)

    def schema(self) -> dict[str, Any]:
        """An object with any keys."""
        return {"type": "object", "additionalProperties": self.value.schema(), "examples": ["…"]}


LINE = Text()
WORDS = WordsOf()
TITLE = ProseOf(LONGEST_LINE)
PROSE = ProseOf()
NO_PROSE = Prose("", Place("", 1, 1))
YES_NO = YesNo()
METHOD = Pattern(r"[a-z0-9][a-z0-9_]*", "the key of a method: lower-case letters, digits and _", "iso_9237_100pa")
DAY = Day()
QUANTITY = Quantity()
STAGE = StageOf()
