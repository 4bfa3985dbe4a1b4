"""The words of the trade as they stand in running text of one language, and their order in a list.

A term is found by its name and its other names, whatever the case, with the endings that the language's nouns and
adjectives commonly take (from memory; a form that changes within, such as `Nähte`, is listed in the glossary). Names
of up to four letters without a small letter after the first are found in that case alone: `DWR`, `Ret`.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field
from functools import lru_cache

from sitegen.datatypes import dataclass
from sitegen.records.fields.words import LEAD
from sitegen.records.publication import Publication
from sitegen.records.settings import LINK_TERMS
from sitegen.records.stock_records import Term

__all__ = ["LinkedTerms", "TermForms", "collation_key", "own_word", "term_forms"]

START = 3  # letters of a term by which its group is found
# Endings of single words, by language.
_ENDINGS: Mapping[str, str] = {
    "en": "s|es|’s|'s", "de": "e|en|er|es|em|n|s|ns", "nl": "e|en|s|n|’s|'s", "fr": "s|x|e|es", "es": "s|es", "it": "", "da": "en|et|er|erne|e|s",
    "sv": "en|et|er|erna|e|s", "nb": "en|et|er|ene|e|s",
}  # fmt: skip
# Languages that write compounds as one word: `Membranjacke` speaks of a membrane.
_COMPOUNDS = {"de", "nl", "da", "sv", "nb"}

# Letters that a language sorts as others, or after z (`{` follows z in ASCII). Rules from memory: DIN 5007-1 for de
# (ä like a, ß like ss); da and nb: æ ø å at the end; sv: å ä ö at the end; es: ñ after n; pl: ą after a and so on.
_SORTED_AS: Mapping[str, Mapping[str, str]] = {
    "da": {"æ": "{a", "ä": "{a", "ø": "{b", "ö": "{b", "å": "{c"}, "nb": {"æ": "{a", "ä": "{a", "ø": "{b", "ö": "{b", "å": "{c"},
    "sv": {"å": "{a", "ä": "{b", "æ": "{b", "ö": "{c", "ø": "{c"}, "es": {"ñ": "n{"},
    "pl": {"ą": "a{", "ć": "c{", "ę": "e{", "ł": "l{", "ń": "n{", "ó": "o{", "ś": "s{", "ź": "z{", "ż": "z{{"},
}  # fmt: skip
_EVERYWHERE = {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "þ": "th", "ð": "d"}


def collation_key(text: str, tag: str) -> tuple[str, str]:
    """A sort key by the habits of a language: letters first, whatever their case and accents; then the text itself.

    Blanks and hyphens count before letters, other signs not at all.

    >>> sorted(["Zelt", "Ärmel", "Arm", "ärmer"], key=lambda word: collation_key(word, "de"))
    ['Arm', 'Ärmel', 'ärmer', 'Zelt']
    """
    own = _SORTED_AS.get(tag.split("-")[0], {})
    letters = []
    for letter in unicodedata.normalize("NFC", text).lower():
        known = own.get(letter) or _EVERYWHERE.get(letter)
        if known is None:
            known = "".join(c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c))
            known = " " if known in {"-", "\u00a0", "\u2010"} else known if known.isalnum() or known == " " else ""
        letters.append(known)
    return "".join(letters), text


def own_word(term: Term, tag: str, lead: str) -> str | None:
    """A term's name in exactly this language (or its base language); None where the glossary has none."""
    for wanted in (tag, tag.split("-")[0]):
        if (found := term.term.exact(wanted)) is not None:
            return found
    return term.term.exact(LEAD) if tag == lead else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TermForms:
    """The terms of one language: `find` says where any of them stands in a text.

    `_starts` finds the first letters of any, `_groups` holds the patterns of all forms that begin so, the longest first. One
    pattern of all took as long to compile as a page takes to make; a text needs some groups only.
    """

    tag: str
    forms: Mapping[str, tuple[str, ...]]
    _starts: re.Pattern[str] = field(repr=False)
    _groups: Mapping[str, str] = field(repr=False)
    _exact: Mapping[str, tuple[tuple[str, str], ...]] = field(repr=False)  # compiled when first wanted, which few are

    def find(self, text: str) -> Iterable[tuple[str, int, int]]:
        """Each term in a text: its id, and from where to where it stands. Longer names win over shorter ones."""
        lowered = text.lower()
        if len(lowered) != len(text):  # a letter that changes its length would shift every place
            lowered = "".join(c.lower() if len(c.lower()) == 1 else c for c in text)
        at = 0
        for start in self._starts.finditer(lowered):
            found = _compiled(self._groups[start[0]]).match(lowered, start.start()) if start.start() >= at else None
            if found is None:
                continue
            at = found.end()
            id = self._id_of(text[found.start() : at])
            if id is not None:
                yield id, found.start(), at

    def _id_of(self, word: str) -> str | None:
        return next((id for id, pattern in self._exact.get(word[:2].lower(), ()) if re.fullmatch(pattern, word)), None)

    def uses(self, id: str, text: str) -> bool:
        """Whether a text uses any form of a term, also within a compound."""
        base = self.tag.split("-")[0]
        return _compiled("|".join(_loose(name, base) for name in self.forms[id])).search(text) is not None


def term_forms(terms: Mapping[str, Term], tag: str, lead: str) -> TermForms:
    """The forms of all terms that have a name in a language and are no everyday words."""
    base = tag.split("-")[0]
    forms: dict[str, tuple[str, ...]] = {}
    for id, term in terms.items():
        name = own_word(term, tag, lead)
        if name is not None and not term.everyday:
            also = dict(term.also)
            forms[id] = tuple(dict.fromkeys((name, *also.get(tag, ()), *(also.get(base, ()) if base != tag else ()))))
    every = sorted(
        ((form, id) for id, names in forms.items() for form in names), key=lambda pair: (-len(pair[0]), pair)
    )
    # Alternations without groups or flags: the matcher passes an alternative by its first letter.
    groups: dict[str, list[str]] = {form.lower().split()[0][:START]: [] for form, _ in every}
    exact: dict[str, list[tuple[str, str]]] = {}
    for form, id in every:
        first = form.lower().split()[0][:START]
        for start, group in groups.items():
            if start.startswith(first):
                group.append(_inflected(form.lower(), base))
        case = "" if _is_short(form) else "(?i)"
        exact.setdefault(form[:2].lower(), []).append((id, case + _inflected(form, base)))
    starts = "|".join(map(re.escape, sorted(groups, key=lambda start: (-len(start), start))))
    return TermForms(
        tag=tag,
        forms=forms,
        _starts=re.compile(rf"(?<![\w-])(?:{starts})" if every else r"(?!)"),
        _groups={start: rf"(?:{'|'.join(group)})(?!\w)" for start, group in groups.items()},
        _exact={key: tuple(group) for key, group in exact.items()},
    )


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


class LinkedTerms(Mapping[str, TermForms]):
    """The terms of each edition whose first use on a page leads to the glossary; none where the publication wants it plain.

    Those of an edition are made ready when a page of it is made: most edits touch one.
    """

    def __init__(self, publication: Publication) -> None:
        settings = publication.settings
        self._terms, self._lead = publication.terms, settings.lead
        self._tags = settings.tags if settings.terms == LINK_TERMS else ()
        self._ready: dict[str, TermForms] = {}

    def __getitem__(self, tag: str) -> TermForms:
        if tag not in self._tags:
            raise KeyError(tag)
        if tag not in self._ready:
            self._ready[tag] = term_forms(self._terms, tag, self._lead)
        return self._ready[tag]

    def __iter__(self) -> Iterator[str]:
        return iter(self._tags)

    def __len__(self) -> int:
        return len(self._tags)


def _is_short(form: str) -> bool:
    return len(form) <= 4 and form[:1].isupper()


def _inflected(form: str, language: str) -> str:
    """A form with the endings of its language on each longer word; a blank may be a line's end."""
    return r"[ \u00a0\n]+".join(_word(word, language) for word in form.split())


def _word(word: str, language: str) -> str:
    endings = _ENDINGS.get(language, "")
    stem = word
    if language in {"de", "nl"} and len(word) > 5 and word.endswith("e"):
        stem, endings = word[:-1], f"{endings}|"  # `wasserabweisende` is `wasserabweisenden` elsewhere
        return f"{re.escape(stem)}(?:{endings})"
    return f"{re.escape(stem)}(?:{endings})?" if endings and len(word) > 2 else re.escape(stem)


def _loose(form: str, language: str) -> str:
    case = "" if _is_short(form) else "(?i:"
    close = ")" if case else ""
    if language in _COMPOUNDS and not _is_short(form):
        # The first word may end a compound, the last may begin one.
        return rf"{case}{_inflected(form, language)}{close}"
    return rf"(?<!\w){case}{_inflected(form, language)}{close}(?!\w)"
