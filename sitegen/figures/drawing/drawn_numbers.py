"""All that decides how a chart is drawn, as text to digest: charts that differ in names alone share a drawing."""

from dataclasses import fields, is_dataclass
from decimal import Decimal
from functools import cache

from sitegen.figures.charts.chart_spec import ChartSpec

NAMES = frozenset({"entrant", "label", "stages"})  # fields that become words: their number counts, not they


def numbers_of(spec: ChartSpec) -> str:
    """The numbers of a chart in a fixed order, with how many names it has."""
    words: list[str] = []
    _gather(spec, words)
    return " ".join(words)


def _gather(value: object, words: list[str]) -> None:
    if type(value) is float or type(value) is int:
        words.append(repr(float(value)))
    elif isinstance(value, tuple):
        words.append(f"{len(value)}(")
        for part in value:
            _gather(part, words)
    elif isinstance(value, float | Decimal):
        words.append(repr(float(value)))
    elif is_dataclass(value):
        words.append(type(value).__name__)
        kind: type = type(value)
        for name in _field_names(kind):
            part = getattr(value, name)
            _gather(_blank(part) if name in NAMES else part, words)
    else:
        words.append(repr(value))


@cache
def _field_names(record: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(record))


def _blank(names: str | tuple[str, ...]) -> tuple[None, ...]:
    return (None,) * len(names) if isinstance(names, tuple) else ()
