"""What washing did, in words: grades lost, share kept, how long a grade lasts."""

import math
from collections.abc import Iterator
from decimal import Decimal

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.findings.changing.decline import Decline
from sitegen.findings.changing.stages import GradeChange, ShareKept
from sitegen.findings.found import Changed
from sitegen.findings.reasons import Reason
from sitegen.records.fields.stage import NEW, Stage


def change_sentences(edition: Edition, changed: Changed) -> tuple[str, ...]:
    """What may be said of one entrant's change over the stages."""
    sentences: list[str] = []
    if changed.grades is not None:
        sentences += _grades(edition, changed, changed.grades)
    if changed.share is not None:
        sentences.append(_share(edition, changed, changed.share))
    if changed.missing is not None:
        stage = edition.stage(changed.missing.stage)
        sentences.append(edition.lang.text("Nothing was measured {stage}.", stage=stage))
    if changed.decline is not None:
        sentences.append(_decline(edition, changed.decline))
    return tuple(sentences)


def _first_stage(edition: Edition, stage: Stage) -> str:
    """The stage that a change is counted from, as it follows "lower than"."""
    return edition.lang.text("when new") if stage == NEW else edition.stage(stage)


def _grades(edition: Edition, changed: Changed, change: GradeChange) -> Iterator[str]:
    """How the specimens' grades moved, whether that is more than chance, and which specimens count."""
    t = edition.lang
    names = {
        "name": edition.protocol(changed.before.protocol),
        "stage": edition.stage(changed.after.stage),
        "first": _first_stage(edition, changed.before.stage),
    }
    if not change.n:
        yield t.text(
            "{name}: grade {before} {first}, grade {after} {stage}, on specimens that can't be matched one by one.",
            before=edition.grade(change.median_before),
            after=edition.grade(change.median_after),
            **names,
        )
    elif change.fell or change.rose:
        yield _moved(edition, change, names)
    else:
        yield t.plural(
            "{name}, {stage}: {n} specimen, graded as {first}.",
            "{name}, {stage}: {n} specimens, all graded as {first}.",
            change.n,
            **names,
        )
    yield from _how_sure(edition, change)
    if Reason.SPECIMENS_LEFT_OUT in change.reasons and change.n:
        yield t.plural(
            "Only the {n} specimen that was graded both times counts.",
            "Only the {n} specimens that were graded both times count.",
            change.n,
        )


def _moved(edition: Edition, change: GradeChange, names: dict[str, str]) -> str:
    """How many specimens fell, and by how much in the middle where that is a loss."""
    t = edition.lang
    if max(change.median) <= 0 and not change.rose:
        return t.text(
            "{name}, {stage}: {fell} of {all} specimens graded lower than {first}.",
            fell=change.fell,
            all=change.n,
            **names,
        )
    if max(change.median) <= 0:
        return t.text(
            "{name}, {stage}: {fell} of {all} specimens graded lower than {first}, {rose} higher.",
            fell=change.fell,
            all=change.n,
            rose=change.rose,
            **names,
        )
    whole = len(change.median) == 1 and change.median[0] == change.median[0].to_integral_value()
    return t.plural(
        "{name}, {stage}: {fell} of {all} specimens graded lower than {first}, the middle one by {lost} grade.",
        "{name}, {stage}: {fell} of {all} specimens graded lower than {first}, the middle one by {lost} grades.",
        int(change.median[0]) if whole else 2,  # a range of two grades is spoken of as two
        fell=change.fell,
        all=change.n,
        lost=edition.grade(change.median),
        **names,
    )


def _how_sure(edition: Edition, change: GradeChange) -> Iterator[str]:
    """Whether chance would explain it; without the round's scatter only where the exact test is sure."""
    t = edition.lang
    moved = change.fell != change.rose if change.n else change.median_before != change.median_after
    if change.p is None or not moved:
        return
    if not change.real:
        if change.scatter is not None or not change.n:
            yield t.text("That may be chance.")
        return
    hundredths = math.ceil(100 * change.p)
    falls = change.fell > change.rose if change.n else change.median_after < change.median_before
    if falls:
        yield t.text(
            "That is a real fall: by chance it would come up in fewer than {n} of 100 such rounds.", n=hundredths
        )
    else:
        yield t.text(
            "That is a real rise: by chance it would come up in fewer than {n} of 100 such rounds.", n=hundredths
        )


def _share(edition: Edition, changed: Changed, kept: ShareKept) -> str:
    """The share of the first value that is left; "kept" only of what is better when it is more, and not more than all."""
    t = edition.lang
    names = {
        "name": edition.protocol(changed.before.protocol),
        "stage": edition.stage(changed.after.stage),
        "first": _first_stage(edition, changed.before.stage),
    }
    if kept.share is None:
        return t.text("{name}, {stage}: no share of the value {first}, since a reading is 0.", **names)
    share = numbers.percent(t, numbers.round_to(100 * kept.share, 0))
    is_kept = changed.better == "higher" and kept.share <= 1
    if kept.low is None or kept.high is None:
        if is_kept:
            return t.text("{name}, {stage}: {share} kept.", share=share, **names)
        return t.text("{name}, {stage}: {share} of the value {first}.", share=share, **names)
    low, high = (numbers.round_to(100 * end, 0) for end in (kept.low, kept.high))
    values = {"share": share, "range": numbers.span(t, low, high, "%"), **names}
    if is_kept:
        return t.text("{name}, {stage}: {share} kept ({range}).", **values)
    return t.text("{name}, {stage}: {share} of the value {first} ({range}).", **values)


def _decline(edition: Edition, decline: Decline) -> str:
    """Whether every specimen kept the wanted grade; if not, when it was lost."""
    t = edition.lang
    grade = numbers.ordinal_grade(t, decline.grade)
    below = decline.first_below
    if below is None:
        return t.plural(
            "Every specimen kept grade {grade} or better over {n} wash.",
            "Every specimen kept grade {grade} or better over {n} washes.",
            decline.last_stage,
            grade=grade,
        )
    values = {"grade": grade, "below": below[1], "all": below[2], "stage": edition.stage(Stage(washes=below[0]))}
    if Reason.BELOW_FROM_THE_START in decline.reasons:
        return t.text("The middle specimen was below grade {grade} from the start.", grade=grade)
    if decline.washes is None:
        return t.text("{below} of {all} specimens below grade {grade} {stage}.", **values)
    return _fell_below(edition, decline, numbers.round_to(decline.washes, 0), grade)


def _fell_below(edition: Edition, decline: Decline, washes: Decimal, grade: str) -> str:
    """The wash with its interval, whose confidence so few specimens keep low."""
    t = edition.lang
    share = numbers.percent(t, numbers.round_to(100 * (decline.confidence or 0), 0))
    if decline.high is None and not decline.low:
        return t.plural(
            "The middle specimen fell below grade {grade} after about {n} wash.",
            "The middle specimen fell below grade {grade} after about {n} washes.",
            washes,
            grade=grade,
        )
    if not decline.low:
        return t.plural(
            "The middle specimen fell below grade {grade} after about {n} wash (with {share} confidence, by wash {high} at the latest).",
            "The middle specimen fell below grade {grade} after about {n} washes (with {share} confidence, by wash {high} at the latest).",
            washes,
            grade=grade,
            share=share,
            high=decline.high,
        )
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
