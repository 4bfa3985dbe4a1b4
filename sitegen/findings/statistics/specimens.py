"""How many specimens an entrant needs: before the round starts, or after it has shown nothing.

Grades: with few specimens even the clearest outcome, every specimen of one entrant above every specimen
of another, comes about by chance too often. Its chance, over all pairs of k entrants with n specimens each
and without ties, has a closed form. Put all specimens at random into a row: no pair is apart when the
stretches from first to last specimen of all entrants share a point, which is when each entrant has begun
before any has ended. With arrival times uniform on (0, 1) the last entrant begins at x, all others have
begun and none has ended:

    P(no pair apart) = k n ∫ (1 - x^n - (1-x)^n)^(k-1) (1-x)^(n-1) dx

For k = 2 this is 1 - 2/C(2n, n), the smallest two-sided p of the rank sum test. (Own derivation; the tests
hold it to that formula and to a full count of arrangements.)

That is what exact tests need. A round of several products is judged by the scatter of all its grades, and shows what
`grade_difference_shown` says.

Readings: the power to tell one given pair apart by Tukey's test is that of a two-sided t test with the
variance pooled over all k(n-1) degrees of freedom and the critical value q/√2 of the studentized range; a
noncentral t with (difference/s)·√(n/2). (Hsu, Multiple Comparisons, 1996, ch. 6; from memory.)
"""

import math
from functools import lru_cache

from sitegen.findings.comparison.comparison import LEVEL
from sitegen.findings.comparison.grade_scatter import ENOUGH_DOF, LEAST_DOF, TRUST_GRADES
from sitegen.findings.photos.door import Number, positive, share
from sitegen.findings.statistics.studentized import critical_value

POWER = 0.80
MOST_SPECIMENS = 1_000  # beyond this nobody tests on a bench
TYPICAL_SCATTER = 0.5  # grades of one cloth, standard deviation; common practice, no source
STRIPS = 2_000  # of Simpson's rule; the integrand is a polynomial


def smallest_p(entrants: int, specimens: int) -> float:
    """The family-wise p of the clearest outcome for grades: one entrant wholly above another.

    `entrants` 2 or more, `specimens` per entrant 1 or more, else ValueError. Source: the module's text.

    >>> round(smallest_p(2, 3), 4), round(smallest_p(2, 5), 4), round(smallest_p(8, 5), 2)
    (0.1, 0.0079, 0.14)
    """
    if entrants < 2:
        raise ValueError(f"entrants: expected 2 or more, found {entrants}")
    if specimens < 1:
        raise ValueError(f"specimens: expected 1 or more, found {specimens}")
    if entrants == 2:
        return 2 / math.comb(2 * specimens, specimens)
    if specimens == 1:
        return 1.0
    return min(1.0, max(0.0, 1 - _none_apart(entrants, specimens)))


@lru_cache(maxsize=256)  # rounds of a publication have few sizes, and each sum takes a millisecond
def _none_apart(entrants: int, specimens: int) -> float:
    def height(x: float) -> float:
        return (1 - x**specimens - (1 - x) ** specimens) ** (entrants - 1) * (1 - x) ** (specimens - 1)

    heights = [height(strip / STRIPS) for strip in range(STRIPS + 1)]
    simpson = heights[0] + heights[-1] + 4 * math.fsum(heights[1::2]) + 2 * math.fsum(heights[2:-1:2])
    return entrants * specimens * simpson / (3 * STRIPS)


def specimens_for_grades(entrants: int, level: float = LEVEL) -> int:
    """The fewest specimens per entrant with which grades can show any difference among `entrants`.

    At the family-wise `level`. So many make a difference possible, not likely: it takes complete separation.

    >>> [specimens_for_grades(k) for k in (2, 3, 4, 8)]
    [4, 5, 5, 6]
    """
    share(level, "level")
    return next(n for n in range(2, MOST_SPECIMENS) if smallest_p(entrants, n) <= level)


def power_for_difference(
    entrants: int, specimens: int, spread: Number, difference: Number, level: float = LEVEL
) -> float:
    """The chance that a true `difference` between two given entrants of `entrants` is shown.

    `spread`: standard deviation between specimens of one entrant, `difference`: both above 0 and in one unit.
    Errors: ValueError for fewer than 2 entrants or specimens, or values not above 0.

    >>> round(power_for_difference(2, 17, 1, 1), 2)
    0.81
    """
    from scipy import special  # type: ignore[import-untyped,unused-ignore]

    if specimens < 2:
        raise ValueError(f"specimens: expected 2 or more, found {specimens}")
    shift = positive(difference, "difference") / positive(spread, "spread") * math.sqrt(specimens / 2)
    dof = entrants * (specimens - 1)
    bound = critical_value(entrants, dof, level) / math.sqrt(2)
    if shift > bound + 40:  # certain, and outside what the noncentral t can be computed for
        return 1.0
    return float(1 - special.nctdtr(dof, shift, bound) + special.nctdtr(dof, shift, -bound))


def specimens_for_difference(
    entrants: int, spread: Number, difference: Number, power: float = POWER, level: float = LEVEL
) -> int | None:
    """The fewest specimens per entrant that show a true `difference` with chance `power`; None above 1 000.

    Units, errors and source as in `power_for_difference`.

    >>> specimens_for_difference(8, spread=2.0, difference=5.0)
    6
    """
    share(power, "power")

    def enough(specimens: int) -> bool:
        return power_for_difference(entrants, specimens, spread, difference, level) >= power

    low, high = 1, 2
    while not enough(high):
        if high >= MOST_SPECIMENS:
            return None
        low, high = high, min(2 * high, MOST_SPECIMENS)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def grade_difference_shown(
    entrants: int, specimens: int, spread: Number = TYPICAL_SCATTER, power: float = POWER, level: float = LEVEL
) -> float | None:
    """The difference in grades that so many specimens show with chance `power`; None where a round can't be pooled.

    By the scatter of the whole round (`grade_scatter`), whose standard deviation is taken to be `spread` grades; with
    grades on whole steps it is a guide. Errors: ValueError for fewer than 2 entrants or 1 specimen, values not above 0.

    >>> round(grade_difference_shown(8, 3), 1), grade_difference_shown(2, 3)
    (2.2, None)
    """
    from scipy import special  # type: ignore[import-untyped,unused-ignore]

    if entrants < 2 or specimens < 1:
        raise ValueError(f"expected 2 entrants and 1 specimen or more, found {entrants} and {specimens}")
    pooled = entrants * (specimens - 1)
    if pooled < LEAST_DOF:
        return None
    dof = min(TRUST_GRADES, TRUST_GRADES / ENOUGH_DOF * pooled) + specimens - 1
    bound = critical_value(entrants, dof, level) / math.sqrt(2)
    shift = float(special.nctdtrinc(dof, 1 - power, bound))  # its noncentrality
    return shift * positive(spread, "spread") * math.sqrt(2 / specimens)
