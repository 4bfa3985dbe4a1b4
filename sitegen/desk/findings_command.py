"""`sitegen findings`: what the readings support, as tables that fit a terminal, or as JSON."""

import json
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from sitegen import stock
from sitegen.desk.findings_json import findings_json
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.language import open_language
from sitegen.figures.wording.cells import word_cell
from sitegen.figures.wording.changes import change_sentences
from sitegen.figures.wording.claims import claimed_text, difference_text, outcome_text
from sitegen.figures.wording.grade_scatter import grade_scatter_sentences
from sitegen.figures.wording.graders import grader_sentences
from sitegen.figures.wording.rigs import touched_sentences
from sitegen.figures.wording.scatter import scatter_sentences
from sitegen.findings.comparison.comparison import Method
from sitegen.findings.comparison.planning import PlanningFigures, planning_figures
from sitegen.findings.found import Compared, RoundFindings
from sitegen.findings.rigs.rig_state import JudgedRig, judge_rigs
from sitegen.findings.rounds import round_findings
from sitegen.findings.statistics.specimens import TYPICAL_SCATTER
from sitegen.pipeline.build import read
from sitegen.problems import Problems, unknown_name
from sitegen.records.measured.protocol import ORDINAL, Protocol
from sitegen.records.measured.round import Round
from sitegen.records.publication import Publication

WIDTH = 80


METHODS = {
    Method.TUKEY_KRAMER: "Tukey-Kramer",
    Method.WELCH_HOLM: "Welch's test with Holm's steps",
    Method.WELCH_PERMUTATION: "Welch's test, beyond limits an exact permutation test, with Holm's steps",
    Method.FISHER_HOLM: "Fisher's exact test with Holm's steps",
    Method.POOLED_GRADES: "the scatter of all products' grades",
    Method.PERMUTATION_EXACT: "exact permutation test",
    Method.PERMUTATION_SAMPLED: "seeded permutation test",
    Method.NONE: "nothing",
}


class UnknownName(Exception):
    """Neither a round nor a review has this name."""


def wanted_rounds(publication: Publication, name: str) -> tuple[Round, ...]:
    """The round of this name, or that of the review of this name; all rounds for an empty name."""
    if not name:
        return tuple(publication.rounds.values())
    if name in publication.rounds:
        return (publication.rounds[name],)
    review = publication.reviews.get(name)
    if review is not None and review.facts.product is not None:
        id = review.facts.round.id if review.facts.round else publication.round_of(review.facts.product.id)
        if id in publication.rounds:
            return (publication.rounds[id],)
    raise UnknownName(unknown_name("round or review", name, (*publication.rounds, *publication.reviews)))


def findings_text(folder: Path, name: str, *, as_json: bool) -> tuple[str, Problems]:
    """What to print, with the problems of the publication. Raises UnknownName."""
    problems = Problems()
    publication = read(folder, problems)
    if publication is None or problems.has_errors:
        return "", problems
    rigs = judge_rigs(publication.rigs, publication.protocols)
    found = [round_findings(publication, round.id) for round in wanted_rounds(publication, name)]
    if as_json:
        # In ASCII, which any output takes.
        return json.dumps(findings_json(found, publication.settings.lead), indent=1), problems
    lang = open_language("en", stock.content_folder() / "catalogues")
    edition = Edition(lang, publication.settings.lead, publication.products, publication.protocols)
    only = name if name in publication.reviews else ""
    product = publication.reviews[only].facts.product if only else None
    lines = (line for f in found for line in round_lines(edition, f, rigs, product.id if product else ""))
    return "\n".join(lines), problems


def round_lines(
    edition: Edition, findings: RoundFindings, rigs: dict[str, JudgedRig], product: str = ""
) -> Iterator[str]:
    """A round's findings, no line wider than 80 columns; one entrant's where `product` is given."""
    title = f"{findings.round.id}: {edition.say(findings.round.title)}"
    yield from ("", *wrapped(title), "=" * min(WIDTH, len(title)))
    if not any(cell.summary for m in findings.measured for cell in m.cells):
        yield from wrapped("No readings yet. What so many specimens could show:")
        yield from planning_lines(len(findings.round.entrants), (measured.protocol for measured in findings.measured))
    for entry in findings.compared:
        yield from measure_lines(edition, entry, product)
    yield from claim_lines(edition, findings, product)
    for changed in findings.changes:
        if product in ("", changed.product):
            yield from wrapped(f"{edition.product(changed.product)}. {' '.join(change_sentences(edition, changed))}")
    notes = (
        *scatter_sentences(edition, findings),
        *grade_scatter_sentences(edition, findings),
        *grader_sentences(edition, findings),
        *touched_sentences(edition, findings.touched, rigs, product),
    )
    for sentence in notes:
        yield from wrapped(sentence)


def planning_lines(entrants: int, protocols: Iterable[Protocol]) -> Iterator[str]:
    """For ordinal protocols: how many specimens could show a difference among so many entrants at all."""
    seen: set[str] = set()
    for protocol in protocols:
        if protocol.scale == ORDINAL and protocol.id not in seen and entrants > 1:
            seen.add(protocol.id)
            yield from wrapped(_planned(protocol, planning_figures(entrants, int(protocol.specimens))))


def _planned(protocol: Protocol, figures: PlanningFigures) -> str:
    of_each = f"{protocol.id}: {figures.specimens} specimens of each of {figures.entrants} entrants"
    if figures.grades_shown is None:
        can = "can" if figures.grades_can_differ else "cannot"
        return (
            f"{of_each} {can} show a difference, since so few do not tell how much grades scatter; "
            f"{figures.for_grades} of each would make one possible."
        )
    return (
        f"{of_each} show a difference of {figures.grades_shown:.1f} grades or more, 8 times in 10, "
        f"if grades of one product scatter by {TYPICAL_SCATTER:g} of a grade."
    )


def measure_lines(edition: Edition, entry: Compared, product: str) -> Iterator[str]:
    """One measure: a row an entrant with value, letters and spread."""
    measured = entry.measured
    rows = []
    for cell in measured.cells:
        if product in ("", cell.product) and (cell.summary is not None or cell.missing):
            worded = word_cell(edition, measured, cell)
            rows.append((cell.product, worded.value, entry.letters.get(cell.product, ""), worded.small_print))
    if not rows:
        return
    yield ""
    yield from wrapped(f"{measured.measure.text} ({edition.measure(measured.measure)})")
    yield from table_lines(("product", "value", "", "how sure"), rows)
    if entry.comparison is not None:
        doubts = {d.value.replace("_", " ") for d in entry.comparison.reasons}
        method = METHODS[entry.comparison.method]
        yield from wrapped(f"compared by {method}" + (f"; {', '.join(sorted(doubts))}" if doubts else ""), indent="  ")


def claim_lines(edition: Edition, findings: RoundFindings, product: str) -> Iterator[str]:
    """The makers' claims, a row each."""
    claims = [c for c in findings.claims if product in ("", c.product)]
    if not claims:
        return
    yield from ("", "claims")
    rows = []
    for judged in claims:
        protocol = edition.protocols[judged.measure.protocol]
        claimed = f"{judged.measure.text} {claimed_text(edition, judged.claim, protocol)}"
        rows.append((judged.product, claimed, outcome_text(edition, judged), difference_text(edition, judged)))
    yield from table_lines(("product", "claimed", "", "off by"), rows)


def table_lines(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """A plain table within 80 columns; the last column wraps below itself."""
    widths = [max(1, min(26, max(len(row[i]) for row in (heads, *rows)))) for i in range(len(heads) - 1)]
    room = max(14, WIDTH - sum(widths) - 2 * len(widths) - 2)
    for row in (heads, *rows):
        cells = [textwrap.wrap(text, width) or [""] for text, width in zip(row, (*widths, room), strict=True)]
        for line in range(max(map(len, cells))):
            parts = [
                (cell[line] if line < len(cell) else "").ljust(width)
                for cell, width in zip(cells, (*widths, room), strict=True)
            ]
            yield ("  " + "  ".join(parts)).rstrip()


def wrapped(text: str, indent: str = "") -> list[str]:
    """A text in lines of at most 80 columns."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent) or [""]
