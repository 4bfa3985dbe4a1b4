"""How often findings on grades are right: the short form of `python -m bench.operating_grades`.

The limits are those of the long form with what so few rounds leave to chance (three standard errors).
"""

import math

import pytest

from bench import operating_grades as bench

ROUNDS = 300


def within(limit: float, share: float) -> float:
    """The limit in per cent with three standard errors of so many rounds."""
    return limit + 300 * math.sqrt(share * (1 - share) / ROUNDS)


@pytest.mark.parametrize(
    "spreads",
    [[0.5] * 8, [0.3 + 0.9 * i / 7 for i in range(8)], [0.4] * 7 + [1.2], [0.5] * 4],
    ids=["alike", "uneven", "one x 3", "four"],
)
def test_equal_products_are_seldom_told_apart(spreads: list[float]) -> None:
    """Thresholds uneven, scatter unequal: at most 6 of 100 rounds have a false letter."""
    alarms = bench.letter_alarms(bench.from_latent(spreads, 3.0, bench.UNEVEN), 3, ROUNDS)
    assert alarms <= within(6, 0.06)


def test_mostly_5_is_told_from_mostly_3() -> None:
    """Eight products, three specimens: at least 80 of 100 such pairs."""
    assert bench.letter_power("mostly 3", "mostly 5", 8, 3, 100) >= 80


def test_a_fall_of_two_grades_is_said_to_be_real() -> None:
    """One product of eight: in at least 90 of 100 rounds, and of the others seldom any."""
    power, alarms = bench.change_counts(8, 3, 2.0, ROUNDS, 0.5, bench.EVEN, 1.0)
    assert power >= 90 - 300 * math.sqrt(0.09 / ROUNDS)
    assert alarms <= within(6, 0.06)


def test_claims_are_seldom_judged_wrongly() -> None:
    """Half of the specimens miss it: "holds" at most 2.5 of 100; one in ten does: "does not hold" at most 3."""
    assert bench.wrong_claims(3, ROUNDS, 0.5, 0.5)[0] <= within(2.5, 0.025)
    assert bench.wrong_claims(3, ROUNDS, 0.5, 0.9)[1] <= within(3, 0.03)


def test_first_in_n_of_100_is_about_that_often_the_best() -> None:
    """Over all bands together, within 6 points and what so few rounds leave to chance."""
    bands = list(bench.leader_bands(3, ROUNDS, 0.5, bench.EVEN))
    count = sum(n for _, n, _, _ in bands)
    said = sum(n * value for _, n, value, _ in bands) / count
    true = sum(n * value for _, n, _, value in bands) / count
    assert abs(said - true) <= within(6, 0.5)
