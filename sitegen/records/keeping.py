"""How a stage is told to look first whether it did the same work before. Where that is kept is not its business."""

from collections.abc import Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Keep(Protocol):
    """Gives what `make` makes: kept from before under `key`, which must name all that it depends on, or made now."""

    def __call__(self, key: str, make: Callable[[], T]) -> T: ...


def make_anew(key: str, make: Callable[[], T]) -> T:
    """Keeps nothing."""
    return make()
