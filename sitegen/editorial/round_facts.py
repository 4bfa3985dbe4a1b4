"""The two or three facts of a round that its reader should know before any table."""

from collections.abc import Iterator
from decimal import Decimal
from typing import TypeAlias

from sitegen.datatypes import dataclass
from sitegen.editorial.standing import standing_of
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import Cell, Judged, Measured, RoundFindings, by_protocol
from sitegen.findings.statistics.ordinal import GradeSummary

MOST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedClaim:
    """A maker's figure that the finding refutes."""

    judged: Judged


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptGrade:
    """Whose specimens all still had at least `grade` at the last stage, and who fell furthest.

    `fell` is None where nobody lost a grade with every specimen, or where several fell as far.
    """

    measured: Measured
    grade: Decimal
    kept: tuple[str, ...]
    fell: tuple[Cell, Cell] | None  # the same product's finding at the first and at the last stage


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnEnd:
    """An entrant whose value is clearly the best of all."""

    measured: Measured
    cell: Cell


Fact: TypeAlias = FailedClaim | KeptGrade | OwnEnd


def round_facts(findings: RoundFindings) -> tuple[Fact, ...]:
    """At most three facts: claims that fail, what washing left, who is clearly best in something.

    A difference that couldn't be shown is never among them. What washing left is said of the tested specimens, not of
    their differences. Where several claims fail, all stand in the table; here the one that is furthest off by share.
    """
    failed = sorted(_failed(findings), key=lambda fact: -abs(getattr(fact.judged.verdict, "off_percent", 0) or 0))
    facts: tuple[Fact, ...] = (*failed[:1], *_kept(findings), *_ends(findings))
    return facts[:MOST]


def _failed(findings: RoundFindings) -> list[FailedClaim]:
    return [FailedClaim(judged=j) for j in findings.claims if j.verdict.outcome is Outcome.DOES_NOT_HOLD]


def _kept(findings: RoundFindings) -> Iterator[KeptGrade]:
    """For each graded protocol with stages: the highest grade that anybody kept with every specimen."""
    for stages in by_protocol(findings.measured).values():
        first, last = stages[0], stages[-1]
        if first is last or last.protocol.better != "higher":
            continue
        lowest = {
            c.product: c.summary.low for c in last.cells if isinstance(c.summary, GradeSummary) and c.summary.n > 1
        }
        if len(lowest) > 1:
            best = max(lowest.values())
            kept = tuple(product for product, low in lowest.items() if low == best)
            if len(kept) < len(lowest):
                yield KeptGrade(measured=last, grade=best, kept=kept, fell=_furthest(first, last))


def _furthest(first: Measured, last: Measured) -> tuple[Cell, Cell] | None:
    """Who lost most grades, counted from its lowest specimen when new to its highest now."""
    losses = []
    for cell in last.cells:
        before = first.cell(cell.product)
        if isinstance(cell.summary, GradeSummary) and isinstance(before.summary, GradeSummary):
            losses.append((before.summary.low - cell.summary.high, before, cell))
    most = max((loss for loss, _, _ in losses), default=Decimal(0))
    found = [(before, cell) for loss, before, cell in losses if loss == most]
    return found[0] if most > 0 and len(found) == 1 else None


def _ends(findings: RoundFindings) -> Iterator[OwnEnd]:
    for entry in findings.compared:
        for cell in entry.measured.cells:
            standing = standing_of(entry, cell.product)
            if standing is not None and standing.place(entry.measured.protocol.better) == 1:
                yield OwnEnd(measured=entry.measured, cell=cell)
