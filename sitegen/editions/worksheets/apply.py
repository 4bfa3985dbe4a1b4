"""A worksheet that came back, turned into edits of the translation's file, or into what is wrong with it."""

from collections.abc import Mapping, Sequence
from dataclasses import field

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import Pair, pairs
from sitegen.editions.following.parts import TEXT, Part, blocks_of, in_group, mark, parts_of_file, tidy
from sitegen.editions.following.placeholders import difference
from sitegen.editions.worksheets.edits import LineEdit, edited, insertion, line_edits, path_of, scalar_edit
from sitegen.editions.worksheets.worksheet import NONE, Returned, ReturnedSheet
from sitegen.place import Place
from sitegen.problems import Problem, Problems, Severity, nearest, quoted
from sitegen.records.texts.follows import Follows
from sitegen.text.front_matter import split_front_matter
from sitegen.text.markdown import parse_body
from sitegen.text.source import Source, control_character

ANEW = "export a new worksheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a worksheet brings: new texts by the lead's key, and the keys that now follow the lead; `left` is still open."""

    new: Mapping[str, str] = field(default_factory=dict)
    followed: frozenset[str] = frozenset()
    left: int = 0


def take_sheet(
    sheet: ReturnedSheet, lead: Sequence[Part], own: Sequence[Part], follows: Follows | None, problems: Problems
) -> Taken:
    """What a worksheet brings, judged unit by unit; every fault is told with its line in the worksheet."""
    beside = {pair.lead.key: pair for pair in pairs(lead, own, follows) if pair.lead}
    new: dict[str, str] = {}
    followed: set[str] = set()
    left = 0
    for unit in sheet.units:
        if not unit.done:
            left += 1
        elif mark(unit.target) != unit.own_mark or _is_confirmed(unit, beside):
            pair = _pair_of(unit, sheet.name, beside, problems)
            if pair is not None and pair.lead is not None and _is_sound(unit, pair, sheet.name, problems):
                is_there = pair.here is not None and pair.here.mark == mark(unit.target)
                new |= {} if is_there else {pair.lead.key: unit.target.strip("\n")}
                followed |= set() if is_there and not pair.change else {pair.lead.key}
    return Taken(new=new, followed=frozenset(followed), left=left)


def _is_confirmed(unit: Returned, beside: Mapping[str, Pair]) -> bool:
    """Whether the translator lets an older translation stand for the lead's newer text."""
    pair = beside.get(unit.key)
    return pair is not None and bool(pair.change)


def _pair_of(unit: Returned, name: str, beside: Mapping[str, Pair], problems: Problems) -> Pair | None:
    """The paragraph that a unit translates, if both texts still are what the worksheet left with."""
    place = Place(name, unit.line, 1)
    here = [pair for pair in beside.values() if pair.lead and pair.lead.mark == unit.lead_mark]
    pair = next((p for p in here if p.lead and p.lead.key == unit.key), here[0] if len(here) == 1 else None)
    if mark(unit.source) != unit.lead_mark:
        message = f"the source text of {unit.key} was changed in the worksheet"
        problems.error("worksheet-source", place, message, f"only translations are taken; {ANEW}")
    elif pair is None or pair.lead is None:
        now = beside.get(unit.key)
        where = f" ({now.lead.place})" if now and now.lead else ""
        problems.error(
            "stale-source",
            place,
            f"the lead's text of {unit.key} has changed since this worksheet was made{where}",
            ANEW,
        )
    elif (pair.here.mark if pair.here else NONE) not in (unit.own_mark, mark(unit.target)):
        where = str(pair.here.place) if pair.here else "it is gone"
        message = f"the translation of {unit.key} was changed in its file since this worksheet was made ({where})"
        problems.error("translation-changed", place, message, f"what stands there was kept; {ANEW}")
    else:
        return pair
    return None


def _is_sound(unit: Returned, pair: Pair, name: str, problems: Problems) -> bool:
    """Whether a translation can be written, keeps the protected pieces and stays one paragraph of the same kind."""
    place = Place(name, unit.line, 1)
    if found := control_character(unit.target.replace("\r", "\n")):
        message = f"the translation of {unit.key} holds the invisible control character {found}"
        problems.error("control-character", place, message, "delete it; no text file can hold it")
        return False
    lacks, extra = difference(unit.source, unit.target)
    if (lacks or extra) and not (pair.here and not pair.change and difference(pair.here.text, unit.target) == ((), ())):
        for piece in lacks:
            near = nearest(piece, extra)
            hint = f"{quoted(near)} stands there instead" if near else "put it where it belongs"
            problems.error("placeholder", place, f"the translation of {unit.key} lacks {quoted(piece)}", hint)
        for piece in extra if not lacks else ():
            problems.error(
                "placeholder",
                place,
                f"the translation of {unit.key} has {quoted(piece)} once too often or anew",
                "delete it",
            )
        return False
    return not unit.key.startswith(f"{TEXT}.") or _is_one_block(unit, place, problems)


def _is_one_block(unit: Returned, place: Place, problems: Problems) -> bool:
    """Whether a paragraph of the text stays one, of the kind that the lead's is."""
    wanted = Part(unit.key, unit.source, place).kind
    blocks = [Part(TEXT + ".1", text, where) for text, where in blocks_of(unit.target.strip("\n"), 1, place.file)]
    if len(blocks) != 1:
        message = f"the translation of {unit.key} would be {len(blocks)} paragraphs, not one"
        problems.error("worksheet-block", place, message, "a blank line divides paragraphs: delete it")
    elif blocks[0].kind != wanted:
        message = f"the translation of {unit.key} would be a {blocks[0].kind}, the lead's text is a {wanted}"
        problems.error("worksheet-block", place, message, "begin it with the same marks as the source")
    return len(blocks) == 1 and blocks[0].kind == wanted


def edits_for(
    source: Source,
    lead: Sequence[Part],
    own: Sequence[Part],
    follows: Follows | None,
    new: Mapping[str, str],
    place: Place,
    problems: Problems,
) -> tuple[LineEdit, ...] | None:
    """The edits of a translation's file that put new texts in; None once it is told why they can't be made.

    The file is then read as a publication is: everything else must read as it did.
    """
    front = split_front_matter(source, Problems())
    if front is None:
        return None
    beside = {pair.lead.key: pair for pair in pairs(lead, own, follows) if pair.lead}
    ordered = {key: new[key] for key in beside if key in new}
    head = source.text.split("\n")[1 : front.body_line - 2]  # between the two lines ---
    renewed = "\n".join(head)
    for key, text in ordered.items():
        if key.startswith(f"{TEXT}."):
            continue
        here = beside[key].here
        edit = scalar_edit(renewed, path_of(here.key), text) if here else insertion(renewed, path_of(key), text)
        if edit is None or not head:
            message = f"{source.name} can't take the text of {key} by itself: its front matter is written in a way that only a person should change"
            problems.error("worksheet-place", place, message, f"write it there by hand: {text}")
            return None
        renewed = edited(renewed, [edit])
    blocks = [
        _block_edit(beside, lead, own, key, text, source) for key, text in ordered.items() if key.startswith(f"{TEXT}.")
    ]
    edits = (*line_edits(head, renewed.split("\n"), first=2), *_merged(blocks))
    return edits if _reads_as_meant(source, edits, own, beside, ordered, place, problems) else None


def _merged(edits: Sequence[LineEdit]) -> tuple[LineEdit, ...]:
    """New paragraphs at one place become one edit, in their order."""
    found: dict[tuple[int, int], LineEdit] = {}
    for edit in edits:
        at = (edit.first, edit.last)
        found[at] = LineEdit(*at, (*found[at].lines, *edit.lines)) if at in found else edit
    return tuple(found.values())


def _block_edit(
    beside: Mapping[str, Pair], lead: Sequence[Part], own: Sequence[Part], key: str, text: str, source: Source
) -> LineEdit:
    here = beside[key].here
    lines = tuple(text.split("\n"))
    if here is not None:
        return LineEdit(here.place.line, here.place.line + here.text.count("\n"), lines)
    blocks = in_group(lead, TEXT)
    number = next(n for n, part in enumerate(blocks) if part.key == key)
    before = next((p.here for part in reversed(blocks[:number]) if (p := beside[part.key]).here), None)
    if before is not None:
        line = before.place.line + before.text.count("\n") + 1
        return LineEdit(line, line - 1, ("", *lines))
    first = in_group(own, TEXT)
    line = first[0].place.line if first else source.text.count("\n") + 1
    return LineEdit(line, line - 1, (*lines, ""))


def _reads_as_meant(
    source: Source, edits: Sequence[LineEdit], own: Sequence[Part], beside: Mapping[str, Pair], new: Mapping[str, str],
    place: Place, problems: Problems,
) -> bool:  # fmt: skip
    """Whether the edited file holds the new texts and every old one, and no fault that it hadn't."""
    told = Problems()
    after = Source(source.name, edited(source.text, edits), "")
    front = split_front_matter(after, told)
    if front is not None:
        parse_body(front.body, front.body_line, source.name, told)
    parts = parts_of_file(front, source.name) if front else ()
    replaced = {pair.here.key for key in new if (pair := beside[key]).here}
    wanted = sorted(
        [tidy(part.text) for part in own if part.key not in replaced] + [tidy(text) for text in new.values()]
    )
    faults = [fault for fault in told if fault.severity is Severity.ERROR and not _had(source, fault)]
    if faults:
        problems.error(
            "worksheet-fault",
            place,
            f"with this translation {source.name} would have a fault: {faults[0].message}",
            faults[0].hint,
        )
    elif sorted(tidy(part.text) for part in parts) != wanted:
        message = f"with this translation other paragraphs of {source.name} would read differently"
        problems.error(
            "worksheet-block", place, message, "look for marks of lists, quotes or code at the start of its lines"
        )
    return not faults and sorted(tidy(part.text) for part in parts) == wanted


def _had(source: Source, fault: Problem) -> bool:
    """Whether the file had the same fault before."""
    told = Problems()
    front = split_front_matter(source, told)
    if front is not None:
        parse_body(front.body, front.body_line, source.name, told)
    return any(old.code == fault.code and old.message == fault.message for old in told)


def translated_copy(source: Source, lead: Sequence[Part], new: Mapping[str, str]) -> str | None:
    """A new translation's file, laid out like the lead's: its texts translated, the facts that all languages share left out.

    None where the lead's front matter is laid out so that this can't be done line by line.
    """
    front = split_front_matter(source, Problems())
    if front is None:
        return None
    lines = source.text.split("\n")
    starts = [(entry.key.place.line, entry.key.text) for entry in front.data.entries]
    kept = {part.group for part in lead}
    ends = [line for line, _ in starts[1:]] + [front.body_line - 1]
    gone = [LineEdit(line, end - 1, ()) for (line, key), end in zip(starts, ends, strict=True) if key not in kept]
    if any(edit.last < edit.first for edit in gone):
        return None
    text = edited("\n".join(lines), gone)
    base = Source(source.name, text, "")
    shortened = split_front_matter(base, Problems())
    parts = parts_of_file(shortened, source.name) if shortened else ()
    if [part.text for part in parts] != [part.text for part in lead]:
        return None
    edits = edits_for(base, parts, parts, None, new, Place(source.name, 1, 1), Problems())
    return edited(text, edits) if edits is not None else None
