"""Quantiles and tails of the distributions that findings use; the only door to SciPy for them.

`scipy.special` is loaded on first use and not `scipy.stats`, which takes four times as long to load
for the same numbers.
"""

import math
from types import ModuleType


def _special() -> ModuleType:
    from scipy import special  # type: ignore[import-untyped,unused-ignore]

    module: ModuleType = special
    return module


def t_quantile(probability: float, dof: float) -> float:
    """The value below which a Student t variable with `dof` degrees of freedom (may be inf) stays.

    >>> round(t_quantile(0.975, 16), 3)
    2.12
    """
    if math.isinf(dof):
        return float(_special().ndtri(probability))
    return float(_special().stdtrit(dof, probability))


def t_below(value: float, dof: float) -> float:
    """The probability that a Student t variable with `dof` degrees of freedom (may be inf) is below `value`.

    >>> round(t_below(1.4, math.inf), 3)
    0.919
    """
    if math.isinf(dof):
        return float(_special().ndtr(value))
    return float(_special().stdtr(dof, value))


def beta_quantile(probability: float, a: float, b: float) -> float:
    """The value below which a beta variable with shapes `a` and `b` stays."""
    return float(_special().betaincinv(a, b, probability))


def f_above(value: float, dof_above: float, dof_below: float) -> float:
    """The probability that a Fisher F variable exceeds `value`."""
    return float(_special().fdtrc(dof_above, dof_below, value))


def chi_square_above(value: float, dof: float) -> float:
    """The probability that a chi-square variable exceeds `value`."""
    return float(_special().chdtrc(dof, value))
