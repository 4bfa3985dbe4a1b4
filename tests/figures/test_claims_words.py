"""Claims in words: the maker's figure as written, the verdict, how far off, with its uncertainty."""

import re

import pytest
from builders import SMALL
from small_records import edition, small_findings, small_publication

from sitegen.figures.charts.claim_chart import claims_title
from sitegen.figures.wording.claims import claimed_text, claims_table, difference_text, outcome_text
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import RoundFindings
from sitegen.records.publication import Publication

TARN, ROUND = "products/tarn.yaml", "rounds/trousers/round.yaml"
CLAIM = "{protocol: mass, value: 412 g, tolerance: 3 %, source: {de: Etikett, en: label}, date: 2026-09-01}"


def told(claim: str, tag: str = "en") -> tuple[str, str, str]:
    """Claim, verdict and difference in words, with plain blanks."""
    publication = small_publication({TARN: SMALL[TARN].replace(CLAIM, claim)})
    (judged,) = small_findings(publication).claims
    words = edition(publication, tag)
    texts = (
        claimed_text(words, judged.claim, publication.protocols[judged.claim.protocol.id]),
        outcome_text(words, judged), difference_text(words, judged),
    )  # fmt: skip
    return tuple(text.replace("\u00a0", " ") for text in texts)  # type: ignore[return-value]


CLAIMS = [
    (CLAIM, ("412 g ± 3 %", "Holds", "(0.0 ± 1.4) g")),
    ("{protocol: mass, value: 380 g, tolerance: 3 %, source: x}", ("380 g ± 3 %", "Does not hold", "(+32.0 ± 1.4) g")),
    ("{protocol: mass, value: 450 g, bound: at most, source: x}", ("at most 450 g", "Holds", "(−38.0 ± 1.4) g")),
    (
        "{protocol: mass, value: 0.380 kg, tolerance: 12 g, source: x}",
        ("0.380 kg ± 12 g", "Does not hold", "(+32.0 ± 1.4) g"),
    ),
    (
        "{protocol: spray, value: 4, bound: at least, source: x}",
        ("at least grade 4", "Cannot be told", "3 of 3 specimens met it; up to 71 of 100 could miss it"),
    ),
    ("{protocol: run_time, value: 2 h, bound: at least, source: x}", ("at least 2 h", "Cannot be told", "+55 min")),
]


@pytest.mark.parametrize(("claim", "expected"), CLAIMS, ids=[expected[0] for _, expected in CLAIMS])
def test_a_claim_its_verdict_and_the_difference(claim: str, expected: tuple[str, str, str]) -> None:
    """The figure keeps the maker's unit and digits; the difference is in the finding's, signed, with its uncertainty."""
    assert told(claim) == expected


def test_no_difference_has_no_sign() -> None:
    """A run of exactly the claimed time is off by nothing, not by minus nothing."""
    rows = "product,specimen,time,value\n" + "".join(
        f"tarn,1,{time},{light}\n" for time, light in ((0, 100), (60, 10), (90, 0))
    )
    claim = "{protocol: run_time, value: 1 h, source: x}"
    publication = small_publication({TARN: SMALL[TARN].replace(CLAIM, claim), "rounds/trousers/run_time.csv": rows})
    (judged,) = small_findings(publication).claims
    assert difference_text(edition(publication), judged) == "0\u00a0min"


@pytest.mark.parametrize(
    ("outcomes", "title"),
    [
        ("???", "Mass: none of 3 claims could be settled"),
        ("?hh", "Mass: 2 of 3 claims hold"),
        ("hff", "Mass: 2 of 3 claims do not hold"),
        ("?ff", "Mass: 2 of 3 claims do not hold"),
    ],
)
def test_a_title_says_no_more_than_was_settled(outcomes: str, title: str) -> None:
    """What is open neither holds nor fails."""
    known = {"?": Outcome.CANNOT_BE_TOLD, "h": Outcome.HOLDS, "f": Outcome.DOES_NOT_HOLD}
    assert claims_title(edition(small_publication()), "Mass", [known[one] for one in outcomes]) == title


def test_the_note_says_how_plain_figures_are_meant(small: tuple[Publication, RoundFindings]) -> None:
    """A plain figure of a mass counts as at most; and without a certificate the verdict leans on the instrument, once."""
    publication, findings = small
    table = claims_table(edition(publication), findings, findings.claims, with_product=False)
    assert table is not None
    assert "at most where less is" in table.note and "as far as the instrument is" not in table.note
    bare = small_publication({ROUND: re.sub(", calibration: [^}]*", "", SMALL[ROUND])})
    table = claims_table(edition(bare), small_findings(bare), small_findings(bare).claims, with_product=False)
    assert table is not None and table.note.count("as far as the instrument is") == 1


def test_the_words_are_the_languages() -> None:
    """German words, German comma."""
    assert told(CLAIM, "de") == ("412 g ± 3 %", "Trifft zu", "(0,0 ± 1,4) g")


@pytest.fixture(scope="module")
def small() -> tuple[Publication, RoundFindings]:
    publication = small_publication()
    return publication, small_findings(publication)


def test_the_table_has_a_row_for_each_claim(small: tuple[Publication, RoundFindings]) -> None:
    """As many cells as heads; the product first where the page has several; none where nothing was judged."""
    publication, findings = small
    words = edition(publication)
    for with_product in (True, False):
        table = claims_table(words, findings, findings.claims, with_product=with_product)
        assert table is not None and len(table.rows) == len(findings.claims)
        assert all(len(row) == len(table.heads) for row in table.rows)
        assert (table.rows[0][0].text == "Tarn 3") is with_product
    assert claims_table(words, findings, (), with_product=True) is None


def test_the_table_says_where_the_maker_claims_it(small: tuple[Publication, RoundFindings]) -> None:
    """A claim without its source would be ours."""
    publication, findings = small
    table = claims_table(edition(publication, "de"), findings, findings.claims, with_product=False)
    assert table is not None
    assert any("Etikett" in cell.note for cell in table.rows[0])
