"""What is let in: finite numbers only. One NaN that slips through makes every later figure a NaN."""

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

Number = int | float | Decimal | Fraction
FINEST_EXPONENT = -400  # below every float; an exact fraction of 1E-999999999 would fill the memory


def finite(value: Number, name: str) -> float:
    """`value` as a float; ValueError naming `name` when it is NaN, infinite or beyond the range of a float.

    >>> finite(Decimal("412.0"), "mass")
    412.0
    >>> finite(float("nan"), "mass")
    Traceback (most recent call last):
    ValueError: mass: expected a finite number, found nan
    """
    try:
        number = float(value)
    except (OverflowError, ValueError):  # a signalling NaN raises instead of converting
        number = math.nan
    if not math.isfinite(number) or (isinstance(value, Decimal) and _is_too_fine(value)):
        raise ValueError(f"{name}: expected a finite number, found {value}")
    return number


def _is_too_fine(value: Decimal) -> bool:
    exponent = value.as_tuple().exponent
    return not isinstance(exponent, int) or exponent < FINEST_EXPONENT


def all_finite(values: Sequence[Number], name: str, least: int = 1) -> tuple[float, ...]:
    """`values` as floats; ValueError naming the item's index from 0, or that fewer than `least` are there.

    >>> all_finite([1, 2.5], "time")
    (1.0, 2.5)
    """
    if len(values) < least:
        raise ValueError(f"{name}: expected at least {least} values, found {len(values)}")
    return tuple(finite(value, f"{name}[{index}]") for index, value in enumerate(values))


def positive(value: Number, name: str) -> float:
    """`value` as a float above zero; ValueError naming `name` otherwise."""
    number = finite(value, name)
    if number <= 0:
        raise ValueError(f"{name}: expected a number above zero, found {value}")
    return number


def not_negative(value: Number, name: str) -> float:
    """`value` as a float of zero or more; ValueError naming `name` otherwise."""
    number = finite(value, name)
    if number < 0:
        raise ValueError(f"{name}: expected zero or more, found {value}")
    return number


def share(value: Number, name: str) -> float:
    """`value` strictly between 0 and 1, such as a coverage; ValueError naming `name` otherwise."""
    number = finite(value, name)
    if not 0 < number < 1:
        raise ValueError(f"{name}: expected a share between 0 and 1, found {value}")
    return number
