"""python -m bench.operating: how often the findings on quantities are right, over made-up rounds with known truth.

Every round goes the public way, from readings to findings. For each setting: the share of printed intervals that hold the
true value (the kind of entrant where it is lowest), of rounds of equal entrants with a letter too many, of claims exactly at the
limit with a wrong word; how often a true difference is told apart; and whether "first in N of 100" happens N times of 100.
Seeded; `--rounds` sets how many rounds a row has. A share p of so many rounds is off by at most 1.96 √(p(1-p)/rounds), 95 %.
"""

import argparse
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, NamedTuple

from sitegen import stock
from sitegen.findings.claiming.claims import Outcome
from sitegen.findings.found import Judged, Measured, RoundFindings
from sitegen.findings.measured import measure_round
from sitegen.findings.ranking.round_order import order_round
from sitegen.findings.rounds import find_round, judge_claims
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.kinds import Amount
from sitegen.records.fields.words import plain_words
from sitegen.records.measured.protocol import INSTRUMENT, SPECIMEN, Protocol
from sitegen.records.measured.readings import Beyond, Reading
from sitegen.records.measured.round import Anchors, Entrant, Instrument, Measure, Round, RoundProtocol, Use
from sitegen.records.product import Claim, Product, Version
from sitegen.records.stock_records import read_stock

HERE = Place("bench", 1, 1)
TRUE = 100.0  # where all means are equal
SEED = 20_261_201
Array = Any  # NumPy's


class Setting(NamedTuple):
    """Entrants that scatter with `spreads`, `sizes` readings each, rounded to `step`."""

    name: str
    spreads: tuple[float, ...]
    sizes: tuple[int, ...]
    step: float = 0.001
    scatter: str = SPECIMEN
    tails: float = math.inf  # degrees of freedom of t; inf is normal


def spread_out(k: int) -> tuple[float, ...]:
    """From 0.5 to 2.5 in equal ratios."""
    return tuple(0.5 * 5 ** (i / (k - 1)) for i in range(k))


def settings(k: int, n: int) -> Iterator[Setting]:
    """The untidy worlds for `k` entrants with `n` readings."""
    yield Setting("alike, instrument", (1.0,) * k, (n,) * k, scatter=INSTRUMENT)
    yield Setting("alike", (1.0,) * k, (n,) * k)
    yield Setting("0.5 to 2.5", spread_out(k), (n,) * k)
    yield Setting("one × 2", (2.0, *(1.0,) * (k - 1)), (n,) * k)
    yield Setting("one × 4", (4.0, *(1.0,) * (k - 1)), (n,) * k)
    yield Setting("coarse steps", (1.0,) * k, (n,) * k, step=2.0)
    yield Setting("coarse, instrument", (1.0,) * k, (n,) * k, step=2.0, scatter=INSTRUMENT)


class Bench:
    """A round of one measure that is laid out once, and read anew for each made-up round."""

    def __init__(self, setting: Setting, protocol: Protocol, bound: str = "") -> None:
        self.setting = setting
        names = [f"p{i:02}" for i in range(len(setting.sizes))]
        self.protocols = {"mass": replace(protocol, scatter=setting.scatter, better="lower")}
        claim = Claim(
            protocol=Ref("mass", HERE),
            value=Amount(Decimal(int(TRUE)), "g", HERE),
            source=plain_words("x"),
            bound=bound,
        )
        version = Version(id=Ref("1", HERE), claims=(claim,) if bound else ())
        self.products = {name: Product(id=name, name=name, maker="x", versions=(version,)) for name in names}
        step = Amount(Decimal(str(setting.step)), "g", HERE)
        anchors = Anchors(worth_0=Amount(Decimal(200), "g", HERE), worth_100=Amount(Decimal(0), "g", HERE))
        use = Use(id=Ref("walk", HERE), name=plain_words("x"), weights=(((Measure("mass"), HERE), Decimal(1)),))
        self.round = Round(
            id="bench",
            title=plain_words("x"),
            entrants=tuple(Entrant(product=Ref(name, HERE)) for name in names),
            protocols=(RoundProtocol(protocol=Ref("mass", HERE)),),
            instruments=((Ref("mass", HERE), Instrument(resolution=step)),),
            anchors=(((Measure("mass"), HERE), anchors),),
            uses=(use,),
        )

    def draw(self, random: Array, means: Sequence[float]) -> list[Array]:
        """The readings of each entrant, as the display shows them."""
        found = []
        for mean, spread, n in zip(means, self.setting.spreads, self.setting.sizes, strict=True):
            noise = (
                random.standard_normal(n)
                if math.isinf(self.setting.tails)
                else random.standard_t(self.setting.tails, n)
            )
            found.append(((mean + spread * noise) / self.setting.step).round() * self.setting.step)
        return found

    def read(self, values: Sequence[Array], limit: float = math.inf) -> list[Reading]:
        """The readings as records; those above `limit` are only known to lie above it."""
        readings = []
        for name, group in zip(self.products, values, strict=True):
            for i, value in enumerate(group.tolist()):
                beyond = Beyond(limit=Decimal(str(limit)), above=True) if value > limit else None
                number = None if beyond else Decimal(f"{value:.3f}")
                readings.append(
                    Reading(product=name, protocol="mass", specimen=str(i), value=number, beyond=beyond, place=HERE)
                )
        return readings

    def measure(self, values: Sequence[Array], limit: float = math.inf) -> tuple[Measured, ...]:
        """Intervals alone."""
        return measure_round(self.round, self.read(values, limit), self.protocols)

    def judge(self, values: Sequence[Array], limit: float = math.inf) -> Iterator[Judged]:
        """The makers' claims alone."""
        yield from judge_claims(self.round, self.measure(values, limit), self.products)

    def find(self, values: Sequence[Array], limit: float = math.inf) -> RoundFindings:
        """All findings."""
        return find_round(self.round, self.read(values, limit), self.protocols, self.products)


def by_kind(setting: Setting, shares: Sequence[float]) -> list[float]:
    """The mean share of entrants of one spread and number of readings: these differ by chance alone."""
    kinds: dict[tuple[float, int], list[float]] = {}
    for spread, size, share in zip(setting.spreads, setting.sizes, shares, strict=True):
        kinds.setdefault((spread, size), []).append(share)
    return [math.fsum(found) / len(found) for found in kinds.values()]


def random_of(*purpose: object) -> Array:
    """Random numbers fixed by the seed and a purpose."""
    import numpy as np

    return np.random.default_rng([SEED, *"/".join(map(str, purpose)).encode()])


def mass_protocol() -> Protocol:
    """The stock's weighing."""
    return read_stock(stock.content_folder(), Problems()).protocols["mass"]


def coverage(setting: Setting, protocol: Protocol, rounds: int) -> float:
    """The share of intervals that hold the true value, of the kind of entrant where it is lowest."""
    bench, random = Bench(setting, protocol), random_of("coverage", *setting)
    inside = [0] * len(setting.sizes)
    for _ in range(rounds):
        means = [TRUE + float(random.uniform(-setting.step, setting.step)) for _ in setting.sizes]
        cells = bench.measure(bench.draw(random, means))[0].cells
        for index, (cell, mean) in enumerate(zip(cells, means, strict=True)):
            summary = cell.summary
            assert isinstance(summary, RatioSummary) and summary.expanded is not None
            inside[index] += abs(summary.mean - mean) <= summary.expanded
    return min(by_kind(setting, [count / rounds for count in inside]))


def false_alarms(setting: Setting, protocol: Protocol, rounds: int, limit: float = math.inf) -> float:
    """The share of rounds of equal entrants in which some pair is told apart."""
    bench, random = Bench(setting, protocol), random_of("alarms", *setting, limit)
    means = [TRUE + 0.3 * setting.step] * len(setting.sizes)
    return sum(_any_apart(bench.find(bench.draw(random, means), limit)) for _ in range(rounds)) / rounds


def _any_apart(found: RoundFindings) -> bool:
    comparison = found.compared[0].comparison
    return comparison is not None and any(pair.distinct for pair in comparison.pairs)


def wrong_words(setting: Setting, protocol: Protocol, rounds: int, limit: float = math.inf) -> tuple[float, float]:
    """Claims "at most" and "at least" exactly at the true value: shares that hold and that don't, of the worst kind of entrant."""
    worst = [0.0, 0.0]
    for bound in ("at most", "at least"):
        bench, random = Bench(setting, protocol, bound), random_of("claims", *setting, bound, limit)
        said = {outcome: [0] * len(setting.sizes) for outcome in Outcome}
        for _ in range(rounds):
            for claim in bench.judge(bench.draw(random, [TRUE] * len(setting.sizes)), limit):
                said[claim.verdict.outcome][int(claim.product[1:])] += 1
        for index, outcome in enumerate((Outcome.HOLDS, Outcome.DOES_NOT_HOLD)):
            shares = by_kind(setting, [count / rounds for count in said[outcome]])
            worst[index] = max(worst[index], *shares, 0.0)
    return worst[0], worst[1]


def power(setting: Setting, protocol: Protocol, rounds: int, apart: float, off: int = 1) -> tuple[float, float]:
    """The last `off` entrants lie `apart` from the others: shares of true pairs told apart, and of rounds with any of them."""
    bench, random = Bench(setting, protocol), random_of("power", *setting, apart, off)
    k = len(setting.sizes)
    means = [TRUE] * (k - off) + [TRUE + apart] * off
    true = {(f"p{i:02}", f"p{j:02}") for i in range(k - off) for j in range(k - off, k)}
    pairs = seen = 0
    for _ in range(rounds):
        comparison = bench.find(bench.draw(random, means)).compared[0].comparison
        told = len(true & set(comparison.distinct_pairs)) if comparison is not None else 0
        pairs, seen = pairs + told, seen + (told > 0)
    return pairs / (rounds * len(true)), seen / rounds


def leaders(setting: Setting, protocol: Protocol, rounds: int) -> dict[int, tuple[int, float, float]]:
    """By tens of the "N of 100" that was said of the leader: how often, its mean, and how often the leader was first."""
    bench, random = Bench(setting, protocol), random_of("leaders", *setting)
    bands: dict[int, list[tuple[float, bool]]] = {}
    for _ in range(rounds):
        scale = float(random.choice([0.3, 1.0, 3.0]))
        means = (TRUE + scale * random.standard_normal(len(setting.sizes))).tolist()
        order = order_round(bench.find(bench.draw(random, means)), {}, draws=400)
        if order is None or not order.uses:
            continue
        first = order.uses[0].first
        best = min(range(len(means)), key=means.__getitem__)
        bands.setdefault(min(9, int(10 * first.first_share)), []).append(
            (first.first_share, int(first.product[1:]) == best)
        )
    return {
        band: (len(said), sum(s for s, _ in said) / len(said), sum(true for _, true in said) / len(said))
        for band, said in sorted(bands.items())
    }


def table(rounds: int, say: Callable[[str], None]) -> None:
    """All rows, as text."""
    protocol = mass_protocol()
    say(f"{'entrants × readings, scatter':<36}{'coverage':>9}{'alarms':>8}{'holds':>8}{'not':>8}   per cent")
    for k, n in ((2, 2), (2, 3), (4, 3), (8, 3), (12, 3), (4, 5), (8, 5), (4, 10)):
        for setting in settings(k, n):
            row(f"{k} × {n} {setting.name}", setting, protocol, rounds, say)
    row("4 × 2 to 6, small n widest", Setting("n", (2.5, 1.5, 1.0, 0.5), (2, 3, 4, 6)), protocol, rounds, say)
    row("4 × 3, heavy tails (t, 3 dof)", Setting("tails", (1.0,) * 4, (3,) * 4, tails=3), protocol, rounds, say)
    say("\nfalse alarms and wrong words with readings above a limit that half of them pass")
    for k, n in ((4, 3), (8, 3), (3, 6)):
        setting = Setting("limit", (1.0,) * k, (n,) * k)
        holds, fails = wrong_words(setting, protocol, rounds, TRUE)
        alarms = false_alarms(setting, protocol, rounds, TRUE)
        say(f"{f'{k} × {n}':<36}{'':>9}{100 * alarms:8.1f}{100 * holds:8.1f}{100 * fails:8.1f}")
    say("\ntold apart, 8 × 3, one or four 3 sd off: pairs, rounds with any")
    for scatter in (INSTRUMENT, SPECIMEN):
        for off in (1, 4):
            share, seen = power(Setting("p", (1.0,) * 8, (3,) * 8, scatter=scatter), protocol, rounds, 3.0, off)
            say(f"{f'{scatter}, {off} off':<36}{100 * share:9.1f}{100 * seen:8.1f}")
    say("\nfirst in N of 100: said, true")
    for scatter in (INSTRUMENT, SPECIMEN):
        for band, (count, said, true) in leaders(
            Setting("l", (1.0,) * 6, (3,) * 6, scatter=scatter), protocol, rounds
        ).items():
            say(
                f"{f'{scatter}, {10 * band} to {10 * band + 9} ({count} rounds)':<36}{100 * said:9.1f}{100 * true:8.1f}"
            )


def row(name: str, setting: Setting, protocol: Protocol, rounds: int, say: Callable[[str], None]) -> None:
    """Coverage, false alarms and wrong words of one setting."""
    covered, alarms = coverage(setting, protocol, rounds), false_alarms(setting, protocol, rounds)
    holds, fails = wrong_words(setting, protocol, rounds)
    say(f"{name:<36}{100 * covered:9.1f}{100 * alarms:8.1f}{100 * holds:8.1f}{100 * fails:8.1f}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m bench.operating", description=__doc__)
    parser.add_argument("--rounds", type=int, default=2_000, metavar="N", help="made-up rounds in each row")
    table(parser.parse_args().rounds, lambda line: print(line, flush=True))


if __name__ == "__main__":
    main()
