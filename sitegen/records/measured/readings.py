"""Readings: one number off an instrument, one row of a CSV, checked against its protocol."""

import datetime as dt
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, meant_or, nearest, quoted
from sitegen.records.fields.columns import Columns, take_columns, tell_once
from sitegen.records.fields.fields import FAILED
from sitegen.records.fields.kinds import DAY, number_hint, parse_number, split_amount, unknown_unit
from sitegen.records.fields.stage import NEW, Stage, parse_stage
from sitegen.records.fields.units import UnitMismatch, convert, known_unit
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import CURVE, ORDINAL, RATIO, YES_OR_NO, Protocol
from sitegen.records.measured.round import Round, stages_of
from sitegen.records.measured.slips import check_cells, check_points
from sitegen.text.csv_rows import Cell, CsvTable, Row
from sitegen.text.yaml_nodes import Scalar

COLUMNS = ("product", "protocol", "stage", "specimen", "value", "unit", "time", "date", "grader", "note")
ANSWERS = {
    "yes": Decimal(1),
    "no": Decimal(0),
    "true": Decimal(1),
    "false": Decimal(0),
    "1": Decimal(1),
    "0": Decimal(0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """What is known of a reading that went beyond a limit: it lies `above` it or below it. Unit of the protocol."""

    limit: Decimal
    above: bool

    @property
    def text(self) -> str:
        """As an author writes it.

        >>> Beyond(limit=Decimal("10000"), above=True).text
        '>10000'
        """
        return f"{'>' if self.above else '<'}{self.limit:f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading in its protocol's unit.

    `value` is None where the reading went beyond a limit (`beyond`), or is missing and `note` says why. `along` is the
    position on the x axis of a curve, in the protocol's `along` unit.
    """

    product: str
    protocol: str
    stage: Stage = NEW
    specimen: str = ""
    value: Decimal | None
    beyond: Beyond | None = None
    along: Decimal | None = None
    date: dt.date | None = None
    grader: str = ""
    note: Words | None = None
    place: Place = field(compare=False, repr=False)


def take_readings(
    table: CsvTable, round: Round, protocols: Mapping[str, Protocol], file_protocol: str, problems: Problems
) -> tuple[Reading, ...]:
    """The readings of one CSV of a round; faulty rows are reported and left out.

    `file_protocol` is the protocol that the file is named after, empty where its name is none.
    """
    needed = ("product", "value") if file_protocol else ("product", "protocol", "value")
    columns = take_columns(table, COLUMNS, needed, problems)
    if columns is None:
        return ()
    taken = []
    found = Problems()
    for row in table.rows:
        reading = _take_row(row, columns, round, protocols, file_protocol, found)
        if reading is not None:
            taken.append(reading)
    check_cells(table, columns, round, protocols, file_protocol, found)
    tell_once(found, problems)
    _check_doubles(taken, problems)
    return _sound_curves(taken, protocols, problems)


def _take_row(
    row: Row, columns: Columns, round: Round, protocols: Mapping[str, Protocol], file_protocol: str, problems: Problems
) -> Reading | None:
    product = _take_entrant(row, columns, round, problems)
    protocol = _take_protocol(row, columns, round, protocols, file_protocol, problems)
    if product is None or protocol is None:
        return None
    stage = _take_stage(columns.cell(row, "stage"), stages_of(round, protocol), problems)
    if stage is None:
        return None
    base = Reading(product=product, protocol=protocol.id, stage=stage, value=None, place=row.place)
    return _take_measured(row, columns, protocol, base, problems)


def _take_measured(row: Row, columns: Columns, protocol: Protocol, base: Reading, problems: Problems) -> Reading | None:
    if _is_cut_number(row, columns, problems):
        return None
    specimen, grader = (columns.text(row, name) for name in ("specimen", "grader"))
    date = _take_date(columns.cell(row, "date"), problems)
    along = _take_along(columns.cell(row, "time"), row, protocol, problems)
    if date is FAILED or along is FAILED:
        return None
    base = replace(base, specimen=specimen, grader=grader, note=columns.words(row, "note"), date=date, along=along)
    cell, unit = columns.cell(row, "value"), columns.cell(row, "unit")
    if cell is None:
        if unit is not None and known_unit(unit.text) is None:  # a value that slipped into the next column
            unknown_unit(Scalar(unit.text, unit.place), "unit", unit.text, problems)
            return None
        return _missing(row, base, problems)
    unit = columns.cell(row, "unit")
    return read_into(replace(base, place=cell.place), take_value(cell, unit, protocol, problems))


def read_into(base: Reading, taken: "Decimal | Beyond | None") -> Reading | None:
    """A reading with what its cell says; None where that was a fault."""
    if taken is None:
        return None
    return replace(base, beyond=taken) if isinstance(taken, Beyond) else replace(base, value=taken)


def _is_cut_number(row: Row, columns: Columns, problems: Problems) -> bool:
    """Report a decimal comma in a table separated by commas: what stood behind it has slipped into the next column."""
    value, index = columns.cell(row, "value"), columns.at["value"] + 1
    name = next((name for name, at in columns.at.items() if at == index), "")
    after = columns.cell(row, name)
    if value is None or after is None or name not in {"unit", "date"} or parse_number(value.text) is None:
        return False
    digits = after.text.partition(" ")[0]
    if not digits.isdigit() or len(digits) > 3:
        return False
    message = f"{quoted(value.text)} is followed by {quoted(after.text)} in the column `{name}`"
    hint = f"a comma ends a cell here: write {value.text}.{after.text}, or separate all cells by semicolons"
    problems.error(
        "reading-comma", replace(value.place, width=value.place.width + 1 + after.place.width), message, hint
    )
    return True


def _missing(row: Row, base: Reading, problems: Problems) -> Reading | None:
    if base.note:
        return base
    message = "a reading without a value needs a `note` that says why it is missing"
    problems.error(
        "reading-missing", row.place, message, "write the reason under `note`, such as  lamp failed in run 2"
    )
    return None


def _take_entrant(row: Row, columns: Columns, round: Round, problems: Problems) -> str | None:
    cell = columns.cell(row, "product")
    if cell is None:
        problems.error("reading-product", row.place, "this row names no product")
        return None
    if round.has(cell.text):
        return cell.text
    entrants = [entrant.product.id for entrant in round.entrants]
    hint = meant_or(cell.text, entrants, f"entrants: {', '.join(entrants)}")
    problems.error(
        "reading-product", cell.place, f"{quoted(cell.text)} is no entrant of the round {quoted(round.id)}", hint
    )
    return None


def _take_protocol(
    row: Row, columns: Columns, round: Round, protocols: Mapping[str, Protocol], file_protocol: str, problems: Problems
) -> Protocol | None:
    cell = columns.cell(row, "protocol")
    id = cell.text if cell else file_protocol
    place = cell.place if cell else row.place
    declared = [p.protocol.id for p in round.protocols]
    if id in declared:
        return protocols.get(id)  # an id that no protocol has is reported once, in the round
    near = nearest(id, declared) if id and id not in protocols else None
    hint = f"did you mean `{near}`?" if near else f"protocols of the round: {', '.join(declared)}"
    if id in protocols:
        hint = f"add it to `protocols` in rounds/{round.id}/round.yaml; there are: {', '.join(declared)}"
    what = f"{quoted(id)} is no protocol of the round {quoted(round.id)}" if id else "this row names no protocol"
    problems.error("reading-protocol", place, what, hint)
    return None


def _take_stage(cell: Cell | None, stages: tuple[Stage, ...], problems: Problems) -> Stage | None:
    if cell is None:
        return stages[0] if NEW not in stages else NEW
    stage = parse_stage(cell.text)
    if stage in stages:
        return stage
    names = ", ".join(s.text for s in stages)
    what = (
        f"the stage {quoted(cell.text)} is not declared in the round" if stage else f"{quoted(cell.text)} is no stage"
    )
    near = nearest(cell.text, [s.text for s in stages])
    hint = f"did you mean `{near}`?" if near and near != cell.text else f"declared stages: {names}"
    problems.error("reading-stage", cell.place, what, hint)
    return None


def _take_date(cell: Cell | None, problems: Problems) -> dt.date | None:
    if cell is None:
        return None
    taken: dt.date | None = DAY.take(Scalar(cell.text, cell.place), "date", problems)
    return taken


def _take_along(cell: Cell | None, row: Row, protocol: Protocol, problems: Problems) -> Decimal | None:
    """The position on a curve; FAILED once a fault is reported."""
    if protocol.scale != CURVE or protocol.along is None:
        if cell is not None:
            problems.error("reading-time", cell.place, f"`time` goes with curves; {protocol.id} is none")
            return FAILED  # type: ignore[no-any-return]
        return None
    if cell is None:
        problems.error("reading-time", row.place, f"a point of a curve needs its `time` in {protocol.along.unit}")
        return FAILED  # type: ignore[no-any-return]
    value = parse_number(cell.text)
    if value is None or value < 0:
        message = f"expected a time in {protocol.along.unit}, found {quoted(cell.text)}"
        problems.error("number-syntax", cell.place, message, number_hint(cell.text, "90"))
        return FAILED  # type: ignore[no-any-return]
    return value


def take_value(cell: Cell, unit: Cell | None, protocol: Protocol, problems: Problems) -> Decimal | Beyond | None:
    """A value by its protocol's scale, in its unit, or a limit that it went beyond; None once a fault is reported.

    The cell holds one whole number, with a unit of its own (`412.0 g`, as in a review's front matter) or without one.
    Where the row has a unit too, both must be the same.
    """
    if unit is not None and protocol.scale in {YES_OR_NO, ORDINAL}:
        problems.error(
            "unit-dimension",
            unit.place,
            f"{protocol.id} has no unit, found {quoted(unit.text)}",
            "leave the unit blank",
        )
        return None
    if cell.text.startswith((">", "<")):
        return _take_beyond(cell, unit, protocol, problems)
    return _take_number(cell, unit, protocol, problems)


def _take_beyond(cell: Cell, unit: Cell | None, protocol: Protocol, problems: Problems) -> Beyond | None:
    sign, text = cell.text[0], cell.text[1:].lstrip()
    if protocol.scale != RATIO:
        what = {
            ORDINAL: "a grade is one of the scale",
            CURVE: "a point of a curve is a number; a curve that still runs ends at its last point",
            YES_OR_NO: "the answer is yes or no",
        }[protocol.scale]
        problems.error(
            "reading-beyond", cell.place, f"{quoted(cell.text)}: only a quantity can lie beyond a limit; {what}"
        )
        return None
    shift = len(cell.text) - len(text)
    place = replace(cell.place, column=cell.place.column + shift, width=max(1, cell.place.width - shift))
    if parse_number(text.partition(" ")[0]) is None:
        message = f"expected a number of {protocol.unit} after {quoted(sign)}, found {quoted(text)}"
        problems.error("reading-beyond", cell.place, message, f"write {sign}10000 for a reading beyond 10000")
        return None
    limit = _take_number(Cell(text, place), unit, protocol, problems)
    low, high = protocol.possible or (None, None)
    if limit is not None and ((sign == ">" and limit == high) or (sign == "<" and limit == low)):
        message = f"{quoted(cell.text)}: {protocol.id} lies between {low} and {high} {protocol.unit}, so nothing is beyond that"
        problems.error("reading-beyond", cell.place, message, "is it the other side of the limit?")
        return None
    return Beyond(limit=limit, above=sign == ">") if limit is not None else None


def _take_number(cell: Cell, unit: Cell | None, protocol: Protocol, problems: Problems) -> Decimal | None:
    """A number, an answer or a grade."""
    if protocol.scale == YES_OR_NO:
        return _take_answer(cell, problems)
    if protocol.scale == ORDINAL:
        return _take_grade(cell, protocol, problems)
    found = split_amount(cell.text)
    if found is None or (unit is not None and found[1] and known_unit(found[1]) is None):
        message = f"expected a number of {protocol.unit}, found {quoted(cell.text)}"
        hint = "write the number alone; a remark goes into the column `note`" if found else number_hint(cell.text)
        problems.error("number-syntax", cell.place, message, hint)
        return None
    value, own_unit = found
    if unit is not None and own_unit and known_unit(own_unit) != known_unit(unit.text):
        message = f"{quoted(cell.text)} is in {own_unit}, but the column `unit` says {quoted(unit.text)}"
        problems.error("unit-twice", cell.place, message, "write the number alone, in the unit of its row")
        return None
    if unit is None and own_unit:
        unit = Cell(own_unit, cell.place)
    return _within_range(cell, _in_unit(value, unit, protocol, problems), protocol, problems)


def _in_unit(value: Decimal, unit: Cell | None, protocol: Protocol, problems: Problems) -> Decimal | None:
    if unit is None:
        return value
    if not protocol.unit:
        message = f"{protocol.id} has no unit, found {quoted(unit.text)}"
        problems.error("unit-dimension", unit.place, message, "write the number alone")
        return None
    known = known_unit(unit.text)
    if known is None:
        unknown_unit(Scalar(unit.text, unit.place), "unit", unit.text, problems)
        return None
    try:
        return convert(value, known, protocol.unit)
    except UnitMismatch as mismatch:
        hint = f"units for {protocol.id}: {', '.join(protocol.units())}"
        problems.error("unit-dimension", unit.place, str(mismatch), hint)
        return None


def _within_range(cell: Cell, value: Decimal | None, protocol: Protocol, problems: Problems) -> Decimal | None:
    if value is None:
        return None
    unit = f" {protocol.unit}" if protocol.unit else ""
    if protocol.possible and not protocol.possible[0] <= value <= protocol.possible[1]:
        low, high = protocol.possible
        message = f"{value}{unit} is not possible: {protocol.id} lies between {low} and {high}{unit}"
        problems.error("value-impossible", cell.place, message, _range_hint(cell.text))
        return None
    if protocol.plausible and not protocol.plausible[0] <= value <= protocol.plausible[1]:
        low, high = protocol.plausible
        message = f"{value}{unit} is unusual: {protocol.id} is mostly between {low} and {high}{unit}"
        problems.caution(
            "value-implausible",
            cell.place,
            message,
            _range_hint(cell.text) or "is a digit too many, or the unit another?",
        )
    return value


def _range_hint(text: str) -> str:
    return "inside [ ] a comma parts two numbers; write a decimal point" if text.isdigit() and len(text) == 1 else ""


def _take_answer(cell: Cell, problems: Problems) -> Decimal | None:
    answer = ANSWERS.get(cell.text.lower())
    if answer is None:
        problems.error("answer", cell.place, f"expected yes or no, found {quoted(cell.text)}")
    return answer


def _take_grade(cell: Cell, protocol: Protocol, problems: Problems) -> Decimal | None:
    value = parse_number(cell.text)
    allowed = protocol.allowed_grades()
    if value is not None and value in allowed:
        return value.normalize() + 0
    names = ", ".join(format(g.normalize(), "f") for g in sorted(allowed))
    hint = f"the grades are {names}"
    if value is not None and not protocol.half_grades and (value * 2) % 2 == 1:
        hint += "; half grades are off in this protocol"
    if value is not None and value in {g.also for g in protocol.grades}:
        hint += "; this looks like the rating of the second scale"
    problems.error("grade", cell.place, f"{quoted(cell.text)} is not a {protocol.id} grade", hint)
    return None


def _sound_curves(
    readings: Iterable[Reading], protocols: Mapping[str, Protocol], problems: Problems
) -> tuple[Reading, ...]:
    """The readings without curves that can't be: time goes on, there are two points, the start is above nothing."""
    curves: dict[tuple[object, ...], list[Reading]] = {}
    kept: list[Reading] = []
    for reading in readings:
        if protocols[reading.protocol].scale == CURVE and reading.value is not None:
            whose = (reading.product, reading.protocol, reading.stage, reading.specimen, reading.grader)
            curves.setdefault(whose, []).append(reading)
        else:
            kept.append(reading)
    for points in curves.values():
        if _is_curve(points, protocols[points[0].protocol], problems):
            kept += points
            check_points(points, problems)
    return tuple(kept)


def _is_curve(points: list[Reading], protocol: Protocol, problems: Problems) -> bool:
    for before, after in itertools.pairwise(points):
        if before.along is not None and after.along is not None and after.along <= before.along:
            message = f"the curve of {after.product} goes back in time: {after.along} after {before.along} (line {before.place.line})"
            problems.error("curve-time", after.place, message, "put the points in order of time, each time once")
            return False
    moments = [point.along for point in points if point.along is not None]
    start = protocol.along.start(moments) if protocol.along and len(moments) == len(points) else 0
    first = points[start]
    if len(points) - start < 2:
        message = f"the curve of {first.product} has one point from its start on; at least two are needed"
        problems.error("curve-short", first.place, message)
        return False
    if first.value is not None and first.value <= 0:
        problems.error(
            "curve-start", first.place, f"the curve of {first.product} starts at {first.value}; it must start above 0"
        )
        return False
    return True


def _check_doubles(readings: Iterable[Reading], problems: Problems) -> None:
    seen: dict[tuple[object, ...], Reading] = {}
    for reading in readings:
        if not reading.specimen:
            continue
        key = (
            reading.product,
            reading.protocol,
            reading.stage,
            reading.specimen,
            reading.grader,
            reading.along,
            reading.date,
        )
        if key in seen:
            first = seen[key].place
            message = f"this reading is given twice: specimen {quoted(reading.specimen)} of {reading.product}, {reading.stage.text}"
            problems.error(
                "reading-double", reading.place, message, f"first in line {first.line}; number the specimens apart"
            )
        seen[key] = reading
