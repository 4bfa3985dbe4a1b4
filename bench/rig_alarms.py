"""How often a rig in order gives a false alarm: days out of order and hints in 100 days, by simulation.

Three logs of 100 days, one run a day, all within their tolerance: a volume read in whole millilitres, the humidity of a
room, and a temperature that drifts slowly with the season.

    python -m bench.rig_alarms
"""

import datetime
import itertools

import numpy as np
from numpy.typing import NDArray

from sitegen.findings.rigs.rig import Logged, Order, Tolerance, judge_rig

DAYS = 100
START = datetime.date(2026, 1, 1)


def _alike(noise: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    """Days each like the one before by `share` (a first-order autoregressive series) with the spread of the noise."""
    new = (1 - share**2) ** 0.5
    return np.array(list(itertools.accumulate(noise, lambda before, own: share * before + new * own)))


def logged(kind: str, chance: np.random.Generator) -> tuple[NDArray[np.float64], Tolerance]:
    """One simulated log and what it is held against: `steps`, `humidity`, `humidity, charted` or `drift`."""
    noise = chance.standard_normal(DAYS)
    if kind == "steps":
        return np.round(250 + 0.4 * noise), Tolerance(check=kind, low=248, high=252, step=1)
    if kind.startswith("humidity"):
        air = np.clip(np.round(55 + 3 * _alike(noise, 0.8)), 45, 65)
        return air, Tolerance(check=kind, low=45, high=65, ambient=kind == "humidity", step=1)
    season = 1.5 * np.sin(2 * np.pi * (np.arange(DAYS) / 365 + chance.random()))
    warmth = np.clip(np.round(20 + season + 0.3 * _alike(noise, 0.8), 1), 18, 22)
    return warmth, Tolerance(check=kind, low=18, high=22, step=0.1)


def alarms(kind: str, logs: int, seed: int) -> tuple[float, float]:
    """Hints, and days out of order, in 100 days on average over so many logs."""
    chance = np.random.default_rng(seed)
    hints = out = 0
    for _ in range(logs):
        values, tolerance = logged(kind, chance)
        log = [
            Logged(date=START + datetime.timedelta(days=index), check=kind, value=float(value))
            for index, value in enumerate(values)
        ]
        state = judge_rig(log, [tolerance])
        hints += len(state.hints)
        out += sum(day.order is Order.OUT for day in state.days)
    return hints / logs, out / logs


def main() -> None:
    """Print the table."""
    print("false alarms in 100 days   hints   days out of order")
    for kind in ("steps", "humidity", "humidity, charted", "drift"):
        hints, out = alarms(kind, logs=1000, seed=1)
        print(f"{kind:25}  {hints:5.2f}   {out:5.2f}")


if __name__ == "__main__":
    main()
