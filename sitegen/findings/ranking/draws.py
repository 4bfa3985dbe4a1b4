"""Random numbers that come out the same on every machine, and with every version of Python and NumPy.

Raw numbers: the 64-bit stream of NumPy's PCG64, which NumPy promises never to change for a given seed (class
documentation, "Compatibility Guarantee"; NEP 19); it promises nothing for its distributions. Uniform, normal
and Student t numbers are therefore made here, from operations whose result IEEE 754 fixes to the last bit:
+ - * / and the square root. Logarithm, exponential and sine differ in the last bit from one mathematics
library to the next, so that they are series of such operations here (each good to about 1e-15, which tests
hold against `math`).

Each thing drawn has a stream of its own, whose seed is the SHA-256 of its name. What an entrant gets depends
on nothing but its name: another entrant, or another order, changes none of its numbers.
"""

import hashlib
import math
from typing import Any

Array = Any  # a NumPy array of floats

SEED = 20_260_810
LN_2 = math.log(2)
ROOT_HALF = math.sqrt(0.5)
UNIT = 2.0**-52
LN_TERMS = tuple(2 / n for n in range(21, 0, -2))  # of 2 artanh s, |s| < 0.172: the rest is below 1e-18
EXP_TERMS = tuple(1 / math.factorial(n) for n in range(14, 0, -1))  # |r| < 0.347: the rest is below 1e-18
SIN_TERMS = tuple((-1) ** (n // 2) / math.factorial(n) for n in range(23, 0, -2))  # |x| <= pi/2: below 1e-20


class Stream:
    """Numbers fixed for good by `seed` and the names in `purpose`; each call goes on where the last ended.

    Errors: ValueError for a seed below zero.

    >>> Stream(7, "mass", "fjell").uniform(3).tolist() == Stream(7, "mass", "fjell").uniform(3).tolist()
    True
    """

    def __init__(self, seed: int, *purpose: str) -> None:
        import numpy as np

        if seed < 0:
            raise ValueError(f"seed: expected 0 or more, found {seed}")
        name = "\x1f".join((str(seed), *purpose))  # a separator that no id contains
        digest = hashlib.sha256(name.encode()).digest()
        self._raw = np.random.PCG64(int.from_bytes(digest[:8], "big"))

    def uniform(self, count: int) -> Array:
        """`count` numbers strictly between 0 and 1, multiples of 2^-53."""
        import numpy as np

        return ((self._raw.random_raw(count) >> np.uint64(12)).astype(np.float64) + 0.5) * UNIT

    def student(self, count: int, dof: float = math.inf) -> Array:
        """`count` Student t numbers with `dof` degrees of freedom (1 or more, also broken ones; inf: normal).

        √(ν(U^(-2/ν) - 1)) · cos 2πV: Bailey, Mathematics of Computation 62 (1994) 779; for ν = ∞ it is
        √(-2 ln U) · cos 2πV of Box & Muller, Ann. Math. Statist. 29 (1958) 610 (both from memory; the tests
        hold the results against SciPy's distribution). Errors: ValueError for dof below 1.
        """
        import numpy as np

        if not dof >= 1:
            raise ValueError(f"degrees of freedom: expected 1 or more, found {dof}")
        twice = -2 * natural_log(self.uniform(count))
        squared = twice if math.isinf(dof) else dof * exp_less_1(twice / dof)
        return np.sqrt(squared) * turn_cosine(self.uniform(count))


def natural_log(x: Array) -> Array:
    """ln of numbers above zero, by 2 artanh((m-1)/(m+1)) with x = m·2^e, m between √½ and √2."""
    import numpy as np

    mantissa, exponent = np.frexp(x)
    small = mantissa < ROOT_HALF
    mantissa = np.where(small, 2 * mantissa, mantissa)
    s = (mantissa - 1) / (mantissa + 1)
    return _series(s * s, LN_TERMS) * s + (exponent - small) * LN_2


def exp_less_1(y: Array) -> Array:
    """e^y - 1 without loss near zero, for y from 0 to 74; by the power series on y - k ln 2."""
    import numpy as np

    k = np.rint(y / LN_2)
    r = y - k * LN_2
    scale = np.ldexp(1.0, k.astype(np.int32))
    return _series(r, EXP_TERMS) * r * scale + (scale - 1)


def turn_cosine(v: Array) -> Array:
    """cos 2πv for v from 0 to 1, as the sine of an angle within ± π/2."""
    import numpy as np

    x = (np.abs(v - 0.5) - 0.25) * (2 * math.pi)
    return _series(x * x, SIN_TERMS) * x


def _series(x: Array, terms: tuple[float, ...]) -> Array:
    """Horner's scheme, highest term first; in place, since these sums are most of the time spent."""
    total = x * terms[0]
    total += terms[1]
    for term in terms[2:]:
        total *= x
        total += term
    return total
