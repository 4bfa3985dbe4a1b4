"""Which paragraph of a translation says what which paragraph of the lead says.

Front-matter texts are paired by their keys. Blocks are paired by position where there are equally many of the
same kinds in the same order; else each with the one most like it: of the same kind, with the same values,
addresses, figures and names, and near the same place. Blocks that are like none stay alone.
"""

import re
from collections import Counter
from collections.abc import Callable, Sequence

from sitegen.editions.following.parts import TEXT, Part, anchors, in_group

FURTHEST = 30  # blocks that a paragraph may have been moved by
LIKE = 0.35  # below this two blocks have too little in common (found by trying, no source)
_NAME = re.compile(r"(?<![.!?:\w] )(?<!^)\b[^\W\d_a-zß-ÿ][^\W\d_]{3,}")
_NUMBER = re.compile(r"\d+")

Pairs = tuple[tuple[Part, Part], ...]


def pair_parts(lead: Sequence[Part], own: Sequence[Part]) -> Pairs:
    """The parts of a lead's text beside those of its translation, in the lead's order."""
    here, there = in_group(lead, TEXT), in_group(own, TEXT)
    by_key = {part.key: part for part in own}
    counts, own_counts = (Counter(part.group for part in parts if part.group != TEXT) for parts in (lead, own))
    full = {group for group in counts if counts[group] == own_counts[group]}
    head = [(part, by_key[part.key]) for part in lead if part.key in by_key and part.group in full]
    if [part.kind for part in here] == [part.kind for part in there]:
        return (*head, *zip(here, there, strict=True))
    return (*head, *by_likeness(here, there))


def fewest_faults(lead: Sequence[Part], own: Sequence[Part], faults: Callable[[Part, Part], int]) -> Pairs:
    """As `pair_parts`, but where that leaves faults and pairing by likeness leaves fewer, paragraphs were moved."""
    plain = pair_parts(lead, own)
    before = sum(faults(a, b) for a, b in plain if a.group == TEXT)
    if not before:
        return plain
    moved = by_likeness(in_group(lead, TEXT), in_group(own, TEXT))
    if len(moved) < sum(1 for a, _ in plain if a.group == TEXT) or sum(faults(a, b) for a, b in moved) >= before:
        return plain
    return (*(pair for pair in plain if pair[0].group != TEXT), *moved)


def by_likeness(lead: Sequence[Part], own: Sequence[Part]) -> Pairs:
    """Blocks paired with the one most like them, best pairs first."""
    marks = {id(part): _marks(part.text) for part in (*lead, *own)}
    own_kinds = [part.kind for part in own]
    reach = FURTHEST + abs(len(lead) - len(own))
    scored = []
    for i, a in enumerate(lead):
        kind = a.kind
        # Only so far apart, so that a text of a thousand blocks doesn't cost its square.
        for j in range(max(0, i - reach), min(len(own), i + reach + 1)):
            if kind == own_kinds[j]:
                b = own[j]
                nearness = 1 - abs(i / max(1, len(lead) - 1) - j / max(1, len(own) - 1))
                scored.append((-_likeness(marks[id(a)], marks[id(b)], a.text, b.text, nearness), i, j))
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for score, i, j in sorted(scored):
        if -score >= LIKE and i not in pairs and j not in taken:
            pairs[i] = j
            taken.add(j)
    return tuple((lead[i], own[j]) for i, j in sorted(pairs.items()))


def _marks(text: str) -> frozenset[str]:
    """What survives translation: values, addresses, numbers, names."""
    return frozenset((*anchors(text), *_NUMBER.findall(text), *_NAME.findall(text)))


def _likeness(a: frozenset[str], b: frozenset[str], text: str, other: str, nearness: float) -> float:
    """From 0 to 1: common marks count most, then place and length."""
    length = min(len(text), len(other)) / max(len(text), len(other), 1)
    if not a and not b:
        return 0.5 * nearness + 0.2 * length
    # Nouns have capitals in some languages only, so the poorer side sets what could be common.
    common = len(a & b) / max(1, min(len(a), len(b)))
    return 0.6 * common + 0.25 * nearness + 0.15 * length
