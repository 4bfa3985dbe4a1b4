"""What tests of several folders share."""

from pathlib import Path

import pytest
from builders import write


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """The sound small publication in a folder of its own."""
    return write(tmp_path / "moorkamp")
