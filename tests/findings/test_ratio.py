"""Summaries of ratio readings: budgets by hand, laws, and what one or equal readings support."""

import math
import pickle
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.ratio import RatioSummary, summarise_ratio
from sitegen.findings.statistics.uncertainty import Certificate

GRAMS = st.lists(st.integers(1, 20000).map(lambda i: Decimal(i) / 10), min_size=2, max_size=8).map(tuple)


def summary(*values: str, resolution: str = "0.5", **more: object) -> RatioSummary:
    """A summary of readings written as text."""
    return summarise_ratio(tuple(map(Decimal, values)), Decimal(resolution), **more)  # type: ignore[arg-type]


POOLED = Pooled(s=0.6, dof=16)


def test_a_tent_weighed_five_times() -> None:
    """Type A 0.354, resolution 0.144, joined 0.382, ν 5.4 → 5, k 2.57, U 0.98. Recomputed by hand from GUM
    4.2-7.2.6."""
    found = summary("1412.0", "1413.5", "1412.5", "1411.5", "1413.0")
    assert [round(c.contribution, 3) for c in found.components] == [0.354, 0.144]
    assert found.standard_uncertainty == pytest.approx(0.382, abs=5e-4)
    assert found.dof == pytest.approx(5.44, abs=0.01)
    assert found.coverage_factor == pytest.approx(stats.t.ppf(0.975, 5))
    assert (str(found.shown), str(found.shown_expanded)) == ("1412.50", "0.98")
    assert (found.low, found.high, found.n, found.reasons) == (Decimal("1411.5"), Decimal("1413.5"), 5, ())


def test_type_a_alone_is_the_students_interval() -> None:
    """With a display fine beyond notice, mean ± U is SciPy's t interval of the mean."""
    values = ["9.1", "9.9", "10.4", "8.7", "9.3", "10.0"]
    found = summary(*values, resolution="0.0000001")
    data = [float(v) for v in values]
    low, high = stats.t.interval(0.95, 5, loc=sum(data) / 6, scale=stats.sem(data))
    assert found.expanded is not None
    assert (found.mean - found.expanded, found.mean + found.expanded) == pytest.approx((low, high), rel=1e-6)


def test_calibration_joins_with_infinite_degrees_of_freedom() -> None:
    """U = 0.3 with k = 2 adds 0.15 to the squares and raises νeff. Source: GUM 4.3.3, G.4.3."""
    plain, certified = summary("10.0", "10.5"), summary("10.0", "10.5", calibration=Certificate(expanded=0.3))
    assert plain.standard_uncertainty is not None
    assert certified.standard_uncertainty == pytest.approx(math.hypot(plain.standard_uncertainty, 0.15))
    assert certified.dof is not None
    assert plain.dof is not None
    assert certified.dof > plain.dof


def test_equal_readings_leave_the_uncertainty_to_the_resolution() -> None:
    """s = 0 doesn't mean U = 0: u = δ/√12 for the display (GUM F.2.2.1) and as much again, over √n, for what the readings
    scatter unseen below a step; and a reason.
    """
    found = summary("412.0", "412.0", "412.0")
    assert found.s == 0
    assert found.standard_uncertainty == pytest.approx(0.5 / 12**0.5 * (1 + 1 / 3) ** 0.5)
    assert found.coverage_factor == pytest.approx(2.0369, abs=1e-4)  # 32 degrees of freedom: 2·(1 + 3)² (GUM G.4.1)
    assert found.reasons == (Reason.ALL_EQUAL,)
    assert (str(found.shown), str(found.shown_expanded)) == ("412.00", "0.34")


def test_one_reading_alone_has_no_uncertainty_and_keeps_its_resolution() -> None:
    """One specimen says nothing about repeatability; what it shows are the digits of the instrument."""
    found = summary("412.0")
    assert (found.s, found.standard_uncertainty, found.dof, found.coverage_factor, found.expanded) == (None,) * 5
    assert (str(found.shown), found.shown_expanded) == ("412.0", None)
    assert found.reasons == (Reason.ONE_SPECIMEN, Reason.TOO_FEW_SPECIMENS)


def test_one_reading_may_borrow_the_spread_of_the_round() -> None:
    """With a pooled s the single reading gets u = s_p/√1 and its many degrees of freedom. Source: GUM
    4.2.4."""
    found = summary("412.0", pooled=POOLED)
    assert found.standard_uncertainty == pytest.approx(math.hypot(0.6, 0.5 / 12**0.5))
    assert found.pooled
    assert found.reasons == (Reason.ONE_SPECIMEN, Reason.POOLED_SPREAD)


def test_a_round_of_equal_readings_pools_to_nothing_and_says_so() -> None:
    """A pooled spread of zero counts as that of the display too."""
    found = summary("412.0", "412.0", pooled=Pooled(s=0.0, dof=4))
    assert found.standard_uncertainty == pytest.approx(0.5 / 12**0.5 * (1 + 1 / 2) ** 0.5)
    assert found.reasons == (Reason.POOLED_SPREAD, Reason.ALL_EQUAL)


def test_pooling_narrows_the_factor_of_three_readings() -> None:
    """ν = 16 instead of 2: the factor falls from about 4.3 to about 2.1 (GUM table G.2)."""
    own = summary("412.0", "413.0", "412.5", resolution="0.01")
    pooled = summary("412.0", "413.0", "412.5", resolution="0.01", pooled=POOLED)
    assert own.coverage_factor == pytest.approx(4.30, abs=0.01)
    assert pooled.coverage_factor == pytest.approx(2.12, abs=0.01)


def test_the_instruments_scatter_holds_however_many_readings_there_are() -> None:
    """One decision for all entrants: ten readings of one product don't have another scatter than three of the next."""
    found = summary(*[str(400 + i % 3) for i in range(10)], pooled=POOLED)
    assert found.pooled and found.components[0].dof == 16
    assert found.components[0].standard_uncertainty == pytest.approx(0.6 / 10**0.5)


@given(GRAMS, st.integers(-(10**6), 10**6))
def test_a_shift_moves_the_mean_and_leaves_the_uncertainty(values: tuple[Decimal, ...], shift: int) -> None:
    """A tare on every reading changes the mean by itself and nothing about the spread."""
    plain, moved = (summarise_ratio(v, Decimal("0.1")) for v in (values, tuple(x + shift for x in values)))
    assert moved.mean == pytest.approx(plain.mean + shift, abs=1e-6)
    assert (moved.s, moved.expanded, moved.dof) == (plain.s, plain.expanded, plain.dof)


@given(GRAMS.flatmap(st.permutations))
def test_order_of_the_readings_is_irrelevant(values: list[Decimal]) -> None:
    """Which was read first changes no digit; only `values` keeps the order."""
    found, ranked = (summarise_ratio(tuple(v), Decimal("0.1")) for v in (values, sorted(values)))
    assert (found.mean, found.s, found.expanded, found.shown) == (
        ranked.mean,
        ranked.s,
        ranked.expanded,
        ranked.shown,
    )
    assert found.values == tuple(values)


@given(GRAMS, st.integers(-4, 4))
def test_another_unit_scales_mean_and_uncertainty(values: tuple[Decimal, ...], power: int) -> None:
    """Grams or kilograms: mean, s and U change by the factor, degrees of freedom and factor don't, nor do
    digits."""
    unit = Decimal(10) ** power
    plain, scaled = (
        summarise_ratio(values, Decimal("0.1")),
        summarise_ratio(tuple(v * unit for v in values), Decimal("0.1") * unit),
    )
    assert scaled.mean == pytest.approx(plain.mean * float(unit))
    assert scaled.expanded == pytest.approx((plain.expanded or 0) * float(unit))
    assert scaled.coverage_factor == pytest.approx(plain.coverage_factor or 0)
    assert scaled.shown == plain.shown * unit


@given(GRAMS)
def test_turning_all_signs_turns_the_mean_alone(values: tuple[Decimal, ...]) -> None:
    """Minus every reading gives minus the mean, and the same uncertainty."""
    plain, turned = (summarise_ratio(v, Decimal("0.1")) for v in (values, tuple(-x for x in values)))
    assert (turned.mean, turned.expanded, turned.shown) == (-plain.mean, plain.expanded, -plain.shown)


@given(GRAMS)
def test_the_uncertainty_never_falls_below_that_of_the_display(values: tuple[Decimal, ...]) -> None:
    """However many readings agree, U is at least 1.96·δ/√12."""
    found = summarise_ratio(values, Decimal("0.1"))
    assert found.expanded is not None
    assert found.expanded >= 1.9599 * 0.1 / 12**0.5


@pytest.mark.parametrize("bad", ["NaN", "sNaN", "Infinity", "-Infinity", "1E+400"])
def test_what_is_no_finite_number_is_refused_with_its_index(bad: str) -> None:
    """NaN and infinity stop at the door and name where they stood."""
    with pytest.raises(ValueError, match=r"values\[1\]: expected a finite number"):
        summary("1.0", bad)


@pytest.mark.parametrize("resolution", ["0", "-0.5", "NaN"])
def test_an_impossible_resolution_is_refused(resolution: str) -> None:
    """A display steps by something above zero."""
    with pytest.raises(ValueError, match="resolution"):
        summary("1.0", "2.0", resolution=resolution)


def test_no_readings_are_refused() -> None:
    """An empty summary would be a finding about nothing."""
    with pytest.raises(ValueError, match="values: expected at least 1"):
        summary()


def test_negative_readings_are_summarised_when_the_scale_allows_them() -> None:
    """Whether a mass may be negative is the protocol's to say (its possible range); a difference may well
    be."""
    assert summary("-1.0", "-2.0").mean == -1.5


def test_results_can_be_pickled() -> None:
    """A finding may come from another process."""
    found = summary("412.0", "412.5")
    assert pickle.loads(pickle.dumps(found)) == found
