"""Care labels in words: the groups of ISO 3758 in their order, and never a pictogram."""

import re
from typing import Any

Stock = dict[str, Any]

# Order of the groups since 2005/2006 as published by the Swiss care-labelling association; "other" is ours.
GROUPS = ["washing", "bleaching", "drying", "ironing", "professional", "other"]
# Glyphs built from the shapes of care symbols: tubs, triangles, squares, circles, crosses, irons.
LOOK_ALIKES = re.compile(r"[\u2190-\u23ff\u2500-\u2bff\U0001f000-\U0001faff\ue000-\uf8ff✕✖×●○■□▲△]")


def test_groups_stand_in_the_order_of_a_label(stock: Stock) -> None:
    """Washing, bleaching, drying, ironing, professional care: a label is read in this order."""
    groups = [entry["group"] for entry in stock["care"].values()]
    assert groups == sorted(groups, key=GROUPS.index)
    assert set(groups) == set(GROUPS)


def test_each_key_has_its_group_and_words_and_nothing_else(stock: Stock) -> None:
    """The family in the key and the group agree."""
    family = {
        "wash": "washing",
        "bleach": "bleaching",
        "dry": "drying",
        "iron": "ironing",
        "prof": "professional",
        "nosoftener": "other",
    }
    assert all(sorted(entry) == ["group", "words"] for entry in stock["care"].values())
    assert {key: entry["group"] for key, entry in stock["care"].items()} == {
        key: family[key.split(".")[0]] for key in stock["care"]
    }


def test_no_pictogram_or_look_alike(stock: Stock) -> None:
    """The symbols are protected marks; the site prints words."""
    assert [
        key for key, entry in stock["care"].items() for text in entry["words"].values() if LOOK_ALIKES.search(text)
    ] == []


def test_words_of_the_trade(stock: Stock) -> None:
    """Wordings read on pages of the trade.

    A German cleaners' association, symbol brochures, a Dutch household page.
    """
    words = {key: entry["words"] for key, entry in stock["care"].items()}
    assert words["wash.30.mild"]["de"] == "30\u00a0°C, Schonwaschgang"
    assert words["iron.low"]["de"] == "nicht heiß bügeln"
    assert words["bleach.oxygen"]["de"] == "nur Sauerstoffbleiche"
    assert words["dry.line"]["fr"] == "séchage sur fil"
    assert words["dry.flat"]["nl"] == "liggend drogen"
    assert words["prof.dryclean.no"]["en"] == "do not dry clean"


def test_two_keys_never_say_the_same(stock: Stock) -> None:
    """In each language every entry can be told from every other."""
    for lang in ("en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl"):
        said = [entry["words"][lang] for entry in stock["care"].values()]
        assert len(set(said)) == len(said)


def test_tumble_temperatures(stock: Stock) -> None:
    """One dot 60 °C, two dots 80 °C: table of the owner of the symbols."""
    words = {key: entry["words"] for key, entry in stock["care"].items()}
    assert all("60\u00a0°C" in text for text in words["dry.tumble.low"].values())
    assert all("80\u00a0°C" in text for text in words["dry.tumble.normal"].values())


def test_ironing_words_carry_no_temperature(stock: Stock) -> None:
    """The steps moved from 110, 150, 200 °C to 120, 160, 210 °C with ISO 3758:2023, so a word names none."""
    ironing = [entry["words"] for entry in stock["care"].values() if entry["group"] == "ironing"]
    assert len(ironing) == 4
    assert not any(re.search(r"\d", text) for words in ironing for text in words.values())
