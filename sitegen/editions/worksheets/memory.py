"""The publication's own earlier translations: equal or similar paragraphs, offered again."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import Pair
from sitegen.editions.following.parts import tidy

LEAST = 0.75  # below this, translators' tools offer nothing either (common practice, no source)
MOST = 3  # suggestions for one paragraph
_WORD = re.compile(r"\w+")
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
        Remembered(pair.lead.text, lang, pair.here.text, f"{text} {pair.lead.key}")
        for pair in pairs
        if pair.lead and pair.here and not pair.change
    )


class Memory:
    """All remembered pairs. Likeness is difflib's ratio (Ratcliff and Obershelp) of the tidied texts."""

    def __init__(self, remembered: Sequence[Remembered]) -> None:
        self.remembered = tuple(sorted(set(remembered)))
        self._by_text: dict[tuple[str, str], list[Remembered]] = {}
        self._by_word: dict[tuple[str, str], list[str]] = {}
        for one in self.remembered:
            text = tidy(one.source)
            known = self._by_text.setdefault((one.lang, text), [])
            if not known:
                for word in _words(text):
                    self._by_word.setdefault((one.lang, word), []).append(text)
            known.append(one)

    def suggest(self, source: str, lang: str, but: str = "") -> tuple[Suggestion, ...]:
        """The best earlier translations, not the one that stands at `but`: those of equal texts, else most alike first."""
        wanted = tidy(source)
        equal = self._offers(1.0, wanted, lang, but)
        if equal:
            return tuple(equal[:MOST])
        matcher = SequenceMatcher(None, autojunk=False)
        matcher.set_seq2(wanted)
        found: dict[str, Suggestion] = {}
        for text in self._near(wanted, lang):
            likeness = _likeness(matcher, text, wanted)
            for offer in self._offers(likeness, text, lang, but) if likeness >= LEAST else ():
                found.setdefault(offer.remembered.target, offer)
                found[offer.remembered.target] = max(found[offer.remembered.target], offer, key=lambda s: s.likeness)
        return tuple(sorted(found.values(), key=lambda s: (-s.likeness, s.remembered))[:MOST])

    def _offers(self, likeness: float, text: str, lang: str, but: str) -> list[Suggestion]:
        kept = {one.target: one for one in reversed(self._by_text.get((lang, text), ())) if one.where != but}
        return [Suggestion(likeness, one) for one in sorted(kept.values())]

    def _near(self, wanted: str, lang: str) -> list[str]:
        """The texts that share a quarter of the words: comparing all others letter by letter would take minutes."""
        words = _words(wanted)
        shared = Counter(text for word in words for text in self._by_word.get((lang, word), ()))
        return sorted(text for text, number in shared.items() if 4 * number >= len(words))


def _words(text: str) -> frozenset[str]:
    return frozenset(_WORD.findall(text.casefold()))


def _likeness(matcher: SequenceMatcher[str], text: str, wanted: str) -> float:
    """The ratio, or 0 where a cheap upper bound shows that it isn't reached."""
    both = len(text) + len(wanted)
    if both == 0 or both > 2 * LONGEST or 2 * min(len(text), len(wanted)) / both < LEAST:
        return 0.0
    matcher.set_seq1(text)
    return matcher.ratio() if matcher.quick_ratio() >= LEAST else 0.0
