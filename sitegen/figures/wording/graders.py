"""Who graded, and how far graders agree, in words."""

from collections.abc import Iterator

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.findings.found import Measured, RoundFindings
from sitegen.findings.grading.grader_pairs import PairOfGraders
from sitegen.findings.grading.graders import Agreement, Disagreement
from sitegen.records.measured.protocol import ORDINAL, YES_OR_NO

MOST_LISTED = 8


def grader_sentences(edition: Edition, findings: RoundFindings) -> tuple[str, ...]:
    """How often graders agree, pair by pair, with kappa and its interval; where they differ; and who stood in for whom."""
    sentences = []
    for measured, pair in findings.agreements:
        sentences.append(_agreement(edition, measured, pair))
        if pair.agreement.disagreements:
            sentences.append(_listed(edition, pair.agreement.disagreements))
    return (*sentences, *_stood_in(edition, findings))


def _agreement(edition: Edition, measured: Measured, pair: PairOfGraders) -> str:
    t, agreement = edition.lang, pair.agreement
    measure, names = edition.measure(measured.measure), {"first": pair.first or "?", "second": pair.second or "?"}
    if not agreement.n:
        return t.text("{measure}: {first} and {second} graded no specimen both.", measure=measure, **names)
    equal = agreement.n - len(agreement.disagreements)
    if len(measured.graders) == 2:
        text = t.text(
            "{measure}: two graders gave the same grade to {equal} of {n} specimens.",
            measure=measure,
            equal=equal,
            n=agreement.n,
        )
    else:
        text = t.text(
            "{measure}: {first} and {second} gave the same grade to {equal} of {n} specimens.",
            measure=measure,
            equal=equal,
            n=agreement.n,
            **names,
        )
    return f"{text} {kappa}" if (kappa := _kappa(edition, agreement)) else text


def _kappa(edition: Edition, agreement: Agreement) -> str:
    t = edition.lang
    if agreement.kappa is None:
        return ""
    kappa = numbers.number(t, agreement.kappa, 2)
    if agreement.low is None or agreement.high is None:
        return t.text("Weighted kappa {kappa}.", kappa=kappa)
    interval = numbers.span(t, numbers.round_to(agreement.low, 2), numbers.round_to(min(1.0, agreement.high), 2), "")
    level = numbers.percent(t, 95)
    return t.text(
        "Weighted kappa {kappa} (with {level} confidence {interval}).", kappa=kappa, level=level, interval=interval
    )


def _stood_in(edition: Edition, findings: RoundFindings) -> Iterator[str]:
    """Findings that rest on another person's grades than the others of their measure."""
    for measured in findings.measured:
        if measured.protocol.scale not in {ORDINAL, YES_OR_NO}:
            continue
        for cell in measured.cells:
            for _, count in cell.by_others:
                yield edition.lang.plural(
                    "{product}, {measure}: {n} of {all} specimens was graded by another person than the others.",
                    "{product}, {measure}: {n} of {all} specimens were graded by another person than the others.",
                    count,
                    product=edition.product(cell.product),
                    measure=edition.measure(measured.measure),
                    all=len(cell.specimens),
                )


def _listed(edition: Edition, disagreements: tuple[Disagreement, ...]) -> str:
    parts = []
    for one in disagreements[:MOST_LISTED]:
        product, _, specimen = one.specimen.partition(" ")
        first, second = (
            numbers.ordinal_grade(edition.lang, numbers.round_to(g, 1 if g % 1 else 0)) for g in (one.first, one.second)
        )
        parts.append(
            edition.lang.text(
                "{product} {specimen}: {first} and {second}",
                product=edition.product(product),
                specimen=specimen,
                first=first,
                second=second,
            )
        )
    return edition.lang.text("They disagreed on: {list}.", list="; ".join(parts))
