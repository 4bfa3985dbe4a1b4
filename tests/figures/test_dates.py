"""Dates and periods against CLDR: Babel as the second writer, and ICU's own output written down."""

from datetime import date
from functools import cache
from pathlib import Path

import pytest
from babel.dates import format_date, format_interval
from hypothesis import given
from hypothesis import strategies as st

from sitegen.figures.forms import dates
from sitegen.figures.forms.language import Language
from sitegen.figures.forms.language import open_language as open_one

CATALOGUES = Path(__file__).parents[2] / "content" / "catalogues"
THIN = "\u2009"


@cache
def open_language(tag: str) -> Language:
    return open_one(tag, CATALOGUES)


# Node's Intl.DateTimeFormat, ICU 78.2 (CLDR 48): dateStyle long; year and long month; the range of year,
# short month and day.
ICU_DATES = [
    ("en", "October 4, 2026", "February 2026", f"Aug 10{THIN}–{THIN}Oct 2, 2026"),
    ("en-GB", "4 October 2026", "February 2026", f"10 Aug{THIN}–{THIN}2 Oct 2026"),
    ("nl", "4 oktober 2026", "februari 2026", f"10 aug{THIN}–{THIN}2 okt 2026"),
    ("de", "4. Oktober 2026", "Februar 2026", f"10. Aug.{THIN}–{THIN}2. Okt. 2026"),
    ("de-AT", "4. Oktober 2026", "Februar 2026", f"10. Aug.{THIN}–{THIN}2. Okt. 2026"),
    ("fr", "4 octobre 2026", "février 2026", f"10 août{THIN}–{THIN}2 oct. 2026"),
    ("pl", "4 października 2026", "luty 2026", "10 sie–2 paź 2026"),
    ("es", "4 de octubre de 2026", "febrero de 2026", f"10 ago{THIN}–{THIN}2 oct 2026"),
]


@pytest.mark.parametrize(("tag", "long", "month", "interval"), ICU_DATES)
def test_dates_as_icu_writes_them(tag: str, long: str, month: str, interval: str) -> None:
    """Long dates, months and periods are CLDR's."""
    lang = open_language(tag)
    assert long == dates.date_text(lang, date(2026, 10, 4))
    assert month == dates.date_text(lang, date(2026, 2, 4), "month") == dates.year_month(lang, 2026, 2)
    assert interval == dates.period(lang, date(2026, 8, 10), date(2026, 10, 2))


@given(day=st.dates(date(1900, 1, 1), date(2199, 12, 31)), length=st.integers(0, 800))
@pytest.mark.parametrize("tag", ["en", "nl", "de", "fr", "pl"])
def test_dates_as_babel_writes_them(tag: str, day: date, length: int) -> None:
    """Every form equals Babel's for any day."""
    lang, last = open_language(tag), date.fromordinal(day.toordinal() + length)
    assert format_date(day, "long", locale=lang.locale) == dates.date_text(lang, day, "long")
    assert format_date(day, "medium", locale=lang.locale) == dates.date_text(lang, day, "medium")
    assert format_interval(day, last, "yMMMd", locale=lang.locale) == dates.period(lang, day, last)


def test_a_period_of_one_day_is_that_day() -> None:
    """Start and end alike are said once."""
    assert "2. Okt. 2026" == dates.period(open_language("de"), date(2026, 10, 2), date(2026, 10, 2))


def test_a_period_runs_forwards() -> None:
    """An end before its start is refused."""
    with pytest.raises(ValueError, match="can't end"):
        dates.period(open_language("de"), date(2026, 10, 2), date(2026, 10, 1))


@given(day=st.dates())
def test_machine_forms_read_back(day: date) -> None:
    """ISO 8601 and RFC 3339 forms give the day back; the latter has a zone (RFC 3339, 5.6)."""
    assert day == date.fromisoformat(dates.iso(day))
    stamp = dates.rfc3339(day)
    assert (dates.iso(day), "T00:00:00Z") == (stamp[:10], stamp[10:])
