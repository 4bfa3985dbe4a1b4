"""The rigs of a bench as their logs show them, and which readings were taken while one was out of order."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from sitegen.datatypes import dataclass
from sitegen.findings.found import Measured, Touched
from sitegen.findings.rigs.rig import Logged, Order, RigState, Tolerance, judge_rig, rig_on
from sitegen.records.measured.protocol import Condition, Protocol
from sitegen.records.measured.rig import Rig


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedRig:
    """A rig with its state; `checks` are the conditions and own checks that its log may name."""

    rig: Rig
    checks: Mapping[str, Condition]
    state: RigState


def judge_rig_record(rig: Rig, protocols: Mapping[str, Protocol]) -> JudgedRig:
    """A rig's log held against its protocols' conditions and its own checks."""
    checks = rig.all_checks(protocols)
    tolerances = [
        Tolerance(
            check=id,
            low=float(c.low) if c.low is not None else None,
            high=float(c.high) if c.high is not None else None,
            ambient=c.ambient,
            step=min((float(run.step) for run in rig.runs if run.check == id), default=0.0),
        )
        for id, c in checks.items()
    ]
    logged = [Logged(date=run.date, check=run.check, value=float(run.value)) for run in rig.runs]
    used = {entry.check for entry in logged}
    # A condition that this rig never logs (such as the conditioning of specimens) isn't missing from its days.
    return JudgedRig(rig=rig, checks=checks, state=judge_rig(logged, [t for t in tolerances if t.check in used]))


def judge_rigs(rigs: Mapping[str, Rig], protocols: Mapping[str, Protocol]) -> dict[str, JudgedRig]:
    """The state of each rig, by its checks."""
    return {id: judge_rig_record(rig, protocols) for id, rig in rigs.items()}


def touched_readings(measured: tuple[Measured, ...], rigs: Mapping[str, JudgedRig]) -> tuple[Touched, ...]:
    """Every measure with readings from a day on which the rig that serves its protocol was out of order."""
    found = []
    for id, judged in rigs.items():
        served = {ref.id for ref in judged.rig.protocols}
        for entry in measured:
            if entry.protocol.id in served:
                found += [
                    Touched(rig=id, measure=entry.measure, day=rig_on(judged.state, day), products=products)
                    for day, products in _by_day(entry).items()
                    if rig_on(judged.state, day).order is Order.OUT
                ]
    return tuple(found)


def with_days_out(measured: tuple[Measured, ...], rigs: Mapping[str, JudgedRig]) -> tuple[Measured, ...]:
    """The measures, each cell with those of its days on which the rig was out of order, so that no page omits them."""
    out = {(t.measure, product, t.day.date) for t in touched_readings(measured, rigs) for product in t.products}
    if not out:
        return measured
    return tuple(
        replace(
            entry,
            cells=tuple(
                replace(cell, days_out=tuple(d for d in cell.days if (entry.measure, cell.product, d) in out))
                for cell in entry.cells
            ),
        )
        for entry in measured
    )


def _by_day(entry: Measured) -> dict[dt.date, tuple[str, ...]]:
    days: dict[dt.date, tuple[str, ...]] = {}
    for cell in entry.cells:
        for day in cell.days:
            days[day] = (*days.get(day, ()), cell.product)
    return dict(sorted(days.items()))
