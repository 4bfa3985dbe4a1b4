"""The studentized range: the distribution behind comparing every pair of entrants at one family-wise level.

Q = (largest - smallest of k normal means of equal precision) / (their common, estimated standard error).
With R(w) the distribution of the range of k standard normal variables, its density is
R'(w) = k(k-1) ∫ φ(z) φ(z-w) [Φ(z)-Φ(z-w)]^(k-2) dz, and P(Q > q) = ∫ R'(w) P(s < w/q) dw with νs² chi-square
on ν degrees of freedom (Copenhaver & Holland, J. Statist. Comput. Simul. 30 (1988) 1-15; from memory).

SciPy has the same distribution, and the tests hold this one to it. It is worked out here because a round has
many pairs: SciPy needs some 10 ms a value, this needs some microseconds, and half a second less to load.
Both integrands are smooth and vanish at their ends, where the trapezoidal rule is accurate to all digits
needed.
"""

from collections.abc import Sequence
from typing import Any

from sitegen.datatypes import dataclass

Array = Any  # a NumPy array of floats; NumPy itself is loaded when a comparison is made

WIDEST = 13.0  # no range of up to some thousand normal variables exceeds it (P < 1e-16)
STEP = 0.05
MOST_DOF = 10_000.0  # more count as so many, or chi-square is sharper than the grid; moves p by 1e-4 of p
ROUNDS = 60  # of root finding; some ten are needed
DIRECT = 4_000  # up to so many values each is integrated; above, they are read off a table
NODES = 24  # of the Chebyshev interpolation over 1/dof
TABLE = 1_500  # values of q in the table
TABLE_END = 60.0  # and the largest of them; what lies beyond is told as if it were there
SMALLEST = 1e-300  # keeps the logarithm finite; a lower one that bites would put a kink in the polynomial
AT_A_TIME = 20_000  # values by nodes kept in memory at once


@dataclass(frozen=True, slots=True)
class StudentizedRange:
    """The distribution for one number of means: where the range's density counts, and its weights there."""

    means: int
    nodes: Array
    weights: Array

    def above(self, q: Array, dof: Array) -> Array:
        """P(Q > q), elementwise; `q` 0 or more, `dof` 1 or more, arrays of one shape (n,).

        >>> import numpy as np
        >>> float(studentized_range(3).above(np.array([3.77]), np.array([12.0]))[0].round(3))
        0.05
        """
        import numpy as np

        if len(q) > DIRECT:
            return self._read_off(q, np.minimum(dof, MOST_DOF))
        pieces = [
            self._integrated(q[start : start + AT_A_TIME], dof[start : start + AT_A_TIME])
            for start in range(0, len(q), AT_A_TIME)
        ]
        return np.concatenate(pieces) if pieces else np.zeros(0)

    def _integrated(self, q: Array, dof: Array) -> Array:
        import numpy as np
        from scipy import special  # type: ignore[import-untyped,unused-ignore]

        dof = np.minimum(dof, MOST_DOF)
        q = np.maximum(q, 1e-12)
        if self.means == 2:
            return 2 * special.stdtr(dof, -q / np.sqrt(2))
        half = dof[:, None] / 2
        below = special.gammainc(half, half * (self.nodes[None, :] / q[:, None]) ** 2)
        return np.clip(below @ self.weights, 0.0, 1.0)

    def _read_off(self, q: Array, dof: Array) -> Array:
        """Logarithms of p: linear between the table's q, a polynomial in 1/dof; to 1e-4 of p below 0.5."""
        import numpy as np

        inverse, sums = 1 / dof, np.zeros((2, len(q)))
        nodes, weights = _chebyshev(float(inverse.min()), float(inverse.max()))
        grid = np.linspace(0.0, min(float(q.max()), TABLE_END), TABLE)
        for node, weight in zip(nodes, weights, strict=True):
            logs = np.log(np.maximum(self._integrated(grid, np.full(TABLE, 1 / node)), SMALLEST))
            gap = inverse - node
            share = weight / np.where(gap == 0, 1e-30, gap)  # barycentric: on a node that node alone counts
            sums += share, share * np.interp(q, grid, logs)
        return np.clip(np.exp(sums[1] / sums[0]), 0.0, 1.0)

    def critical(self, level: float, dof: Array) -> Array:
        """The q with P(Q > q) = `level` for each of `dof`; many different dof are interpolated over 1/dof.

        >>> import numpy as np
        >>> studentized_range(4).critical(0.05, np.array([16.0])).round(2).tolist()
        [4.05]
        """
        import numpy as np

        known, back = np.unique(np.minimum(dof, MOST_DOF), return_inverse=True)
        if len(known) <= 2 * NODES:
            return self._solved(level, known)[back]
        nodes, weights = _chebyshev(1 / float(known[-1]), 1 / float(known[0]))
        logs = np.log(self._solved(level, 1 / nodes))
        gaps = 1 / known[:, None] - nodes
        shares = weights / np.where(gaps == 0, 1e-30, gaps)
        return np.exp(shares @ logs / shares.sum(axis=1))[back]

    def _solved(self, level: float, dof: Array) -> Array:
        """False position with halving (Illinois rule) on log q and log p, from a bracket that holds for sure.

        Q > ab needs a range above a or an s below 1/b: the upper end gives each half of the level.
        """
        import numpy as np
        from scipy import special

        if self.means == 2:
            return -np.sqrt(2) * special.stdtrit(dof, level / 2)
        smallest_s = np.sqrt(2 * special.gammaincinv(dof / 2, level / 2) / dof)
        old = np.full(len(dof), np.log(self._range_above(level) / 2))
        new = np.log(self._range_above(level / 2) * 1.1 / smallest_s)
        old_off, new_off = self._off(old, dof, level), self._off(new, dof, level)
        for _ in range(ROUNDS):
            slope = new_off - old_off
            trial = new - np.where(slope == 0, 0.0, new_off * (new - old) / np.where(slope == 0, 1.0, slope))
            off = self._off(trial, dof, level)
            crossed = np.sign(off) != np.sign(new_off)
            old, old_off = np.where(crossed, new, old), np.where(crossed, new_off, old_off / 2)
            new, new_off = trial, off
            if np.abs(off).max() < 1e-12:
                break
        return np.exp(new)

    def _off(self, log_q: Array, dof: Array, level: float) -> Array:
        import numpy as np

        return np.log(np.maximum(self._integrated(np.exp(log_q), dof), SMALLEST) / level)

    def _range_above(self, level: float) -> float:
        """The range that infinitely many degrees of freedom would make critical, to the grid's step."""
        import numpy as np

        return float(np.interp(1 - level, np.cumsum(self.weights), self.nodes))


def _chebyshev(low: float, high: float) -> tuple[Array, Array]:
    """Nodes of an interval and their barycentric weights; one node where the interval has no length."""
    import numpy as np

    if high - low < 1e-15:
        return np.array([low]), np.array([1.0])
    angles = (np.arange(NODES) + 0.5) * np.pi / NODES
    return (low + high) / 2 + (high - low) / 2 * np.cos(angles), np.sin(angles) * (-1.0) ** np.arange(NODES)


def studentized_range(means: int) -> StudentizedRange:
    """The distribution of the studentized range of `means` means; ValueError below 2."""
    import numpy as np
    from scipy import special

    if means < 2:
        raise ValueError(f"means: expected 2 or more, found {means}")
    w = np.arange(STEP, WIDEST + STEP / 2, STEP)
    y = np.arange(0.0, 8.6, 2 * STEP)  # z - w/2: the integrand is even in it
    share = np.full(len(y), 4 * STEP)
    share[0] /= 2
    between = special.ndtr(y + w[:, None] / 2) - special.ndtr(y - w[:, None] / 2)
    bells = np.exp(-(y**2) - w[:, None] ** 2 / 4) / (2 * np.pi)
    density = means * (means - 1) * (bells * between ** (means - 2)) @ share
    kept = density > density.max() * 1e-15
    return StudentizedRange(means, w[kept], density[kept] * STEP)


def critical_value(means: int, dof: float, level: float) -> float:
    """One critical value: q with P(Q > q) = `level` for `means` means and `dof` degrees of freedom.

    Errors: ValueError for fewer than 2 means, dof below 1, a level outside (0, 1).

    >>> round(critical_value(3, 12, 0.05), 2)
    3.77
    """
    import numpy as np

    if not dof >= 1:
        raise ValueError(f"degrees of freedom: expected 1 or more, found {dof}")
    if not 0 < level < 1:
        raise ValueError(f"level: expected a share between 0 and 1, found {level}")
    return float(studentized_range(means).critical(level, np.array([float(dof)]))[0])


def tail(means: int, q: Sequence[float], dof: Sequence[float]) -> tuple[float, ...]:
    """P(Q > q) for plain numbers: `q` and `dof` of one length.

    >>> [round(p, 3) for p in tail(3, [3.77, 0.0], [12, 12])]
    [0.05, 1.0]
    """
    import numpy as np

    return tuple(studentized_range(means).above(np.array(q, float), np.array(dof, float)).tolist())
