"""Random numbers: the generator by its published recurrence, distributions against SciPy, series against math."""

import math

import numpy as np
import pytest
from scipy import stats

from sitegen.findings.ranking.draws import Stream, exp_less_1, natural_log, turn_cosine

MULTIPLIER = 0x2360ED051FC65DA44385DF649FCCF645  # PCG's 128-bit multiplier (O'Neill 2014)
MASK = (1 << 128) - 1

# Of the stream (7, mass, fjell); Student's with 3.5 degrees of freedom.
UNIFORM = [0.01133832197131135, 0.6113352668357529]
STUDENT = [5.885236353546275, -0.47613664711716086]
NORMAL = [2.725806700891089, -0.4430830167772116]


def pcg64(state: int, increment: int, count: int) -> list[int]:
    """PCG XSL-RR 128/64 of O'Neill, HMC-CS-2014-0905, 6.3: step, fold both halves, turn by the top six bits."""
    found = []
    for _ in range(count):
        state = (state * MULTIPLIER + increment) & MASK
        folded, turn = (state >> 64) ^ (state & 0xFFFFFFFFFFFFFFFF), state >> 122
        found.append(((folded >> turn) | (folded << (64 - turn))) & 0xFFFFFFFFFFFFFFFF)
    return found


def test_the_stream_is_the_published_generator() -> None:
    """The raw numbers follow O'Neill's recurrence, step by step in whole numbers."""
    stream = Stream(7, "mass", "fjell")
    inner = stream._raw.state["state"]
    expected = [((raw >> 12) + 0.5) * 2.0**-52 for raw in pcg64(inner["state"], inner["inc"], 50)]
    assert stream.uniform(50).tolist() == expected


def test_numbers_stay_what_they_are() -> None:
    """The first numbers of a stream, written down: a change of any digit changes published shares."""
    assert Stream(7, "mass", "fjell").uniform(2).tolist() == UNIFORM
    assert Stream(7, "mass", "fjell").student(2, 3.5).tolist() == STUDENT
    assert Stream(7, "mass", "fjell").student(2).tolist() == NORMAL


def test_a_stream_belongs_to_its_name() -> None:
    """Another seed, another name or other joints between names give other numbers."""
    names = [(7, "a", "b"), (7, "ab"), (7, "b", "a"), (8, "a", "b")]
    firsts = {tuple(Stream(seed, *purpose).uniform(3).tolist()) for seed, *purpose in names}
    assert len(firsts) == len(names)


@pytest.mark.parametrize("dof", [1.0, 2.0, 3.7, 12.4, 300.0, 1e9, math.inf])
def test_student_numbers_follow_student(dof: float) -> None:
    """20 000 numbers don't depart from SciPy's t distribution (Kolmogorov-Smirnov, 1 ‰; a fixed seed)."""
    numbers = Stream(3, "t").student(20_000, dof)
    reference = stats.norm if math.isinf(dof) else stats.t(dof)
    assert stats.kstest(numbers, reference.cdf).pvalue > 0.001


def test_uniform_numbers_are_uniform_and_open() -> None:
    """None is 0 or 1, and they depart from no uniform distribution."""
    numbers = Stream(3, "u").uniform(20_000)
    assert 0 < numbers.min() and numbers.max() < 1
    assert stats.kstest(numbers, "uniform").pvalue > 0.001


def test_series_agree_with_the_library() -> None:
    """Logarithm, exponential and cosine agree with `math` to a few units in the last place."""
    v = np.concatenate([Stream(1, "v").uniform(2000), [2.0**-53, 0.25, 0.5, 0.75, 1 - 2.0**-53]])
    assert natural_log(v) == pytest.approx([math.log(x) for x in v], rel=1e-15, abs=1e-17)
    y = np.concatenate([74 * v, 1e-9 * v, [0.0]])
    assert exp_less_1(y) == pytest.approx([math.expm1(x) for x in y], rel=2e-14, abs=0)
    assert turn_cosine(v) == pytest.approx([math.cos(2 * math.pi * x) for x in v], abs=1e-15)


def test_what_no_stream_takes() -> None:
    """A seed below zero and fewer than one degree of freedom are errors."""
    with pytest.raises(ValueError, match="seed: expected 0 or more, found -1"):
        Stream(-1, "x")
    for dof in (0.5, math.nan):
        with pytest.raises(ValueError, match="degrees of freedom: expected 1 or more"):
            Stream(1, "x").student(3, dof)
