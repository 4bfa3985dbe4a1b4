"""Tables of worths for tests: products by measures, from plain numbers."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from sitegen.findings.ranking.worth import Line, Spread, Worth, grade_worth, unknown_worth
from sitegen.findings.statistics.ordinal import summarise_grades

UNIT = Line(worth_0=0.0, worth_100=1.0)
SCALE = tuple(map(Decimal, (1, 2, 3, 4, 5)))


def known(
    value: float, own: float = 0.0, *, dof: float = float("inf"), shared: float = 0.0, line: Line = UNIT
) -> Worth:
    """The worth of a ratio finding `value` with its standard uncertainties."""
    at = line.at(value)
    belief = Spread(value=value, own=own, dof=dof, shared=shared)
    return Worth(value=at, low=at, high=at, line=line, belief=belief)


def graded(*grades: int) -> Worth:
    """The worth of grades 1 to 5 (0 to 100)."""
    summary = summarise_grades(tuple(map(Decimal, grades)), SCALE)
    return grade_worth(summary, Line(worth_0=1.0, worth_100=5.0), SCALE)


def table(rows: Mapping[str, Sequence[float | Worth | None]], own: float = 0.0) -> dict[str, dict[str, Worth]]:
    """Worths by product and measure m0, m1 …; a number is 0 to 1 and worth a hundred times that, None unknown."""
    return {product: {f"m{i}": _worth(entry, own) for i, entry in enumerate(row)} for product, row in rows.items()}


def _worth(entry: float | Worth | None, own: float) -> Worth:
    if isinstance(entry, Worth):
        return entry
    return unknown_worth(UNIT) if entry is None else known(entry, own)


def names(count: int) -> tuple[str, ...]:
    """m0, m1 …"""
    return tuple(f"m{i}" for i in range(count))


def smaa_example() -> dict[str, dict[str, Worth]]:
    """Means and spreads of the R package smaa's example, from its stored draws; anchors wide enough that nothing is clipped."""
    wide = Line(worth_0=-2.0, worth_100=3.0)
    rows = {
        "alt1": ((0.412, 0.122), (0.425, 0.156), (0.926, 0.073)),
        "alt2": ((0.751, 0.084), (0.608, 0.153), (0.615, 0.166)),
    }
    return {
        product: {f"m{i}": known(mean, sd, line=wide) for i, (mean, sd) in enumerate(row)}
        for product, row in rows.items()
    }
