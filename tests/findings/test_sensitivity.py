"""Which weight would topple the first: by hand, and by trying."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.ranking.order import Weighting
from sitegen.findings.ranking.ordered import Toppling
from sitegen.findings.ranking.sensitivity import find_toppling

WORTHS = st.dictionaries(
    st.sampled_from("abcde"), st.tuples(*[st.integers(0, 20).map(lambda n: 5.0 * n)] * 3), min_size=2
)
WEIGHTS = st.tuples(*[st.integers(0, 6).map(float)] * 3).filter(any)


def toppling(rows: dict[str, tuple[float, ...]], weights: tuple[float, ...]) -> Toppling:
    """For whoever leads (equal: the first id)."""
    use = Weighting(use="use", weights=tuple((f"m{i}", w) for i, w in enumerate(weights)))
    return find_toppling(use, rows, leader(rows, weights))


def score(row: tuple[float, ...], weights: tuple[float, ...]) -> float:
    """The weighted sum."""
    return sum(w * v for w, v in zip(weights, row, strict=True))


def leader(rows: dict[str, tuple[float, ...]], weights: tuple[float, ...]) -> str:
    """Who has the highest sum."""
    return min(rows, key=lambda product: (-score(rows[product], weights), product))


def test_by_hand() -> None:
    """Lead 4·(75-50) + 1·(20-70) = 50. Spray down by 50/25 to 2, or mass up by 50/50 to 2: mass is nearer."""
    found = toppling({"a": (75.0, 20.0), "b": (50.0, 70.0)}, (4.0, 1.0))
    assert found.smallest is not None
    assert (found.smallest.product, found.smallest.measure) == ("b", "m1")
    assert (found.smallest.was, found.smallest.tips_at, found.smallest.of_all) == (1, 2, 1 / 5)


def test_no_single_weight_can() -> None:
    """Who is better in every measure leads at any weights."""
    found = toppling({"a": (75.0, 70.0), "b": (50.0, 20.0)}, (4.0, 1.0))
    assert (found.smallest, found.changes) == (None, ())


def test_a_weight_of_zero_is_as_far_as_it_goes() -> None:
    """Leading by the only weighed measure where it's the other's equal elsewhere: at 0 all are level, and
    nobody is toppled."""
    assert toppling({"a": (80.0, 50.0), "b": (50.0, 50.0)}, (1.0, 1.0)).smallest is None


def test_level_already() -> None:
    """Equal scores: a change of nothing, in a measure in which they differ."""
    found = toppling({"a": (80.0, 20.0), "b": (20.0, 80.0)}, (1.0, 1.0))
    assert found.smallest is not None
    assert (found.smallest.of_all, found.smallest.tips_at) == (0, 1)


def changed(weights: tuple[float, ...], measure: str, value: float) -> tuple[float, ...]:
    """The weights with one replaced."""
    at = int(measure[1:])
    return (*weights[:at], value, *weights[at + 1 :])


@given(WORTHS, WEIGHTS)
def test_every_change_tips_where_it_says(rows: dict[str, tuple[float, ...]], weights: tuple[float, ...]) -> None:
    """At `tips_at` both are level; a little beyond, the other leads the first; a little before, it doesn't."""
    found = toppling(rows, weights)
    first = rows[found.first]
    for change in found.changes:
        other, step = rows[change.product], 1e-3

        def lead(weight: float, change=change, other=other) -> float:  # type: ignore[no-untyped-def]
            there = changed(weights, change.measure, weight)
            return score(first, there) - score(other, there)

        assert lead(change.tips_at) == pytest.approx(0, abs=1e-6)
        at = int(change.measure[1:])
        way = 1.0 if other[at] > first[at] else -1.0
        assert change.tips_at + way * step >= 0 or change.tips_at < step
        assert lead(change.tips_at + way * step) < 0 < lead(change.tips_at - way * step)


@given(WORTHS, WEIGHTS)
def test_nothing_smaller_tips(rows: dict[str, tuple[float, ...]], weights: tuple[float, ...]) -> None:
    """Trying every weight at many places closer than the smallest change leaves the first in front; where no
    single weight can, none does, however far it goes."""
    found = toppling(rows, weights)
    total = sum(weights)
    limit = found.smallest.of_all * total if found.smallest else 1000 * total
    for at, weight in enumerate(weights):
        for part in (-0.999, -0.5, -0.1, 0.1, 0.5, 0.999):
            there = changed(weights, f"m{at}", max(0.0, weight + part * limit))
            best = max(score(row, there) for row in rows.values())
            assert score(rows[found.first], there) >= best - 1e-6 * max(1, limit)


def test_what_does_not_fit() -> None:
    """Rows of another length, and a first that isn't there."""
    use = Weighting(use="use", weights=(("m0", 1.0),))
    with pytest.raises(ValueError, match="b: expected 1 worths, found 2"):
        find_toppling(use, {"a": (1.0,), "b": (1.0, 2.0)}, "a")
    with pytest.raises(KeyError):
        find_toppling(use, {"a": (1.0,)}, "z")
    found = find_toppling(use, {"a": (1.0,)}, "a")
    assert (found.smallest, pickle.loads(pickle.dumps(found))) == (None, found)
