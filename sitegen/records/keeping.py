"""How a stage is told to look first whether it did the same work before. Where that is kept is not its business."""

from collections.abc import Callable, Iterable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Keep(Protocol):
    """Gives what was made before, or has it made now."""

    def __call__(self, key: str, make: Callable[[], T]) -> T:
        """What `make` makes; `key` must name all that it depends on."""

    def of_files(self, what: str, names: Iterable[str], make: Callable[[], T]) -> T:
        """What `make` makes of some files of the publication, and of nothing else that `what` doesn't name."""


class _Anew:
    def __call__(self, key: str, make: Callable[[], T]) -> T:
        return make()

    def of_files(self, what: str, names: Iterable[str], make: Callable[[], T]) -> T:
        return make()


make_anew: Keep = _Anew()
"""Keeps nothing."""
