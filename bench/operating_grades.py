"""python -m bench.operating_grades: how often findings on grades are right, counted over made-up rounds.

Every round goes through the functions that a publication's rounds go through. Printed as the table of DEVELOPERS.md:
false alarms of letters, of changes and of claims; power; and how often the product called first is the best.

Grades come from a latent scale, cut by thresholds that are even or far from it, or from shares of grades as written.
"No difference" means that all products have the same expected grade: where thresholds are uneven and scatter differs,
the latent centres are moved until they have.
"""

import argparse
import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.findings.changing.grade_changes import Stages, family_wise, judge_changes
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.claiming.grade_claims import judge_grades
from sitegen.findings.comparison.grade_pairs import compare_grades
from sitegen.findings.comparison.grade_scatter import pool_grades
from sitegen.findings.ranking.worth import Line, grade_worth
from sitegen.findings.ranking.worth_draws import draw_worths
from sitegen.findings.statistics.ordinal import summarise_grades

Array = Any  # a NumPy array
Cells = Array  # grades, shape (products, specimens)

SCALE = tuple(Decimal(grade) for grade in range(6))
EVEN = (0.5, 1.5, 2.5, 3.5, 4.5)
UNEVEN = (0.5, 1.0, 2.6, 3.2, 4.6)
SHARES = {  # of grades 0 to 5
    "mostly 5": (0, 0, 0, 0, 0.15, 0.85),
    "mostly 3": (0, 0, 0.075, 0.85, 0.075, 0),
    "5 or 4": (0, 0, 0, 0, 0.5, 0.5),
    "exactly 3": (0, 0, 0, 1, 0, 0),
    "wide": (0, 0.1, 0.2, 0.4, 0.2, 0.1),
}
SEED = 20_261_130


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """One row: what was counted in so many `rounds`, and the limit that it must keep, in per cent."""

    name: str
    found: float
    limit: float
    rounds: int
    least: bool = False

    @property
    def error(self) -> float:
        """The standard error of what was counted."""
        share = min(max(self.found / 100, 1 / self.rounds), 1 - 1 / self.rounds)
        return 100 * math.sqrt(share * (1 - share) / self.rounds)

    @property
    def kept(self) -> bool:
        """Whether the row keeps its limit, as far as two standard errors let one tell."""
        beyond = self.limit - self.found if self.least else self.found - self.limit
        return beyond <= 2 * self.error


def from_shares(names: Sequence[str]) -> "Callable[[Array, int], Cells]":
    """Rounds whose products have these shares of grades."""

    def make(chance: Array, specimens: int) -> Cells:
        import numpy as np

        return np.stack([chance.choice(6, size=specimens, p=SHARES[name]) for name in names])

    return make


def from_latent(spreads: Sequence[float], mean: float, thresholds: Sequence[float]) -> "Callable[[Array, int], Cells]":
    """Rounds whose products scatter by `spreads` on the latent scale, all with the expected grade `mean`."""
    centres = [centre_for(mean, spread, tuple(thresholds)) for spread in spreads]

    def make(chance: Array, specimens: int) -> Cells:
        import numpy as np

        latent = chance.normal(np.array(centres)[:, None], np.array(spreads)[:, None], (len(spreads), specimens))
        return np.searchsorted(thresholds, latent)

    return make


@lru_cache(maxsize=1_000)
def centre_for(mean: float, spread: float, thresholds: tuple[float, ...]) -> float:
    """The latent centre with the expected grade `mean`, by halving."""
    low, high = -5.0, 10.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if expected_grade(middle, spread, thresholds) < mean else (low, middle)
    return low


def expected_grade(centre: float, spread: float, thresholds: Sequence[float]) -> float:
    """The mean of the grades that a latent centre gives."""
    from math import erf, sqrt

    return sum((1 + erf((centre - threshold) / spread / sqrt(2))) / 2 for threshold in thresholds)


def letter_alarms(
    make: "Callable[[Array, int], Cells]", specimens: int, rounds: int, stages: Sequence[float] = ()
) -> float:
    """In how many of 100 rounds of equal products a pair is told apart; `stages`: scatter of further stages."""
    import numpy as np

    chance, alarms = np.random.default_rng(SEED), 0
    for _ in range(rounds):
        cells = make(chance, specimens)
        other = [from_latent([s] * len(cells), 4.0, UNEVEN)(chance, specimens) for s in stages]
        alarms += bool(_told_apart(cells, other))
    return 100 * alarms / rounds


def _told_apart(cells: Cells, others: Sequence[Cells] = ()) -> tuple[tuple[str, str], ...]:
    scatter = pool_grades(cells.tolist(), [cell for stage in others for cell in stage.tolist()])
    if scatter is None:
        return ()
    return compare_grades({f"p{i:02}": cell for i, cell in enumerate(cells.tolist())}, scatter).distinct_pairs


def letter_power(low: str, high: str, entrants: int, specimens: int, rounds: int) -> float:
    """Of 100 pairs of a `low` and a `high` product, half of the entrants each, how many are told apart."""
    import numpy as np

    chance, half, found = np.random.default_rng(SEED), entrants // 2, 0
    make = from_shares([low] * half + [high] * (entrants - half))
    for _ in range(rounds):
        pairs = _told_apart(make(chance, specimens))
        found += sum(int(a[1:]) < half <= int(b[1:]) for a, b in pairs)
    return 100 * found / (rounds * half * (entrants - half))


def change_counts(
    entrants: int, specimens: int, fall: float, rounds: int, spread: float, thresholds: Sequence[float], rubbed: float
) -> tuple[float, float]:
    """One product of `entrants` falls by `fall` grades: how often that is called real, and how often another change is.

    Each specimen has a place of its own on the latent scale that it keeps (half of the variance); `rubbed` is the
    factor by which scatter grows from one stage to the next.
    """
    import numpy as np

    chance, power, alarms = np.random.default_rng(SEED), 0, 0
    for _ in range(rounds):
        own = chance.normal(0, spread / np.sqrt(2), (entrants, specimens))
        centres = np.full((entrants, 1), 4.2)
        graded = []
        for washed in (0, 1, 2):
            fallen = centres - np.array([[fall * washed / 2]] + [[0.0]] * (entrants - 1))
            noise = chance.normal(0, spread / np.sqrt(2) * rubbed**washed, own.shape)
            graded.append(np.searchsorted(thresholds, fallen + own + noise))
        real = _real_changes(graded)
        power += "p00" in real
        alarms += bool(real - {"p00"})
    return 100 * power / rounds, 100 * alarms / rounds


def change_alarms(spreads: Sequence[float], specimens: int, rounds: int, thresholds: Sequence[float]) -> float:
    """In how many of 100 rounds a change is called real, though every stage has the same expected grade."""
    import numpy as np

    chance, make = np.random.default_rng(SEED), from_latent(spreads, 3.6, thresholds)
    return 100 * sum(bool(_real_changes([make(chance, specimens) for _ in range(3)])) for _ in range(rounds)) / rounds


def _real_changes(graded: Sequence[Cells]) -> set[str]:
    def named(cell: Array) -> dict[str, Decimal]:
        return {str(i): Decimal(int(grade)) for i, grade in enumerate(cell)}

    stages = [
        Stages(product=f"p{i:02}", before=named(first), after=named(last))
        for i, (first, last) in enumerate(zip(graded[0], graded[-1], strict=True))
    ]
    between = [
        [Decimal(int(x)) for x in cell]
        for a, b in itertools.combinations(range(len(graded)), 2)
        if (a, b) != (0, len(graded) - 1)
        for cell in graded[a] - graded[b]
    ]
    return {name for name, change in family_wise(judge_changes(stages, between=between)).items() if change.real}


def wrong_claims(specimens: int, rounds: int, spread: float, met: float) -> tuple[float, float]:
    """A claim of grade 4 that a share `met` of specimens meets: how often it is said to hold, and not to.

    The other seven products of the round scatter by half a grade about grades 2 to 5.
    """
    import numpy as np
    from scipy import special

    chance, said = np.random.default_rng(SEED), dict.fromkeys(Outcome, 0)
    centre = 3.5 + spread * float(special.ndtri(met))
    for _ in range(rounds):
        latent = chance.normal(centre, spread, specimens)
        others = np.searchsorted(EVEN, chance.normal(chance.uniform(2, 5, (7, 1)), 0.5, (7, specimens)))
        grades = np.searchsorted(EVEN, latent).tolist()
        scatter = pool_grades([grades, *others.tolist()])
        said[judge_grades(Decimal(4), [Decimal(g) for g in grades], scatter=scatter).outcome] += 1
    return 100 * said[Outcome.HOLDS] / rounds, 100 * said[Outcome.DOES_NOT_HOLD] / rounds


def leader_bands(
    specimens: int, rounds: int, spread: float, thresholds: Sequence[float], entrants: int = 8
) -> Iterator[tuple[int, int, float, float]]:
    """By bands of 20: from, how many rounds, the mean of "first in N of 100", and how often of 100 it was the best.

    Products lie evenly between grades 1 and 5; the best is the one with the highest expected grade.
    """
    import numpy as np

    chance = np.random.default_rng(SEED)
    line, seen = Line(worth_0=0, worth_100=5), []
    for number in range(rounds):
        centres = chance.uniform(1, 5, entrants)
        cells = np.searchsorted(thresholds, chance.normal(centres[:, None], spread, (entrants, specimens)))
        scatter = pool_grades(cells.tolist())
        worths = {
            f"p{i:02}": {
                "spray": grade_worth(summarise_grades([Decimal(int(g)) for g in c], SCALE), line, SCALE, scatter)
            }
            for i, c in enumerate(cells)
        }
        drawn = draw_worths(worths, ["spray"], seed=number, draws=500).values[0]
        best = drawn.max(axis=0) == drawn
        shares = (best / best.sum(axis=0)).mean(axis=1)
        first = int(np.argmax([worths[name]["spray"].middle for name in sorted(worths)]))
        truth = [expected_grade(float(c), spread, thresholds) for c in centres]
        seen.append((float(shares[first]), truth[first] == max(truth)))
    for low in (0, 20, 40, 60, 80):
        band = [(n, right) for n, right in seen if low <= 100 * n < low + 20 or (low == 80 and n >= 1)]
        if len(band) >= 30:
            said, true = (100 * sum(values) / len(band) for values in zip(*band, strict=True))
            yield low, len(band), said, true


def rows(rounds: int) -> Iterator[Counted]:
    """All rows of the table."""
    yield from _letter_rows(rounds)
    for low, high, n in (("mostly 3", "mostly 5", 3), ("mostly 3", "mostly 5", 5)):
        name = f"letters, {high} against {low}, 8 products x {n}: told apart"
        yield Counted(name=name, found=letter_power(low, high, 8, n, rounds), limit=80, rounds=rounds, least=True)
    yield from _washing_rows(rounds)
    for n, spread in ((3, 0.5), (3, 1.0), (5, 0.5), (10, 0.5)):
        name = f"claim, half of the specimens miss it, {n} of them, scatter {spread}: holds"
        yield Counted(name=name, found=wrong_claims(n, rounds, spread, 0.5)[0], limit=2.5, rounds=rounds)
        name = f"claim, one specimen in ten misses it, {n} of them, scatter {spread}: does not hold"
        yield Counted(name=name, found=wrong_claims(n, rounds, spread, 0.9)[1], limit=3, rounds=rounds)
    for thresholds, name in ((EVEN, "even"), (UNEVEN, "uneven")):
        for low, count, said, true in leader_bands(3, rounds, 0.5, thresholds):
            what = (
                f"first in N of 100, thresholds {name}, N from {low}, {count} rounds: {said:.0f} said, {true:.0f} true"
            )
            yield Counted(name=what, found=abs(said - true), limit=6, rounds=count)


def _washing_rows(rounds: int) -> Iterator[Counted]:
    for thresholds, name in ((EVEN, "even"), (UNEVEN, "uneven")):
        power, alarms = change_counts(8, 3, 2.0, rounds, 0.5, thresholds, 1.0)
        yield Counted(
            name=f"washing, one of 8 falls 2 grades, thresholds {name}: real", found=power, limit=90, least=True
        )
        yield Counted(name=f"washing, the other seven, thresholds {name}: alarm", found=alarms, limit=6, rounds=rounds)
        for spreads, what in (
            ([0.5] * 8, "8, scatter 0.5"),
            ([0.3 + 0.9 * i / 7 for i in range(8)], "8, scatter 0.3 to 1.2"),
            ([0.4] * 7 + [1.2], "8, one x 3"),
            ([0.5] * 3, "3, scatter 0.5"),
        ):
            found = change_alarms(spreads, 3, rounds, thresholds)
            yield Counted(
                name=f"washing, none falls, {what}, thresholds {name}: alarm", found=found, limit=6, rounds=rounds
            )


def _letter_rows(rounds: int) -> Iterator[Counted]:
    same: list[tuple[str, Callable[[Array, int], Cells], int]] = [
        ("8 x 5 or 4", from_shares(["5 or 4"] * 8), 8),
        ("8 wide", from_shares(["wide"] * 8), 8),
        ("7 exactly 3, one wide", from_shares(["exactly 3"] * 7 + ["wide"]), 8),
        ("4 exactly 3, 4 wide", from_shares(["exactly 3"] * 4 + ["wide"] * 4), 8),
    ]
    for k in (4, 8, 12):
        uneven = [0.3 + 0.9 * i / (k - 1) for i in range(k)]
        same.append((f"{k}, thresholds uneven, scatter 0.5", from_latent([0.5] * k, 3.0, UNEVEN), k))
        same.append((f"{k}, thresholds uneven, scatter 0.3 to 1.2", from_latent(uneven, 3.0, UNEVEN), k))
        same.append((f"{k}, thresholds uneven, one x 3", from_latent([0.4] * (k - 1) + [1.2], 2.7, UNEVEN), k))
    for n in (2, 3, 5, 10):
        for name, make, k in same:
            if k * (n - 1) >= 6:
                yield Counted(
                    name=f"letters, {name}, {n} specimens: alarm", found=letter_alarms(make, n, rounds), limit=6
                )
    for k, stages in ((2, (0.5, 0.5)), (3, (0.5, 0.5)), (3, (0.3, 0.3))):
        make = from_latent([0.6] * k, 3.0, UNEVEN)
        name = f"letters, {k} products, scatter 0.6, other stages {stages[0]}, 3 specimens: alarm"
        yield Counted(name=name, found=letter_alarms(make, 3, rounds, stages), limit=6, rounds=rounds)


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=2_000, help="made-up rounds a row (default: 2,000)")
    rounds = parser.parse_args().rounds
    for row in rows(rounds):
        sign = ">=" if row.least else "<="
        print(
            f"{row.name:90} {row.found:6.1f} ± {row.error:3.1f}  {sign} {row.limit:4.1f}{'' if row.kept else '   MISSED'}",
            flush=True,
        )


if __name__ == "__main__":
    main()
