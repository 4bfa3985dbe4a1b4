"""A round's findings: real differences as letters, claims held against what was measured, in the maker's own unit."""

from decimal import Decimal

import pytest
from builders import SMALL
from small_records import small_findings, small_publication

from sitegen.findings import rounds
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import RoundFindings
from sitegen.records.measured.round import parse_measure

TARN, ROUND, MASS = "products/tarn.yaml", "rounds/trousers/round.yaml", "rounds/trousers/mass.csv"
CLAIM = "{protocol: mass, value: 412 g, tolerance: 3 %, source: {de: Etikett, en: label}, date: 2026-09-01}"


def with_claim(claim: str) -> RoundFindings:
    text = SMALL[TARN].replace(CLAIM, claim)
    assert text != SMALL[TARN] or claim == CLAIM
    return small_findings(small_publication({TARN: text}))


def outcome(claim: str) -> Outcome:
    (judged,) = with_claim(claim).claims
    return judged.verdict.outcome


# 412.0 g were measured, give or take 1.4 g.
CLAIMS = [
    ("{protocol: mass, value: 412 g, tolerance: 3 %, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 0.412 kg, tolerance: 12 g, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 14.53 oz, tolerance: 3 %, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 380 g, tolerance: 3 %, source: x}", Outcome.DOES_NOT_HOLD),
    ("{protocol: mass, value: 400 g, bound: at most, source: x}", Outcome.DOES_NOT_HOLD),
    ("{protocol: mass, value: 450 g, bound: at most, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 400 g, bound: at least, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 412.0 g, tolerance: 0.5 g, bound: about, source: x}", Outcome.CANNOT_BE_TOLD),
    # Less is better in mass, so a plain figure is one not to be passed, as precisely as it is written.
    ("{protocol: mass, value: 450 g, source: x}", Outcome.HOLDS),
    ("{protocol: mass, value: 450 g, bound: about, source: x}", Outcome.DOES_NOT_HOLD),
    ("{protocol: mass, value: 409 g, source: x}", Outcome.DOES_NOT_HOLD),
    ("{protocol: mass, value: 411 g, source: x}", Outcome.CANNOT_BE_TOLD),
    # A single run has no spread, so whether it was a good day can't be told.
    ("{protocol: run_time, value: 2 h, bound: at least, source: x}", Outcome.CANNOT_BE_TOLD),
]


@pytest.mark.parametrize(("claim", "expected"), CLAIMS, ids=[claim for claim, _ in CLAIMS])
def test_claims_are_judged_with_tolerance_and_uncertainty(claim: str, expected: Outcome) -> None:
    """Clearly inside holds, clearly outside does not, and between the two nothing can be told (JCGM 106:2012, 8; from memory)."""
    assert outcome(claim) is expected


@pytest.mark.parametrize(("claimed", "expected"), [("2 h", Outcome.HOLDS), ("6 h", Outcome.DOES_NOT_HOLD)])
def test_a_run_time_is_judged_by_several_runs(claimed: str, expected: Outcome) -> None:
    """Three runs of just under three hours: two hours hold, six don't; the claim is a time, whatever the curve's unit."""
    rows = ["product,specimen,time,value"]
    for run, last in (("1", 20), ("2", 22), ("3", 18)):
        rows += [f"tarn,{run},{time},{value}" for time, value in ((0, 300), (60, 290), (120, 140), (180, last))]
    text = SMALL[TARN].replace(CLAIM, f"{{protocol: run_time, value: {claimed}, bound: at least, source: x}}")
    publication = small_publication({TARN: text, "rounds/trousers/run_time.csv": "\n".join(rows) + "\n"})
    (judged,) = small_findings(publication).claims
    assert judged.verdict.outcome is expected


def test_a_claim_for_a_stage_meets_that_stage() -> None:
    """What a maker claims after washing isn't judged by the new sample."""
    findings = with_claim("{protocol: spray, value: 5, stage: after 3 washes, bound: at least, source: x}")
    (judged,) = findings.claims
    assert judged.measure == parse_measure("spray after 3 washes")
    assert judged.verdict.outcome is not Outcome.HOLDS


def test_a_claim_without_a_finding_is_not_judged() -> None:
    """Nothing measured, no verdict: no nought, no "does not hold"."""
    assert with_claim("{protocol: drying_time, value: 60 min, source: x}").claims == ()
    assert with_claim("{protocol: mass, value: 400 g, stage: after 3 washes, source: x}").claims == ()


def test_the_tested_version_is_judged() -> None:
    """A round names the version; where it doesn't, the newest counts. An older version's claim is not held against it."""
    older = SMALL[TARN].replace(
        "care: [wash.40]", "care: [wash.40]\n    claims: [{protocol: mass, value: 999 g, source: x}]"
    )
    publication = small_publication({TARN: older})
    (judged,) = small_findings(publication).claims
    assert judged.value == 412
    named = SMALL[ROUND].replace("[tarn,", '[{product: tarn, version: "2025"},')
    publication = small_publication({TARN: older, ROUND: named})
    (judged,) = small_findings(publication).claims
    assert judged.value == 999
    entrant = publication.rounds["trousers"].entrants[0]
    version = rounds.tested_version(entrant, publication.products)
    assert version is not None and version.id.id == "2025"


def test_a_plain_figure_is_meant_as_the_direction_of_its_protocol() -> None:
    """At least where more is better, at most where less is, about where neither; the maker's own word goes first."""
    (judged,) = with_claim("{protocol: run_time, value: 2 h, source: x}").claims
    assert judged.claim.meant("higher") == "at least"
    assert judged.claim.meant("lower") == "at most"
    assert judged.claim.meant("neither") == "about"
    (own,) = with_claim("{protocol: mass, value: 412 g, bound: about, source: x}").claims
    assert own.claim.meant("lower") == "about"


def test_letters_group_what_cannot_be_told_apart() -> None:
    """24 g apart with a spread of half a gram: two groups, the lighter one first, for lower is better."""
    findings = small_findings(small_publication())
    compared = findings.of(parse_measure("mass"))  # type: ignore[arg-type]
    assert compared is not None and compared.letters == {"fenn": "a", "tarn": "b"}
    assert findings.letters()["tarn mass"] == "b"


def test_nothing_shown_is_no_letter() -> None:
    """Three grades against three can't show a difference at 5 %: then there is no letter, which would look like a finding."""
    compared = small_findings(small_publication()).of(parse_measure("spray"))  # type: ignore[arg-type]
    assert compared is not None and compared.letters == {}


def test_the_same_weights_share_a_letter() -> None:
    """Within the spread nobody wins."""
    alike = SMALL[MASS].replace("388.0", "411.8").replace("389.5", "412.4")
    compared = small_findings(small_publication({MASS: alike})).of(parse_measure("mass"))  # type: ignore[arg-type]
    assert compared is not None and compared.letters == {"fenn": "a", "tarn": "a"}


def test_a_round_knows_its_measures_and_claims() -> None:
    """Looked up by measure and by product; what isn't there is None or nothing."""
    findings = small_findings(small_publication())
    assert findings.of(parse_measure("drying_time")) is None  # type: ignore[arg-type]
    assert [judged.product for judged in findings.claims_of("tarn")] == ["tarn"]
    assert findings.claims_of("fenn") == ()
    assert findings.claims[0].value == Decimal(412) and findings.claims[0].unit == "g"


def test_a_claim_of_yes_is_judged_by_all_answers() -> None:
    """Ten that stayed dry hold "yes", three leave it open (Clopper-Pearson: up to 71 of 100 may miss it), three leaks refute it."""
    for answers, expected in (
        (["yes"] * 10, Outcome.HOLDS),
        (["yes"] * 3, Outcome.CANNOT_BE_TOLD),
        (["no"] * 3, Outcome.DOES_NOT_HOLD),
    ):
        rows = "\n".join(f"tarn,{n},{answer}" for n, answer in enumerate(answers, 1))
        publication = small_publication(
            {
                TARN: SMALL[TARN].replace(CLAIM, "{protocol: submersion_leak, value: yes, source: x}"),
                ROUND: SMALL[ROUND].replace("protocols: [", "protocols: [submersion_leak, "),
                "rounds/trousers/submersion_leak.csv": f"product,specimen,value\n{rows}\n",
            }
        )
        (judged,) = small_findings(publication).claims
        assert judged.verdict.outcome is expected


def test_yes_and_no_get_letters_where_they_can_be_told_apart() -> None:
    """8 of 8 against 0 of 8 are two groups, and yes comes first where it is better."""
    rows = "\n".join(
        f"{product},{n},{answer}" for product, answer in (("tarn", "no"), ("fenn", "yes")) for n in range(1, 9)
    )
    publication = small_publication(
        {
            ROUND: SMALL[ROUND].replace("protocols: [", "protocols: [submersion_leak, "),
            "rounds/trousers/submersion_leak.csv": f"product,specimen,value\n{rows}\n",
        }
    )
    compared = small_findings(publication).of(parse_measure("submersion_leak"))  # type: ignore[arg-type]
    assert compared is not None and compared.letters == {"fenn": "a", "tarn": "b"}
