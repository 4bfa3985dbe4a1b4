"""Summary of readings on a ratio scale: grams, minutes, millimetres."""

import math
from decimal import Decimal
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import all_finite, positive
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.pooling import Pooled
from sitegen.findings.statistics.rounding import round_estimate
from sitegen.findings.statistics.uncertainty import (
    COVERAGE,
    Certificate,
    Combined,
    Component,
    combine_uncertainty,
    mean_and_spread,
    repeatability,
    resolution_component,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioSummary:
    """What readings of one thing support; everything but `n`, `dof`, `coverage_factor` is in their unit.

    `s` is the readings' own standard deviation, None for one reading. `standard_uncertainty`, `dof`
    (effective, before truncation; may be inf), `coverage_factor`, `expanded` are None together: when the
    repeatability can't be known. `pooled`: the repeatability is the instrument's. `shown` and `shown_expanded`
    have final digits.
    """

    n: int
    mean: float
    s: float | None
    standard_uncertainty: float | None
    dof: float | None
    coverage_factor: float | None
    expanded: float | None
    coverage: float
    components: tuple[Component, ...]
    values: tuple[Decimal, ...]
    low: Decimal
    high: Decimal
    resolution: Decimal
    pooled: bool
    shown: Decimal
    shown_expanded: Decimal | None
    reasons: tuple[Reason, ...]


def summarise_ratio(
    values: tuple[Decimal, ...],
    resolution: Decimal,
    calibration: Certificate | None = None,
    pooled: Pooled | None = None,
    coverage: float = COVERAGE,
) -> RatioSummary:
    """Mean, spread, combined and expanded uncertainty, and the digits to show.

    All in one unit. The uncertainty joins repeatability (s/√n with the instrument's `pooled` s where the scatter is
    the instrument's, else the readings' own), resolution (δ/√12) and calibration (U/k). One reading without a pooled spread gets no
    uncertainty, for the resolution alone would understate it. Errors: ValueError when `values` is empty,
    anything isn't finite, or the resolution isn't above zero. Source: GUM 4.2, 4.3, 5.1.2, G.4.1, 7.2.6.

    >>> readings = tuple(map(Decimal, ("1412.0", "1413.5", "1412.5", "1411.5", "1413.0")))
    >>> found = summarise_ratio(readings, Decimal("0.5"))
    >>> str(found.shown), str(found.shown_expanded), round(found.coverage_factor, 2), found.reasons
    ('1412.50', '0.98', 2.57, ())
    """
    all_finite(values, "values")
    positive(resolution, "resolution")
    mean, s = mean_and_spread(values)
    spread, reasons = _spread_to_use(len(values), s, pooled, float(resolution) / math.sqrt(12))
    joined = _join(spread, resolution, calibration, coverage) if spread else None
    return _summary(values, mean, s, resolution, coverage, spread, joined, reasons)


@dataclass(frozen=True, slots=True)
class _Spread:
    component: Component
    is_pooled: bool


def _spread_to_use(
    n: int, s: float | None, pooled: Pooled | None, floor: float
) -> tuple[_Spread | None, tuple[Reason, ...]]:
    """No spread counts as finer than the display's, as where entrants are compared: two equal readings are no proof."""
    one = (Reason.ONE_SPECIMEN,) if n == 1 else ()
    if pooled is not None:
        component = repeatability(max(pooled.s, floor), n, pooled.dof)
        still = (Reason.ALL_EQUAL,) if pooled.s == 0 else ()
        return _Spread(component, True), (*one, Reason.POOLED_SPREAD, *still)
    if s is None:
        return None, (*one, Reason.TOO_FEW_SPECIMENS)
    return _Spread(repeatability(max(s, floor), n), False), (Reason.ALL_EQUAL,) if s == 0 else ()


def _join(spread: _Spread, resolution: Decimal, calibration: Certificate | None, coverage: float) -> Combined:
    parts = [spread.component, resolution_component(resolution)]
    if calibration is not None:
        parts.append(calibration.component())
    return combine_uncertainty(parts, coverage=coverage)


def _summary(
    values: tuple[Decimal, ...],
    mean: Fraction,
    s: float | None,
    resolution: Decimal,
    coverage: float,
    spread: _Spread | None,
    joined: Combined | None,
    reasons: tuple[Reason, ...],
) -> RatioSummary:
    shown = round_estimate(mean, joined.expanded if joined else None, resolution)
    return RatioSummary(
        n=len(values),
        mean=float(mean),
        s=s,
        standard_uncertainty=joined.standard_uncertainty if joined else None,
        dof=joined.dof if joined else None,
        coverage_factor=joined.factor if joined else None,
        expanded=joined.expanded if joined else None,
        coverage=coverage,
        components=joined.components if joined else (),
        values=values,
        low=min(values),
        high=max(values),
        resolution=resolution,
        pooled=bool(spread and spread.is_pooled),
        shown=shown.value,
        shown_expanded=shown.uncertainty,
        reasons=reasons,
    )
