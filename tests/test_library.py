"""The public face of the package: `import sitegen`."""

import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest
from builders import write

import sitegen


def test_every_public_name_can_be_had() -> None:
    """What `__all__` lists is there and is described; `dir()` shows it before it is loaded."""
    assert set(sitegen.__all__) <= set(dir(sitegen))
    assert all(getattr(sitegen, name).__doc__ for name in sitegen.__all__)


def test_another_name_is_an_attribute_error() -> None:
    """A misspelt name fails as in any module, so that `hasattr` and imports behave."""
    with pytest.raises(AttributeError, match="'sitegen' has no attribute 'biuld'"):
        _ = sitegen.biuld  # type: ignore[attr-defined]


def test_importing_the_package_loads_nothing_of_it() -> None:
    """`import sitegen` costs no library and no part of the package: the command answers fast."""
    code = "import sys; before = set(sys.modules); import sitegen; print(sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, env=_here(), timeout=60)
    assert done.stdout == "['sitegen']\n"


def _here() -> dict[str, str]:
    return {"PYTHONPATH": str(Path(__file__).resolve().parents[1])}


def test_a_publication_is_read_checked_and_built(tmp_path: Path) -> None:
    """The functions do what the commands do: no problems, findings for each entrant of the round, a published site."""
    folder = write(tmp_path / "bench")
    problems = sitegen.Problems()
    publication = sitegen.read(folder, problems)
    assert publication is not None and not problems.has_errors and not sitegen.check(folder).has_errors
    for id, round in publication.rounds.items():
        found = sitegen.round_findings(publication, id)
        entrants = {entrant.product.id for entrant in round.entrants}
        assert found.compared and all({c.product for c in one.measured.cells} <= entrants for one in found.compared)
    built = sitegen.build(folder, tmp_path / "site")
    assert built.published and (tmp_path / "site" / "index.html").is_file()


def test_an_unknown_round_is_a_key_error(tmp_path: Path) -> None:
    """The findings of a round that isn't there are nobody's, not empty."""
    publication = sitegen.read(write(tmp_path / "bench"), sitegen.Problems())
    assert publication is not None
    with pytest.raises(KeyError, match="no-such-round"):
        sitegen.round_findings(publication, "no-such-round")


def test_types_are_shipped() -> None:
    """PEP 561: the marker `py.typed` lies in the package, so that type checkers read its annotations."""
    assert files("sitegen").joinpath("py.typed").is_file()
