"""The figures that a page shows first."""

from small_records import small_findings, small_publication

from sitegen.editorial.key_figures import MOST, KeyFigure, key_figures
from sitegen.findings.claiming.claims import Outcome
from sitegen.records.measured.round import Measure, parse_measure


def names(figures: tuple[KeyFigure, ...]) -> list[str]:
    return [figure.measured.measure.text for figure in figures]


def measures(*texts: str) -> list[Measure]:
    return [found for text in texts if (found := parse_measure(text)) is not None]


FINDINGS = small_findings(small_publication())


def test_the_author_may_name_them() -> None:
    """What the author names is shown, in that order, and nothing else."""
    assert names(key_figures(FINDINGS, "tarn", measures("spray", "mass"))) == ["spray", "mass"]


def test_one_a_protocol_at_its_last_stage() -> None:
    """Of a protocol with several stages the last is the figure, and the first stands beside it."""
    figures = key_figures(FINDINGS, "tarn")
    protocols = [figure.measured.protocol.id for figure in figures]
    assert len(protocols) == len(set(protocols)) <= MOST
    spray = next(figure for figure in figures if figure.measured.protocol.id == "spray")
    assert spray.measured.measure.text == "spray after 3 washes"
    assert spray.first is not None and spray.first.measure.text == "spray"


def test_what_was_not_measured_is_no_key_figure() -> None:
    """Fenn's run time is missing; it isn't shown, named or not, and neither is anything of a stranger."""
    assert "run_time" not in names(key_figures(FINDINGS, "fenn"))
    assert names(key_figures(FINDINGS, "fenn", measures("run_time", "mass"))) == ["mass"]
    assert key_figures(FINDINGS, "stranger") == ()


def test_a_claim_that_fails_comes_first() -> None:
    """A failed claim outweighs all else; claims stand with the figure of their protocol whatever its stage."""
    figures = key_figures(FINDINGS, "tarn")
    failing = [any(c.verdict.outcome is Outcome.DOES_NOT_HOLD for c in figure.claims) for figure in figures]
    assert failing == sorted(failing, reverse=True)
    assert [len(figure.claims) for figure in figures if figure.measured.protocol.id == "mass"] == [1]
