"""Before the bench: blind codes, a shuffled and balanced order, and how many specimens a question takes.

Codes: random three-digit numbers, so that neither the product nor the order shows (common practice; ISO 6658
on sensory testing uses three digits too; from memory). Order: blocks of one specimen of each product, so that
drift of bench and grader falls on all products alike (NIST/SEMATECH e-Handbook 5.3.3.2, randomised blocks).
Within blocks, rows of a Latin square: no product meets a position again before it has met all others. The
square is Williams' (Austral. J. Sci. Res. A2 (1949) 149), in which over a full set each product also follows
every other equally often, and with an even number of products blocks come in pairs of a row and its reverse.

Randomness: `random.Random(n).random()` and nothing else of that module. Python's documentation promises for
this one method, and for no other, that a seed gives the same sequence in every version ("Notes on
Reproducibility"). Drawing and shuffling on top are ours: Fisher-Yates (Knuth, TAOCP 2, 3.4.2, algorithm P).
Each use draws from a stream of its own, named after it, so that a further protocol moves no other protocol's
order.
"""

import hashlib
import random
from collections.abc import Collection, Sequence
from typing import TypeVar

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.comparison import LEVEL
from sitegen.findings.photos.door import Number, positive
from sitegen.findings.statistics.specimens import (
    POWER,
    grade_difference_shown,
    smallest_p,
    specimens_for_difference,
    specimens_for_grades,
)

T = TypeVar("T")

YEARS = range(1900, 2100)  # four-digit codes that would be read as a year


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """One specimen (numbered from 1 within its product) and the code that graders see instead."""

    code: str
    product: str
    specimen: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One line of a bench sheet: what is tested as number `position` of block `block`, both from 1."""

    block: int
    position: int
    coded: Coded


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOrder:
    """The order for one protocol: its name and runs, block after block."""

    name: str
    runs: tuple[Run, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlan:
    """A round's codes (by product and specimen) and orders, all of which follow from `seed`."""

    seed: int
    codes: tuple[Coded, ...]
    sheets: tuple[SheetOrder, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanningFigures:
    """What so many specimens can show among so many entrants, family-wise.

    `smallest_p`: of the clearest outcome for grades by exact tests alone; `for_grades`: specimens per entrant that make
    any difference possible by those; `grades_shown`: the difference in grades that the round's pooled scatter shows,
    None where there is too little to pool; `for_difference`: that show the stated difference of means with
    probability `power`, None where none was stated or more than 1 000 would be needed.
    """

    entrants: int
    specimens: int
    smallest_p: float
    grades_can_differ: bool
    for_grades: int
    grades_shown: float | None
    for_difference: int | None
    power: float


class Draws:
    """Random numbers that a seed and a purpose fix for good, in any version of Python.

    >>> Draws(7, "codes").shuffled("abcdef") == Draws(7, "codes").shuffled("abcdef")
    True
    """

    def __init__(self, seed: int, purpose: str) -> None:
        if seed < 0:
            raise ValueError(f"seed: expected 0 or more, found {seed}")
        digest = hashlib.sha256(f"{seed}:{purpose}".encode()).digest()
        self._stream = random.Random(int.from_bytes(digest[:8], "big"))

    def below(self, bound: int) -> int:
        """A whole number from 0 up to, not including, `bound`; its bias is below bound/2^53."""
        return int(self._stream.random() * bound)

    def shuffled(self, items: Sequence[T]) -> tuple[T, ...]:
        """`items` in random order, each order equally likely."""
        mixed = list(items)
        for last in range(len(mixed) - 1, 0, -1):
            other = self.below(last + 1)
            mixed[last], mixed[other] = mixed[other], mixed[last]
        return tuple(mixed)


def draw_codes(count: int, seed: int, taken: Collection[str] = ()) -> tuple[str, ...]:
    """`count` different blind codes, none of them in `taken`: three digits, four when there are too few of these; none
    starts with 0.

    Errors: ValueError for a negative count or seed, or more codes than four digits give.

    >>> codes = draw_codes(12, seed=20260810)
    >>> len(set(codes)), all(len(code) == 3 and code[0] != "0" for code in codes)
    (12, True)
    """
    for digits in (3, 4):
        choice = [number for number in range(10 ** (digits - 1), 10**digits) if number not in YEARS]
        mixed = (str(number) for number in Draws(seed, "codes").shuffled(choice))
        free = [code for code in mixed if code not in taken]
        if 0 <= count <= len(free):
            return tuple(free[:count])
    raise ValueError(f"codes: expected 0 to {len(free)}, found {count}")


def block_orders(
    products: Sequence[str], blocks: int, seed: int, purpose: str = "order"
) -> tuple[tuple[str, ...], ...]:
    """For each block every product once, in shuffled order, balanced over positions.

    Over any number of blocks from the first, two positions' counts of one product differ by at most one; over
    as many blocks as products (twice as many where that is odd) every product directly follows every other
    equally often. The order of `products` makes no difference. Errors: ValueError for no or repeated
    products, a negative number of blocks or seed. Source: the module's text.

    >>> [len(set(position)) for position in zip(*block_orders(["p", "q", "r", "s"], 4, seed=1))]
    [4, 4, 4, 4]
    """
    if not products or len(set(products)) < len(products):
        raise ValueError("products: expected one or more, each once")
    if blocks < 0:
        raise ValueError(f"blocks: expected 0 or more, found {blocks}")
    draws, orders = Draws(seed, purpose), list[tuple[str, ...]]()
    while len(orders) < blocks:
        names = draws.shuffled(sorted(products))
        orders += [tuple(names[index] for index in row) for row in _williams(len(names), draws)]
    return tuple(orders[:blocks])


def _williams(size: int, draws: Draws) -> tuple[tuple[int, ...], ...]:
    """The rows of Williams' square in random order, those of an odd one followed by their reverses.

    Its first row zigzags 0, 1, size-1, 2, size-2 …; the others are shifts of it. With an even size the
    reverse of a row is the row shifted by half the size, so the square holds it already.
    """
    zigzag = [(step + 1) // 2 if step % 2 else (size - step // 2) % size for step in range(size)]
    rows = [tuple((index + shift) % size for index in zigzag) for shift in range(size)]
    if size % 2 == 0:
        half = size // 2
        pairs = [draws.shuffled((rows[shift], rows[shift + half])) for shift in range(half)]
        return tuple(row for pair in draws.shuffled(pairs) for row in pair)
    reverses = [row[::-1] for row in rows]
    return (*draws.shuffled(rows), *draws.shuffled(reverses))


def code_specimens(
    products: Sequence[str], specimens: int, seed: int, taken: Collection[str] = ()
) -> tuple[Coded, ...]:
    """A code for each of so many specimens of each product, by product and specimen; none that is `taken`.

    Errors: ValueError as in `draw_codes`.
    """
    owned = [(product, number) for product in sorted(set(products)) for number in range(1, specimens + 1)]
    return tuple(
        Coded(code=code, product=product, specimen=number)
        for code, (product, number) in zip(draw_codes(len(owned), seed, taken), owned, strict=True)
    )


def plan_bench(
    products: Sequence[str], seed: int, sheets: Sequence[tuple[str, int]], codes: Sequence[Coded] = ()
) -> BenchPlan:
    """An order for each of `sheets`: its name (a protocol, or protocol and stage) and how many specimens it takes.

    `codes` are those of the round, drawn here where it has none yet. Each sheet takes the first specimens of every
    product, so that what one stage or protocol reads are pieces that those with as many or more read too. A block holds
    one specimen of each product; specimen numbers are dealt to blocks at random, so that number 1 isn't always first.
    Errors: ValueError as in `block_orders` and `draw_codes`, for fewer than one specimen, a sheet named twice; KeyError
    for a specimen without a code.

    >>> plan = plan_bench(["fjell", "tarn"], 5, [("spray", 3), ("mass", 1)])
    >>> len(plan.codes), [(run.block, run.position) for run in plan.sheets[0].runs]
    (6, [(1, 1), (1, 2), (2, 1), (2, 2), (3, 1), (3, 2)])
    >>> {run.coded.specimen for run in plan.sheets[1].runs}
    {1}
    """
    fewest = min((specimens for _, specimens in sheets), default=1)
    if fewest < 1:
        raise ValueError(f"specimens: expected 1 or more, found {fewest}")
    if len({name for name, _ in sheets}) < len(sheets):
        raise ValueError("sheets: expected each name once")
    most = max((specimens for _, specimens in sheets), default=0)
    known = tuple(codes) or code_specimens(products, most, seed)
    orders = tuple(_sheet_order(name, products, specimens, seed, known) for name, specimens in sheets)
    return BenchPlan(seed=seed, codes=known, sheets=orders)


def _sheet_order(name: str, products: Sequence[str], specimens: int, seed: int, codes: Sequence[Coded]) -> SheetOrder:
    draws, coded = Draws(seed, f"specimens of {name}"), {(one.product, one.specimen): one for one in codes}
    dealt = {product: draws.shuffled(range(1, specimens + 1)) for product in sorted(products)}
    orders = block_orders(products, specimens, seed, purpose=f"order of {name}")
    runs = (
        Run(block=block, position=position, coded=coded[product, dealt[product][block - 1]])
        for block, order in enumerate(orders, 1)
        for position, product in enumerate(order, 1)
    )
    return SheetOrder(name=name, runs=tuple(runs))


def planning_figures(
    entrants: int,
    specimens: int,
    *,
    spread: Number | None = None,
    difference: Number | None = None,
    power: float = POWER,
    level: float = LEVEL,
) -> PlanningFigures:
    """What a round of `entrants` with `specimens` each can show, before it starts.

    `spread` (standard deviation between specimens, from earlier rounds) and `difference` worth showing, in
    one unit, give the figure for readings. Errors: ValueError for fewer than 2 entrants or 1 specimen, values
    not above 0, one of the two without the other. Source: `specimens`.

    >>> figures = planning_figures(8, 3, spread=2.0, difference=5.0)
    >>> figures.grades_can_differ, figures.for_grades, figures.for_difference
    (False, 6, 6)
    """
    if (spread is None) != (difference is None):
        raise ValueError("spread and difference: expected both or neither")
    wanted = None
    if spread is not None and difference is not None:
        wanted = specimens_for_difference(
            entrants, positive(spread, "spread"), positive(difference, "difference"), power, level
        )
    chance = smallest_p(entrants, specimens)
    return PlanningFigures(
        entrants=entrants,
        specimens=specimens,
        smallest_p=chance,
        grades_can_differ=chance <= level,
        for_grades=specimens_for_grades(entrants, level),
        grades_shown=grade_difference_shown(entrants, specimens, power=power, level=level),
        for_difference=wanted,
        power=power,
    )
