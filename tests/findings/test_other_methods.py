"""Claims made by another method than the finding's: refused with the reason, or read on the shared scale."""

from decimal import Decimal
from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen.findings.claiming.claims import GradeVerdict, Outcome
from sitegen.findings.found import Judged
from sitegen.findings.reasons import Reason
from sitegen.findings.rounds import find_round
from sitegen.pipeline.build import read
from sitegen.problems import Problems

CLAIM = "- {protocol: mass, value: 412 g, tolerance: 3 %, source: {de: Etikett, en: label}, date: 2026-09-01}"


def _judged(folder: Path, claim: str, protocols: str = "") -> Judged:
    """The one claim of the small publication's first product, replaced by `claim`."""
    product = next(name for name, text in SMALL.items() if CLAIM in text)
    files = {product: SMALL[product].replace(CLAIM, claim)}
    if protocols:
        files["protocols/vapour.yaml"] = protocols
        round_file = next(name for name in SMALL if name.endswith("round.yaml"))
        files[round_file] = SMALL[round_file].replace("protocols: [", "protocols: [vapour, ")
        files[round_file.replace("round.yaml", "vapour.csv")] = (
            "product,specimen,value\ntarn,1,8000\ntarn,2,8200\ntarn,3,7900\n"
        )
    problems = Problems()
    publication = read(write(folder, files), problems)
    assert publication is not None and not problems.has_errors, [p.message for p in problems.errors]
    round = next(iter(publication.rounds.values()))
    found = find_round(round, publication.readings[round.id], publication.protocols, publication.products)
    return next(judged for judged in found.claims if judged.product == "tarn")


VAPOUR = """\
name: {en: Vapour through cloth, de: Wasserdampf}
measures: {en: How much vapour passes., de: Wie viel Dampf hindurchgeht.}
basis: common practice
method: jis_l1099_b1
scale: ratio
unit: g
better: higher
specimens: 3
"""


def test_a_figure_of_another_vapour_method_is_refused(tmp_path: Path) -> None:
    """Cup figures of two methods don't convert, however alike their units look.

    Source: ASTM E96, clause 5: a result holds only for the conditions it was taken under (from memory of the clause).
    """
    judged = _judged(
        tmp_path / "pub", "- {protocol: vapour, value: 10000 g, method: astm_e96_bw, source: label}", VAPOUR
    )
    assert judged.verdict.outcome is Outcome.CANNOT_BE_TOLD
    assert judged.verdict.reasons == (Reason.OTHER_VAPOUR_METHOD,)


def test_the_same_method_is_judged(tmp_path: Path) -> None:
    """A claim by the bench's own method is held against the finding as any other."""
    judged = _judged(
        tmp_path / "pub",
        "- {protocol: vapour, value: 5000 g, bound: at least, method: jis_l1099_b1, source: label}",
        VAPOUR,
    )
    assert judged.verdict.outcome is Outcome.HOLDS


@pytest.mark.parametrize(("rating", "grade", "met"), [(90, 4, 3), (100, 5, 2)])
def test_a_rating_is_read_as_its_grade(tmp_path: Path, rating: int, grade: int, met: int) -> None:
    """AATCC TM22 ratings and ISO 4920 grades number one picture chart: 90 is 4, 100 is 5.

    Source: the map of ISO 4920 to AATCC ratings as trade pages print it. Of the readings 5, 5, 4 three met 4 and two met 5.
    """
    judged = _judged(
        tmp_path / "pub", f"- {{protocol: spray, value: {rating}, method: aatcc_tm22, bound: at least, source: label}}"
    )
    assert judged.value == Decimal(grade)
    assert isinstance(judged.verdict, GradeVerdict) and (judged.verdict.share.yes, judged.verdict.share.n) == (met, 3)
