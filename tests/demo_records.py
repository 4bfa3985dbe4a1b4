"""The findings of the demo's rounds, for tests of what is made of them."""

from functools import cache
from pathlib import Path

from sitegen import stock
from sitegen.findings.found import RoundFindings
from sitegen.findings.rounds import find_round
from sitegen.problems import Problems
from sitegen.records.publication import read_publication
from sitegen.records.stock_records import read_stock
from sitegen.text.source import walk_sources

DEMO = Path(__file__).parents[1] / "demo_site"


@cache
def demo_findings() -> dict[str, RoundFindings]:
    """By round."""
    problems = Problems()
    records = read_stock(stock.content_folder(), problems)
    publication = read_publication(DEMO, walk_sources(DEMO), records, problems)
    assert publication is not None and not problems.has_errors
    return {
        id: find_round(round, publication.readings[id], publication.protocols, publication.products)
        for id, round in publication.rounds.items()
    }
