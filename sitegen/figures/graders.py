"""How far two graders agree, in words."""

from collections.abc import Iterable

from sitegen.figures import numbers
from sitegen.figures.edition import Edition
from sitegen.findings.found import Measured
from sitegen.findings.graders import Agreement, Disagreement

MOST_LISTED = 8


def agreement_sentences(edition: Edition, agreements: Iterable[tuple[Measured, Agreement]]) -> tuple[str, ...]:
    """For each measure that two graders graded: how often they agree, kappa with its interval, where they differ."""
    sentences = []
    for measured, agreement in agreements:
        sentences.append(_agreement(edition, measured, agreement))
        if agreement.disagreements:
            sentences.append(_listed(edition, agreement.disagreements))
    return tuple(sentences)


def _agreement(edition: Edition, measured: Measured, agreement: Agreement) -> str:
    t = edition.lang
    text = t.text(
        "{measure}: two graders gave the same grade to {equal} of {n} specimens.",
        measure=edition.measure(measured.measure),
        equal=agreement.n - len(agreement.disagreements),
        n=agreement.n,
    )
    if agreement.kappa is None:
        return text
    kappa = numbers.number(t, agreement.kappa, 2)
    if agreement.low is None or agreement.high is None:
        return text + " " + t.text("Weighted kappa {kappa}.", kappa=kappa)
    interval = numbers.span(t, numbers.round_to(agreement.low, 2), numbers.round_to(min(1.0, agreement.high), 2), "")
    level = numbers.percent(t, 95)
    return (
        text
        + " "
        + t.text(
            "Weighted kappa {kappa} (with {level} confidence {interval}).", kappa=kappa, level=level, interval=interval
        )
    )


def _listed(edition: Edition, disagreements: tuple[Disagreement, ...]) -> str:
    parts = []
    for one in disagreements[:MOST_LISTED]:
        product, _, specimen = one.specimen.partition(" ")
        first, second = (
            numbers.ordinal_grade(edition.lang, numbers.round_to(g, 1 if g % 1 else 0)) for g in (one.first, one.second)
        )
        parts.append(f"{edition.product(product)} {specimen}: {first} / {second}")
    return edition.lang.text("They differ at: {list}.", list="; ".join(parts))
