"""One language of a publication: its tag, its CLDR locale, its number forms and its catalogue of messages.

Everything that dresses a value for a reader takes a `Language` first. Nothing here asks the environment which
language to use. Reading the catalogue, once when the language is opened, is the only input in this room.
"""

import re
from dataclasses import field
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from babel import Locale, UnknownLocaleError
from babel import __version__ as _BABEL

from sitegen.datatypes import dataclass
from sitegen.figures.forms.catalogue import Catalogue, nearest_catalogue, untranslated
from sitegen.figures.forms.number_forms import NumberForms, read_number_forms

__all__ = ["Language", "UnknownLanguage", "open_language", "well_formed"]

# RFC 5646, section 2.1, `langtag`; the grandfathered tags and wholly private ones name nothing that CLDR
# knows.
_LANGUAGE_TAG = re.compile(
    r"""
    (?P<language> [a-z]{2,3} (?:-[a-z]{3}){0,3} | [a-z]{4} | [a-z]{5,8} )
    (?: - (?P<script> [a-z]{4} ) )?
    (?: - (?P<region> [a-z]{2} | [0-9]{3} ) )?
    (?P<variants> (?: - (?: [a-z0-9]{5,8} | [0-9][a-z0-9]{3} ) )* )
    (?P<extensions> (?: - [0-9a-wy-z] (?: - [a-z0-9]{2,8} )+ )* )
    (?P<private> - x (?: - [a-z0-9]{1,8} )+ )?
    """,
    re.VERBOSE | re.IGNORECASE | re.ASCII,
)


class UnknownLanguage(ValueError):
    """A tag that is no BCP 47 tag, or that CLDR has no forms for. `hint` is a tag to write instead."""

    def __init__(self, tag: str, reason: str, hint: str | None = None) -> None:
        super().__init__(f"{tag!r} {reason}")
        self.tag = tag
        self.reason = reason
        self.hint = hint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Language:
    """All that is needed to write for readers of one language. Made by `open_language`; pickles by its tag.

    `name` is the language's name in itself with a capital first letter, as it stands in a menu.
    `catalogue_complete` is False when the words are borrowed from English or one of them isn't translated.
    """

    tag: str
    locale: Locale = field(repr=False)
    direction: Literal["ltr", "rtl"]
    name: str
    forms: NumberForms = field(repr=False)
    catalogue: Catalogue = field(repr=False)
    catalogue_folder: Path
    catalogue_complete: bool

    @property
    def words(self) -> str:
        """The tag of the language that the interface words are in: its own, a wider one, or English."""
        return self.catalogue.tag

    @property
    def digest(self) -> str:
        """Changes with the messages and with the CLDR data, which comes with Babel.

        It belongs into the key of everything made with this language.
        """
        return f"{self.tag}:{_BABEL}:{self.catalogue.digest}"

    def name_of(self, tag: str) -> str:
        """What this language calls another one, as inside a sentence: `Niederländisch`, `anglais`."""
        return _locale_of(tag).get_display_name(self.locale) or tag

    def text(self, msgid: str, /, **values: object) -> str:
        """The message in this language, its `{name}` placeholders replaced by the values as given.

        Without values the message comes back with its placeholders, for a caller that fills them itself.
        """
        found = self.catalogue.messages.get(msgid, msgid)
        return found.format_map(values) if values else found

    def text_in(self, context: str, msgid: str, /, **values: object) -> str:
        """As `text`, for a word whose translation depends on where it stands."""
        found = self.catalogue.messages.get(f"{context}\x04{msgid}", msgid)
        return found.format_map(values) if values else found

    def plural(self, singular: str, plural: str, n: Decimal | int, /, **values: object) -> str:
        """The message in the form that goes with `n`, which fills `{n}` unless a value of that name is given.

        A whole number written without decimals takes the form the catalogue's header says; any other takes
        the form of its CLDR category: the first for "one", else the last (gettext has no form of its own for
        fractions).
        """
        forms = self.catalogue.plurals.get(singular, (singular, plural))
        return forms[self._form_of(n, len(forms))].format_map({"n": n, **values})

    def _form_of(self, n: Decimal | int, count: int) -> int:
        if isinstance(n, Decimal) and "." in f"{n:f}":
            # The rule of the language that the words are in: with English words also the English rule.
            spoken = Locale.parse(self.words, sep="-")
            return 0 if spoken.plural_form(n.copy_abs()) == "one" else count - 1
        return min(self.catalogue.form_of(abs(int(n))), count - 1)

    def __reduce__(self) -> tuple[Any, ...]:
        return _reopen, (self.tag, self.catalogue_folder, self.digest)


@lru_cache(maxsize=32)
def _reopen(tag: str, folder: Path, digest: str) -> Language:
    # The digest is a key only: a worker that lives on while a catalogue is edited opens the new one.
    del digest
    return open_language(tag, folder)


def well_formed(tag: str) -> bool:
    """Whether `tag` follows the grammar of RFC 5646 (2.1) for a `langtag`: `de-AT` does, `nl_NL` doesn't."""
    return _LANGUAGE_TAG.fullmatch(tag) is not None


def open_language(tag: str, catalogue_folder: Path) -> Language:
    """The language of a BCP 47 tag, its words from the nearest catalogue below `catalogue_folder`.

    `de-AT` takes the words of `de`; a language without a catalogue takes the English ones.
    Raises `UnknownLanguage`, and `CatalogueFault` when a catalogue can't be read.
    """
    locale = _locale_of(tag)
    tag = _canonical(tag)
    catalogue = nearest_catalogue(tag, catalogue_folder)
    name = locale.get_display_name(locale) or tag
    own_words = catalogue.tag.split("-")[0] == tag.split("-")[0]
    return Language(
        tag=tag,
        locale=locale,
        direction="rtl" if locale.text_direction == "rtl" else "ltr",
        name=name[0].upper() + name[1:],
        forms=read_number_forms(locale, tag),
        catalogue=catalogue,
        catalogue_folder=catalogue_folder,
        catalogue_complete=own_words and not untranslated(catalogue, catalogue_folder),
    )


def _canonical(tag: str) -> str:
    """Letter case of RFC 5646, section 2.1.1: script with a capital, region in capitals, the rest small."""
    match = _LANGUAGE_TAG.fullmatch(tag)
    assert match is not None
    parts = [match["language"].lower()]
    parts += [match["script"].title()] if match["script"] else []
    parts += [match["region"].upper()] if match["region"] else []
    rest = (match["variants"] + match["extensions"] + (match["private"] or "")).lower()
    return "-".join(parts) + rest


def _locale_of(tag: str) -> Locale:
    match = _LANGUAGE_TAG.fullmatch(tag)
    if match is None:
        hint = tag.replace("_", "-") if well_formed(tag.replace("_", "-")) else None
        raise UnknownLanguage(tag, "is not a language tag", hint)
    language, script, region = match["language"].lower(), match["script"], (match["region"] or "").upper()
    locale = _find_locale(tag, language, script, region)
    if locale.language != language or (region and locale.territory not in (region, None)):
        # CLDR resolves old and mistaken codes (iw, en-UK); on a page they'd name nothing: not taken.
        hint = "-".join(filter(None, (locale.language, script, locale.territory if region else None)))
        raise UnknownLanguage(tag, "names no language of today", hint)
    return locale


def _find_locale(tag: str, language: str, script: str | None, region: str) -> Locale:
    # Variants and extensions change no form we print, and Babel can't read the latter.
    for parts in ((language, script, region), (language, script)):
        if len(parts) == 2 and not (region in Locale("en").territories and region not in ("ZZ", "XA", "XB")):
            break
        try:
            return Locale.parse("-".join(filter(None, parts)), sep="-")
        except (UnknownLocaleError, ValueError):
            continue
    raise UnknownLanguage(tag, "is a language that CLDR has no forms for")
