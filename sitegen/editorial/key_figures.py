"""The few figures of one entrant that its reader needs first."""

from collections.abc import Iterable, Sequence

from sitegen.datatypes import dataclass
from sitegen.editorial.standing import Standing, standing_of
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import Cell, Compared, Judged, Measured, RoundFindings
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.records.measured.round import Measure

MOST = 5
# How much a figure says of its entrant. Only the order counts: a claim that fails, a place of its own at either end,
# a loss by washing, any place of its own, a claim at all.
FAILED_CLAIM, OWN_END, LOSS, OWN_PLACE, CLAIM = 16, 8, 4, 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyFigure:
    """A finding of one entrant, with what gives it a meaning.

    `first`: the finding of the first stage, where this is a later one. `standing`: None where no difference
    could be shown. `claims`: the maker's figures on the same protocol, at whatever stage.
    """

    measured: Measured
    cell: Cell
    first: Cell | None
    standing: Standing | None
    claims: tuple[Judged, ...]


def key_figures(findings: RoundFindings, product: str, named: Sequence[Measure] = ()) -> tuple[KeyFigure, ...]:
    """At most five figures: those that the author names, else one a protocol, what sets the entrant apart first.

    Of a protocol measured at several stages the last one is taken. What wasn't measured is no key figure.
    """
    if not findings.round.has(product):
        return ()
    if named:
        entries = [entry for measure in named if (entry := findings.of(measure)) is not None]
        return tuple(_figure(findings, entry, product) for entry in _measured(entries, product))[:MOST]
    last = {entry.measured.protocol.id: entry for entry in _measured(findings.compared, product)}
    figures = [_figure(findings, entry, product) for entry in last.values()]
    return tuple(sorted(figures, key=_weight, reverse=True))[:MOST]


def _measured(entries: Iterable[Compared], product: str) -> list[Compared]:
    return [entry for entry in entries if entry.measured.cell(product).summary is not None]


def _figure(findings: RoundFindings, entry: Compared, product: str) -> KeyFigure:
    measured = entry.measured
    stages = findings.stages_of(measured.protocol.id)
    first = stages[0].cell(product) if stages[0] is not measured else None
    return KeyFigure(
        measured=measured,
        cell=measured.cell(product),
        first=first if first is not None and first.summary is not None else None,
        standing=standing_of(entry, product),
        claims=tuple(c for c in findings.claims_of(product) if c.measure.protocol == measured.protocol.id),
    )


def _weight(figure: KeyFigure) -> int:
    standing = figure.standing
    return (
        FAILED_CLAIM * any(claim.verdict.outcome is Outcome.DOES_NOT_HOLD for claim in figure.claims)
        + OWN_END * (standing is not None and (standing.is_lowest or standing.is_highest))
        + LOSS * _has_lost(figure)
        + OWN_PLACE * (standing is not None and not standing.level)
        + CLAIM * bool(figure.claims)
    )


def _has_lost(figure: KeyFigure) -> bool:
    """Whether every specimen's grade is worse than every one was at first."""
    now, first = figure.cell.summary, figure.first.summary if figure.first else None
    if not isinstance(now, GradeSummary) or not isinstance(first, GradeSummary):
        return False
    return now.high < first.low if figure.measured.protocol.better == "higher" else now.low > first.high
