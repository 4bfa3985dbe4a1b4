"""Opening a language: its tag, its direction, its name, where its words come from."""

import os
import pickle
import subprocess
import sys
from pathlib import Path

import langcodes
import pytest
from langcodes.tag_parser import LanguageTagError, parse_tag

from sitegen.figures.forms.language import UnknownLanguage, open_language, well_formed

PROJECT = Path(__file__).parents[2]
CATALOGUES = PROJECT / "content" / "catalogues"

# RFC 5646, appendix A: examples of tags, without the private and the grandfathered ones.
TAGS_OF_THE_RFC = (
    "de fr ja zh-Hant zh-Hans sr-Cyrl sr-Latn zh-cmn-Hans-CN cmn-Hans-CN zh-yue-HK yue-HK zh-Hans-CN "
    "sr-Latn-RS sl-rozaj sl-rozaj-biske sl-nedis de-CH-1901 sl-IT-nedis hy-Latn-IT-arevela de-DE en-US "
    "es-419 de-CH-x-phonebk az-Arab-x-AZE-derbend en-US-u-islamcal zh-CN-a-myext-x-private "
    "en-a-myext-b-another"
).split()
# The first two are ill-formed in RFC 5646, appendix A; the others are slips that people make.
ILL_FORMED = ("de-419-DE", "a-DE", "en-", "-en", "", "e", "en--GB", "deutsch-deutsch-x", "en GB", "français")


@pytest.mark.parametrize("tag", TAGS_OF_THE_RFC)
def test_tags_of_the_standard_are_well_formed(tag: str) -> None:
    """Every example of RFC 5646, appendix A, is well formed, here and for the reference library."""
    assert parse_tag(tag)  # type: ignore[no-untyped-call]
    assert well_formed(tag)


@pytest.mark.parametrize("tag", ILL_FORMED)
def test_slips_are_ill_formed(tag: str) -> None:
    """What isn't a tag is refused, here and by the reference library."""
    with pytest.raises(LanguageTagError):
        parse_tag(tag)  # type: ignore[no-untyped-call]
    assert not well_formed(tag)
    with pytest.raises(UnknownLanguage):
        open_language(tag, CATALOGUES)


@pytest.mark.parametrize("tag", ["xx", "tlh", "und", "en-UK", "iw", "en-XX", "nl-ZZ", "qaa"])
def test_tags_that_name_nothing_are_refused(tag: str) -> None:
    """A well-formed tag is refused when CLDR has no such language or it isn't the code of today."""
    assert well_formed(tag)
    with pytest.raises(UnknownLanguage):
        open_language(tag, CATALOGUES)


def test_an_underscore_makes_no_tag() -> None:
    """RFC 5646, 2.1, parts subtags by hyphens only; the reference library is more lenient."""
    assert not well_formed("nl_NL")


@pytest.mark.parametrize(("tag", "hint"), [("nl_NL", "nl-NL"), ("en-UK", "en-GB"), ("iw", "he")])
def test_a_slip_brings_the_tag_to_write(tag: str, hint: str) -> None:
    """The common slips name the right tag, and that one opens."""
    with pytest.raises(UnknownLanguage) as caught:
        open_language(tag, CATALOGUES)
    assert caught.value.hint == hint
    assert open_language(hint, CATALOGUES).tag == hint


@pytest.mark.parametrize("tag", ["EN-gb", "de-at", "sr-latn-rs", "ZH-hant", "de-CH-1901", "nl-BE", "es-419"])
def test_the_tag_is_kept_in_the_case_of_the_standard(tag: str) -> None:
    """Letter case follows RFC 5646, 2.1.1 (as the reference library writes it)."""
    expected = langcodes.standardize_tag(tag)
    assert open_language(tag, CATALOGUES).tag == expected


@pytest.mark.parametrize(
    ("tag", "name", "direction"),
    [
        ("en", "English", "ltr"),
        ("de", "Deutsch", "ltr"),
        ("nl", "Nederlands", "ltr"),
        ("fr", "Français", "ltr"),
        ("de-AT", "Deutsch (Österreich)", "ltr"),
        ("ar", "العربية", "rtl"),
        ("he", "עברית", "rtl"),
    ],
)
def test_name_and_direction(tag: str, name: str, direction: str) -> None:
    """A language is named in itself and knows its direction (values: CLDR, capital for a menu)."""
    opened = open_language(tag, CATALOGUES)
    assert (name, direction) == (opened.name, opened.direction)


@pytest.mark.parametrize(
    ("tag", "words", "complete"),
    [
        ("de", "de", True),
        ("de-AT", "de", True),
        ("en-GB", "en", True),
        ("cs", "en", False),
        ("ar", "en", False),
    ],
)
def test_words_come_from_the_nearest_catalogue(tag: str, words: str, complete: bool) -> None:
    """A region takes its language's words; a language without a catalogue takes English and says so."""
    opened = open_language(tag, CATALOGUES)
    assert (words, complete) == (opened.words, opened.catalogue_complete)


def test_a_region_that_cldr_lacks_takes_the_language() -> None:
    """Dutch in Germany is a good tag: it is written as Dutch."""
    opened = open_language("nl-DE", CATALOGUES)
    assert ("nl-DE", "nl") == (opened.tag, opened.locale.language)


def test_other_languages_are_named_in_this_one() -> None:
    """Names inside a sentence are those of the reader's language (CLDR)."""
    assert "Niederländisch" == open_language("de", CATALOGUES).name_of("nl")
    assert "anglais" == open_language("fr", CATALOGUES).name_of("en")


def test_a_language_pickles() -> None:
    """A worker gets the same language: tag, words and digest survive, and unpickling twice opens it once."""
    german = open_language("de-AT", CATALOGUES)
    sent = pickle.dumps(german)
    first, second = pickle.loads(sent), pickle.loads(sent)
    assert first is second
    assert (german.tag, german.digest, german.text("Home")) == (first.tag, first.digest, first.text("Home"))


SCRIPT = """
from datetime import date
from decimal import Decimal
from pathlib import Path
from sitegen.figures.forms import dates, numbers
from sitegen.figures.forms.language import open_language
for tag in ("en", "de", "fr-CH", "pl"):
    lang = open_language(tag, Path("content/catalogues"))
    day = date(2026, 10, 4)
    said = [numbers.number(lang, Decimal("-12345.60")), numbers.money(lang, Decimal("149.90"), "EUR"),
            dates.date_text(lang, day), dates.period(lang, date(2026, 8, 10), day), lang.text("Home"),
            lang.plural("after {n} wash", "after {n} washes", 3), numbers.listing(lang, ["a", "b", "c"])]
    print(ascii(said))
"""


def test_the_environment_changes_nothing() -> None:
    """The same text comes out whatever language, time zone and hash seed the machine is set to."""

    def run(**settings: str) -> str:
        environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(PROJECT), **settings}
        command = [sys.executable, "-c", SCRIPT]
        return subprocess.run(command, env=environment, cwd=PROJECT, check=True, capture_output=True, text=True).stdout

    plain = run(LC_ALL="C", TZ="UTC", PYTHONHASHSEED="0")
    assert "Startseite" in plain
    assert plain == run(LC_ALL="pl_PL.UTF-8", LANGUAGE="fr:nl", LANG="ar", TZ="Asia/Tokyo", PYTHONHASHSEED="7")
