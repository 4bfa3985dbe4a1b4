"""Drawing worths: what each entrant might be worth in each measure, many times over.

JCGM 101:2008 (Monte Carlo propagation of distributions), one distribution per kind of finding:

- ratio: t with the finding's degrees of freedom, scaled by its standard uncertainty (6.4.9); calibration as a
  normal deviation that all entrants of a measure share in each draw, for one scale weighed them all;
- grades: t about the centre of the cell by the round's scatter, within the scale; where that isn't known the
  median's chances of `worth.median_chances`;
- yes/no: of n uniform numbers in order, the y-th or the next by the toss of a coin. These are the two beta
  distributions of the exact interval (Clopper & Pearson), taken half and half as Stevens proposed (Biometrika
  37 (1950) 117; from memory);
- readings beyond a limit: the gap between two readings by its chance, anywhere within it equally likely;
- unknown: any worth of its range, equally likely.

Each (measure, product) has a stream named after it.
"""

import math
from collections.abc import Mapping, Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.ranking.draws import SEED, Array, Stream
from sitegen.findings.ranking.worth import BEST, Anywhere, Belief, Graded, Grades, Line, Passed, Spans, Spread, Worth

DRAWS = 10_000  # a share is then within 0.01 of its limit at 95 %: 1.96²/(4 · 0.01²) = 9 604
COVERAGE = 0.95

Worths = Mapping[str, Mapping[str, Worth]]  # by product, then by measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """Worths drawn: `values` is a NumPy array (measures, products, draws), products in order of their ids.

    Working matter, no result: nothing that is kept holds one.
    """

    products: tuple[str, ...]
    measures: tuple[str, ...]
    values: Array
    seed: int

    @property
    def count(self) -> int:
        """How many draws."""
        return int(self.values.shape[2])

    def only(self, products: Sequence[str]) -> "Drawn":
        """The draws of some products, in order of their ids."""
        rows = [row for row, product in enumerate(self.products) if product in set(products)]
        return Drawn(
            products=tuple(self.products[row] for row in rows),
            measures=self.measures,
            values=self.values[:, rows],
            seed=self.seed,
        )


def share_error(draws: int, share: float = 0.5) -> float:
    """By how much a share of `draws` may be off at 95 %: 1.96 √(p(1-p)/N), at its worst for a half.

    >>> round(share_error(10_000), 4), round(share_error(10_000, 0.05), 4)
    (0.0098, 0.0043)
    """
    if draws < 1:
        raise ValueError(f"draws: expected 1 or more, found {draws}")
    return 1.96 * math.sqrt(share * (1 - share) / draws)


def draw_worths(worths: Worths, measures: Sequence[str], *, seed: int = SEED, draws: int = DRAWS) -> Drawn:
    """`draws` worths for each product in each of `measures`.

    Neither the order of products or measures nor further ones change a number. Errors: ValueError for no
    products or measures, fewer than 2 draws, or a product without an entry for a measure (one that wasn't
    measured has an unknown worth, see `worth.unknown_worth`).
    """
    import numpy as np

    products = tuple(sorted(worths))
    _refuse_gaps(worths, products, measures, draws)
    values = np.empty((len(measures), len(products), draws))
    for row, measure in enumerate(measures):
        common = Stream(seed, "shared", measure).student(draws)
        for column, product in enumerate(products):
            worth = worths[product][measure]
            stream = Stream(seed, "worth", measure, product)
            values[row, column] = _draw(worth.belief, worth.line, stream, common, draws)
    return Drawn(products=products, measures=tuple(measures), values=values, seed=seed)


def _refuse_gaps(worths: Worths, products: Sequence[str], measures: Sequence[str], draws: int) -> None:
    if not products or not measures or draws < 2:
        raise ValueError(
            "draws: expected products, measures and at least 2 draws, "
            f"found {len(products)}, {len(measures)} and {draws}"
        )
    for product in products:
        gaps = [measure for measure in measures if measure not in worths[product]]
        if gaps:
            raise ValueError(f"{product}: expected a worth for {gaps[0]}, found none")


def _draw(belief: Belief, line: Line, stream: Stream, common: Array, draws: int) -> Array:
    import numpy as np

    if isinstance(belief, Anywhere):
        return belief.low + (belief.high - belief.low) * stream.uniform(draws)
    if isinstance(belief, Spans):
        upto = np.array([math.fsum(belief.chances[: i + 1]) for i in range(len(belief.chances) - 1)])
        low, high = np.array(belief.spans)[np.searchsorted(upto, stream.uniform(draws), side="right")].T
        return low + (high - low) * stream.uniform(draws)
    if isinstance(belief, Spread):
        values = _around(belief, stream, common, draws)
    elif isinstance(belief, Graded):
        values = np.clip(belief.centre + belief.own * stream.student(draws, belief.dof), belief.low, belief.high)
    elif isinstance(belief, Grades):
        upto = np.array([math.fsum(belief.chances[: i + 1]) for i in range(len(belief.chances) - 1)])
        values = np.array(belief.grades)[np.searchsorted(upto, stream.uniform(draws), side="right")]
    else:
        values = _passed(belief, stream, draws)
    return np.clip(line.straight(values), 0.0, BEST)


def _around(belief: Spread, stream: Stream, common: Array, draws: int) -> Array:
    import numpy as np

    values = np.full(draws, float(belief.value))
    if belief.own:
        values += belief.own * stream.student(draws, belief.dof)
    if belief.shared:
        values += belief.shared * common
    return values


def _passed(belief: Passed, stream: Stream, draws: int) -> Array:
    import numpy as np

    walls = np.empty((draws, belief.n + 2))
    walls[:, 0], walls[:, -1] = 0.0, 1.0
    walls[:, 1:-1] = np.sort(stream.uniform(draws * belief.n).reshape(draws, belief.n), axis=1)
    upper = stream.uniform(draws) < 0.5
    return np.where(upper, walls[:, belief.yes + 1], walls[:, belief.yes]) * belief.whole
