"""What washing did, in words: grades lost, share kept, how long a grade lasts."""

from decimal import Decimal

from sitegen.figures import numbers
from sitegen.figures.edition import Edition
from sitegen.findings.decline import Decline
from sitegen.findings.found import Changed
from sitegen.findings.reasons import Reason
from sitegen.findings.stages import GradeChange, ShareKept


def change_sentences(edition: Edition, changed: Changed) -> tuple[str, ...]:
    """What may be said of one entrant's change over the stages."""
    name, stage = edition.protocol(changed.before.protocol), edition.stage(changed.after.stage)
    sentences = []
    if changed.grades is not None and changed.grades.n:
        sentences.append(_grades(edition, changed.grades, name, stage))
    if changed.share is not None and changed.share.share is not None:
        sentences.append(_share(edition, changed.share, name, stage))
    if changed.decline is not None:
        sentences.append(_decline(edition, changed.decline))
    return tuple(sentences)


def _grades(edition: Edition, change: GradeChange, name: str, stage: str) -> str:
    t = edition.lang
    if change.fell or change.rose:
        text = _fell(edition, change, name, stage)
    else:
        text = t.text("{name}, {stage}: no specimen graded otherwise than when new.", name=name, stage=stage)
    if Reason.CANNOT_REACH_5_PERCENT in change.reasons:
        text += " " + t.text("So few specimens could not prove a change, however clear.")
    return text


def _fell(edition: Edition, change: GradeChange, name: str, stage: str) -> str:
    """How many specimens fell, and by how much in the middle where that is a loss."""
    t = edition.lang
    if max(change.median) <= 0:
        return t.text(
            "{name}, {stage}: {fell} of {all} specimens graded lower than when new, {rose} higher.",
            name=name,
            stage=stage,
            fell=change.fell,
            all=change.n,
            rose=change.rose,
        )
    whole = len(change.median) == 1 and change.median[0] == change.median[0].to_integral_value()
    return t.plural(
        "{name}, {stage}: {fell} of {all} specimens graded lower than when new, in the middle by {lost} grade.",
        "{name}, {stage}: {fell} of {all} specimens graded lower than when new, in the middle by {lost} grades.",
        int(change.median[0]) if whole else 2,  # a range of two grades is spoken of as two
        name=name,
        stage=stage,
        fell=change.fell,
        all=change.n,
        lost=edition.grade(change.median),
    )


def _share(edition: Edition, kept: ShareKept, name: str, stage: str) -> str:
    t = edition.lang
    assert kept.share is not None
    share = numbers.percent(t, numbers.round_to(100 * kept.share, 0))
    if kept.low is None or kept.high is None:
        return t.text("{name}, {stage}: {share} kept.", name=name, stage=stage, share=share)
    low, high = (numbers.round_to(100 * end, 0) for end in (kept.low, kept.high))
    return t.text(
        "{name}, {stage}: {share} kept ({range}).",
        name=name,
        stage=stage,
        share=share,
        range=numbers.span(t, low, high, "%"),
    )


def _decline(edition: Edition, decline: Decline) -> str:
    """How many washes until the middle specimen falls below the wanted grade, or why that can't be told."""
    t = edition.lang
    grade = numbers.ordinal_grade(t, decline.grade)
    if Reason.TOO_FEW_STAGES in decline.reasons:
        return t.text("How long grade {grade} lasts can't be told from two stages.", grade=grade)
    if Reason.BELOW_FROM_THE_START in decline.reasons:
        return t.text("The middle specimen was below grade {grade} from the start.", grade=grade)
    if decline.washes is None:
        return t.plural(
            "The middle specimen kept grade {grade} over {n} wash.",
            "The middle specimen kept grade {grade} over {n} washes.",
            decline.last_stage,
            grade=grade,
        )
    return _fell_below(edition, decline, numbers.round_to(decline.washes, 0), grade)


def _fell_below(edition: Edition, decline: Decline, washes: Decimal, grade: str) -> str:
    """The wash with its interval, whose confidence so few specimens keep low."""
    t = edition.lang
    if decline.confidence is None or decline.low is None:
        return t.plural(
            "The middle specimen fell below grade {grade} after about {n} wash.",
            "The middle specimen fell below grade {grade} after about {n} washes.",
            washes,
            grade=grade,
        )
    share = numbers.percent(t, numbers.round_to(100 * decline.confidence, 0))
    if decline.high is None:
        return t.plural(
            "The middle specimen fell below grade {grade} after about {n} wash (with {share} confidence, not before wash {low}).",
            "The middle specimen fell below grade {grade} after about {n} washes (with {share} confidence, not before wash {low}).",
            washes,
            grade=grade,
            share=share,
            low=decline.low,
        )
    return t.plural(
        "The middle specimen fell below grade {grade} after about {n} wash (with {share} confidence, between wash {low} and wash {high}).",
        "The middle specimen fell below grade {grade} after about {n} washes (with {share} confidence, between wash {low} and wash {high}).",
        washes,
        grade=grade,
        share=share,
        low=decline.low,
        high=decline.high,
    )
