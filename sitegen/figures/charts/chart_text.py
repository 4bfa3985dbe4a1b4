"""Which texts a chart shows, in the order of the places that its drawing leaves for them.

`slots(spec)` lists them; the caller words each one for a language and hands the words to `fill` in the same
order. An empty text leaves its place empty. There is room for some 54 characters of a usual text face on a
line (an entrant's name with its value, an axis title, the explanation of a mark), 7 in a tick label, 3 in a
share; `fitted` shortens what is longer, so that no text leaves the picture or runs into its neighbour.
"""

import unicodedata
from collections.abc import Iterator
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

from sitegen.datatypes import dataclass
from sitegen.figures.charts.chart_axis import Axis, decimals
from sitegen.figures.charts.chart_spec import (
    ChartSpec,
    ClaimsChart,
    ControlChart,
    CurvesChart,
    DeclineChart,
    SharesChart,
    StagesChart,
    TradeoffChart,
    ValuesChart,
)

MOST_RUN_LABELS = 4  # dates are wide
SHARE_THAT_FITS = 0.085  # of the width of a chart: room for "100" or "8 %"


LINE_ROOM = 54  # characters on a line, names with values
LIST_ROOM = 51  # likewise in the list of curves, after number and sample of the line
NAME_ROOM = 14  # of them kept for a name whatever the value beside it
ROOM = {  # characters for the other texts
    "x title": 56,
    "y title": 56,
    "tick": 9,
    "run": 10,
    "key": 56,
    "stage": 56,
    "number": 3,
    "share": 4,
    "reference": 12,
    "limit": 8,
}


class Role(StrEnum):
    """What a text is for, and with it how the caller words it."""

    TITLE = "title"  # the accessible name: says the finding
    DESCRIPTION = "description"  # the text alternative
    X_TITLE = "x title"  # measure and unit
    Y_TITLE = "y title"
    TICK = "tick"  # value with its decimals
    ENTRANT = "entrant"  # name is the entrant's id
    VALUE = "value"  # the finding beside the name, with its letter group; name is the entrant's id
    KEY = "key"  # explains a mark; name says which: mean, median, uncertainty, range, reading, ...
    STAGE = "stage"  # explains a stage's mark; name is the stage as given
    NUMBER = "number"  # the number that ties a mark to the list below the chart
    REFERENCE = "reference"  # the level of a reference line; value in the unit of the y axis
    SHARE = "share"  # a share of the draws, value in %
    LIMIT = "limit"  # a line of a control chart; name: upper, centre, lower, range_upper
    RUN = "run"  # name is the run's label


@dataclass(frozen=True, slots=True, kw_only=True)
class TextSlot:
    """One place for a text: its role, the number to word (with its decimals), or the name it stands for."""

    role: Role
    value: Decimal | None = None
    decimals: int | None = None
    name: str = ""


def slots(spec: ChartSpec) -> tuple[TextSlot, ...]:
    """Every text of the chart, in the order of the places of its drawing."""
    head = (TextSlot(role=Role.TITLE), TextSlot(role=Role.DESCRIPTION), TextSlot(role=Role.X_TITLE))
    return (*head, *_of_kind(spec))


def fitted(spec: ChartSpec, texts: tuple[str, ...], places: tuple[TextSlot, ...] | None = None) -> tuple[str, ...]:
    """The texts, those too long for their places shortened with an ellipsis; the table has all of it.

    A name gives way to the value beside it. `places` are `slots(spec)`, for a caller that has them.
    ValueError where the number of texts isn't that of the places.
    """
    places = places if places is not None else slots(spec)
    if len(places) != len(texts):
        raise ValueError(f"the chart has {len(places)} places for texts, not {len(texts)}")
    line = LIST_ROOM if isinstance(spec, CurvesChart) else LINE_ROOM
    result = list(texts)
    for index, (place, text) in enumerate(zip(places, texts, strict=False)):
        if place.role is Role.ENTRANT and isinstance(spec, DeclineChart):
            result[index] = _shortened(text, line // spec.columns - 6)
        elif place.role is Role.ENTRANT:
            value = result[index + 1] = _shortened(texts[index + 1], line - NAME_ROOM - 2)
            result[index] = _shortened(text, line - 2 - _columns(value))
        elif place.role in ROOM:
            result[index] = _shortened(text, ROOM[place.role])
    return tuple(result)


@lru_cache(maxsize=4096)  # the pages of a round show the same names and values
def _columns(text: str) -> int:
    """How wide a text is in usual characters: East Asian wide ones count twice, combining ones nothing."""
    if text.isascii():  # most texts: looking up each letter was a tenth of the time that charts took
        return len(text)
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
    return len(text) + wide - sum(unicodedata.category(letter) in ("Mn", "Me", "Cf") for letter in text)


def _shortened(text: str, room: int) -> str:
    if _columns(text) <= room:
        return text
    kept = text
    while kept and _columns(kept) > room - 1:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def key_names(spec: ChartSpec) -> tuple[str, ...]:
    """The marks that the chart explains below itself, in order; stages stand under their own ids."""
    match spec:
        case ValuesChart():
            return _values_key(spec)
        case StagesChart():
            return (*spec.stages, *(("specimen",) if any(row.specimens for row in spec.rows) else ()))
        case ClaimsChart():
            return ("claim", "tolerance", "measured")
        case SharesChart():
            return tuple(f"rank_{rank}" for rank in range(1, spec.ranks + 1))
        case TradeoffChart():
            return ("unbeaten", "beaten")
        case ControlChart():
            return ("flagged",)
        case DeclineChart():
            return ("grade", *(("stated",) if any(row.stated is not None for row in spec.rows) else ()))
        case CurvesChart():
            return ()


def run_labels(spec: ControlChart) -> tuple[int, ...]:
    """Indices of the runs whose label stands below the chart: the first, the last, a few between."""
    last = len(spec.runs) - 1
    count = min(MOST_RUN_LABELS, last + 1)
    return tuple(round(k * last / (count - 1)) for k in range(count))


def share_fits(share: object) -> bool:
    """Whether a segment of this share (0 to 1) has room for its number."""
    return float(str(share)) >= SHARE_THAT_FITS


def _of_kind(spec: ChartSpec) -> Iterator[TextSlot]:
    match spec:
        case ValuesChart() | StagesChart() | ClaimsChart():
            yield from _ticks(spec.x_axis)
            yield from _entrants(row.entrant for row in spec.rows)
            yield from _keys(spec)
        case SharesChart():
            yield from _ticks(spec.x_axis)
            yield from _entrants(row.entrant for row in spec.rows)
            yield from _keys(spec)
            yield from _shares(spec)
        case CurvesChart():
            yield from _plane(spec, spec.x_axis, spec.y_axis, [curve.entrant for curve in spec.curves])
            yield from (TextSlot(role=Role.REFERENCE, value=Decimal(str(y))) for y in spec.references)
        case TradeoffChart():
            yield from _plane(spec, spec.x_axis, spec.y_axis, [point.entrant for point in spec.points])
        case ControlChart():
            yield from _control(spec)
        case DeclineChart():
            for _ in range(spec.columns):
                yield from _ticks(spec.x_axis)
            for number, row in enumerate(spec.rows):
                yield TextSlot(role=Role.ENTRANT, name=row.entrant)
                if spec.labelled(number):
                    yield from _ticks(spec.axis)
            yield from _keys(spec)


def _values_key(spec: ValuesChart) -> tuple[str, ...]:
    rows = spec.rows
    present = (
        (spec.centre, True),
        (spec.interval, any(row.low is not None for row in rows)),
        ("reading", any(row.readings for row in rows)),
        ("above", any(row.above for row in rows)),
        ("below", any(row.below for row in rows)),
        ("reference", any(row.reference is not None for row in rows)),
    )
    return tuple(name for name, there in present if there)


def _ticks(axis: Axis) -> Iterator[TextSlot]:
    places = decimals(axis.ticks)
    for tick in axis.ticks:
        yield TextSlot(role=Role.TICK, value=tick, decimals=places)


def _entrants(names: Iterator[str]) -> Iterator[TextSlot]:
    for name in names:
        yield TextSlot(role=Role.ENTRANT, name=name)
        yield TextSlot(role=Role.VALUE, name=name)


def _keys(spec: ChartSpec) -> Iterator[TextSlot]:
    stages = len(spec.stages) if isinstance(spec, StagesChart) else 0
    for index, name in enumerate(key_names(spec)):
        yield TextSlot(role=Role.STAGE if index < stages else Role.KEY, name=name)


def _shares(spec: SharesChart) -> Iterator[TextSlot]:
    for row in spec.rows:
        for share in row.shares:
            if share_fits(share):
                yield TextSlot(role=Role.SHARE, value=Decimal(str(share)) * 100, decimals=0)


def _plane(spec: ChartSpec, x: Axis, y: Axis, names: list[str]) -> Iterator[TextSlot]:
    yield from _ticks(x)
    yield TextSlot(role=Role.Y_TITLE)
    yield from _ticks(y)
    for number, name in enumerate(names, start=1):
        yield TextSlot(role=Role.NUMBER, value=Decimal(number), decimals=0)
        yield from _entrants(iter([name]))
    yield from _keys(spec)
    yield from (TextSlot(role=Role.NUMBER, value=Decimal(n), decimals=0) for n in range(1, len(names) + 1))


def _control(spec: ControlChart) -> Iterator[TextSlot]:
    yield from (TextSlot(role=Role.RUN, name=spec.runs[index].label) for index in run_labels(spec))
    yield TextSlot(role=Role.Y_TITLE, name="individual")
    yield TextSlot(role=Role.Y_TITLE, name="moving_range")
    yield from _keys(spec)
    limits = {
        "upper": spec.upper,
        "centre": spec.centre,
        "lower": spec.lower,
        "range_upper": spec.range_upper,
    }
    for name, limit in limits.items():
        yield TextSlot(role=Role.LIMIT, value=Decimal(str(limit)), name=name)
    flagged = sum(run.flagged for run in spec.runs)
    yield from (TextSlot(role=Role.NUMBER, value=Decimal(n), decimals=0) for n in range(1, flagged + 1))
