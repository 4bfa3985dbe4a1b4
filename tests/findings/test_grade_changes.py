"""What washing did to grades: a fall that everybody can see is said to be real, chance is said to be chance."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from sitegen.findings.changing.grade_changes import Stages, family_wise, judge_changes
from sitegen.findings.changing.stages import GradeChange
from sitegen.findings.comparison.grade_scatter import TRUST_LOSSES, pool_grades
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.family import holm

# Eight products with three specimens, new and washed.
NEW = {
    "a": (5, 5, 4),
    "b": (4, 4, 4),
    "c": (5, 5, 5),
    "d": (3, 3, 3),
    "e": (5, 5, 5),
    "f": (4, 5, 4),
    "g": (4, 4, 3),
    "h": (5, 4, 5),
}
WORN = {
    "a": (4, 3, 4),
    "b": (3, 3, 3),
    "c": (1, 2, 1),
    "d": (3, 3, 2),
    "e": (4, 4, 5),
    "f": (2, 3, 2),
    "g": (3, 3, 3),
    "h": (4, 4, 4),
}


def specimens(grades: tuple[int, ...]) -> dict[str, Decimal]:
    """Grades by specimen 1, 2, 3."""
    return {str(i): Decimal(grade) for i, grade in enumerate(grades, 1)}


def judged(
    before: dict[str, tuple[int, ...]], after: dict[str, tuple[int, ...]], *, marked: bool = True
) -> dict[str, GradeChange]:
    """All changes of a round, family-wise."""
    stages = [
        Stages(product=name, before=specimens(before[name]), after=specimens(after[name]), marked=marked)
        for name in before
    ]
    scatters = (pool_grades(before.values()), pool_grades(after.values()))
    return family_wise(judge_changes(stages, scatters=scatters))


def test_a_fall_from_fives_to_ones_is_real() -> None:
    """5, 5, 5 to 1, 2, 1 among eight products is real, and so is a steady loss of two grades; a grade more or less isn't."""
    assert {name for name, change in judged(NEW, WORN).items() if change.real} == {"c", "f"}


def test_p_is_students_t_by_the_pooled_losses() -> None:
    """Source: scipy.stats.t with the moderated variance of each product's losses, then Holm by statsmodels."""
    losses = {name: np.subtract(NEW[name], WORN[name]) for name in NEW}
    scatter = pool_grades([tuple(map(int, loss)) for loss in losses.values()], trust=TRUST_LOSSES)
    assert scatter is not None
    raw = []
    for loss in losses.values():
        variance, dof = scatter.variance(float(loss.std(ddof=1)), 3)
        raw.append(2 * stats.t.sf(abs(loss.mean()) / np.sqrt(variance / 3), dof))
    expected = multipletests(raw, method="holm")[1]
    assert [change.p for change in judged(NEW, WORN).values()] == pytest.approx(expected.tolist())


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_agrees_with_statsmodels(chances: list[float]) -> None:
    """Source: statsmodels multipletests, method holm."""
    found = holm({str(i): p for i, p in enumerate(chances)})
    expected = multipletests(chances, method="holm")[1]
    assert [found[str(i)] for i in range(len(chances))] == pytest.approx(expected.tolist())


def test_other_pieces_are_compared_as_other_pieces() -> None:
    """Without marks nothing is paired in silence: no specimen's loss is counted, and a great fall still is real."""
    found = judged(NEW, WORN, marked=False)["c"]
    assert (found.n, found.lost, found.real) == (0, (), True)
    assert Reason.SPECIMENS_UNMARKED in found.reasons
    assert (found.median_before, found.median_after) == ((Decimal(5),), (Decimal(1),))


def test_too_little_to_pool_leaves_the_sign_test() -> None:
    """Two products alone: the exact sign test of three specimens can't prove a fall, six can."""
    three = judged({"a": (5, 5, 5), "b": (5, 5, 5)}, {"a": (1, 2, 1), "b": (5, 5, 5)})["a"]
    assert (three.real, three.scatter, three.p) == (False, None, 0.5)
    six = judged({"a": (5,) * 6}, {"a": (2,) * 6})["a"]
    assert (six.real, six.p) == (True, 2.0**-5)


def test_one_specimen_alone_shows_no_change() -> None:
    """A product graded once at each stage: its loss is counted, but no p is given."""
    found = judged({**NEW, "z": (5,)}, {**WORN, "z": (1,)})["z"]
    assert (found.fell, found.p, found.real) == (1, None, False)
