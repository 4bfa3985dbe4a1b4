"""The key figures of an entrant in words: a plain value, and what gives it a meaning."""

from sitegen.datatypes import dataclass
from sitegen.editorial.key_figures import KeyFigure
from sitegen.figures.answers.ranks import grade_words, rank_text
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.forms.messages import msgid
from sitegen.figures.wording.cells import word_cell
from sitegen.figures.wording.claims import claimed_text
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import Cell, CurveSummary, Judged, Measured
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.yes_no import ShareSummary
from sitegen.records.fields.stage import NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyLine:
    """A key figure in words: `name` "Mass", `detail` a stage or "", `value` "331 g", sentences that explain it; `href` leads
    to its evidence.
    """

    name: str
    detail: str
    value: str
    says: tuple[str, ...]
    href: str = ""


VERDICTS = {
    Outcome.HOLDS: msgid("The maker says {claimed}: holds."),
    Outcome.DOES_NOT_HOLD: msgid("The maker says {claimed}: does not hold."),
    Outcome.CANNOT_BE_TOLD: msgid("The maker says {claimed}: not settled."),
}
STAGED_VERDICTS = {
    Outcome.HOLDS: msgid("The maker says {claimed}: holds for the product {stage}."),
    Outcome.DOES_NOT_HOLD: msgid("The maker says {claimed}: does not hold for the product {stage}."),
    Outcome.CANNOT_BE_TOLD: msgid("The maker says {claimed}: not settled for the product {stage}."),
}


def word_key_figure(edition: Edition, figure: KeyFigure) -> KeyLine:
    """A key figure in the edition's words."""
    measured = figure.measured
    rank = rank_text(edition, measured.protocol, figure.standing) if figure.standing else ""
    verdicts = (_verdict(edition, measured, claim) for claim in figure.claims)
    says = (*_grade(edition, figure), _how_sure(edition, figure), f"{capital(rank)}." if rank else "", *verdicts)
    return KeyLine(
        name=edition.head(measured.protocol.id),
        detail=edition.stage(measured.measure.stage) if figure.first is not None else "",
        value=word_cell(edition, measured, figure.cell).plain,
        says=tuple(sentence for sentence in says if sentence),
    )


def _grade(edition: Edition, figure: KeyFigure) -> tuple[str, ...]:
    """What the grade looks or feels like, and the one of the first stage."""
    summary = figure.cell.summary
    if not isinstance(summary, GradeSummary):
        return ()
    words = grade_words(edition, figure.measured.protocol, summary.median[0]) if len(summary.median) == 1 else ""
    return (f"{capital(words)}." if words else "", _before(edition, figure.first))


def _how_sure(edition: Edition, figure: KeyFigure) -> str:
    """Of a share or a curve, what its plain value leaves open: the interval, or until when and in how many runs."""
    if not isinstance(figure.cell.summary, ShareSummary | CurveSummary):
        return ""
    spread = word_cell(edition, figure.measured, figure.cell).spread
    return f"{capital(spread)}." if spread else ""


def _before(edition: Edition, first: Cell | None) -> str:
    if first is None or not isinstance(first.summary, GradeSummary):
        return ""
    grade = edition.grade(first.summary.median)
    if first.measure.stage == NEW:
        return edition.lang.text("When new: grade {grade}.", grade=grade)
    return edition.lang.text("At first: grade {grade}.", grade=grade)


def _verdict(edition: Edition, measured: Measured, claim: Judged) -> str:
    claimed = claimed_text(edition, claim.claim, measured.protocol)
    if claim.measure == measured.measure:
        return edition.lang.text(VERDICTS[claim.verdict.outcome], claimed=claimed)
    stage = edition.stage(claim.measure.stage)
    return edition.lang.text(STAGED_VERDICTS[claim.verdict.outcome], claimed=claimed, stage=stage)
