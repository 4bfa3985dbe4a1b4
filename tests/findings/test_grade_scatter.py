"""The scatter of grades: pooled by the textbook, moderated by the published formula, never too fine, never by another stage's."""

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.miscmodels.ordinal_model import OrderedModel

from sitegen.findings.comparison.grade_scatter import GradeScatter, centre_of_grades, pool_grades, spread_of, step_of

# Bitterness of wine by nine judges (two bottles each: cold or warm, without or with contact). Randall 1989; as printed
# in the tutorial of the R package ordinal, table 1.
WINE = {
    ("cold", "no"): (2, 1, 2, 3, 2, 3, 1, 2, 1, 3, 2, 3, 2, 3, 2, 1, 2, 2),
    ("cold", "yes"): (3, 1, 3, 3, 4, 3, 2, 2, 3, 4, 3, 2, 2, 3, 2, 2, 3, 2),
    ("warm", "no"): (4, 2, 5, 3, 3, 2, 2, 3, 3, 4, 3, 5, 2, 3, 4, 3, 3, 2),
    ("warm", "yes"): (5, 5, 4, 5, 3, 5, 2, 3, 4, 5, 4, 4, 3, 3, 4, 3, 4, 4),
}
CELLS = st.lists(st.lists(st.integers(0, 5), min_size=2, max_size=6), min_size=3, max_size=9)


def pooled(*cells: tuple[int, ...], elsewhere: tuple[tuple[int, ...], ...] = ()) -> GradeScatter:
    """The scatter of cells that are enough to pool."""
    found = pool_grades(cells, elsewhere)
    assert found is not None
    return found


@given(CELLS)
def test_the_scatter_is_the_pooled_standard_deviation(cells: list[list[int]]) -> None:
    """Σνs²/Σν by NumPy, but never below 0.45 of a step; None with fewer than six degrees of freedom."""
    dof = sum(len(cell) - 1 for cell in cells)
    found = pool_grades(cells)
    if dof < 6:
        assert found is None
        return
    expected = float(np.sqrt(sum(np.var(cell, ddof=1) * (len(cell) - 1) for cell in cells) / dof))
    assert found is not None and found.sd == pytest.approx(max(expected, 0.45))
    assert found.floored == (expected < 0.45)
    assert (found.cells, found.specimens, found.borrowed) == (len(cells), sum(map(len, cells)), 0)


def test_a_cells_variance_is_moderated_as_published() -> None:
    """d0 = 20, s0 = 0.40, d = 2, s = 1.10 give 0.5054 with 22 degrees of freedom (Smyth 2004; recomputed by hand)."""
    prior = GradeScatter(sd=0.40, weight=20.0, specimens=30, cells=10, borrowed=0, uneven=False, floored=False)
    variance, dof = prior.variance(1.10, 3)
    assert (variance**0.5, dof) == (pytest.approx(0.5054, abs=5e-5), 22.0)


def test_an_ordered_model_sees_the_same_effects() -> None:
    """Warmth and contact of the wine: the pooled statistic lies within 15 % of the ordered probit's z.

    Source: statsmodels OrderedModel, which gives the printed 1.4994 (0.2918) and 0.8677 (0.2669).
    """
    grades = [grade for cell in WINE.values() for grade in cell]
    design = np.array(
        [[temp == "warm", contact == "yes"] for (temp, contact), cell in WINE.items() for _ in cell], float
    )
    model = OrderedModel(grades, design, distr="probit").fit(method="bfgs", disp=0)
    assert model.params[:2] == pytest.approx([1.4994, 0.8677], abs=1e-3)
    scatter = pooled(*WINE.values())
    cells = {key: centre_of_grades(cell, scatter) for key, cell in WINE.items()}
    error = sum(cell.error**2 for cell in cells.values()) ** 0.5
    for place, high in enumerate(("warm", "yes")):
        contrast = sum(cell.mean * (1 if key[place] == high else -1) for key, cell in cells.items())
        assert contrast / error == pytest.approx(model.params[place] / model.bse[place], rel=0.15)


def test_other_stages_help_only_where_few_and_only_upwards() -> None:
    """Eight products have enough of their own; two don't, and a calmer stage never makes theirs look calmer."""
    wide, tight = (2, 3, 4), (3, 3, 3)
    assert pooled(*[wide] * 8, elsewhere=(tight,) * 8).borrowed == 0
    alone = pool_grades([wide, wide])
    assert alone is None
    helped = pooled(wide, wide, elsewhere=(tight,) * 4)
    assert (helped.sd, helped.borrowed) == (1.0, 4)
    assert pooled(tight, tight, elsewhere=(wide,) * 4).sd > 0.45


def test_a_cell_that_stands_out_is_a_caution_and_counts_for_more() -> None:
    """Seven equal cells and one of 1, 5, 3: Cochran's test objects, and the pooled scatter counts half as much."""
    even, uneven = pooled(*[(3, 3, 4)] * 8), pooled(*[(3, 3, 3)] * 7, (1, 5, 3))
    assert (even.uneven, uneven.uneven) == (False, True)
    assert uneven.weight == even.weight / 2


def test_half_steps_halve_the_floor_and_the_scale_must_have_steps() -> None:
    """Where half grades may be given, less scatter is hidden."""
    assert step_of([0, 0.5, 1, 2]) == 0.5
    found = pool_grades([[3, 3, 3]] * 4, step=0.5)
    assert found is not None and found.sd == pytest.approx(0.225)
    with pytest.raises(ValueError, match="scale"):
        step_of([3])


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_no_number_is_no_grade(bad: float) -> None:
    """NaN and infinity are refused by name; a single grade has no scatter; results can be pickled."""
    with pytest.raises(ValueError, match="grades"):
        spread_of([bad, 3])
    with pytest.raises(ValueError, match="step"):
        pool_grades([[3, 3]] * 8, step=0)
    assert spread_of([4]) == 0.0
    found = pooled(*[(3, 4, 3)] * 4)
    assert pickle.loads(pickle.dumps(found)) == found
