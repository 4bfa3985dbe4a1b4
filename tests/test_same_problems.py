"""The same faults are told in the same order, whatever order the disk gives names in, and however often it is asked."""

import os
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from invalid import CASES, lay_out, printed

from sitegen.pipeline.build import check

BROKEN = sorted(case.name for case in CASES.iterdir() if (case / "expected.txt").is_file())[::6]


class _Shuffled:
    """What os.scandir gives, in an order of chance."""

    def __init__(self, entries: Any, chance: random.Random) -> None:
        with entries:
            self._entries = list(entries)
        chance.shuffle(self._entries)

    def __enter__(self) -> Iterator[Any]:
        return iter(self._entries)

    def __exit__(self, *words: object) -> None:
        """Closed already."""

    def __iter__(self) -> Iterator[Any]:
        return iter(self._entries)


@pytest.mark.parametrize("name", BROKEN)
def test_the_same_problems_twice(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken publication, asked three times while the disk lists its folders in another order each time."""
    folder = lay_out(CASES / name, tmp_path / "pub")
    first = check(folder)
    scan, listing = os.scandir, os.listdir
    for seed in (1, 2):
        chance = random.Random(seed)
        monkeypatch.setattr(os, "scandir", lambda path=".", chance=chance: _Shuffled(scan(path), chance))
        monkeypatch.setattr(
            os, "listdir", lambda path=".", chance=chance: chance.sample(found := listing(path), len(found))
        )
        again = check(folder)
        monkeypatch.undo()
        assert tuple(again) == tuple(first)  # found in the same order, not only told in it
        assert printed(folder, again) == printed(folder, first)
