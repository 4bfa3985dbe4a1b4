"""A translator's worksheet of one text in one language, whatever file format it is written in."""

from collections.abc import Sequence

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import NEW, Pair, pairs
from sitegen.editions.following.parts import Part, mark
from sitegen.editions.worksheets.memory import Memory, Suggestion
from sitegen.records.texts.follows import Follows

NONE = "-"  # stands for the mark of a translation that isn't there yet
KINDS = {
    "title": "the title", "summary": "the summary: what it is and for whom, in two sentences", "good": "what was good, one point",
    "less_good": "what was less good, one point", "suits": "which kind of reader it suits",
    "alt": "what a picture shows, for readers who can't see it",
    "caption": "the caption of a picture", "corrections": "a correction",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One paragraph for a translator. `stale` is true where the existing translation follows an older text of the lead."""

    key: str
    lead_mark: str
    own_mark: str
    source: str
    target: str
    stale: bool
    notes: tuple[str, ...]
    place: str
    suggestions: tuple[Suggestion, ...] = ()

    @property
    def name(self) -> str:
        """What the unit is known by on its way back: its part, and the marks of both texts as they left.

        >>> parse_name("text.3 2f6b0a915a01 -")
        ('text.3', '2f6b0a915a01', '-')
        """
        return f"{self.key} {self.lead_mark} {self.own_mark}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Worksheet:
    """All paragraphs of a text. `text` is its folder, such as `reviews/halde`; `file` where the translation belongs."""

    text: str
    lead: str
    lang: str
    lead_file: str
    file: str
    units: tuple[Unit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned:
    """One unit as it came back. `done` is false where the translator left it open."""

    key: str
    lead_mark: str
    own_mark: str
    source: str
    target: str
    done: bool
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedSheet:
    """A worksheet as it came back; `name` is its file."""

    name: str
    text: str
    lead: str
    lang: str
    units: tuple[Returned, ...]


def parse_name(name: str) -> tuple[str, str, str] | None:
    """Part and marks from a unit's name, None where it isn't one."""
    words = name.split(" ")
    if len(words) != 3 or not all(len(word) == 12 or word == NONE for word in words[1:]):
        return None
    return words[0], words[1], words[2]


def make_worksheet(
    *, text: str, lead: str, lang: str, lead_file: str, file: str, lead_parts: Sequence[Part], own_parts: Sequence[Part],
    follows: Follows | None, memory: Memory,
) -> Worksheet:  # fmt: skip
    """The worksheet of a text in one language; suggestions come from the memory for what isn't translated or is stale."""
    units = tuple(
        _unit(pair, pair.lead, text, lang, memory) for pair in pairs(lead_parts, own_parts, follows) if pair.lead
    )
    return Worksheet(text=text, lead=lead, lang=lang, lead_file=lead_file, file=file, units=units)


def _unit(pair: Pair, part: Part, text: str, lang: str, memory: Memory) -> Unit:
    here = pair.here
    needed = here is None or bool(pair.change)
    return Unit(
        key=part.key, lead_mark=part.mark, own_mark=mark(here.text) if here else NONE, source=part.text,
        target=here.text if here else "", stale=bool(here and pair.change), notes=_notes(pair, part), place=f"{part.place.file}:{part.place.line}",
        suggestions=memory.suggest(part.text, lang, but=f"{text} {part.key}") if needed else (),
    )  # fmt: skip


def _notes(pair: Pair, part: Part) -> tuple[str, ...]:
    last = part.key.rsplit(".", 1)[-1]
    notes = [f"{part.key}: {KINDS.get(last) or KINDS.get(part.group) or part.kind}"]
    if pair.change and pair.change != NEW:
        notes.append(f"The lead has {pair.change} since this was translated. It began: {pair.before}")
    if part.group in ("text", *KINDS) and "{" in part.text:
        notes.append("Leave {…} as it is: a value is put in there.")
    return tuple(notes)
