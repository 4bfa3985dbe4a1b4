"""The two or three facts of a round, on the demo's own: a difference that can't be told is never among them."""

from demo_records import demo_findings

from sitegen.editorial.round_facts import MOST, FailedClaim, KeptGrade, OwnEnd, round_facts
from sitegen.editorial.standing import standing_of
from sitegen.findings.claiming.claims import Outcome


def test_at_most_three_and_the_failed_claim_first() -> None:
    """A maker's figure that the bench refutes is what a reader needs first."""
    for findings in demo_findings().values():
        facts = round_facts(findings)
        assert len(facts) <= MOST
        refuted = any(judged.verdict.outcome is Outcome.DOES_NOT_HOLD for judged in findings.claims)
        assert isinstance(facts[0], FailedClaim) is refuted


def test_only_what_could_be_shown_is_said_of_two() -> None:
    """Whoever is called the best differs clearly from everybody else in the round."""
    for findings in demo_findings().values():
        for fact in round_facts(findings):
            if isinstance(fact, OwnEnd):
                entry = findings.of(fact.measured.measure)
                standing = standing_of(entry, fact.cell.product) if entry else None
                assert (
                    standing is not None and not standing.level and standing.place(fact.measured.protocol.better) == 1
                )


def test_what_washing_left_is_said_of_every_specimen() -> None:
    """In the demo's trousers every specimen of Kaarnu kept grade 4 to the end, and Wegwarte's went from 5 to 1 or 2."""
    (kept,) = (fact for fact in round_facts(demo_findings()["trousers-2026"]) if isinstance(fact, KeptGrade))
    assert (str(kept.grade), kept.kept) == ("4", ("kaarnu",))
    assert kept.fell is not None and kept.fell[1].product == "wegwarte"
