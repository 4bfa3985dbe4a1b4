"""Steps: the exact optimum, found again by trying every staircase."""

import itertools
import math
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.reasons import Reason
from sitegen.findings.statistics import steps
from sitegen.findings.statistics.steps import MOST_POINTS, SHORTEST_STEP, find_steps, optimal_starts


def price(values: list[float], starts: tuple[int, ...], penalty: float) -> float:
    """Sum of squares about each step's mean plus the penalty of each step, straight from the definition."""
    pieces = [values[a:b] for a, b in zip(starts, [*starts[1:], len(values)], strict=True)]
    return sum(float(np.var(p)) * len(p) + penalty for p in pieces)


def cheapest(values: list[float], penalty: float) -> float:
    """The least price over every way to cut the points into steps of at least two."""
    n = len(values)
    ways = (
        (0, *cuts)
        for k in range(n // SHORTEST_STEP)
        for cuts in itertools.combinations(range(SHORTEST_STEP, n - 1), k)
        if all(b - a >= SHORTEST_STEP for a, b in itertools.pairwise((0, *cuts, n)))
    )
    return min(price(values, way, penalty) for way in ways)


@settings(max_examples=150)
@given(st.lists(st.integers(0, 30).map(float), min_size=2, max_size=10), st.floats(0.1, 200))
def test_no_staircase_is_cheaper(values: list[float], penalty: float) -> None:
    """Pruning loses nothing: the price equals the least over all partitions. Source: exhaustive search."""
    starts = optimal_starts(values, penalty)
    assert price(values, starts, penalty) == pytest.approx(cheapest(values, penalty), abs=1e-6)
    assert all(b - a >= SHORTEST_STEP for a, b in itertools.pairwise((*starts, len(values))))


def test_steps_of_a_noisy_staircase_are_found() -> None:
    """400, 180, 60 lm with noise of 4 lm, 40 points each: the cuts lie at 40 and 80, the levels within 3."""
    random = np.random.default_rng(7)
    values = np.repeat([400.0, 180.0, 60.0], 40) + random.normal(0, 4, 120)
    found = find_steps(range(120), values.tolist(), 1)
    assert [step.first for step in found.steps] == [0, 40, 80]
    assert [step.level for step in found.steps] == pytest.approx([400, 180, 60], abs=3)
    assert found.noise == pytest.approx(4, rel=0.3)
    assert found.reasons == ()


def test_noise_alone_is_one_step() -> None:
    """Of 100 records of pure noise at most 7 show a false step (the modified BIC's penalty; the plain one's:
    16)."""
    random = np.random.default_rng(8)
    false = sum(len(find_steps(range(60), random.normal(100, 3, 60).tolist(), 0.1).steps) > 1 for _ in range(100))
    assert false <= 7


def test_a_steady_slope_is_said_to_be_one() -> None:
    """A line imitated by many short steps carries a reason."""
    found = find_steps(range(60), [600.0 - 10 * i for i in range(60)], 1)
    assert found.reasons == (Reason.STEPS_FOLLOW_A_SLOPE,)


def test_equal_values_are_one_step_whatever_the_display() -> None:
    """No noise at all: the floor by the resolution keeps the penalty above zero."""
    found = find_steps([0, 1, 2], [5, 5, 5], 0.5)
    assert [(s.first, s.last, s.level, s.from_time, s.to_time) for s in found.steps] == [(0, 2, 5.0, 0.0, 2.0)]
    assert found.noise == pytest.approx(0.5 / math.sqrt(12))


def test_a_single_stray_reading_is_no_step() -> None:
    """One point can't be a step, and a dip of one point in a long plateau leaves it whole or pairs it."""
    found = find_steps(range(9), [100, 100, 100, 100, 99, 100, 100, 100, 100], 1)
    assert len(found.steps) == 1


@given(st.integers(-1000, 1000), st.integers(1, 50))
def test_shift_and_unit_leave_the_cuts(shift: int, unit: int) -> None:
    """Zero point and unit of the values move no step."""
    values = [400, 401, 399, 400, 100, 101, 100, 99, 100]
    plain = find_steps(range(9), values, 1)
    moved = find_steps(range(9), [v * unit + shift for v in values], unit)
    assert [s.first for s in moved.steps] == [s.first for s in plain.steps]


def test_broken_input_is_refused() -> None:
    """Time going back, NaN and a resolution of zero stop here too; a good result can be pickled."""
    with pytest.raises(ValueError, match=r"times\[1\]"):
        find_steps([1, 0], [1, 1], 1)
    with pytest.raises(ValueError, match=r"values\[0\]"):
        find_steps([0, 1], [math.nan, 1], 1)
    with pytest.raises(ValueError, match="resolution"):
        find_steps([0, 1], [1, 1], 0)
    found = find_steps([0, 1], [1, 1], 1)
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_logger_s_curve_has_its_steps() -> None:
    """Twenty thousand noisy points of three levels: each step is found to a 600th of the curve, its level to the noise."""
    rng = np.random.Generator(np.random.PCG64(5))
    ends, levels = [0, 7_000, 12_345, 20_000], [400.0, 250.0, 90.0]
    values = np.concatenate(
        [np.full(b - a, level) for (a, b), level in zip(itertools.pairwise(ends), levels, strict=True)]
    )
    values += rng.normal(0, 2, len(values))
    found = find_steps(range(len(values)), values.tolist(), 1)
    assert len(found.steps) == 3 and found.reasons == ()
    for step, end, level in zip(found.steps, ends[1:], levels, strict=True):
        assert abs(step.last + 1 - end) <= 2 * len(values) / MOST_POINTS
        assert step.level == pytest.approx(level, abs=1.5)
    assert found.noise == pytest.approx(2, rel=0.05)


def test_a_long_slope_is_looked_at_in_bounded_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many points a logger took, so many are weighed against one another."""
    weighed: list[int] = []
    real = steps.optimal_starts
    monkeypatch.setattr(
        steps, "optimal_starts", lambda values, penalty: weighed.append(len(values)) or real(values, penalty)
    )
    for count in (MOST_POINTS, MOST_POINTS + 1, 50_000):
        find_steps(range(count), [300 - n / count for n in range(count)], 1)
    assert weighed[0] == MOST_POINTS and max(weighed) == MOST_POINTS
