"""Dates and periods as one language writes them, by CLDR; and the two machine forms."""

from datetime import date
from typing import Literal

from babel.dates import format_date, format_interval, format_skeleton

from sitegen.figures.forms.language import Language

__all__ = ["date_text", "iso", "period", "rfc3339", "year_month"]


def date_text(lang: Language, day: date, form: Literal["long", "medium", "month", "day"] = "long") -> str:
    """A date in words (`long`), short (`medium`), its month and year (`month`), or its day and month (`day`)."""
    if form == "month":
        return year_month(lang, day.year, day.month)
    if form == "day":
        return format_skeleton("MMMd", day, locale=lang.locale)
    return format_date(day, form, locale=lang.locale)


def year_month(lang: Language, year: int, month: int) -> str:
    """A month of a year: `February 2026`, `Februar 2026`, `luty 2026` (CLDR skeleton yMMMM)."""
    return format_skeleton("yMMMM", date(year, month, 1), locale=lang.locale)


def period(lang: Language, start: date, end: date) -> str:
    """From a first to a last day, saying what both share only once (CLDR interval format yMMMd).

    Raises `ValueError` when the end comes before the start.
    """
    if end < start:
        raise ValueError(f"a period can't end on {end} and start on {start}")
    return format_interval(start, end, "yMMMd", locale=lang.locale)


def iso(day: date) -> str:
    """ISO 8601: `2026-10-04`."""
    return day.isoformat()


def rfc3339(day: date) -> str:
    """RFC 3339: the first instant of the day in UTC, `2026-10-04T00:00:00Z`."""
    return f"{day.isoformat()}T00:00:00Z"
