"""What every target is made of: how a law is broken, and what a target is."""

from collections.abc import Callable
from dataclasses import dataclass

from sitegen.problems import Problems


class Broken(AssertionError):
    """A law of reading doesn't hold."""


@dataclass(frozen=True, slots=True)
class Target:
    """One reading: `look` reads bytes and gives what was told; `seeds` are where fuzzing begins."""

    look: Callable[[bytes], Problems]
    seeds: tuple[str | bytes, ...]


def need(holds: bool, law: str, *about: object) -> None:
    """Raise Broken unless the law holds."""
    if not holds:
        raise Broken(law + "".join(f" {thing!r}" for thing in about))
