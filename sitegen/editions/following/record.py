"""What goes into the file beside a translation when it is recorded."""

from collections.abc import Container, Sequence

from sitegen.editions.following.freshness import pairs, recorded
from sitegen.editions.following.parts import TEXT, Part, in_group
from sitegen.records.texts.follows import Follows

Line = tuple[str, str, str]  # mark of the lead's text, mark of the translation's, how the lead begins


def whole(lead: Sequence[Part], own: Sequence[Part]) -> dict[str, Line] | None:
    """Every paragraph of the lead as followed by its counterpart; None where the numbers of paragraphs differ.

    A front-matter text that the translation lacks is left out, and counts as new in the lead.
    """
    if len(in_group(lead, TEXT)) != len(in_group(own, TEXT)):
        return None
    ours = {part.key: part for part in own}
    return {part.key: (part.mark, ours[part.key].mark, part.excerpt) for part in lead if part.key in ours}


def caught_up(lead: Sequence[Part], own: Sequence[Part], follows: Follows, accepted: Container[str]) -> dict[str, Line]:
    """A record renewed: the `accepted` paragraphs of the lead (by key) are followed now; of the others the record stays.

    The lines keep the order of the translation's paragraphs; one that is new in the record stands behind the line of
    the lead's paragraph before it.
    """
    groups = dict.fromkeys([*(part.group for part in lead), *(line.group for line in follows.parts)])
    renewed: dict[str, Line] = {}
    blocks = 0
    for group in groups:
        for key, line in _group(lead, own, follows, group, accepted):
            blocks += group == TEXT
            renewed.setdefault(f"{TEXT}.{blocks}" if group == TEXT else key, line)
    return renewed


def _group(
    lead: Sequence[Part], own: Sequence[Part], follows: Follows, group: str, accepted: Container[str]
) -> list[tuple[str, Line]]:
    """The lines of one group: the recorded ones in their order, with the accepted new ones put in."""
    ours = in_group(own, group)
    found = pairs(in_group(lead, group), ours, follows)
    paired = {pair.here.key for pair in found if pair.here}
    lines: list[tuple[str, Line]] = [
        (line.part, (line.lead, line.own, line.excerpt)) for line in recorded(follows, group)
    ]
    at, before = -1, -1  # the line, and the translation's paragraph, of the lead's paragraph before
    for pair in found:
        part, here = pair.lead, pair.here
        if part is None:
            continue
        if pair.then is not None:
            at = next(n for n, (_, old) in enumerate(lines) if old[:2] == (pair.then.lead, pair.then.own))
            if here and (part.key in accepted or not pair.change):
                lines[at] = (part.key, (part.mark, here.mark, part.excerpt))
        elif part.key in accepted and before + 1 < len(ours) and ours[before + 1].key not in paired:
            here, at = ours[before + 1], at + 1
            lines.insert(at, (part.key, (part.mark, here.mark, part.excerpt)))
        before = ours.index(here) if here else before
    return lines
