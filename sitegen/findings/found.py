"""What a round's readings support, as records: cells, measures, comparisons, claims, changes.

The functions that find it are in files of their own. A build after one edit takes the findings over from the last
one, and so loads these records, and those in them, without all that computes them.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, TypeAlias

from sitegen.datatypes import dataclass

if TYPE_CHECKING:  # what restores a record loads the files of those that it holds
    from sitegen.findings.changing.decline import Decline
    from sitegen.findings.changing.stages import GradeChange, ShareKept
    from sitegen.findings.claiming.claims import GradeVerdict, Verdict
    from sitegen.findings.comparison.comparison import Comparison
    from sitegen.findings.comparison.grade_scatter import GradeScatter
    from sitegen.findings.grading.grader_pairs import PairOfGraders
    from sitegen.findings.rigs.rig import RigDay
    from sitegen.findings.statistics.censored import CensoredSummary
    from sitegen.findings.statistics.curve import RunTime
    from sitegen.findings.statistics.ordinal import GradeSummary
    from sitegen.findings.statistics.pooling import Pooling
    from sitegen.findings.statistics.ratio import RatioSummary
    from sitegen.findings.statistics.steps import Steps
    from sitegen.findings.statistics.yes_no import ShareSummary
    from sitegen.records.fields.words import Words
    from sitegen.records.measured.protocol import Protocol
    from sitegen.records.measured.readings import Beyond
    from sitegen.records.measured.round import Measure, Round
    from sitegen.records.product import Claim


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One specimen's curve: `times` in the protocol's `along` unit, `values` in its unit."""

    specimen: str
    times: tuple[float, ...]
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareTimes:
    """The times at which the curves fell to `share` (per cent of the start); `summary` None if one never did."""

    share: Decimal
    runs: "tuple[RunTime, ...]"
    summary: "RatioSummary | None"


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveSummary:
    """What the curves of one entrant support; `area` is the mean, in unit of value times unit of time."""

    curves: tuple[Curve, ...]
    times: tuple[ShareTimes, ...]
    area: float
    steps: "Steps"


Summary: TypeAlias = "RatioSummary | CensoredSummary | GradeSummary | ShareSummary | CurveSummary"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One entrant's readings of one measure. `summary` is None where nothing was measured.

    `specimens` are the values by specimen that the finding rests on; `marked` whether each specimen has a mark of its
    own, by which it can be found again at another stage. `gradings` are all graders' values by grader, where there are
    several; `by_others` how many values of the finding are by another person than the protocol's first grader.
    `came`: readings that could have counted, with those that are missing; `used`: those in the summary; `missing`: the
    reasons for the others. `beyond`: readings beyond a limit, by specimen. `at_limit`: every reading stands where the rig
    ends, or carries a note, so none of them speaks against a claim. `days_out` are those of its days on which the rig was
    out of order.
    """

    product: str
    measure: "Measure"
    summary: "Summary | None"
    specimens: tuple[tuple[str, Decimal], ...] = ()
    marked: bool = True
    gradings: tuple[tuple[str, tuple[tuple[str, Decimal], ...]], ...] = ()
    by_others: tuple[tuple[str, int], ...] = ()
    beyond: "tuple[tuple[str, Beyond], ...]" = ()
    at_limit: bool = False
    missing: "tuple[Words, ...]" = ()
    days: tuple[dt.date, ...] = ()
    days_out: tuple[dt.date, ...] = ()
    short: int = 0
    came: int = 0
    used: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One measure over all entrants, in the round's order.

    `graders` are those who graded it, the one whose grades are the finding first. `scatter` is that of its grades,
    None where there is too little to pool it from, and for other scales.
    """

    measure: "Measure"
    protocol: "Protocol"
    cells: tuple[Cell, ...]
    pooling: "Pooling | None" = None
    graders: tuple[str, ...] = ()
    resolution: Decimal | None = None
    scatter: "GradeScatter | None" = None

    def cell(self, product: str) -> Cell:
        """The cell of an entrant; KeyError where it is none."""
        for cell in self.cells:
            if cell.product == product:
                return cell
        raise KeyError(product)


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One entrant's change from the stage of `before` to that of `after`.

    These are the first and the last stage at which it was measured; `missing` is the round's last stage where it
    wasn't measured then. `grades` for ordinal protocols, `share` for ratio ones, with the protocol's `better`.
    `decline`: after how many washes the grade falls below the one that the round asks for; None where it asks for none.
    """

    product: str
    before: "Measure"
    after: "Measure"
    grades: "GradeChange | None" = None
    share: "ShareKept | None" = None
    decline: "Decline | None" = None
    missing: "Measure | None" = None
    better: str = "neither"


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """A day on which a rig was out of order, with the entrants whose readings of a measure were taken then."""

    rig: str
    measure: "Measure"
    day: "RigDay"
    products: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A claim held against its finding; `value` and `tolerance` are in `unit`, the finding's."""

    product: str
    claim: "Claim"
    measure: "Measure"
    unit: str
    value: Decimal
    verdict: "Verdict | GradeVerdict"
    cell: Cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A measure with its comparison; `letters` are letter groups by product."""

    measured: Measured
    comparison: "Comparison | None"
    letters: Mapping[str, str]


def by_protocol(measured: Iterable[Measured]) -> dict[str, list[Measured]]:
    """Measures by protocol, in the order in which they come."""
    grouped: dict[str, list[Measured]] = {}
    for entry in measured:
        grouped.setdefault(entry.protocol.id, []).append(entry)
    return grouped


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundFindings:
    """What a round's readings support."""

    round: "Round"
    compared: tuple[Compared, ...]
    claims: tuple[Judged, ...]
    changes: tuple[Changed, ...] = ()
    agreements: "tuple[tuple[Measured, PairOfGraders], ...]" = ()
    touched: tuple[Touched, ...] = ()

    @property
    def measured(self) -> tuple[Measured, ...]:
        """The measures in the round's order."""
        return tuple(entry.measured for entry in self.compared)

    def stages_of(self, protocol: str) -> tuple[Measured, ...]:
        """The measures by one protocol, stage after stage."""
        return tuple(entry for entry in self.measured if entry.protocol.id == protocol)

    def of(self, measure: "Measure") -> Compared | None:
        """One measure, None where it isn't of this round."""
        return next((entry for entry in self.compared if entry.measured.measure == measure), None)

    def letters(self) -> dict[str, str]:
        """Letter groups by "product measure", as charts and tables look them up."""
        return {
            f"{product} {entry.measured.measure.text}": group
            for entry in self.compared
            for product, group in entry.letters.items()
        }

    def claims_of(self, product: str) -> tuple[Judged, ...]:
        """The judged claims of one entrant."""
        return tuple(claim for claim in self.claims if claim.product == product)
