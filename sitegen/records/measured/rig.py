"""rigs/ID: the log of a rig's checks, by which its runs are held against the protocols' limits."""

import datetime as dt
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import field
from decimal import Decimal
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.columns import take_columns, tell_once
from sitegen.records.fields.fields import FAILED, RecordOf, Ref, placed, written
from sitegen.records.fields.kinds import DAY, QUANTITY, WORDS, Amount, Ident, ListOf, PairsOf, number_hint, parse_number
from sitegen.records.fields.units import UnitMismatch, convert, convert_step, known_unit, siblings
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import Condition, Protocol
from sitegen.text.yaml_nodes import Scalar

if TYPE_CHECKING:
    from sitegen.text.csv_rows import Cell, CsvTable, Row

COLUMNS = ("date", "check", "value", "unit", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class RigRun:
    """One logged value, in the unit of its check; `step` is that of its last digit as it was written."""

    date: dt.date
    check: str
    value: Decimal
    step: Decimal
    note: str = ""
    place: Place = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """A rig, the protocols it serves, and checks of its own besides their conditions."""

    id: str
    name: Words = written(WORDS, "what the rig is called")
    protocols: tuple[Ref, ...] = written(ListOf(Ident("a protocol"), least=1), "the protocols it serves")
    checks: tuple[Condition, ...] = written(ListOf(RecordOf(Condition, "a check")), "checks of its own", default=())
    highest: tuple[tuple[Ref, Amount], ...] = written(
        PairsOf(Ident("a protocol"), QUANTITY), "the highest value it can show, by protocol", default=()
    )
    summary: Words | None = written(WORDS, "how it is built", default=None)
    runs: tuple[RigRun, ...] = ()
    place: Place = placed()

    def all_checks(self, protocols: Mapping[str, Protocol]) -> dict[str, Condition]:
        """Every check that the log may name: the protocols' conditions, then the rig's own."""
        found: dict[str, Condition] = {}
        for ref in self.protocols:
            for condition in protocols[ref.id].conditions if ref.id in protocols else ():
                found.setdefault(condition.id.id, condition)
        return found | {check.id.id: check for check in self.checks}

    def highest_values(self, protocols: Mapping[str, Protocol]) -> dict[str, Decimal]:
        """The highest value it can show, by protocol, in the protocol's unit; those that can't be expressed in it left out."""
        found = {}
        for ref, amount in self.highest:
            unit = protocols[ref.id].unit if ref.id in protocols else ""
            with suppress(UnitMismatch):  # reported with the other names of the rig
                if unit:
                    found[ref.id] = convert(amount.value, amount.unit or unit, unit)
        return found


def highest_values(rigs: Iterable[Rig], protocols: Mapping[str, Protocol]) -> dict[str, Decimal]:
    """By protocol, the highest value that the rigs can show, in the protocol's unit."""
    found: dict[str, Decimal] = {}
    for rig in rigs:
        for id, value in rig.highest_values(protocols).items():
            found[id] = max(value, found.get(id, value))
    return found


def take_runs(table: "CsvTable", checks: Mapping[str, Condition], problems: Problems) -> tuple[RigRun, ...]:
    """The runs of a rig's log, in order of date; faulty rows are reported and left out."""
    columns = take_columns(table, COLUMNS, ("date", "check", "value"), problems)
    if columns is None:
        return ()
    taken = []
    found = Problems()
    for row in table.rows:
        date, check, value = (columns.cell(row, name) for name in ("date", "check", "value"))
        run = _take_run(row, date, check, value, columns.cell(row, "unit"), checks, found)
        if run is not None:
            note = columns.cell(row, "note")
            taken.append(
                RigRun(
                    date=run.date,
                    check=run.check,
                    value=run.value,
                    step=run.step,
                    note=note.text if note else "",
                    place=run.place,
                )
            )
    tell_once(found, problems)
    return tuple(sorted(taken, key=lambda run: run.date))


def _take_run(
    row: "Row", date: "Cell | None", check: "Cell | None", value: "Cell | None", unit: "Cell | None",
    checks: Mapping[str, Condition], problems: Problems,
) -> RigRun | None:  # fmt: skip
    if date is None or check is None or value is None:
        problems.error("rig-row", row.place, "a row of a rig log needs a date, a check and a value")
        return None
    day = DAY.take(Scalar(date.text, date.place), "date", problems)
    condition = checks.get(check.text)
    if condition is None:
        hint = meant_or(check.text, checks, f"checks: {', '.join(checks)}")
        problems.error("rig-check", check.place, f"{quoted(check.text)} is no check of this rig", hint)
    number = _take_number(value, unit, condition.unit, problems) if condition else None
    if day is FAILED or condition is None or number is None:
        return None
    return RigRun(date=day, check=check.text, value=number[0], step=number[1], place=value.place)


def _take_number(value: "Cell", unit: "Cell | None", to: str, problems: Problems) -> tuple[Decimal, Decimal] | None:
    """The value and the step of its last digit, both in the check's unit."""
    number = parse_number(value.text)
    if number is None:
        problems.error(
            "number-syntax", value.place, f"expected a number, found {quoted(value.text)}", number_hint(value.text)
        )
        return None
    known = known_unit(unit.text) if unit else to
    if unit and (not known or not to):
        problems.error(
            "unit-unknown", unit.place, f"{quoted(unit.text)} does not fit this check", f"its unit is {to or 'none'}"
        )
        return None
    try:
        step = Decimal(1).scaleb(int(number.as_tuple().exponent))
        return (convert(number, known, to), convert_step(step, known, to)) if known and to else (number, step)
    except UnitMismatch as mismatch:
        problems.error(
            "unit-dimension", unit.place if unit else value.place, str(mismatch), f"units: {', '.join(siblings(to))}"
        )
        return None
