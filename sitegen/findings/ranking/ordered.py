"""The order of a round's entrants, as records: use by use, over all weights, by trade-off, by price.

The functions that find it are in files of their own, as with `found`.
"""

from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass

if TYPE_CHECKING:
    from sitegen.findings.ranking.worth import Line, Worth, WorthReason

SURELY = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One entrant in one use; scores 0 to 100, shares 0 to 1.

    `low` to `high` hold the true score with 95 %; `expanded` is the larger of their distances from `score`.
    `ranks[r]` is the share of draws in which it has rank r + 1. `level_with`: those it can't be told from:
    each beats the other in more than 5 % of draws. `missing`: measures of the use without a reading.
    """

    product: str
    score: float
    low: float
    high: float
    expanded: float
    ranks: tuple[float, ...]
    level_with: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def first_share(self) -> float:
        """The share of draws in which it is first."""
        return self.ranks[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """An entrant that has no place: `measures` of the use were read once, and how much they scatter isn't known."""

    product: str
    measures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UseOrder:
    """The entrants for one use, highest score first (equal scores: by id). `weights` are shares of 1.

    `beside` are those that stand beside the order, by id.

    `draws` random draws from `seed`; a share is off by at most `share_error` with 95 %; `pair_draws` of them
    decided who is level with whom.
    """

    use: str
    weights: tuple[tuple[str, float], ...]
    places: tuple[Placed, ...]
    beside: tuple[Beside, ...]
    seed: int
    draws: int
    share_error: float
    pair_draws: int

    @property
    def first(self) -> Placed:
        """The entrant with the highest score."""
        return self.places[0]

    def of(self, product: str) -> Placed | None:
        """The place of an entrant; None where it has none."""
        return next((place for place in self.places if place.product == product), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptable:
    """One entrant over all weights. `ranks[r]`: share of draws in which it has rank r + 1.

    `central`: the mean of the weights that make it first, by measure, summing to 1; None when none does.
    `confidence`: with these weights, the share of draws in which it is first; None likewise.
    """

    product: str
    ranks: tuple[float, ...]
    central: tuple[tuple[str, float], ...] | None
    confidence: float | None

    @property
    def first_share(self) -> float:
        """The share of all weights and draws that make it first."""
        return self.ranks[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyWeights:
    """All entrants, most often first in front (equal: by id); shares are off by at most `share_error` (95 %).

    `confidence_draws`: how many of the draws the confidence rests on.
    """

    measures: tuple[str, ...]
    entrants: tuple[Acceptable, ...]
    seed: int
    draws: int
    share_error: float
    confidence_draws: int

    def of(self, product: str) -> Acceptable:
        """One entrant; KeyError where it is none."""
        for entrant in self.entrants:
            if entrant.product == product:
                return entrant
        raise KeyError(product)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dominated:
    """One entrant: by whom it is dominated at the findings (ids), and in what share of draws by anybody.

    `surely_by`: those that each dominate it in at least 95 % of draws.
    """

    product: str
    by: tuple[str, ...]
    share: float
    surely_by: tuple[str, ...] = ()

    @property
    def surely(self) -> bool:
        """Whether somebody dominates it in at least 95 % of draws."""
        return self.share >= SURELY


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoSet:
    """`members` (ids, sorted) are dominated by nobody at the findings; `entrants` are all, sorted by id.

    `draws` were looked at; a share is off by at most `share_error` with 95 %.
    """

    measures: tuple[str, ...]
    members: tuple[str, ...]
    entrants: tuple[Dominated, ...]
    draws: int
    share_error: float

    def of(self, product: str) -> Dominated:
        """One entrant; KeyError where it is none."""
        for entrant in self.entrants:
            if entrant.product == product:
                return entrant
        raise KeyError(product)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bargain:
    """One priced entrant: `by` are those at least as good for at most as much (and better in one).

    `share`: of the draws of its score, the share in which nobody is: the price is taken as exact.
    """

    product: str
    price: Decimal
    score: float
    by: tuple[str, ...]
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueForMoney:
    """A use's scores against prices: `members` (cheapest first) have nobody at least as good for less.

    `entrants` are all with a price, cheapest first; `unpriced` the others.
    """

    use: str
    members: tuple[str, ...]
    entrants: tuple[Bargain, ...]
    unpriced: tuple[str, ...]
    draws: int
    share_error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """From weight `was` of `measure` to `tips_at`, where `product` draws level; beyond, it is first.

    Both weights in the author's scale, the others unchanged; `of_all` is |change| as a share of the sum of
    the weights as written. A change of 0: they are level already.
    """

    product: str
    measure: str
    was: float
    tips_at: float
    of_all: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Toppling:
    """For one use: `smallest` change of one weight that topples `first`; None when no single weight can.

    `changes` holds the smallest change for each other entrant that can come to lead `first`, smallest first.
    """

    use: str
    first: str
    smallest: Change | None
    changes: tuple[Change, ...]


class OrderReason(StrEnum):
    """Why a use has no order."""

    NO_ANCHORS = "no_anchors"  # measures it weighs have no worth
    BAD_ANCHORS = "bad_anchors"  # they are equal or the wrong way round
    NOT_IN_THE_ROUND = "not_in_the_round"  # it weighs what the round doesn't measure
    NOTHING_MEASURED = "nothing_measured"  # not one reading of what it weighs
    NO_WEIGHTS = "no_weights"  # they sum to nothing
    READ_ONCE = "read_once"  # fewer than two entrants of which more is known than one reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Unordered:
    """A use without an order, and the measures that are to blame."""

    use: str
    reason: OrderReason
    measures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureWorths:
    """One measure's anchors and the worths of all entrants, by product in order of ids."""

    measure: str
    line: "Line"
    worths: "tuple[tuple[str, Worth], ...]"

    def of(self, product: str) -> "Worth":
        """The worth of an entrant; KeyError where it is none."""
        return dict(self.worths)[product]


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """An entrant without a full worth in a measure that some use weighs, and why."""

    product: str
    measure: str
    reason: "WorthReason"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundOrder:
    """Everything about the order. `uses`, `value`, `topplings` go use by use, in the round's order.

    `any_weights` and `pareto` cover the measures of all ordered uses (of the round where it names no use);
    None with fewer than two measures. `missing` holds unknown and one-sided worths and those of one reading.
    """

    seed: int
    draws: int
    share_error: float
    worths: tuple[MeasureWorths, ...]
    uses: tuple[UseOrder, ...]
    unordered: tuple[Unordered, ...]
    any_weights: AnyWeights | None
    pareto: ParetoSet | None
    value: tuple[ValueForMoney, ...]
    topplings: tuple[Toppling, ...]
    missing: tuple[Missing, ...]

    def use(self, id: str) -> UseOrder | None:
        """The order for a use, None where it has none."""
        return next((order for order in self.uses if order.use == id), None)
