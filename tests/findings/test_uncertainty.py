"""Uncertainty against the GUM's own examples, certified statistics and laws that any data must obey.

Printed values of JCGM 100, JCGM 101 and NIST StRD are quoted from memory; where they can be, recomputed.
"""

import math
import pickle
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sitegen.findings.statistics.rounding import round_uncertainty
from sitegen.findings.statistics.uncertainty import (
    Certificate,
    Component,
    combine_uncertainty,
    coverage_factor,
    effective_dof,
    mean_and_spread,
    rectangular,
    repeatability,
    resolution_component,
    triangular,
)

# JCGM 100:2008 H.1, end gauge, in nm. d is itself joined from three sources (H.1.3.2).
GAUGE_D = (
    Component(name="random", standard_uncertainty=5.8, dof=24),
    Component(name="comparator, random", standard_uncertainty=3.9, dof=5),
    Component(name="comparator, systematic", standard_uncertainty=6.7, dof=8),
)
GAUGE_LENGTH = 50.000623e6  # nm


def gauge_components() -> tuple[Component, ...]:
    """The budget of H.1 with sensitivities of l = lS + d - lS(δα·θ + αS·δθ) at the estimates."""
    return (
        Component(name="lS", standard_uncertainty=25, dof=18),
        Component(name="d", standard_uncertainty=9.7, dof=25.6),
        Component(name="αS", standard_uncertainty=1.2e-6, sensitivity=0.0),
        Component(name="θ", standard_uncertainty=0.41, sensitivity=0.0),
        Component(name="δα", standard_uncertainty=0.58e-6, dof=50, sensitivity=-GAUGE_LENGTH * -0.1),
        Component(name="δθ", standard_uncertainty=0.029, dof=2, sensitivity=-GAUGE_LENGTH * 11.5e-6),
    )


def test_end_gauge_difference_is_joined_from_its_three_sources() -> None:
    """u(d) = 9.7 nm; the printed 25.6 degrees of freedom come from that rounded 9.7. Source: H.1.3.2,
    H.1.6."""
    joined = combine_uncertainty(GAUGE_D)
    assert round(joined.standard_uncertainty, 1) == 9.7
    assert round(joined.dof * (9.7 / joined.standard_uncertainty) ** 4, 1) == 25.6
    assert round(joined.dof, 1) == 25.4  # nothing rounded on the way; truncated to 25 either way


def test_end_gauge_gives_the_printed_budget() -> None:
    """Contributions 25, 9.7, 0, 0, 2.9, 16.6(7) nm; uc = 32 nm, νeff = 16.7, k = 2.92, U99 = 93 nm. Source:
    H.1."""
    joined = combine_uncertainty(gauge_components(), coverage=0.99)
    shares = [round(c.contribution, 1) for c in joined.components]
    assert shares == [25.0, 9.7, 0.0, 0.0, 2.9, 16.7]  # printed 16.6: the GUM rounds lS·αS first
    assert round(joined.standard_uncertainty, 2) == 31.71
    assert round(joined.dof, 1) == 16.7
    assert round(joined.factor, 2) == 2.92
    assert str(round_uncertainty(joined.expanded)) == "93"


def test_end_gauge_trap_untruncated_degrees_of_freedom() -> None:
    """t at νeff = 16.7 gives 92 nm, not the printed 93: truncation is what G.4.2 asks for."""
    joined = combine_uncertainty(gauge_components(), coverage=0.99)
    untruncated = stats.t.ppf(0.995, joined.dof) * joined.standard_uncertainty
    assert str(round_uncertainty(untruncated)) == "92"
    assert joined.factor == pytest.approx(stats.t.ppf(0.995, 16), rel=1e-12)


def test_end_gauge_second_order_terms_by_product() -> None:
    """The terms for δα·θ and αS·δθ are 11.9 and 1.7 nm and lift uc to 34 nm. Source: H.1.7 (printed 11.7,
    1.7)."""
    products = (
        Component(name="δα·θ", standard_uncertainty=GAUGE_LENGTH * 0.58e-6 * 0.41),
        Component(name="αS·δθ", standard_uncertainty=GAUGE_LENGTH * 1.2e-6 * 0.029),
    )
    assert [round(c.contribution, 1) for c in products] == [11.9, 1.7]
    assert round(combine_uncertainty((*gauge_components(), *products)).standard_uncertainty) == 34


VOLTS = [5.007, 4.994, 5.005, 4.990, 4.999]
MILLIAMPS = [19.663, 19.639, 19.640, 19.685, 19.678]
RADIANS = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


@pytest.mark.parametrize(
    ("name", "mean", "u"), [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)], ids="RXZ"
)
def test_impedance_by_evaluating_each_set(name: str, mean: float, u: float) -> None:
    """Each of five simultaneous sets gives one R, X, Z; their mean and s/√5. Source: JCGM 100:2008 H.2.4."""
    model = {"R": math.cos, "X": math.sin, "Z": lambda _: 1.0}[name]
    sets = [v / (i / 1000) * model(p) for v, i, p in zip(VOLTS, MILLIAMPS, RADIANS, strict=True)]
    found, s = mean_and_spread(sets)
    assert s is not None
    assert round(float(found), 3) == mean
    assert round(repeatability(s, 5).standard_uncertainty, 3) == u


def test_impedance_by_correlated_inputs() -> None:
    """u(Z) = 0.236 Ω from u(V), u(I) and r(V, I) = -0.36. Source: JCGM 100:2008 H.2.3 (5.2.2)."""
    v, i = float(np.mean(VOLTS)), float(np.mean(MILLIAMPS)) / 1000
    parts = (
        Component(name="V", standard_uncertainty=float(np.std(VOLTS, ddof=1) / 5**0.5), sensitivity=1 / i),
        Component(
            name="I",
            standard_uncertainty=float(np.std(MILLIAMPS, ddof=1) / 5**0.5 / 1000),
            sensitivity=-v / i**2,
        ),
    )
    r = float(np.corrcoef(VOLTS, MILLIAMPS)[0, 1])
    assert round(r, 2) == -0.36
    assert round(combine_uncertainty(parts, {(0, 1): r}).standard_uncertainty, 3) == 0.236


def test_product_of_three_quantities() -> None:
    """Relative 0.25, 0.57, 0.82 % with n = 10, 5, 15: uc 1.03 %, νeff 19.0, U 2.2 %. Source: GUM G.4.1.

    The trap: the printed t = 2.09 is that of ν = 19, reached from the rounded uc = 1.03 (19.04). Unrounded it
    is 18.9987, which G.4.2 truncates to 18 (t = 2.10); the expanded uncertainty is the same.
    """
    rows = ((0.25, 9), (0.57, 4), (0.82, 14))
    joined = combine_uncertainty([Component(name=str(u), standard_uncertainty=u, dof=v) for u, v in rows])
    assert round(joined.standard_uncertainty, 2) == 1.03
    assert round(joined.dof, 1) == 19.0
    assert round(joined.factor, 2) == 2.10
    assert round(coverage_factor(joined.dof * (1.03 / joined.standard_uncertainty) ** 4), 2) == 2.09
    assert str(round_uncertainty(joined.expanded)) == "2.2"


@pytest.mark.parametrize(
    ("dof", "factor"),
    [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (19, 2.09), (50, 2.01), (math.inf, 1.960)],
)
def test_coverage_factors_are_the_tabled_ones(dof: float, factor: float) -> None:
    """t at 95 % as printed in GUM table G.2 (last digit as printed)."""
    digits = 3 if math.isinf(dof) else 2
    assert round(coverage_factor(dof), digits) == factor


def test_truncation_survives_float_dust() -> None:
    """One source with ν = n - 1 keeps its whole ν: u⁴/(u⁴/ν) may come out as 15.999…, still ν = 16
    (G.4.2)."""
    for dof in range(1, 60):
        for u in (0.1, 0.3, 1 / 3, 7e-5):
            joined = combine_uncertainty([Component(name="a", standard_uncertainty=u, dof=dof)])
            assert joined.factor == pytest.approx(stats.t.ppf(0.975, dof), rel=1e-9)
    assert coverage_factor(15.99) == coverage_factor(15)


def test_normal_sum_of_four_covers_as_the_monte_carlo_reference() -> None:
    """(a) Four standard normals: u = 2.0, ± 3.92 at 95 %. Source: JCGM 101:2008 9.2.2."""
    joined = combine_uncertainty([Component(name=str(i), standard_uncertainty=1.0) for i in range(4)])
    assert joined.standard_uncertainty == 2.0
    assert round(joined.expanded, 2) == 3.92


@pytest.mark.parametrize(
    ("spreads", "u", "gum", "mcm"), [((1, 1, 1, 1), 2.0, 3.92, 3.88), ((1, 1, 1, 10), 10.15, 19.89, 17.0)]
)
def test_rectangular_sums_are_covered_with_room(spreads: tuple[float, ...], u: float, gum: float, mcm: float) -> None:
    """GUM intervals of rectangular sources match the printed ones and cover what sampling finds. JCGM 101
    9.2.3-4."""
    joined = combine_uncertainty([rectangular(s * math.sqrt(3), str(s)) for s in spreads])
    assert joined.standard_uncertainty == pytest.approx(u, abs=0.005)
    assert joined.expanded == pytest.approx(gum, abs=0.01)
    draws = np.random.default_rng(20260801).uniform(-1, 1, (200_000, 4)) @ (np.array(spreads) * math.sqrt(3))
    sampled = float(np.quantile(np.abs(draws), 0.95))
    assert sampled == pytest.approx(mcm, rel=0.01)
    assert joined.expanded > sampled


# NIST StRD univariate data sets small enough to state by rule; certified values from memory.
NUMACC1 = [Decimal(10000001), Decimal(10000003), Decimal(10000002)]
NUMACC2 = [Decimal("1.2"), *[Decimal("1.1"), Decimal("1.3")] * 500]
NUMACC3 = [Decimal("1000000.2"), *[Decimal("1000000.1"), Decimal("1000000.3")] * 500]
NUMACC4 = [Decimal("10000000.2"), *[Decimal("10000000.1"), Decimal("10000000.3")] * 500]


@pytest.mark.parametrize(
    ("data", "mean", "s"),
    [
        (NUMACC1, "10000002", 1.0),
        (NUMACC2, "1.2", 0.1),
        (NUMACC3, "1000000.2", 0.1),
        (NUMACC4, "10000000.2", 0.1),
    ],
    ids=["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"],
)
def test_certified_mean_and_spread(data: list[Decimal], mean: str, s: float) -> None:
    """Mean exact and s to the last bit on data made to break running sums. Source: NIST StRD, univariate."""
    found, spread = mean_and_spread(data)
    assert found == Fraction(mean)
    assert spread == s


def test_type_b_divisors() -> None:
    """a/√3, a/√6, δ/√12, U/k. Source: GUM 4.3.7, 4.3.9, F.2.2.1, 4.3.3."""
    assert rectangular(3.0, "a").standard_uncertainty == pytest.approx(3 / 3**0.5)
    assert triangular(3.0, "a").standard_uncertainty == pytest.approx(3 / 6**0.5)
    assert resolution_component(Decimal("0.5")).standard_uncertainty == pytest.approx(0.2887 * 0.5, rel=1e-3)
    assert Certificate(expanded=0.3, factor=2).component().standard_uncertainty == pytest.approx(0.15)


@given(st.lists(st.floats(0.001, 1000), min_size=1, max_size=6), st.integers(1, 30))
def test_effective_dof_lies_between_the_least_and_the_sum(us: list[float], dof: int) -> None:
    """min ν ≤ νeff ≤ Σν, for any contributions. Source: Welch-Satterthwaite as in GUM G.4.1 note."""
    parts = [Component(name=str(i), standard_uncertainty=u, dof=dof + i) for i, u in enumerate(us)]
    found = effective_dof(parts)
    assert dof * (1 - 1e-9) <= found <= sum(c.dof for c in parts) * (1 + 1e-9)


@given(st.permutations(gauge_components()))
def test_order_of_components_is_irrelevant(parts: list[Component]) -> None:
    """A budget read in any order gives the same uncertainty."""
    expected = combine_uncertainty(gauge_components())
    assert combine_uncertainty(parts).standard_uncertainty == pytest.approx(expected.standard_uncertainty)
    assert combine_uncertainty(parts).factor == pytest.approx(expected.factor)


@given(st.floats(1e-150, 1e150))
def test_scaling_all_sources_scales_the_uncertainty_and_leaves_the_dof(unit: float) -> None:
    """A change of unit is a factor on u and nothing else, without overflow in the fourth powers."""
    parts = [Component(name=str(i), standard_uncertainty=u * unit, dof=3) for i, u in enumerate((1.0, 2.0))]
    joined = combine_uncertainty(parts)
    assert joined.standard_uncertainty == pytest.approx(math.sqrt(5) * unit)
    assert joined.dof == pytest.approx(25 / (1 / 3 + 16 / 3))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0])
def test_bad_components_are_refused_by_name(bad: float) -> None:
    """NaN, infinity and negative uncertainties never enter a budget."""
    with pytest.raises(ValueError, match="standard uncertainty of scale"):
        Component(name="scale", standard_uncertainty=bad)
    with pytest.raises(ValueError, match="resolution"):
        resolution_component(bad)
    with pytest.raises(ValueError, match="certificate"):
        Certificate(expanded=bad)


@pytest.mark.parametrize("dof", [0, 0.5, -3, math.nan])
def test_impossible_degrees_of_freedom_are_refused(dof: float) -> None:
    """Less than one degree of freedom, or NaN, is an error and not a large factor."""
    with pytest.raises(ValueError, match="degrees of freedom"):
        coverage_factor(dof)
    with pytest.raises(ValueError, match="degrees of freedom of a"):
        Component(name="a", standard_uncertainty=1, dof=dof)


def test_other_wrong_calls_are_refused() -> None:
    """Empty budgets, a coverage of 95, finite dof with correlation, a lone reading without dof: named
    errors."""
    with pytest.raises(ValueError, match="components"):
        combine_uncertainty([])
    with pytest.raises(ValueError, match="coverage"):
        coverage_factor(5, 95)
    with pytest.raises(ValueError, match="correlations"):
        combine_uncertainty(GAUGE_D, {(0, 1): 0.5})
    with pytest.raises(ValueError, match="correlations"):
        combine_uncertainty([rectangular(1, "a"), rectangular(1, "b")], {(0, 1): 1.5})
    with pytest.raises(ValueError, match="2 readings"):
        repeatability(1.0, 1)
    with pytest.raises(ValueError, match=r"values\[1\]"):
        mean_and_spread([Decimal(1), Decimal("NaN")])


def test_a_budget_of_nothing_is_exactly_nothing() -> None:
    """Sources of zero limit no degrees of freedom and leave U = 0, not a division by zero."""
    joined = combine_uncertainty([Component(name="a", standard_uncertainty=0.0, dof=3)])
    assert (joined.expanded, joined.dof) == (0.0, math.inf)


def test_full_cancellation_by_correlation_is_zero_not_an_error() -> None:
    """Two equal sources with opposite sign and r = 1 cancel. Source: GUM 5.2.2 note 1."""
    parts = [Component(name=n, standard_uncertainty=0.1, sensitivity=c) for n, c in (("a", 1.0), ("b", -1.0))]
    assert combine_uncertainty(parts, {(0, 1): 1.0}).expanded == pytest.approx(0.0, abs=1e-9)


def test_results_can_be_pickled() -> None:
    """A finding may come from another process."""
    joined = combine_uncertainty(gauge_components())
    assert pickle.loads(pickle.dumps(joined)) == joined
