"""Several tests at once: p adjusted so that a false alarm among all of them is as rare as the level.

Holm, Scand. J. Statist. 6 (1979) 65: the smallest p counts as many times as there are tests, the next as many times
as are left, and none less than the one before. It asks nothing of how the tests hang together.
"""

from collections.abc import Hashable, Mapping
from typing import TypeVar

T = TypeVar("T", bound=Hashable)


def holm(chances: Mapping[T, float]) -> dict[T, float]:
    """The p of several tests by name, adjusted, smallest first. Source: the module's text.

    >>> holm({"a": 0.01, "b": 0.04, "c": 0.03})
    {'a': 0.03, 'c': 0.06, 'b': 0.06}
    """
    found: dict[T, float] = {}
    least = 0.0
    for place, (name, p) in enumerate(sorted(chances.items(), key=lambda item: item[1])):
        least = max(least, min(1.0, (len(chances) - place) * p))
        found[name] = least
    return found
