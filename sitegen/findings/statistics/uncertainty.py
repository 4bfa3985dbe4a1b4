"""Uncertainty of a measured value after JCGM 100:2008 (GUM): components, their combination, the factor.

`repeatability`, `rectangular`, `triangular`, `resolution_component`, `Certificate` make components;
`combine_uncertainty` joins them; `coverage_factor` and `effective_dof` are its two steps.
Every standard uncertainty is in the unit of the measurand once its sensitivity is applied.
"""

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, all_finite, finite, not_negative, positive, share
from sitegen.findings.statistics.quantiles import t_quantile

COVERAGE = 0.95
CALIBRATION = "calibration"  # the name of its component
ALMOST_WHOLE = 1e-9  # relative slack, so that 15.999999999 from float arithmetic still counts as 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One source of uncertainty: `standard_uncertainty` u(x), degrees of freedom, sensitivity dy/dx."""

    name: str
    standard_uncertainty: float
    dof: float = math.inf
    sensitivity: float = 1.0

    def __post_init__(self) -> None:
        not_negative(self.standard_uncertainty, f"standard uncertainty of {self.name}")
        finite(self.sensitivity, f"sensitivity of {self.name}")
        if not self.dof >= 1:  # also refuses NaN; infinity is lawful here (GUM G.4.3)
            raise ValueError(f"degrees of freedom of {self.name}: expected 1 or more, found {self.dof}")

    @property
    def contribution(self) -> float:
        """|c|·u, in the unit of the measurand (GUM 5.1.3)."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """What a calibration certificate states: expanded uncertainty in the unit, and its coverage factor."""

    expanded: float
    factor: float = 2.0

    def __post_init__(self) -> None:
        not_negative(self.expanded, "expanded uncertainty of the certificate")
        positive(self.factor, "coverage factor of the certificate")

    def component(self) -> Component:
        """u = U/k with infinite degrees of freedom (GUM 4.3.3).

        >>> Certificate(expanded=0.3).component().standard_uncertainty
        0.15
        """
        return Component(name=CALIBRATION, standard_uncertainty=self.expanded / self.factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class Combined:
    """The joined uncertainty. `dof` is the effective number before truncation (inf if every source is)."""

    standard_uncertainty: float
    dof: float
    factor: float
    expanded: float
    coverage: float
    components: tuple[Component, ...]


def mean_and_spread(values: Sequence[Number]) -> tuple[Fraction, float | None]:
    """The exact mean of the values and their standard deviation s (n - 1); None for a single value.

    Sums are kept as fractions and turned into a float once: a long run of nearly equal readings loses no
    digit. Errors: ValueError when empty or not finite. Source: GUM 4.2.1, 4.2.2.

    >>> mean_and_spread([1412, 1414, 1413])
    (Fraction(1413, 1), 1.0)
    """
    all_finite(values, "values")
    exact = [Fraction(value) for value in values]
    mean = sum(exact, Fraction(0)) / len(exact)
    if len(exact) == 1:
        return mean, None
    variance = sum(((value - mean) ** 2 for value in exact), Fraction(0)) / (len(exact) - 1)
    return mean, _root(variance)


def _root(number: Fraction) -> float:
    """Square root that survives fractions whose value alone would overflow or vanish as a float."""
    shift = (number.numerator.bit_length() - number.denominator.bit_length()) // 2
    return math.ldexp(math.sqrt(number / Fraction(4) ** shift), shift)


def repeatability(s: float, n: int, dof: float | None = None) -> Component:
    """Type A of a mean of `n` readings: u = s/√n, dof n - 1 unless `s` brings its own (a pooled one).

    Errors: ValueError for s below zero, n below 1, or n = 1 without `dof`. Source: GUM 4.2.3, 4.2.6.

    >>> repeatability(0.9, 9).standard_uncertainty
    0.3
    """
    if n < 1 or (n == 1 and dof is None):
        raise ValueError(f"repeatability: expected at least {1 if dof else 2} readings, found {n}")
    u = not_negative(s, "standard deviation") / math.sqrt(n)
    return Component(name="repeatability", standard_uncertainty=u, dof=n - 1 if dof is None else dof)


def rectangular(half_width: float, name: str) -> Component:
    """Type B, any value within ± `half_width` equally likely: u = a/√3 (GUM 4.3.7)."""
    return Component(name=name, standard_uncertainty=not_negative(half_width, name) / math.sqrt(3))


def triangular(half_width: float, name: str) -> Component:
    """Type B, values near the middle of ± `half_width` likelier: u = a/√6 (GUM 4.3.9)."""
    return Component(name=name, standard_uncertainty=not_negative(half_width, name) / math.sqrt(6))


def resolution_component(resolution: Number) -> Component:
    """Type B of a display that steps by `resolution` (unit of the measurand): u = δ/√12 (GUM F.2.2.1).

    It isn't divided by √n: equal readings of one thing carry one and the same rounding error.

    >>> round(resolution_component(0.5).standard_uncertainty, 4)
    0.1443
    """
    return rectangular(positive(resolution, "resolution") / 2, "resolution")


def effective_dof(components: Sequence[Component]) -> float:
    """Welch-Satterthwaite: u⁴ / Σ uᵢ⁴/νᵢ, not yet truncated; inf when no source limits it (GUM G.4.1).

    Only right for uncorrelated components. Components of zero count for nothing.

    >>> parts = [Component(name=n, standard_uncertainty=u, dof=v)
    ...          for n, u, v in (("a", 0.25, 9), ("b", 0.57, 4), ("c", 0.82, 14))]
    >>> round(effective_dof(parts), 1)
    19.0
    """
    total = math.hypot(*(c.contribution for c in components))
    if total == 0:
        return math.inf
    # Divided by the total first, so that fourth powers neither overflow nor vanish.
    limited = sum((c.contribution / total) ** 4 / c.dof for c in components)
    return 1 / limited if limited else math.inf


def coverage_factor(dof: float, coverage: float = COVERAGE) -> float:
    """k = t_p(ν) with ν truncated to the next lower integer (GUM 6.3.3, G.4.2, G.6.4); normal for inf.

    Errors: ValueError for dof below 1 or NaN, or a coverage outside 0..1.

    >>> round(coverage_factor(16.7, 0.99), 2)
    2.92
    """
    wanted = share(coverage, "coverage")
    if not dof >= 1:
        raise ValueError(f"degrees of freedom: expected 1 or more, found {dof}")
    whole = dof if math.isinf(dof) else math.floor(dof * (1 + ALMOST_WHOLE))
    return t_quantile((1 + wanted) / 2, whole)


def combine_uncertainty(
    components: Sequence[Component],
    correlations: Mapping[tuple[int, int], float] | None = None,
    coverage: float = COVERAGE,
) -> Combined:
    """Combined and expanded uncertainty of uncorrelated components, or with correlations by index pair.

    Correlated components have effective degrees of freedom only if all are infinite, for the
    Welch-Satterthwaite formula assumes independence: ValueError otherwise, as for an empty list.
    Source: GUM 5.1.2 (uncorrelated), 5.2.2 (correlated), 6.2.1, G.4.

    >>> parts = [repeatability(0.9, 9), resolution_component(0.5)]
    >>> joined = combine_uncertainty(parts)
    >>> round(joined.standard_uncertainty, 3), round(joined.dof, 1), round(joined.expanded, 2)
    (0.333, 12.1, 0.73)
    """
    if not components:
        raise ValueError("components: expected at least one, found none")
    parts = tuple(components)
    if correlations:
        u, dof = _correlated(parts, correlations), math.inf
    else:
        u, dof = math.hypot(*(c.contribution for c in parts)), effective_dof(parts)
    factor = coverage_factor(dof, coverage)
    return Combined(
        standard_uncertainty=u,
        dof=dof,
        factor=factor,
        expanded=factor * u,
        coverage=coverage,
        components=parts,
    )


def _correlated(parts: tuple[Component, ...], correlations: Mapping[tuple[int, int], float]) -> float:
    if any(not math.isinf(c.dof) for c in parts):
        raise ValueError("correlations: effective degrees of freedom are not defined for finite ones (GUM G.4.1)")
    signed = [c.sensitivity * c.standard_uncertainty for c in parts]
    square = sum(x * x for x in signed)
    for (i, j), r in sorted(correlations.items()):
        if i == j or not -1 <= r <= 1:
            raise ValueError(f"correlations[{i}, {j}]: expected two sources and -1 to 1, found {r}")
        square += 2 * signed[i] * signed[j] * r
    return math.sqrt(max(square, 0.0))  # full cancellation may come out a hair below zero
