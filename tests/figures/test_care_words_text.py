"""Care labels and finish chemistry in words, in the standard's order and the edition's language."""

from dataclasses import replace

import pytest
from small_records import edition, small_publication

from sitegen.figures.wording.care import care_words, finish_source
from sitegen.records.fields.fields import Ref
from sitegen.records.publication import Publication
from sitegen.records.stock_records import CARE_GROUPS


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def test_words_stand_in_the_order_of_the_label(small: Publication) -> None:
    """ISO 3758, 4 (from memory): washing, bleaching, drying, ironing, professional care, however the author wrote them."""
    version = small.products["tarn"].versions[1]
    turned = replace(version, care=tuple(reversed(version.care)))
    assert care_words(edition(small), version, small.stock) == ("30\u00a0°C, mild process", "do not bleach")
    assert care_words(edition(small), turned, small.stock) == care_words(edition(small), version, small.stock)
    everything = replace(version, care=tuple(Ref(key, version.place) for key in sorted(small.stock.care, reverse=True)))
    groups = {
        small.stock.care[key].words.text("en", "de").replace(" °", "\u00a0°"): small.stock.care[key].group
        for key in small.stock.care
    }
    order = [
        CARE_GROUPS.index(groups[text])
        for text in care_words(edition(small), everything, small.stock)
        if text in groups
    ]
    assert order == sorted(order) and len(order) > 20


@pytest.mark.parametrize("tag", ["en", "de", "nl", "fr"])
def test_words_never_pictograms(tag: str, small: Publication) -> None:
    """The care symbols are protected marks: no character from a symbol block stands for one, in any language."""
    version = small.products["tarn"].versions[1]
    everything = replace(version, care=tuple(Ref(key, version.place) for key in small.stock.care))
    for text in care_words(edition(small, tag), everything, small.stock):
        assert text and not [c for c in text if 0x2190 <= ord(c) <= 0x2BFF or ord(c) >= 0x1F000]


def test_an_older_version_has_its_own_label(small: Publication) -> None:
    """Care belongs to a version, not to a name."""
    older, newer = small.products["tarn"].versions
    assert care_words(edition(small, "de"), older, small.stock) == ("Maschinenwäsche 40\u00a0°C",)
    assert care_words(edition(small, "de"), newer, small.stock)[0].startswith("30")


def test_a_finish_is_the_makers_word(small: Publication) -> None:
    """Who says it and when, and that a bench can't verify it."""
    finish = small.products["tarn"].versions[1].finish
    assert finish is not None
    assert finish_source(edition(small), finish) == "Source: label, August 3, 2026. A bench cannot verify this."
    assert "3. August 2026" in finish_source(edition(small, "de"), finish)
