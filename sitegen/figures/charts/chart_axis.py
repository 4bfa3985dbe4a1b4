"""Axes that end on round ticks, so that charts of like range share one frame."""

import math
from collections.abc import Iterable
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from functools import cached_property
from typing import Literal

from sitegen.datatypes import dataclass

Number = Decimal | float
Scale = Literal["linear", "log"]

WIDE = Context(prec=60)  # steps and their multiples stay exact whatever the caller's decimal context
FINEST = Decimal("1e-9")  # a span smaller than this share of the values would need more digits than a label holds
TINIEST = Decimal("1e-290")  # what is smaller is drawn as zero: floats lose their digits there
LOG_FINE = (1, 2, 5)
LOG_COARSE = (1, 3)


@dataclass(frozen=True, kw_only=True)
class Axis:
    """The ticks of one axis, first and last of them its limits; ValueError unless they rise.

    `turned`: the largest value stands at its beginning, so that the better side is the same in all charts of a page.
    """

    ticks: tuple[Decimal, ...]
    scale: Scale = "linear"
    turned: bool = False

    def __post_init__(self) -> None:
        if len(self.ticks) < 2:
            raise ValueError("an axis needs at least two ticks")
        require_finite("a tick", self.ticks)
        if any(b <= a for a, b in zip(self.ticks, self.ticks[1:], strict=False)):
            raise ValueError(f"the ticks of an axis must rise: {', '.join(map(str, self.ticks))}")
        if not 0 < float(self.ticks[-1]) - float(self.ticks[0]) < math.inf:
            raise ValueError(f"the ends {self.ticks[0]} and {self.ticks[-1]} can't be told apart on an axis")
        if self.scale == "log" and self.ticks[0] <= 0:
            raise ValueError("a logarithmic axis can't reach zero")

    @cached_property
    def _ends(self) -> tuple[float, float]:
        low, high = float(self.ticks[0]), float(self.ticks[-1])
        return (math.log(low), math.log(high)) if self.scale == "log" else (low, high)

    def _from_the_start(self, fraction: float) -> float:
        return 1 - fraction if self.turned else fraction

    def fraction(self, value: Number) -> float:
        """Where the value stands between the ends of the axis, 0 to 1."""
        low, high = self._ends
        number = math.log(value) if self.scale == "log" else float(value)
        return self._from_the_start((number - low) / (high - low))

    def fractions(self, values: Iterable[Number]) -> list[float]:
        """`fraction` of many values, as for the points of a curve."""
        low, high = self._ends
        span = high - low
        if self.scale == "log":
            return [self._from_the_start((math.log(value) - low) / span) for value in values]
        return [self._from_the_start((float(value) - low) / span) for value in values]

    def value(self, fraction: float) -> float:
        """The value that stands at a fraction of the axis: the inverse of `fraction`."""
        low, high = self._ends
        number = low + self._from_the_start(fraction) * (high - low)
        return math.exp(number) if self.scale == "log" else number

    def covers(self, value: Number) -> bool:
        """Whether the value stands on the axis, its ends included."""
        return float(self.ticks[0]) <= float(value) <= float(self.ticks[-1])

    @cached_property
    def tick_fractions(self) -> tuple[float, ...]:
        """Where the ticks stand, rounded so that equal spacings give equal frames."""
        return tuple(round(self.fraction(tick), 6) for tick in self.ticks)

    @cached_property
    def rulings(self) -> tuple[float, ...]:
        """Where a logarithmic axis has the fine lines of semi-log paper; none for a linear one."""
        if self.scale == "linear":
            return ()
        decades = range(_exponent(self.ticks[0]), _exponent(self.ticks[-1]) + 1)
        lines = (Decimal(k).scaleb(decade) for decade in decades for k in range(1, 10))
        return tuple(round(self.fraction(line), 6) for line in lines if self.covers(line))


def require_finite(what: str, numbers: Iterable[Number | None]) -> None:
    """Raise ValueError for a number that can't be drawn; None (nothing measured) passes."""
    for number in numbers:
        if number is not None and not math.isfinite(number):
            raise ValueError(f"{what} must be a finite number, not {number}")


def nice_ticks(low: Number, high: Number, target: int) -> tuple[Decimal, ...]:
    """Evenly spaced round ticks from at or below `low` to at or above `high`, two to `target` (>= 3) of them.

    The step is the smallest of 1, 2 or 5 times a power of ten that needs no more than `target` ticks.
    Raises ValueError for ends that aren't finite or stand the wrong way round.
    """
    require_finite("the end of an axis", (low, high))
    if high < low:
        raise ValueError(f"an axis can't run from {low} down to {high}")
    if target < 3:
        raise ValueError("a round axis may need three ticks: one below zero, zero, one above")
    least, most = _widened(_exact(low), _exact(high))
    exponent = _exponent(most - least) - 2
    while True:
        for lead in (1, 2, 5):
            step = Decimal(lead).scaleb(exponent)
            first = int(WIDE.divide(least, step).to_integral_value(ROUND_FLOOR, WIDE))
            last = int(WIDE.divide(most, step).to_integral_value(ROUND_CEILING, WIDE))
            if last - first < target:
                return _multiples(step, first, max(last, first + 1))
        exponent += 1


def log_ticks(low: Number, high: Number, target: int) -> tuple[Decimal, ...]:
    """Ticks 1, 2, 5 of each decade from at or below `low` to at or above `high`; only decades where too many.

    Raises ValueError for ends that aren't finite and above zero, or stand the wrong way round.
    """
    require_finite("the end of an axis", (low, high))
    if not 0 < low <= high:
        raise ValueError(f"a logarithmic axis can't run from {low} to {high}")
    decades = range(_exponent(_exact(low)), _exponent(_exact(high)) + 2)
    for leads, stride in ((LOG_FINE, 1), (LOG_COARSE, 1), *(((1,), n) for n in range(1, len(decades) + 1))):
        series = [_plain(Decimal(lead).scaleb(d)) for d in decades[::stride] for lead in leads]
        if series[-1] < _exact(high):
            series.append(_plain(Decimal(1).scaleb(decades[-1])))
        first = max(i for i, tick in enumerate(series) if tick <= _exact(low))
        last = max(first + 1, min(i for i, tick in enumerate(series) if tick >= _exact(high)))
        if last - first < target or stride == len(decades):
            return tuple(series[first : last + 1])
    raise AssertionError("the last stride leaves two ticks")  # pragma: no cover - the loop always returns


def round_axis(values: Iterable[Number | None], target: int = 6, scale: Scale = "linear") -> Axis:
    """The axis that covers all the values (None is skipped); ValueError if there is none."""
    present = [value for value in values if value is not None]
    if not present:
        raise ValueError("a chart without a single value can't be drawn")
    ticks = log_ticks if scale == "log" else nice_ticks
    return Axis(ticks=ticks(min(present), max(present), target), scale=scale)


def decimals(ticks: tuple[Decimal, ...]) -> int:
    """How many decimals the labels of these ticks need, so that all of them show the same."""
    exponents = (tick.normalize().as_tuple().exponent for tick in ticks)
    return max(0, *(-exponent for exponent in exponents if isinstance(exponent, int)))


def _exact(value: Number) -> Decimal:
    return value if isinstance(value, Decimal) else Decimal(repr(float(value)))


def _exponent(value: Decimal) -> int:
    return value.adjusted() if value else 0


def _widened(low: Decimal, high: Decimal) -> tuple[Decimal, Decimal]:
    # Equal readings still need an axis with a length.
    size = max(abs(low), abs(high))
    if size >= TINIEST and high - low > size * FINEST:
        return low, high
    around = size / 100 if size >= TINIEST else Decimal(1)
    return low - around, high + around


def _plain(value: Decimal) -> Decimal:
    return Decimal(f"{value:f}")


def _multiples(step: Decimal, first: int, last: int) -> tuple[Decimal, ...]:
    return tuple(_plain(WIDE.multiply(step, Decimal(k))) for k in range(first, last + 1))
