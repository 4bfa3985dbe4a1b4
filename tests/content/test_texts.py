"""Laws that hold for every text of the stock, whatever file it stands in."""

import re
import string
from typing import Any

import pytest
import yaml

Texts = list[Any]

# SI symbols and the trade's units as they occur in the stock; longer ones first.
UNITS = (
    r"(?:mmH2O|cmH2O|mm/s|mm²|mm|cm²|cm|km/h|km|kPa|hPa|kg|m/s|m²·Pa/W|ml/s|ml|min|mg/kg|mg|m|l/min|l|g|s|h"
    r"|°C|°|%|lm|lx|cd|Pa|mbar|ppm|ppb|V|W|N)"
)
FOUR = {"en", "de", "nl", "fr"}
TEN = FOUR | {"es", "it", "da", "sv", "nb", "pl"}
IN_ALL_TEN = {"care", "disclosure"}
HEADS = {"/name", "/short", "/measures"}  # of a protocol: what stands beside each finding

# The house measures after the method of a standard and claims no more: these turns would claim conformity.
CONFORMITY = (
    r"\baccording to (?:ISO|EN|IEC|AATCC|ASTM|ANSI|FL)\b|\bcertified\b"
    r"|\b(?:conforms?|complies|compliant) (?:to|with) (?:ISO|EN|IEC)\b"
    r"|\b(?:gemäß|laut|entsprechend|nach) (?:der )?(?:ISO|EN|IEC|AATCC|ASTM|ANSI|FL)\b|zertifizier"
    r"|\b(?:volgens|conform) (?:de )?(?:ISO|EN|IEC|AATCC|ASTM|ANSI|FL)\b|gecertificeerd"
    r"|\b(?:selon|conformes? à|conformément à) (?:la |l[’'])?(?:ISO|EN|IEC|AATCC|ASTM|ANSI|FL)\b|certifi[ée]"
)


def test_every_text_stands_in_its_languages_and_is_not_empty(words: Texts) -> None:
    """A stock text that lacks a language would leave a hole in somebody's edition.

    All stand in four languages at least; what a reader must be told of the sample and its care, in all ten, and so are
    the heads of a protocol once any of them is: a protocol's heads never stand in different languages.
    """
    ten = {file for file, path, found in words if path in HEADS and not set(found) <= FOUR}
    holes = [
        (file, path, sorted(TEN ^ set(found)))
        for file, path, found in words
        if not (TEN if file in IN_ALL_TEN or (path in HEADS and file in ten) else FOUR) <= set(found) <= TEN
    ]
    empty = [(file, path) for file, path, found in words for text in found.values() if not str(text).strip()]
    assert len(words) > 300
    assert holes == []
    assert empty == []


def test_every_text_is_a_string_after_reading(words: Texts) -> None:
    """Unquoted YAML must not turn a text into a number, a date or a truth value."""
    assert [(file, path) for file, path, found in words for text in found.values() if not isinstance(text, str)] == []


def test_no_ordinary_space_between_a_number_and_its_unit(texts: Texts) -> None:
    """SI Brochure, 9th edition, 5.4.3 (from memory): a space stands there.

    The house makes it a no-break one.
    """
    pattern = re.compile(rf"\d {UNITS}(?![\w²])")
    assert [(t.file, t.path, t.language, m[0]) for t in texts for m in pattern.finditer(t.text)] == []


def test_no_number_stands_directly_against_its_unit(texts: Texts) -> None:
    """Degrees of angle apart, a unit never touches its number (same clause, from memory)."""
    pattern = re.compile(r"\d(?:mm|cm|ml|kg|min|°C|%|lm|Pa|ppb|ppm)(?![\w²])")
    assert [(t.file, t.path, t.language, m[0]) for t in texts for m in pattern.finditer(t.text)] == []


def test_the_space_rule_finds_what_it_must() -> None:
    """The pattern above catches an ordinary space and lets the no-break space pass."""
    pattern = re.compile(rf"\d {UNITS}(?![\w²])")
    assert all(pattern.search(bad) for bad in ("250 ml", "at 30 °C", "10 % of it", "8 m²·Pa/W", "mit 5 kg."))
    assert not any(pattern.search(good) for good in ("250\u00a0ml", "3 months", "2 specimens", "45°", "5 minutes"))


def test_decimals_follow_the_language(texts: Texts) -> None:
    """CLDR: decimal point in English, decimal comma in the other nine. No other text holds either between digits."""
    point, comma = re.compile(r"\d\.\d"), re.compile(r"\d,\d")
    assert [(t.file, t.path, t.text) for t in texts if (comma if t.language == "en" else point).search(t.text)] == []
    assert any(re.search(r"\d,\d", t.text) for t in texts if t.language == "de")


def test_french_marks_of_two_parts_have_a_narrow_no_break_space(texts: Texts) -> None:
    """French typography (from memory): U+202F before ; : ! ? and inside « »; nowhere else."""
    french = [t for t in texts if t.language == "fr"]
    mark, quotes = re.compile(r"[^\u202f][;:!?](?=\s|$)"), re.compile(r"«[^\u202f]|[^\u202f]»")
    assert [(t.file, t.path, m[0]) for t in french for m in mark.finditer(t.text)] == []
    assert [(t.file, t.path, m[0]) for t in french for m in quotes.finditer(t.text)] == []
    assert [(t.file, t.path) for t in texts if t.language != "fr" and "\u202f" in t.text] == []


def test_apostrophes_and_quotation_marks_are_those_of_print(texts: Texts) -> None:
    """No typewriter apostrophe or quotation mark in any text."""
    assert [(t.file, t.path, t.language) for t in texts if "'" in t.text or '"' in t.text] == []


def test_no_text_claims_conformity(texts: Texts) -> None:
    """House rule: "measured after the method of … on a home bench", never a claim of conformity."""
    pattern = re.compile(CONFORMITY, re.IGNORECASE)
    assert [(t.file, t.path, m[0]) for t in texts for m in pattern.finditer(t.text)] == []


@pytest.mark.parametrize(
    "claim",
    [
        "tested according to ISO 811",
        "certified for rain",
        "gemäß ISO 811 geprüft",
        "nach der EN 343",
        "volgens ISO 811",
        "gecertificeerd",
        "selon l’ISO 811",
        "conformément à l’ISO 811",
        "certifié",
    ],
)
def test_the_conformity_rule_finds_what_it_must(claim: str) -> None:
    """The pattern above catches the usual turns of all four languages."""
    assert re.search(CONFORMITY, claim, re.IGNORECASE)


def test_placeholders_are_the_same_in_all_four_languages(words: Texts) -> None:
    """A translation that loses or invents a placeholder would print a wrong sentence."""

    def names(text: str) -> list[str]:
        return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)

    unlike = [(file, path) for file, path, found in words if len({tuple(names(text)) for text in found.values()}) != 1]
    assert unlike == []


def test_no_text_has_stray_blanks_or_picture_signs(texts: Texts) -> None:
    """One space between words, none at the ends; no pictogram, star, circle or medal anywhere."""
    pictures = re.compile(r"[\u2600-\u27bf\u25a0-\u25ff\U0001f000-\U0001faff]")
    assert [(t.file, t.path) for t in texts if t.text != t.text.strip() or "  " in t.text or "\n" in t.text] == []
    assert [(t.file, t.path) for t in texts if pictures.search(t.text)] == []


def test_sentences_of_a_kind_end_alike(words: Texts) -> None:
    """Where one language's text ends in a full stop, the other three do too."""
    assert [
        (file, path) for file, path, found in words if len({text.endswith(".") for text in found.values()}) != 1
    ] == []


def test_no_key_is_written_twice(sources: dict[str, str]) -> None:
    """YAML lets a doubled key win in silence; here it is a fault."""

    def doubled(node: yaml.Node | None) -> list[str]:
        if isinstance(node, yaml.MappingNode):
            keys = [key.value for key, _ in node.value]
            own = sorted({key for key in keys if keys.count(key) > 1})
            return own + [d for _, value in node.value for d in doubled(value)]
        return [d for inner in node.value for d in doubled(inner)] if isinstance(node, yaml.SequenceNode) else []

    assert {name: found for name, text in sources.items() if (found := doubled(yaml.compose(text)))} == {}


def test_the_files_are_pleasant_to_open(sources: dict[str, str]) -> None:
    """Each opens with a comment, has no tab or trailing blank, and keeps its lines to 120 characters."""
    assert len(sources) > 30
    assert [name for name, text in sources.items() if not text.startswith("# ") or "\t" in text] == []
    lines = [
        (name, n)
        for name, text in sources.items()
        for n, line in enumerate(text.split("\n"), 1)
        if len(line) > 120 or line != line.rstrip(" ")
    ]
    assert lines == []


def test_figures_survive_translation(words: Texts) -> None:
    """Every number with a unit stands in all four languages, decimal mark apart; order may differ."""
    figures = re.compile(rf"(\d+(?:[.,]\d+)?)\u00a0({UNITS})(?![\w²])")
    unlike = []
    for file, path, found in words:
        sets = {
            lang: sorted((m[1].replace(",", "."), m[2]) for m in figures.finditer(text)) for lang, text in found.items()
        }
        if len({tuple(s) for s in sets.values()}) != 1:
            unlike.append((file, path, sets))
    assert unlike == []
