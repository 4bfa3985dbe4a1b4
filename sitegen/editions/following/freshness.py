"""Which paragraphs of the lead a translation follows, and which have changed since."""

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.editions.following.parts import TEXT, Part, anchors, in_group, parts_of
from sitegen.problems import Problems
from sitegen.records.texts.follows import Followed, Follows

if TYPE_CHECKING:  # slow to import, and the command does without them
    from sitegen.records.publication import Publication
    from sitegen.records.texts.text_files import Guide

COMPLETE, BEHIND, UNRECORDED, MISSING = "complete", "behind", "unrecorded", "missing"
CHANGED, NEW, GONE, MOVED = "changed", "new", "gone", "moved"
MOST_COMPARED = 4_000_000  # pairs of paragraphs: two texts of 2,000 that are alike throughout take a second


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A paragraph of the lead beside the translation's. `change` is empty where the one follows the other.

    `lead` is None where the lead has dropped it, `here` where the translation hasn't got it (or nobody knows
    which it is), `then` where nothing was recorded.
    """

    lead: Part | None
    here: Part | None = None
    change: str = ""
    then: Followed | None = None

    @property
    def before(self) -> str:
        """How the lead's paragraph began when it was recorded."""
        return self.then.excerpt if self.then else ""

    @property
    def touched(self) -> bool:
        """Whether the translation's paragraph was changed, too, since: it may only lack its record."""
        return self.here is not None and self.then is not None and self.here.mark != self.then.own


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """A translation that lags: the files, and what has changed in the lead."""

    lead: str
    lang: str
    lead_file: str
    file: str
    changes: tuple[Pair, ...]


def compare(lead: Sequence[Part], own: Sequence[Part], follows: Follows) -> tuple[Pair, ...]:
    """What has changed in the lead since the translation was recorded, in the lead's order; what is gone stands last."""
    changes = [pair for pair in _all_pairs(lead, own, follows) if pair.change]
    return tuple(sorted(changes, key=lambda pair: pair.change == GONE))


def pairs(lead: Sequence[Part], own: Sequence[Part], follows: Follows | None) -> tuple[Pair, ...]:
    """Each paragraph of the lead beside the translation's, as far as it is known which that is."""
    if follows is not None:
        return tuple(pair for pair in _all_pairs(lead, own, follows) if pair.lead is not None)
    found: list[Pair] = []
    for group in dict.fromkeys(part.group for part in lead):
        theirs = in_group(lead, group)
        ours = _by_position(theirs, in_group(own, group))
        found += [Pair(lead=part, here=here) for part, here in zip(theirs, ours, strict=True)]
    return tuple(found)


def recorded(follows: Follows, group: str) -> tuple[Followed, ...]:
    """The recorded lines of one group of parts."""
    return tuple(line for line in follows.parts if line.group == group)


def _all_pairs(lead: Sequence[Part], own: Sequence[Part], follows: Follows) -> Iterator[Pair]:
    for group in dict.fromkeys([*(p.group for p in lead), *(line.group for line in follows.parts)]):
        then = recorded(follows, group)
        yield from _settled(list(_lined_up(in_group(lead, group), then, _own_of(then, in_group(own, group)))))


def _own_of(then: Sequence[Followed], own: Sequence[Part]) -> tuple[Part | None, ...]:
    """The translation's paragraph of each recorded one: by its mark, else by what stands between such ones."""
    found: list[Part | None] = [None] * len(then)
    for what, a, b, c, d in _steps([line.own for line in then], [part.mark for part in own]):
        if what == "equal" or (what == "replace" and b - a == d - c):
            found[a:b] = own[c:d]
    taken = {part.key for part in found if part is not None}
    left = {part.mark: part for part in reversed(own) if part.key not in taken}
    return tuple(part or left.get(line.own) for part, line in zip(found, then, strict=True))


def _steps(before: Sequence[Hashable], after: Sequence[Hashable]) -> Iterator[tuple[str, int, int, int, int]]:
    """The steps from one run of marks or signs to another.

    Most runs are equal but for some paragraphs in one place, and what stands before and behind them is found quickly.
    What is left of very long texts counts as written anew: like paragraphs are compared each with each.
    """
    least = min(len(before), len(after))
    head = next((n for n in range(least) if before[n] != after[n]), least)
    tail = next((n for n in range(least - head) if before[-1 - n] != after[-1 - n]), least - head)
    old, new = before[head : len(before) - tail], after[head : len(after) - tail]
    if head:
        yield "equal", 0, head, 0, head
    if old and new and len(old) * len(new) > MOST_COMPARED:
        yield "replace", head, head + len(old), head, head + len(new)
    else:
        for what, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
            yield what, head + a, head + b, head + c, head + d
    if tail:
        yield "equal", len(before) - tail, len(before), len(after) - tail, len(after)


def _lined_up(lead: Sequence[Part], then: Sequence[Followed], here: Sequence[Part | None]) -> Iterator[Pair]:
    for what, a, b, c, d in _steps([line.lead for line in then], [part.mark for part in lead]):
        both = min(b - a, d - c)
        change = "" if what == "equal" else CHANGED
        for line, part, own in zip(then[a : a + both], lead[c : c + both], here[a : a + both], strict=True):
            yield Pair(lead=part, here=own, change=change, then=line)
        for line, own in zip(then[a + both : b], here[a + both : b], strict=True):
            yield Pair(lead=None, here=own, change=GONE, then=line)
        for part in lead[c + both : d]:
            yield Pair(lead=part, change=NEW)


def _settled(found: list[Pair]) -> Iterator[Pair]:
    """A paragraph that is gone from one place and new in another has moved."""
    gone = {pair.then.lead: pair for pair in found if pair.change == GONE and pair.then}
    moved = {pair.lead.mark for pair in found if pair.change == NEW and pair.lead and pair.lead.mark in gone}
    for pair in found:
        if pair.change == NEW and pair.lead and pair.lead.mark in gone:
            old = gone.pop(pair.lead.mark)
            yield Pair(lead=pair.lead, here=old.here, change=MOVED, then=old.then)
        elif pair.change != GONE or pair.then is None or pair.then.lead not in moved:
            yield pair


def _by_position(lead: Sequence[Part], own: Sequence[Part]) -> Sequence[Part | None]:
    """Without a record: one by one where the numbers agree, else where kind, values and addresses do."""
    if len(lead) == len(own):
        return own
    found: list[Part | None] = [None] * len(lead)
    for what, a, b, c, d in _steps([*map(_sign, lead)], [*map(_sign, own)]):
        if what == "equal":
            found[a:b] = own[c:d]
    return found


def _sign(part: Part) -> tuple[str, tuple[str, ...]]:
    return part.kind, anchors(part.text)


def check_even(lead: Sequence[Part], own: Sequence[Part], follows: Follows | None, problems: Problems) -> bool:
    """Whether the translation has the lead's paragraphs in the lead's order; else a caution that names both places."""
    theirs, ours = in_group(lead, TEXT), in_group(own, TEXT)
    then = recorded(follows, TEXT) if follows else ()
    if then and len(then) == len(ours):  # it is as it was recorded; that the lead has more since then is another matter
        return _check_order([line.own for line in then], ours, problems)
    if len(theirs) != len(ours):
        _report_number(theirs, ours, problems)
        return False
    return _check_signs(theirs, ours, problems)


def _check_order(then: Sequence[str], own: Sequence[Part], problems: Problems) -> bool:
    times = Counter(then)
    where = {mark: number for number, mark in enumerate(then) if times[mark] == 1}
    for number, part in enumerate(own):
        wanted = where.get(part.mark, number)
        if wanted != number:
            first = own[wanted].place
            message = f"this paragraph was number {wanted + 1} of the text and is now number {number + 1}; number {wanted + 1} is now {first}"
            problems.caution("edition-order", part.place, message, "put the paragraphs back into the lead's order")
            return False
    return True


def _report_number(lead: Sequence[Part], own: Sequence[Part], problems: Problems) -> None:
    _, a, _, c, _ = next(step for step in _steps([*map(_sign, lead)], [*map(_sign, own)]) if step[0] != "equal")
    here = own[min(c, len(own) - 1)].place if own else None
    there = lead[min(a, len(lead) - 1)].place if lead else None
    place = here or (lead[0].place if lead else own[0].place)
    more = "more" if len(own) > len(lead) else "fewer"
    beside = f"; the two part ways here and at {there}" if there and here else ""
    message = f"this translation has {more} paragraphs than the lead ({len(own)}, not {len(lead)}){beside}"
    problems.caution(
        "edition-paragraphs", place, message, "give each paragraph of the lead one of its own, in the same order"
    )


def _check_signs(lead: Sequence[Part], own: Sequence[Part], problems: Problems) -> bool:
    """Same number: another kind of block, or one whose values and links are all those of another paragraph."""
    signs = [_sign(part) for part in lead]
    for number, part in enumerate(own):
        sign = _sign(part)
        others = [n for n, other in enumerate(signs) if other == sign and n != number]
        swapped = sign != signs[number] and sign[1] and len(others) == 1 and _sign(own[others[0]]) != signs[others[0]]
        if swapped:
            message = f"this looks like the lead's paragraph {others[0] + 1} ({lead[others[0]].place}), but it stands in place {number + 1}"
            problems.caution(
                "edition-order", part.place, message, f"the lead's paragraph {number + 1} is {lead[number].place}"
            )
            return False
        if sign[0] != signs[number][0]:
            message = (
                f"this is a {sign[0]}, the lead's paragraph {number + 1} ({lead[number].place}) is a {signs[number][0]}"
            )
            problems.caution("edition-order", part.place, message, "give the paragraphs the lead's order")
            return False
    return True


def behind(publication: "Publication") -> Mapping[tuple[str, str, str], Behind]:
    """The translations that lag, by kind of page, id and language. Those never recorded are taken at their word."""
    return {
        (kind, id, lang): lagging
        for kind, id, guide in texts_of(publication)
        for lang, lagging in behind_of(publication, guide).items()
    }


def behind_of(publication: "Publication", guide: "Guide") -> dict[str, Behind]:
    """The translations of one text that lag, by language."""
    return {
        text.lang: Behind(
            lead=guide.texts[0].lang, lang=text.lang, lead_file=guide.texts[0].file, file=text.file, changes=changes
        )
        for text in guide.texts[1:]
        if (follows := publication.follows.get(text.file)) is not None
        and (changes := compare(parts_of(guide.texts[0]), parts_of(text), follows))
    }


def check_edition(publication: "Publication", guide: "Guide", problems: Problems) -> None:
    """A caution for each translation of a text with more, fewer or re-ordered paragraphs."""
    for text in guide.texts[1:]:
        check_even(parts_of(guide.texts[0]), parts_of(text), publication.follows.get(text.file), problems)


def texts_of(publication: "Publication") -> Iterator[tuple[str, str, "Guide"]]:
    """Every text with the kind and the id of its page."""
    return ((kind, id, text_at(publication, kind, id)) for kind, id in names_of_texts(publication))


def names_of_texts(publication: "Publication") -> Iterator[tuple[str, str]]:
    """The kind and the id of the page of every text."""
    yield from (("review", id) for id in publication.reviews)
    yield from (("guide", id) for id in publication.guides)
    if publication.about is not None:
        yield "about", ""


def text_at(publication: "Publication", kind: str, id: str) -> "Guide":
    """The text of one of these pages."""
    if kind == "about":
        assert publication.about is not None
        return publication.about
    return publication.reviews[id] if kind == "review" else publication.guides[id]
