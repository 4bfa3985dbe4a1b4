"""python -m bench.lab: what the findings of one round cost, for 8, 80 and 800 products.

A round of three measures (masses, grades at two stages, one curve each), with anchors and one use. Growth is
printed beside that of the number of pairs, which no comparison of all entrants can beat.
"""

import argparse
import random
import time
from collections.abc import Iterator
from decimal import Decimal

from sitegen import stock
from sitegen.findings.ranking.round_order import order_round
from sitegen.findings.rounds import find_round
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.kinds import Amount
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.fields.words import plain_words
from sitegen.records.measured.protocol import Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Anchors, Entrant, Measure, Round, RoundProtocol, Use
from sitegen.records.product import Product, Version
from sitegen.records.stock_records import read_stock

HERE = Place("bench", 1, 1)
WASHED = Stage(washes=3)
SIZES = (8, 80, 800)


def made_round(products: int) -> tuple[Round, dict[str, Product]]:
    """A round of so many made-up products."""
    names = [f"p{i:04}" for i in range(products)]
    entrants = tuple(Entrant(product=Ref(name, HERE)) for name in names)
    protocols = tuple(RoundProtocol(protocol=Ref(id, HERE)) for id in ("mass", "spray", "run_time"))
    anchors = (_anchors("mass", 600, 250), _anchors("spray", 1, 5), _anchors("run_time", 0, 600))
    weights = tuple(
        ((Measure(*measure), HERE), Decimal(1)) for measure in (("mass",), ("spray", WASHED), ("run_time",))
    )
    use = Use(id=Ref("walk", HERE), name=plain_words("a walk"), weights=weights)
    round = Round(
        id="bench",
        title=plain_words("bench"),
        entrants=entrants,
        protocols=protocols,
        stages=(NEW, WASHED),
        anchors=anchors,
        uses=(use,),
    )
    version = Version(id=Ref("1", HERE))
    return round, {name: Product(id=name, name=name, maker="nobody", versions=(version,)) for name in names}


def _anchors(protocol: str, low: int, high: int) -> tuple[tuple[Measure, Place], Anchors]:
    pair = (Amount(Decimal(low), "", HERE), Amount(Decimal(high), "", HERE))
    return (Measure(protocol), HERE), Anchors(worth_0=pair[0], worth_100=pair[1])


def made_readings(round: Round) -> Iterator[Reading]:
    """Five masses, three grades at each stage and a curve of thirty points for each product, from a fixed seed."""
    chance = random.Random(1)
    for entrant in round.entrants:
        name = entrant.product.id
        mass = chance.uniform(280, 480)
        for i in range(5):
            value = Decimal(round_half(mass + chance.gauss(0, 0.4)))
            yield Reading(product=name, protocol="mass", specimen=str(i), value=value, place=HERE)
        for stage, top in ((NEW, 5), (WASHED, 4)):
            for i in range(3):
                grade = Decimal(chance.randint(top - 2, top))
                yield Reading(product=name, protocol="spray", stage=stage, specimen=str(i), value=grade, place=HERE)
        life = chance.uniform(100, 500)
        for i in range(30):
            light = Decimal(max(1, int(300 * (1 - i * 20 / life)))) if i * 20 < life else Decimal(1)
            yield Reading(
                product=name, protocol="run_time", specimen="1", along=Decimal(i * 20), value=light, place=HERE
            )


def round_half(value: float) -> str:
    """A mass as a scale of 0.5 g shows it."""
    return f"{round(value * 2) / 2:.1f}"


def timed(products: int, protocols: dict[str, Protocol]) -> tuple[float, float]:
    """CPU seconds of the findings and of the order."""
    round, known = made_round(products)
    readings = tuple(made_readings(round))
    start = time.process_time()
    found = find_round(round, readings, protocols, known)
    middle = time.process_time()
    order_round(found, {})
    return middle - start, time.process_time() - middle


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m bench.lab", description=__doc__)
    parser.add_argument("--products", type=int, nargs="+", default=SIZES, metavar="N", help="sizes of the round")
    sizes = parser.parse_args().products
    protocols = dict(read_stock(stock.content_folder(), Problems()).protocols)
    timed(4, protocols)  # the libraries are loaded here, outside the count
    print(f"{'products':>9}{'pairs':>9}{'findings':>12}{'order':>12}{'growth':>10}{'of pairs':>10}")
    before: tuple[float, int] | None = None
    for n in sizes:
        findings, order = timed(n, protocols)
        pairs = n * (n - 1) // 2
        growth = f"{(findings + order) / before[0]:9.1f}x{pairs / before[1]:9.1f}x" if before else ""
        print(f"{n:9}{pairs:9}{findings:10.2f} s{order:10.2f} s{growth}", flush=True)
        before = (findings + order, pairs)


if __name__ == "__main__":
    main()
