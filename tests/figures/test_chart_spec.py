"""Chart specs: what they refuse, and that they can be kept, hashed and sent to another process."""

import dataclasses
import math
import pickle
from collections.abc import Callable
from decimal import Decimal

import pytest
from chart_samples import GRADES, SAMPLES, values_chart

from sitegen.figures.charts.chart_axis import Axis
from sitegen.figures.charts.chart_spec import (
    ChartSpec,
    ClaimsChart,
    ClaimsRow,
    ControlChart,
    Curve,
    CurvesChart,
    DeclineChart,
    DeclineRow,
    Run,
    SharesChart,
    SharesRow,
    StagesChart,
    StagesRow,
    TradeoffChart,
    TradePoint,
    ValuesChart,
    ValuesRow,
)
from sitegen.figures.drawing.draw import Style, drawing_key
from sitegen.figures.drawing.drawn_numbers import numbers_of

NAN = math.nan
WHOLE = Axis(ticks=(Decimal(0), Decimal(10)))


@pytest.mark.parametrize("spec", SAMPLES.values(), ids=SAMPLES)
def test_specs_survive_pickling_and_hash_alike(spec: ChartSpec) -> None:
    """A spec equals its pickled copy, hashes like it and has the same digest; it can't be changed."""
    copy = pickle.loads(pickle.dumps(spec))
    assert copy == spec and hash(copy) == hash(spec)
    assert drawing_key(copy) == drawing_key(spec)
    with pytest.raises(dataclasses.FrozenInstanceError):
        spec.axis = None  # type: ignore[misc, union-attr]


EMPTY: dict[str, Callable[[], object]] = {
    "values": lambda: ValuesChart(rows=()),
    "stages": lambda: StagesChart(stages=("a", "b"), rows=()),
    "curves": lambda: CurvesChart(curves=()),
    "claims": lambda: ClaimsChart(rows=()),
    "shares": lambda: SharesChart(rows=()),
    "tradeoff": lambda: TradeoffChart(points=(), x_better="lower"),
    "decline": lambda: DeclineChart(washes=(0, 1), rows=(), axis=GRADES),
}


@pytest.mark.parametrize("make", EMPTY.values(), ids=EMPTY)
def test_a_chart_needs_entrants(make: Callable[[], object]) -> None:
    """No kind of chart accepts an empty list of entrants."""
    with pytest.raises(ValueError, match="without entrants"):
        make()


NOT_A_NUMBER: dict[str, Callable[[], object]] = {
    "values": lambda: ValuesRow(entrant="kvist", centre=NAN),
    "reading": lambda: ValuesRow(entrant="kvist", centre=1, readings=(Decimal("NaN"),)),
    "stages": lambda: StagesRow(entrant="kvist", centres=(1, NAN)),
    "curves": lambda: Curve(entrant="kvist", points=((0, 1), (1, NAN))),
    "claims": lambda: ClaimsRow(entrant="kvist", measured=math.inf),
    "shares": lambda: SharesRow(entrant="kvist", shares=(NAN,)),
    "tradeoff": lambda: TradePoint(entrant="kvist", x=1, y=NAN),
    "control": lambda: Run(label="kvist", value=NAN),
    "decline": lambda: DeclineRow(entrant="kvist", grades=(NAN,)),
}


@pytest.mark.parametrize("make", NOT_A_NUMBER.values(), ids=NOT_A_NUMBER)
def test_what_is_no_number_is_refused_by_name(make: Callable[[], object]) -> None:
    """A value that isn't finite is refused, and the message names whose it is."""
    with pytest.raises(ValueError, match="kvist must be a finite number"):
        make()


RUNS = (Run(label="a", value=1), Run(label="b", value=2))
WRONG: dict[str, tuple[Callable[[], object], str]] = {
    "half interval": (lambda: ValuesRow(entrant="k", centre=1, low=0), "one end only"),
    "turned interval": (lambda: ValuesRow(entrant="k", centre=1, low=2, high=0), "from 2 down to 0"),
    "off axis": (
        lambda: ValuesChart(rows=(ValuesRow(entrant="k", centre=11),), axis=WHOLE),
        "11 is off the axis",
    ),
    "one stage": (lambda: StagesChart(stages=("a",), rows=(StagesRow(entrant="k", centres=(1,)),)), "2 to 4"),
    "missing stage": (
        lambda: StagesChart(stages=("a", "b"), rows=(StagesRow(entrant="k", centres=(1,)),)),
        "1 values for 2 stages",
    ),
    "specimens": (lambda: StagesRow(entrant="k", centres=(1, 2), specimens=((1,),)), "1 stages of 2"),
    "point": (lambda: Curve(entrant="k", points=((0, 1),)), "two points"),
    "order": (lambda: Curve(entrant="k", points=((1, 1), (0, 1))), "order of x"),
    "nine curves": (
        lambda: CurvesChart(curves=tuple(Curve(entrant=f"k{n}", points=((0, n), (1, 2))) for n in range(9))),
        "up to 8 curves",
    ),
    "tolerance": (lambda: ClaimsRow(entrant="k", measured=100, tolerance_low=101), "leaves out the claim"),
    "share sum": (lambda: SharesRow(entrant="k", shares=(0.5, 0.4)), "add up to 0.9"),
    "negative share": (lambda: SharesRow(entrant="k", shares=(1.5, -0.5)), "below zero"),
    "ranks": (
        lambda: SharesChart(rows=(SharesRow(entrant="k", shares=(1.0,)), SharesRow(entrant="l", shares=(0.5, 0.5)))),
        "a share for each rank",
    ),
    "too many ranks": (
        lambda: SharesChart(rows=(SharesRow(entrant="k", shares=(0.1,) * 10),)),
        "1 to 8 ranks",
    ),
    "one run": (lambda: ControlChart(runs=RUNS[:1], centre=1, lower=0, upper=2, range_upper=1), "two runs"),
    "limits": (lambda: ControlChart(runs=RUNS, centre=3, lower=0, upper=2, range_upper=1), "isn't between"),
    "washes": (
        lambda: DeclineChart(washes=(3, 3), rows=(DeclineRow(entrant="k", grades=(1, 1)),), axis=GRADES),
        "must rise",
    ),
    "grades": (
        lambda: DeclineChart(washes=(0, 3), rows=(DeclineRow(entrant="k", grades=(1,)),), axis=GRADES),
        "each count of washes",
    ),
    "nothing measured": (
        lambda: ValuesChart(rows=(ValuesRow(entrant="k", centre=None),)),
        "without a single value",
    ),
}


@pytest.mark.parametrize(("make", "message"), WRONG.values(), ids=WRONG)
def test_what_cannot_be_drawn_is_refused(make: Callable[[], object], message: str) -> None:
    """Each way of being wrong has its own message."""
    with pytest.raises(ValueError, match=message):
        make()


def test_names_do_not_count_in_the_digest_but_numbers_do() -> None:
    """Charts that differ in names alone share a drawing; any number, count or direction makes another."""
    spec = values_chart()
    renamed = dataclasses.replace(
        spec, rows=tuple(dataclasses.replace(row, entrant=f"entrant {n}") for n, row in enumerate(spec.rows))
    )
    moved = dataclasses.replace(spec, rows=(dataclasses.replace(spec.rows[0], centre=388.1), *spec.rows[1:]))
    assert drawing_key(renamed) == drawing_key(spec)
    keys = {drawing_key(s) for s in (spec, moved, values_chart(7), dataclasses.replace(spec, centre="median"))}
    assert len(keys) == 4
    assert drawing_key(spec, Style(direction="rtl")) not in keys


def test_a_number_has_one_form_in_the_digest() -> None:
    """A whole number, a decimal and a float of the same value are drawn alike and digest alike."""
    forms = [ValuesChart(rows=(ValuesRow(entrant="k", centre=c),)) for c in (4, 4.0, Decimal("4.0"))]
    assert len({numbers_of(form) for form in forms}) == 1


def test_moving_ranges_are_the_steps_between_runs() -> None:
    """|x(i) - x(i-1)|, as for the chart of individuals in ISO 7870-2:2013 (from memory)."""
    values = (27.0, 28.5, 28.0, 31.0)
    runs = tuple(Run(label=str(n), value=value) for n, value in enumerate(values))
    spec = ControlChart(runs=runs, centre=28, lower=25, upper=31, range_upper=3.7)
    assert spec.moving_ranges == (1.5, 0.5, 3.0)


def test_crowded_counts_of_washes_get_round_ticks() -> None:
    """Counts that stand too close for labels give way to round ones that cover them."""
    row = DeclineRow(entrant="k", grades=(5, 4, 3))
    roomy = DeclineChart(washes=(0, 3, 6), rows=(row,), axis=GRADES)
    crowded = DeclineChart(washes=(0, 1, 50), rows=(row,), axis=GRADES)
    assert [int(tick) for tick in roomy.x_axis.ticks] == [0, 3, 6]
    assert [int(tick) for tick in crowded.x_axis.ticks] == [0, 10, 20, 30, 40, 50]
