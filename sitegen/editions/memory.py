"""The publication's own earlier translations: equal or similar paragraphs, offered again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from sitegen.editions.freshness import Pair
from sitegen.editions.parts import tidy

LEAST = 0.75  # below this, translators' tools offer nothing either (common practice, no source)
MOST = 3  # suggestions for one paragraph
LONGEST = 4000  # characters; longer ones are compared for equality only


@dataclass(frozen=True, slots=True, order=True)
class Remembered:
    """A paragraph with its translation; `where` is its text and part, such as `reviews/halde text.3`."""

    source: str
    lang: str
    target: str
    where: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An earlier translation, and how alike its source is: 1 for the same text."""

    likeness: float
    remembered: Remembered


def remember(text: str, lang: str, pairs: Iterable[Pair]) -> tuple[Remembered, ...]:
    """The pairs of one text that are in step."""
    return tuple(
        Remembered(pair.lead.text, lang, pair.here.text, f"{text} {pair.lead.key}") for pair in pairs if pair.lead and pair.here and not pair.change
    )


class Memory:
    """All remembered pairs. Likeness is difflib's ratio (Ratcliff and Obershelp) of the tidied texts."""

    def __init__(self, remembered: Sequence[Remembered]) -> None:
        self.remembered = tuple(sorted(set(remembered)))
        self._tidied: dict[str, list[tuple[str, Remembered]]] = {}
        for one in self.remembered:
            self._tidied.setdefault(one.lang, []).append((tidy(one.source), one))

    def suggest(self, source: str, lang: str, but: str = "") -> tuple[Suggestion, ...]:
        """The best earlier translations, most alike first; not the one that stands at `but`."""
        wanted = tidy(source)
        matcher = SequenceMatcher(None, autojunk=False)
        matcher.set_seq2(wanted)
        found: dict[str, Suggestion] = {}
        for text, one in self._tidied.get(lang, ()):
            likeness = _likeness(matcher, text, wanted) if one.where != but else 0.0
            if likeness >= LEAST and (one.target not in found or found[one.target].likeness < likeness):
                found[one.target] = Suggestion(likeness, one)
        best = sorted(found.values(), key=lambda s: (-s.likeness, s.remembered))
        return tuple(best[:MOST])


def _likeness(matcher: SequenceMatcher[str], text: str, wanted: str) -> float:
    """The ratio, or 0 where a cheap upper bound shows that it isn't reached."""
    if text == wanted:
        return 1.0
    both = len(text) + len(wanted)
    if both == 0 or both > 2 * LONGEST or 2 * min(len(text), len(wanted)) / both < LEAST:
        return 0.0
    matcher.set_seq1(text)
    return matcher.ratio() if matcher.quick_ratio() >= LEAST else 0.0
