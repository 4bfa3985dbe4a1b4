"""The findings of the demo's rounds, for tests of what is made of them."""

from functools import cache
from pathlib import Path

from sitegen.findings.found import RoundFindings
from sitegen.findings.rounds import find_round
from sitegen.pipeline.build import read
from sitegen.problems import Problems

DEMO = Path(__file__).parents[1] / "demo_site"


@cache
def demo_findings() -> dict[str, RoundFindings]:
    """By round."""
    problems = Problems()
    publication = read(DEMO, problems)
    assert publication is not None and not problems.has_errors
    return {
        id: find_round(round, publication.readings[id], publication.protocols, publication.products)
        for id, round in publication.rounds.items()
    }
