"""Earlier rounds on the same instrument: what they lend, and to whom."""

import datetime as dt
from dataclasses import replace

import pytest
from builders import SMALL
from small_records import small_findings, small_publication

from sitegen.findings.rounds import round_findings
from sitegen.findings.statistics.earlier import earlier_rounds, earlier_scatter
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.records.measured.round import parse_measure
from sitegen.records.publication import Publication

ROUND, OLD = "rounds/trousers/round.yaml", "rounds/old/round.yaml"
NAMED = SMALL[ROUND].replace("mass: {resolution", "mass: {name: bench scale, resolution")
EARLIER = """\
title: {de: Alt, en: Old}
from: 2025-03-01
entrants: [tarn, fenn]
protocols: [mass]
instruments: {mass: {name: bench scale, resolution: 0.5 g}}
"""
READ = "product,specimen,value\ntarn,1,410\ntarn,2,412\nfenn,1,389\nfenn,2,389\nfenn,3,392\n"


def two_rounds(round: str = NAMED, earlier: str = EARLIER) -> Publication:
    """The small publication with a round before its own."""
    return small_publication({ROUND: round, OLD: earlier, "rounds/old/mass.csv": READ})


def test_an_earlier_round_lends_its_repeats() -> None:
    """√(Σνs²/Σν) over its products, by hand: (1·2 + 2·3)/3 = 8/3; joined with this round's, which alone have three degrees."""
    publication = two_rounds()
    assert earlier_rounds(publication.rounds) == {"trousers": ("old",)}
    rounds = publication.rounds
    found = earlier_scatter(rounds["trousers"], [rounds["old"]], publication.readings, publication.protocols)
    assert found["mass"].s ** 2 == pytest.approx(8 / 3) and found["mass"].dof == 3
    mass = round_findings(publication, "trousers").of(parse_measure("mass"))  # type: ignore[arg-type]
    assert mass is not None and mass.measured.pooling is not None and mass.measured.pooling.pooled is not None
    assert (mass.measured.pooling.pooled.dof, mass.measured.pooling.pooled.earlier) == (6, 3)


def test_a_single_weighing_is_known_by_earlier_ones() -> None:
    """Each product weighed once: with the scale's scatter from last year there is a ±, and letters."""
    single = "product,specimen,value\ntarn,1,412.0\nfenn,1,388.0\n"
    publication = small_publication(
        {ROUND: NAMED, OLD: EARLIER, "rounds/old/mass.csv": READ, "rounds/trousers/mass.csv": single}
    )
    alone = small_findings(publication).of(parse_measure("mass"))  # type: ignore[arg-type]
    known = round_findings(publication, "trousers").of(parse_measure("mass"))  # type: ignore[arg-type]
    assert alone is not None and alone.letters == {}
    assert known is not None and known.letters == {"fenn": "a", "tarn": "b"}
    summary = known.measured.cell("tarn").summary
    assert isinstance(summary, RatioSummary) and summary.expanded is not None and summary.n == 1


@pytest.mark.parametrize(
    "earlier",
    [
        EARLIER.replace("bench scale", "another"),
        EARLIER.replace("name: bench scale, ", ""),
        EARLIER.replace("2025", "2027"),
    ],
)
def test_only_earlier_rounds_on_the_same_instrument_count(earlier: str) -> None:
    """Another instrument, none named, a later round: none lends anything, so no published figure moves."""
    found = earlier_rounds(two_rounds(earlier=earlier).rounds)
    assert "trousers" not in found


def test_a_specimens_scatter_is_not_lent() -> None:
    """Where pieces differ, last year's pieces say nothing of this year's."""
    publication = two_rounds()
    protocols = {"mass": replace(publication.protocols["mass"], scatter="specimen")}
    rounds = publication.rounds
    assert earlier_scatter(rounds["trousers"], [rounds["old"]], publication.readings, protocols) == {}
    assert rounds["old"].start == dt.date(2025, 3, 1)
