"""What a comparison of entrants hands on: every pair, and in codes why it says no more than it does."""

from collections.abc import Mapping, Sequence
from enum import StrEnum

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, all_finite

LEVEL = 0.05  # family-wise: in at most so many rounds of equal entrants is any pair called distinct


class Method(StrEnum):
    """How the pairs were judged; its value can be looked up as text."""

    TUKEY_KRAMER = "tukey_kramer"
    POOLED_GRADES = "pooled_grades"
    WELCH_HOLM = "welch_holm"
    WELCH_PERMUTATION = "welch_permutation"  # exact permutation for pairs with a reading beyond a limit
    PERMUTATION_EXACT = "permutation_exact"
    PERMUTATION_SAMPLED = "permutation_sampled"
    FISHER_HOLM = "fisher_holm"
    NONE = "none"  # nothing could be compared


class Doubt(StrEnum):
    """What limits the comparison."""

    TOO_FEW_ENTRANTS = "too_few_entrants"  # fewer than two
    SINGLE_SPECIMEN = "single_specimen"  # an entrant with one: it has no spread, so it is told apart from nobody
    CANNOT_SHOW_A_DIFFERENCE = "cannot_show_a_difference"  # even the clearest outcome of so few can't
    RESOLUTION_FLOOR = "resolution_floor"  # a spread below what the display can show was raised to it
    NO_SPREAD = "no_spread"  # readings all equal within entrants and no resolution known: no yardstick
    ALL_EQUAL = "all_equal"  # every value of every entrant is the same
    TIES_HELD_BACK = "ties_held_back"  # a p was raised: ties among others may not make a pair surer
    SCATTER_DIFFERS = "scatter_differs"  # one cell's grades visibly scatter more: all are judged by wider limits
    TOO_LITTLE_TO_POOL = "too_little_to_pool"  # the round's grades don't tell how much grades scatter
    BEYOND_PLANNING = "beyond_planning"  # more specimens than any bench will test


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two entrants, `a` before `b` in the alphabet of ids.

    `difference` is that of the means, a minus b, in the unit of the readings; for grades the share of
    specimen pairs in which a is higher minus the share in which b is, -1 to 1. `low` and `high`: the
    interval for it in the same unit, at the family-wise level of the step at which the pair was judged (None for
    grades, and where there is none). `p_adjusted`: family-wise p, None where there is none. `distinct`: told apart at
    the family-wise level.
    """

    a: str
    b: str
    difference: float
    low: float | None
    high: float | None
    p_adjusted: float | None
    distinct: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All pairs of a round for one protocol and stage.

    `centres`: entrant and what orders it, in the alphabet of ids (the mean in the unit; for grades the mean
    midrank in the round, for ordering only); who couldn't be compared has none. `seed`, `permutations`: of the
    permutation test (arrangements gone through).
    `smallest_possible_p`: what the clearest possible outcome would have given with so many specimens.
    `specimens_needed`: per entrant at least; for grades so that any difference can be shown at all, for
    readings so that the stated one will be with 80 % power, and 2 where nothing else can be said; None where
    not asked for or beyond planning.
    """

    method: Method
    pairs: tuple[Pair, ...]
    reasons: tuple[Doubt, ...]
    centres: tuple[tuple[str, float], ...]
    seed: int | None = None
    permutations: int | None = None
    smallest_possible_p: float | None = None
    specimens_needed: int | None = None

    @property
    def distinct_pairs(self) -> tuple[tuple[str, str], ...]:
        """The ids of the pairs that were told apart."""
        return tuple((pair.a, pair.b) for pair in self.pairs if pair.distinct)


def checked_groups(groups: Mapping[str, Sequence[Number]]) -> dict[str, tuple[float, ...]]:
    """The groups in the alphabet of their ids, so that no order of entry can show in a result.

    Errors: ValueError naming entrant and index (from 0) of a value that isn't finite, and entrants without
    any.
    """
    return {name: all_finite(groups[name], name) for name in sorted(groups)}
