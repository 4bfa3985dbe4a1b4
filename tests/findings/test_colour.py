"""CIEDE2000 against the published pairs, CIELAB against known colours."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.photos.colour import colour_difference, lab_of, linear_light

# Sharma, Wu & Dalal, Color Research & Application 30 (2005) 21, table 1; the data set as published by the
# University of Rochester. L1 a1 b1 L2 a2 b2 ΔE00.
PAIRS = """
50 2.6772 -79.7751 50 0 -82.7485 2.0425
50 3.1571 -77.2803 50 0 -82.7485 2.8615
50 2.8361 -74.0200 50 0 -82.7485 3.4412
50 -1.3802 -84.2814 50 0 -82.7485 1.0000
50 0 0 50 -1 2 2.3669
50 2.49 -0.0010 50 -2.49 0.0009 7.1792
50 2.49 -0.0010 50 -2.49 0.0011 7.2195
50 -0.0010 2.49 50 0.0010 -2.49 4.8045
50 -0.0010 2.49 50 0.0011 -2.49 4.7461
50 2.5 0 50 0 -2.5 4.3065
50 2.5 0 73 25 -18 27.1492
50 2.5 0 61 -5 29 22.8977
50 2.5 0 56 -27 -3 31.9030
50 2.5 0 58 24 15 19.4535
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
TABLE = np.array([[float(v) for v in line.split()] for line in PAIRS.split("\n") if line])
LAB = st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)).map(np.array)


@pytest.mark.parametrize("row", TABLE, ids=[str(i) for i in range(1, len(TABLE) + 1)])
def test_published_pairs_in_both_directions(row: np.ndarray) -> None:
    """Each pair gives the printed difference to 1e-4, first to second and second to first."""
    one, other, expected = row[:3], row[3:6], row[6]
    assert colour_difference(one, other) == pytest.approx(expected, abs=1e-4)
    assert colour_difference(other, one) == pytest.approx(expected, abs=1e-4)


def test_all_pairs_at_once() -> None:
    """An array of colours gives the same as one by one."""
    found = colour_difference(TABLE[:, :3], TABLE[:, 3:6])
    assert found == pytest.approx(TABLE[:, 6], abs=1e-4)


@given(LAB, LAB)
def test_a_difference_has_no_direction(one: np.ndarray, other: np.ndarray) -> None:
    """ΔE00 is symmetric, never negative, and nothing from itself."""
    there, back = colour_difference(one, other), colour_difference(other, one)
    assert there == pytest.approx(back, rel=1e-9, abs=1e-9)
    assert there >= 0
    assert colour_difference(one, one) == 0


def test_greys_differ_by_lightness_alone() -> None:
    """Between greys ΔE00 is ΔL/SL, with SL = 1 + 0.015·(L̄-50)²/√(20+(L̄-50)²): by hand 20/1.6657 for 80, 100."""
    expected = 20 / (1 + 0.015 * 40**2 / (20 + 40**2) ** 0.5)
    assert colour_difference(np.array([80, 0, 0]), np.array([100, 0, 0])) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((255, 255, 255), (100, 0, 0)),
        ((0, 0, 0), (0, 0, 0)),
        ((255, 0, 0), (53.24, 80.09, 67.20)),
        ((0, 255, 0), (87.73, -86.18, 83.18)),
        ((0, 0, 255), (32.30, 79.19, -107.86)),
    ],
    ids=["white", "black", "red", "green", "blue"],
)
def test_the_primaries_of_srgb(rgb: tuple[int, ...], lab: tuple[float, ...]) -> None:
    """CIELAB of sRGB's corners under D65, widely tabulated to two decimals (from memory)."""
    assert lab_of(linear_light(np.array(rgb))) == pytest.approx(lab, abs=0.02)
