"""The last part of a page's address, made from its title as the language spells without its marks."""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import TypeVar

from sitegen.records.names.file_names import is_device
from sitegen.text.value_grammar import VALUE_OR_BRACE

Key = TypeVar("Key")
LONGEST = 60
# Spellings without marks: German and the Scandinavian languages write two letters for one (DIN 5007-2 for German
# names; Danish and Norwegian spelling rules for å). Elsewhere a mark is just left out.
_BY_LANGUAGE: dict[str, dict[str, str]] = {
    "de": {"ä": "ae", "ö": "oe", "ü": "ue"},
    "da": {"å": "aa", "æ": "ae", "ø": "oe"},
    "nb": {"å": "aa", "æ": "ae", "ø": "oe"},
    "nn": {"å": "aa", "æ": "ae", "ø": "oe"},
    "no": {"å": "aa", "æ": "ae", "ø": "oe"},
    "is": {"þ": "th", "ð": "d", "æ": "ae", "ö": "o"},
}
# Letters that Unicode doesn't take apart (common practice, no source).
_WHOLE = {
    "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ı": "i", "ŋ": "n", "ĳ": "ij",
}  # fmt: skip
_JOINED = "\u2019\u2018'\u02bc\u00ad\u0301"  # an apostrophe or a soft hyphen parts no word
_GAP = re.compile(r"[^a-z0-9]+")


def slug_of(title: str, tag: str, otherwise: str) -> str:
    """A slug of at most 60 characters, cut at a word; `otherwise` where the title leaves no Latin letter, or only a
    name that means something else: that of a list's page, or one that Windows keeps for a device.

    Values in braces are left out: an address must not change with a reading.

    >>> slug_of("Größe zählt: die Hose für Übermütige", "de", "x")
    'groesse-zaehlt-die-hose-fuer-uebermuetige'
    """
    small = VALUE_OR_BRACE.sub(" ", unicodedata.normalize("NFC", title)).lower()
    letters = _WHOLE | _BY_LANGUAGE.get(tag.partition("-")[0], {})
    spelt = "".join("" if letter in _JOINED else letters.get(letter, letter) for letter in small)
    plain = "".join(c for c in unicodedata.normalize("NFKD", spelt) if not unicodedata.combining(c))
    slug = _cut(_GAP.sub("-", plain).strip("-"))
    if not re.search("[a-z]", slug) or slug == "index" or is_device(slug):
        return otherwise.replace("_", "-")
    return slug


def device_paths(paths: Mapping[Key, str]) -> Iterator[tuple[Key, str]]:
    """The paths of pages that could not be copied to Windows, with the part that is a device's name there."""
    for key, path in paths.items():
        device = next(filter(is_device, path.split("/")), None)
        if device is not None:
            yield key, device


def _cut(slug: str) -> str:
    if len(slug) <= LONGEST:
        return slug
    head = slug[: LONGEST + 1]
    return head.rpartition("-")[0] if "-" in head else slug[:LONGEST]
