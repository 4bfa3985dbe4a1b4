"""What the readings can't tell, in plain words: of one entrant, or of the whole round."""

from collections.abc import Iterator

from sitegen.figures.wording.cells import missing_note
from sitegen.figures.wording.grade_scatter import grade_scatter_sentences
from sitegen.figures.wording.scatter import scatter_sentences
from sitegen.findings.comparison.comparison import Doubt
from sitegen.findings.found import Compared, CurveSummary, RoundFindings
from sitegen.pages.site import Sheet
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import ORDINAL


def cant_tell(sheet: Sheet, findings: RoundFindings, product: str = "") -> tuple[str, ...]:
    """Sentences, the gravest first, each once: missing readings, too few specimens, limits of the protocols and the round."""
    sentences = [
        *_out_of_order(sheet, findings, product),
        *_missing(sheet, findings, product),
        *_too_few(sheet, findings),
        *scatter_sentences(sheet.edition, findings),
        *grade_scatter_sentences(sheet.edition, findings),
        *_single_runs(sheet, findings),
        *(sheet.say(words) for words in findings.round.limits),
        *(sheet.say(words) for words in _protocol_limits(findings)),
    ]
    return tuple(dict.fromkeys(sentences))


def _out_of_order(sheet: Sheet, findings: RoundFindings, product: str) -> tuple[str, ...]:
    if not product or not findings.touched:
        return ()
    from sitegen.figures.wording.rigs import touched_sentences  # few rigs were ever out of order

    return touched_sentences(sheet.edition, findings.touched, sheet.site.rigs, product)


def _missing(sheet: Sheet, findings: RoundFindings, product: str) -> Iterator[str]:
    for measured in findings.measured:
        for cell in measured.cells:
            if product in ("", cell.product) and (cell.missing or cell.summary is None):
                name = sheet.edition.measure(measured.measure)
                reason = missing_note(sheet.edition, cell) or sheet.t("not measured")
                yield sheet.t(
                    "{product}, {measure}: {reason}",
                    product=sheet.edition.product(cell.product),
                    measure=name,
                    reason=reason,
                )


def _too_few(sheet: Sheet, findings: RoundFindings) -> Iterator[str]:
    """Measures in which no outcome could have shown a difference, with how many specimens could."""
    by_protocol: dict[str, Compared] = {}
    for entry in findings.compared:
        graded = entry.measured.protocol.scale == ORDINAL  # what grades can't show is said with their scatter
        doubts = entry.comparison.reasons if entry.comparison else ()
        if not graded and Doubt.CANNOT_SHOW_A_DIFFERENCE in doubts and Doubt.SINGLE_SPECIMEN not in doubts:
            by_protocol.setdefault(entry.measured.protocol.id, entry)
    for id, entry in by_protocol.items():
        assert entry.comparison is not None
        n = max(len(cell.specimens) for cell in entry.measured.cells)
        values = {"name": sheet.edition.protocol(id), "needed": entry.comparison.specimens_needed}
        yield sheet.edition.lang.plural(
            "{name}: with {n} specimen of each entrant no outcome could show a real difference in this round; "
            "at least {needed} would be needed. What is printed is what was seen on these specimens.",
            "{name}: with {n} specimens of each entrant no outcome could show a real difference in this round; "
            "at least {needed} would be needed. What is printed is what was seen on these specimens.",
            n,
            **values,
        )


def _single_runs(sheet: Sheet, findings: RoundFindings) -> Iterator[str]:
    """Curves of which there is one run: no spread is known, so no claim on them can be decided."""
    for measured in findings.measured:
        curves = [cell.summary for cell in measured.cells if isinstance(cell.summary, CurveSummary)]
        if curves and all(len(summary.curves) == 1 for summary in curves):
            yield sheet.t(
                "{name}: one run of each entrant, so how much two runs differ is unknown and no claim can be decided.",
                name=sheet.edition.protocol(measured.protocol.id),
            )


def _protocol_limits(findings: RoundFindings) -> Iterator[Words]:
    seen: set[str] = set()
    for measured in findings.measured:
        if measured.protocol.id not in seen:
            seen.add(measured.protocol.id)
            yield from measured.protocol.limits[:1]
