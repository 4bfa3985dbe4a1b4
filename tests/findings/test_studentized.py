"""The studentized range: SciPy's values, tabled ones, and the interpolation for many pairs."""

import numpy as np
import pytest
from scipy import stats

from sitegen.findings.statistics.studentized import DIRECT, critical_value, studentized_range, tail


@pytest.mark.parametrize("means", [2, 3, 4, 8, 20, 80, 800])
@pytest.mark.parametrize("dof", [1, 2.5, 4, 16.5, 72, 500])
def test_tail_agrees_with_scipy(means: int, dof: float) -> None:
    """Source: scipy.stats.studentized_range, over numbers of means and degrees of freedom of any round."""
    for q in (1.0, 3.5, 6.0, 12.0):
        ours = tail(means, [q], [dof])[0]
        assert ours == pytest.approx(float(stats.studentized_range.sf(q, means, dof)), rel=2e-5, abs=1e-8)


@pytest.mark.parametrize(
    ("means", "dof", "q"),
    [(2, 5, 3.64), (3, 10, 3.88), (3, 12, 3.77), (4, 16, 4.05), (5, 20, 4.23), (10, 30, 4.82), (3, 60, 3.40)],
)
def test_critical_values_are_the_tabled_ones(means: int, dof: float, q: float) -> None:
    """Source: tables of the 5 % points of the studentized range as printed in textbooks; from memory."""
    assert critical_value(means, dof, 0.05) == pytest.approx(q, abs=0.006)


@pytest.mark.parametrize("level", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("means", [2, 3, 8, 800])
def test_critical_value_and_tail_are_inverse(means: int, level: float) -> None:
    """P(Q > critical value) is the level, from 1 degree of freedom to thousands."""
    dof = np.array([1.0, 2.0, 7.5, 40.0, 3200.0])
    reference = studentized_range(means)
    assert reference.above(reference.critical(level, dof), dof) == pytest.approx(level, rel=1e-6)


@pytest.mark.parametrize("means", [3, 80])
@pytest.mark.parametrize("dof", [(1.0, 20.0), (9.0, 9.0)])
def test_many_values_are_read_off_as_if_worked_out(means: int, dof: tuple[float, float]) -> None:
    """The table for thousands of pairs gives the integral's p to 1e-4 of itself, and its critical values."""
    random = np.random.default_rng(4)
    reference = studentized_range(means)
    q, dofs = random.uniform(2, 10, DIRECT + 500), random.uniform(*dof, DIRECT + 500)
    many = reference.above(q, dofs)
    few = np.concatenate([reference.above(q[:500], dofs[:500]), reference.above(q[-500:], dofs[-500:])])
    assert np.concatenate([many[:500], many[-500:]]) == pytest.approx(few, rel=2e-4, abs=1e-9)
    single = [critical_value(means, float(one), 0.05) for one in dofs[:20]]
    assert reference.critical(0.05, dofs)[:20] == pytest.approx(single, rel=1e-6)


@pytest.mark.parametrize(
    ("means", "dof", "level", "named"),
    [
        (1, 5, 0.05, "means"),
        (3, 0.5, 0.05, "degrees"),
        (3, float("nan"), 0.05, "degrees"),
        (3, 5, 1.0, "level"),
    ],
)
def test_senseless_questions_are_refused(means: int, dof: float, level: float, named: str) -> None:
    """Fewer than two means, no degree of freedom or a level outside (0, 1) raise and name the culprit."""
    with pytest.raises(ValueError, match=named):
        critical_value(means, dof, level)
