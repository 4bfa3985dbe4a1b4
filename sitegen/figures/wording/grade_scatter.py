"""What is known of how grades scatter in a round, in words: what differences and changes are judged by."""

from collections.abc import Iterator

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.findings.comparison.grade_scatter import spread_of
from sitegen.findings.found import Measured, RoundFindings, by_protocol
from sitegen.findings.statistics.specimens import specimens_for_grades
from sitegen.records.measured.protocol import ORDINAL


def grade_scatter_sentences(edition: Edition, findings: RoundFindings) -> Iterator[str]:
    """For each graded protocol, once: on what the scatter rests, or that there is too little to know it by."""
    graded = (measured for measured in findings.measured if measured.protocol.scale == ORDINAL)
    grouped = by_protocol(entry for entry in graded if sum(bool(cell.specimens) for cell in entry.cells) > 1)
    for id, entries in grouped.items():
        known = [entry for entry in entries if entry.scatter is not None]
        yield _known(edition, id, known) if known else _unknown(edition, id, entries)
        yield from _uneven(edition, known)


def _known(edition: Edition, id: str, entries: list[Measured]) -> str:
    cells = [cell for entry in entries for cell in entry.cells if len(cell.specimens) > 1]
    spreads = sorted(numbers.round_to(entry.scatter.sd, 1) for entry in entries if entry.scatter is not None)
    low, high = spreads[0], spreads[-1]
    between = numbers.number(edition.lang, low) if low == high else numbers.span(edition.lang, low, high, "")
    return edition.lang.text(
        "{name}: grades of one product scatter by {sd} of a grade (standard deviation), as {n} specimens in {cells} groups show; "
        "differences and changes are judged by that.",
        name=edition.protocol(id),
        sd=between,
        n=sum(len(cell.specimens) for cell in cells),
        cells=len(cells),
    )


def _unknown(edition: Edition, id: str, entries: list[Measured]) -> str:
    products = max(sum(bool(cell.specimens) for cell in entry.cells) for entry in entries)
    return edition.lang.text(
        "{name}: too few specimens to know how much grades scatter, so differences are told by exact tests alone, "
        "which need at least {needed} specimens of each product.",
        name=edition.protocol(id),
        needed=specimens_for_grades(products),
    )


def _uneven(edition: Edition, entries: list[Measured]) -> Iterator[str]:
    """Measures in which one product's grades visibly scatter more than the others'."""
    for entry in entries:
        if entry.scatter is not None and entry.scatter.uneven:
            widest = max(entry.cells, key=lambda cell: _range(entry, cell.product))
            yield edition.lang.text(
                "{measure}: the specimens of {product} scatter visibly more than the others; all are judged by wider limits.",
                measure=edition.measure(entry.measure),
                product=edition.product(widest.product),
            )


def _range(entry: Measured, product: str) -> float:
    grades = [float(value) for _, value in entry.cell(product).specimens]
    return spread_of(grades) if grades else 0.0
