"""What washing did, in words: grades lost, share kept, how long a grade lasts."""

from sitegen.figures import numbers
from sitegen.figures.edition import Edition
from sitegen.findings.changes import Changed
from sitegen.findings.decline import Decline
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
        text = t.text(
            "{name}, new to {stage}: {fell} of {n} specimens fell, in the middle by {lost} grades.",
            name=name, stage=stage, fell=change.fell, n=change.n, lost=edition.grade(change.median),
        )  # fmt: skip
    else:
        text = t.text("{name}, new to {stage}: no specimen changed.", name=name, stage=stage)
    if Reason.CANNOT_REACH_5_PERCENT in change.reasons:
        text += " " + t.text("So few specimens could not prove a change, however clear.")
    return text


def _share(edition: Edition, kept: ShareKept, name: str, stage: str) -> str:
    t = edition.lang
    assert kept.share is not None
    share = numbers.percent(t, numbers.round_to(100 * kept.share, 0))
    if kept.low is None or kept.high is None:
        return t.text("{name}, {stage}: {share} kept.", name=name, stage=stage, share=share)
    low, high = (numbers.round_to(100 * end, 0) for end in (kept.low, kept.high))
    return t.text("{name}, {stage}: {share} kept ({range}).", name=name, stage=stage, share=share, range=numbers.span(t, low, high, "%"))


def _decline(edition: Edition, decline: Decline) -> str:
    """How many washes until the middle specimen falls below the wanted grade, or why that can't be told."""
    t = edition.lang
    grade = numbers.ordinal_grade(t, decline.grade)
    if Reason.TOO_FEW_STAGES in decline.reasons:
        return t.text("How long grade {grade} lasts can't be told from two stages.", grade=grade)
    if Reason.BELOW_FROM_THE_START in decline.reasons:
        return t.text("It was below grade {grade} from the start.", grade=grade)
    if decline.washes is None:
        return t.plural(
            "The middle specimen kept grade {grade} over {n} wash.", "The middle specimen kept grade {grade} over {n} washes.",
            decline.last_stage, grade=grade,
        )  # fmt: skip
    washes = numbers.number(t, numbers.round_to(decline.washes, 0))
    text = t.text("The middle specimen fell below grade {grade} after about {washes} washes", grade=grade, washes=washes)
    return f"{text}{_between(edition, decline)}."


def _between(edition: Edition, decline: Decline) -> str:
    """The interval of the washes with its confidence, which so few specimens keep low."""
    t = edition.lang
    if decline.confidence is None or decline.low is None:
        return ""
    share = numbers.percent(t, numbers.round_to(100 * decline.confidence, 0))
    if decline.high is None:
        return " " + t.text("(after {low} or later, with {share} confidence)", low=decline.low, share=share)
    return " " + t.text("(between {low} and {high}, with {share} confidence)", low=decline.low, high=decline.high, share=share)
