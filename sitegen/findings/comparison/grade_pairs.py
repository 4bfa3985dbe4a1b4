"""Which products differ in grades, judged by the scatter of the whole round: every pair, family-wise at 5 %.

The difference of two cells' mean grades, divided by its standard error from `grade_scatter`, against the studentized
range of all products that were graded more than once (Tukey-Kramer with each pair's own error, as in Games-Howell;
sources in `differences`). Degrees of freedom are those of the pair's smaller cell, but no more than nine: means of
whole grades move in steps, and with eight specimens of two grades each the range would be passed in 8 of 100 rounds
(own simulation). A product with one specimen has shown no scatter and is told apart from nobody.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from sitegen.findings.comparison.comparison import LEVEL, Comparison, Doubt, Method, Pair, checked_groups
from sitegen.findings.comparison.grade_scatter import GradeScatter, centre_of_grades
from sitegen.findings.photos.door import Number, share
from sitegen.findings.statistics.permutation import pair_differences
from sitegen.findings.statistics.studentized import studentized_range

Array = Any

MOST_DOF = 9.0


def compare_grades(
    groups: Mapping[str, Sequence[Number]], scatter: GradeScatter, *, level: float = LEVEL
) -> Comparison:
    """Every pair of products: how much oftener one is higher, adjusted p, distinct or not.

    `groups`: product to the grades of its specimens, on the scale that `scatter` was pooled on. Errors: ValueError for
    grades that aren't finite, a product without any. Source: the module's text.

    >>> from sitegen.findings.comparison.grade_scatter import pool_grades
    >>> grades = {"fjell": [5, 5, 5], "tarn": [1, 2, 1], "vik": [4, 5, 5], "myr": [4, 4, 4]}
    >>> found = compare_grades(grades, pool_grades(grades.values()))
    >>> found.distinct_pairs
    (('fjell', 'tarn'), ('myr', 'tarn'), ('tarn', 'vik'))
    """
    share(level, "level")
    every = checked_groups(groups)
    judged = {name: values for name, values in every.items() if len(values) > 1}
    centres = tuple((name, sum(values) / len(values)) for name, values in every.items())
    if len(judged) < 2:
        few = (Doubt.TOO_FEW_ENTRANTS,) if len(every) < 2 else (Doubt.SINGLE_SPECIMEN, Doubt.CANNOT_SHOW_A_DIFFERENCE)
        return Comparison(method=Method.NONE, pairs=(), reasons=few, centres=centres, specimens_needed=2)
    chances = dict(zip(_pairs_of(list(judged)), _adjusted(judged, scatter), strict=True))
    higher = _higher(every)
    pairs = tuple(_pair(a, b, higher[a, b], chances.get((a, b)), level) for a, b in _pairs_of(list(every)))
    doubts = (
        (Doubt.SINGLE_SPECIMEN, len(judged) < len(every)),
        (Doubt.SCATTER_DIFFERS, scatter.uneven),
        (Doubt.ALL_EQUAL, len({value for values in every.values() for value in values}) == 1),
    )
    reasons = tuple(doubt for doubt, holds in doubts if holds)
    return Comparison(method=Method.POOLED_GRADES, pairs=pairs, reasons=reasons, centres=centres)


def _pairs_of(names: Sequence[str]) -> list[tuple[str, str]]:
    return [(a, b) for index, a in enumerate(names) for b in names[index + 1 :]]


def _adjusted(judged: Mapping[str, tuple[float, ...]], scatter: GradeScatter) -> list[float]:
    """Family-wise p of every pair, in the order of `_pairs_of`."""
    import numpy as np

    cells = [centre_of_grades(values, scatter) for values in judged.values()]
    first, second = np.triu_indices(len(cells), 1)
    means, errors, dof = (np.array([getattr(c, name) for c in cells]) for name in ("mean", "error", "dof"))
    error = np.sqrt((errors[first] ** 2 + errors[second] ** 2) / 2)
    q = np.abs(means[first] - means[second]) / error
    found: list[float] = (
        studentized_range(len(cells)).above(q, np.minimum(np.minimum(dof[first], dof[second]), MOST_DOF)).tolist()
    )
    return found


def _higher(every: Mapping[str, tuple[float, ...]]) -> dict[tuple[str, str], float]:
    """Share of specimen pairs in which the first is higher less that in which the second is, of every pair."""
    import numpy as np

    names, sizes = list(every), [len(values) for values in every.values()]
    codes = np.unique([value for values in every.values() for value in values], return_inverse=True)[1]
    differences = pair_differences(codes[None, :], sizes)[0].tolist()
    return {
        (names[i], names[j]): differences[i][j] / (sizes[i] * sizes[j])
        for i in range(len(names))
        for j in range(i + 1, len(names))
    }


def _pair(a: str, b: str, difference: float, p: float | None, level: float) -> Pair:
    return Pair(
        a=a, b=b, difference=difference, low=None, high=None, p_adjusted=p, distinct=p is not None and p <= level
    )
