"""What the tests of this folder share: a source from a text, and problems as they are printed."""

from collections.abc import Callable

import pytest

from sitegen.problems import Problems, render
from sitegen.text.source import Source


def _printed(problems: Problems, text: str, first_line: int = 1) -> str:
    lines = text.split("\n")
    return "\n".join(render(p, lines[p.place.line - first_line]) for p in problems.worst_first())


@pytest.fixture
def printed() -> Callable[..., str]:
    """All problems of a text as its author sees them, worst first."""
    return _printed


@pytest.fixture
def source() -> Callable[..., Source]:
    """A source made of a text; its digest plays no part in these tests."""
    return lambda text, name="x.yaml": Source(name, text, "")
