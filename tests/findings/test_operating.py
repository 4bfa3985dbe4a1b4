"""How often findings on quantities are right in untidy rounds: the short form of `python -m bench.operating`.

Seeded rounds with a known truth. A gate is held where the share that came out, less three standard errors, stays within it:
the full table in DEVELOPERS.md has the figures.
"""

import math

import pytest

from bench.operating import (
    Setting,
    coverage,
    false_alarms,
    leaders,
    mass_protocol,
    power,
    settings,
    wrong_words,
)
from sitegen.records.measured.protocol import INSTRUMENT, Protocol

ROUNDS = 120
UNEVEN = Setting("few readings, widest", (2.5, 1.5, 1.0, 0.5), (2, 3, 4, 6))
UNTIDY = [(4, 0, UNEVEN)] + [(k, n, setting) for k, n in ((2, 3), (4, 3)) for setting in settings(k, n)]


@pytest.fixture(scope="module")
def protocol() -> Protocol:
    """The stock's weighing."""
    return mass_protocol()


def above(share: float, gate: float, rounds: int = ROUNDS) -> bool:
    """Whether a share is surely above a gate."""
    return share - gate > 3 * math.sqrt(gate * (1 - gate) / rounds)


@pytest.mark.parametrize(("k", "n", "setting"), UNTIDY, ids=[f"{k}x{n} {s.name}" for k, n, s in UNTIDY])
def test_intervals_and_letters_hold_in_untidy_rounds(k: int, n: int, setting: Setting, protocol: Protocol) -> None:
    """Intervals hold the truth in 93 of 100 for every kind of entrant; at most 5.5 of 100 rounds raise a false alarm."""
    assert not above(1 - coverage(setting, protocol, ROUNDS), 0.07)
    assert not above(false_alarms(setting, protocol, ROUNDS), 0.055)


@pytest.mark.parametrize("spreads", [(1.0, 1.0, 1.0), (4.0, 1.0, 1.0)])
def test_claims_at_the_limit_get_few_wrong_words(spreads: tuple[float, ...], protocol: Protocol) -> None:
    """A claim exactly at the true value is confirmed or refuted wrongly in at most 3 of 100, each way."""
    for word in wrong_words(Setting("claims", spreads, (3,) * 3), protocol, ROUNDS):
        assert not above(word, 0.03)


def test_readings_beyond_a_limit_raise_no_false_alarms(protocol: Protocol) -> None:
    """Half of the readings beyond the end of the rig: letters and claims keep their promises."""
    setting = Setting("limit", (1.0,) * 3, (6,) * 3)
    assert not above(false_alarms(setting, protocol, ROUNDS, 100.0), 0.055)
    assert not any(above(word, 0.03) for word in wrong_words(setting, protocol, ROUNDS, 100.0))


def test_a_difference_of_three_standard_deviations_is_seen(protocol: Protocol) -> None:
    """Eight entrants weighed three times, one of them 3 sd off: in 85 of 100 rounds it is told apart from somebody, in more
    than half of all pairs from each.
    """
    pairs, seen = power(Setting("p", (1.0,) * 8, (3,) * 8, scatter=INSTRUMENT), protocol, ROUNDS, 3.0)
    assert not above(1 - seen, 0.15) and pairs > 0.5


def test_first_in_so_many_of_a_hundred_is_true(protocol: Protocol) -> None:
    """Over all bands of what is said of the leader, weighed by how often, it is off by at most 6 points on average."""
    found = leaders(Setting("l", (1.0,) * 6, (3,) * 6), protocol, ROUNDS)
    rounds = sum(count for count, _, _ in found.values())
    bias = sum(count * (said - true) for count, said, true in found.values()) / rounds
    assert abs(bias) < 0.06 + 3 * 0.5 / math.sqrt(rounds)
