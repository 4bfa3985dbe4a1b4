"""Slips that a single cell of a table of readings doesn't show: only its neighbours say that it can't be meant."""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING

from sitegen.problems import Problems, nearest, quoted, some_of
from sitegen.records.fields.columns import Columns
from sitegen.records.measured.doubtful import FAR
from sitegen.records.measured.protocol import Protocol
from sitegen.records.measured.round import Round, stages_of
from sitegen.text.csv_rows import CsvTable, Row

if TYPE_CHECKING:
    from sitegen.records.measured.readings import Reading

    Group = dict[str, Reading]  # by specimen
    Groups = dict[str, Group]

_WHOLE = re.compile(r"[0-9]{1,9}")


def check_cells(
    table: CsvTable,
    columns: Columns,
    round: Round,
    protocols: Mapping[str, Protocol],
    file_protocol: str,
    problems: Problems,
) -> None:
    """Report cells that are blank although the other readings of their protocol fill them, and names of graders that
    are found once and look like another's.

    `file_protocol` is the protocol that the file is named after, empty where its name is none.
    """
    by_protocol: dict[str, list[Row]] = {}
    for row in table.rows:
        if columns.cell(row, "value") is not None:
            by_protocol.setdefault(columns.text(row, "protocol") or file_protocol, []).append(row)
    for id, rows in by_protocol.items():
        protocol = protocols.get(id)
        if protocol is None:
            continue
        _check_stages(rows, columns, len(stages_of(round, protocol)), problems)
        _check_units(rows, columns, protocol, problems)
        for name in ("grader", "date"):
            _check_blanks(rows, columns, name, "its protocol", problems)
        for product in dict.fromkeys(columns.text(row, "product") for row in rows):  # a product may be without marks
            own = [row for row in rows if columns.text(row, "product") == product]
            _check_blanks(own, columns, "specimen", "this product", problems)
        _check_graders(rows, columns, problems)


def _check_stages(rows: Iterable[Row], columns: Columns, stages: int, problems: Problems) -> None:
    if stages > 1 and "stage" in columns.at:
        for row in _blank(rows, columns, "stage"):
            place = row.cells[columns.at["stage"]].place
            problems.error(
                "reading-blank",
                place,
                "this reading names no stage, and its protocol has several",
                "write its stage, such as  new",
            )


def _check_units(rows: list[Row], columns: Columns, protocol: Protocol, problems: Problems) -> None:
    """Without a unit a number is in that of the protocol: beside rows in another one it may be in either."""
    others = {columns.text(row, "unit") for row in rows} - {"", protocol.unit} if protocol.unit else set()
    for row in _blank(rows, columns, "unit") if others else ():
        place = row.cells[columns.at["unit"]].place
        problems.error(
            "reading-blank",
            place,
            f"this reading has no unit, others of its protocol are in {sorted(others)[0]}",
            "write the unit",
        )


def _check_blanks(rows: list[Row], columns: Columns, name: str, of: str, problems: Problems) -> None:
    blank = _blank(rows, columns, name)
    if not blank or len(blank) == len(rows):
        return
    for row in blank:
        place = row.cells[columns.at[name]].place
        message = f"this reading has no {name}, others of {of} have one"
        if name == "date":  # changes no figure, but the state of the rig on that day can't be looked up
            problems.caution("reading-blank", place, message, "write the day, such as  2026-10-04")
        else:
            problems.error("reading-blank", place, message, f"write its {name}, or leave the column blank throughout")


def _blank(rows: Iterable[Row], columns: Columns, name: str) -> list[Row]:
    return [row for row in rows if columns.cell(row, name) is None] if name in columns.at else []


def _check_graders(rows: Iterable[Row], columns: Columns, problems: Problems) -> None:
    graders = [cell for row in rows if (cell := columns.cell(row, "grader")) is not None]
    counts = Counter(cell.text for cell in graders)
    often = [name for name, count in counts.items() if count > 1]
    for cell in graders:
        alike = (name for name in often if name in cell.text)
        near = nearest(cell.text, often) or next(alike, None) if counts[cell.text] == 1 else None
        if near:
            message = f"{quoted(cell.text)} graded one reading, {quoted(near)} graded {counts[near]}"
            problems.caution("reading-grader", cell.place, message, f"did you mean `{near}`?")


def check_specimens(readings: "Iterable[Reading]", problems: Problems) -> None:
    """Question a specimen that only one protocol read (of one protocol, only one stage or grader), where one that all
    others read is missing: it is probably the same piece, and before and after could not be compared.

    The readings are those of one round.
    """
    found: dict[str, dict[str, Groups]] = {}
    for reading in readings:
        if reading.specimen:
            stages = found.setdefault(reading.product, {}).setdefault(reading.protocol, {})
            grader = f" by {reading.grader}" if reading.grader else ""
            group = f"{reading.protocol} {reading.stage.text}{grader}"
            stages.setdefault(group, {}).setdefault(reading.specimen, reading)
    for protocols in found.values():
        united = {id: {n: r for group in stages.values() for n, r in group.items()} for id, stages in protocols.items()}
        told = _check_names({name: r for group in united.values() for name, r in group.items()}, problems)
        for groups in (united, *protocols.values()):
            if len(groups) > 1:
                _compare(groups, told, problems)


def _check_names(by_name: "Group", problems: Problems) -> set[str]:
    """Question one name among numbers, and one number far beyond the others, as where 2 became 22; gives which."""
    numbers = sorted((int(name), name) for name in by_name if _WHOLE.fullmatch(name))
    if not numbers or (len(numbers) < 2 and len(by_name) > 2):
        return set()
    odd = {name for name in by_name if not _WHOLE.fullmatch(name)}
    if len(numbers) > 1 and numbers[-1][0] >= 10 and numbers[-1][0] >= FAR * numbers[-2][0]:
        odd.add(numbers[-1][1])
    if len(odd) > 1:  # the bench's own way to name them
        return set()
    for name in odd:
        message = f"the specimen {quoted(name)} of {by_name[name].product} is not numbered like the others"
        hint = f"the others: {some_of(other for other in by_name if other != name)}"
        problems.caution("reading-specimen", by_name[name].place, message, hint)
    return odd


def _compare(groups: "Groups", told: set[str], problems: Problems) -> None:
    """Groups of readings by what they have in common, each by specimen; `told` are the specimens questioned before."""
    seen = Counter(specimen for group in groups.values() for specimen in group)
    for where, group in reversed(groups.items()):  # of two groups either may hold the slip; the later one is likelier
        common = [specimen for specimen in group if seen[specimen] > 1]
        lacking = [s for s, count in seen.items() if count == len(groups) - 1 and s not in group and s not in told]
        alone = [reading for specimen, reading in group.items() if seen[specimen] == 1 and specimen not in told]
        if not lacking or not alone or not (common or len(group) == 1):
            continue
        for reading in alone:
            told |= {reading.specimen, *lacking}
            message = (
                f"the specimen {quoted(reading.specimen)} of {reading.product} was read for {where} only, "
                f"and {quoted(lacking[0])} everywhere else"
            )
            problems.caution("reading-specimen", reading.place, message, f"did you mean {lacking[0]}?")


def check_points(points: "list[Reading]", problems: Problems) -> None:
    """Question a point of a curve whose value is several times all before it, or whose time is several times the last:
    a digit too many.

    A lamp gets dimmer; and a logger is read in steps that grow, but hardly so much at once. The first three points may
    be as far apart as they like.
    """
    for number, (before, point) in enumerate(pairwise(points), 1):
        highest = max(reading.value for reading in points[:number] if reading.value is not None)
        if point.value is not None and 0 < highest * FAR <= point.value:
            message = f"{point.value:f} of {point.product} is far above all points of its curve before"
            problems.caution("value-far", point.place, message, "is a digit too many?")
        if (
            number > 2
            and before.along is not None
            and point.along is not None
            and 0 < before.along * FAR <= point.along
        ):
            message = f"the curve of {point.product} goes on at {point.along:f}, long after {before.along:f}"
            problems.caution("value-far", point.place, message, "is a digit too many?")


def check_measured(
    round: Round, readings: "Iterable[Reading]", protocols: Mapping[str, Protocol], problems: Problems
) -> None:
    """Caution about every protocol of a round, or stage of it, that no table has a row of: a table may have been lost.

    A round without any reading is only planned, and lacks none.
    """
    there = {(reading.protocol, reading.stage) for reading in readings}
    for entry in round.protocols if there else ():
        protocol = protocols.get(entry.protocol.id)
        stages = stages_of(round, protocol) if protocol else ()
        lacking = [stage.text for stage in stages if (entry.protocol.id, stage) not in there]
        if lacking:
            which = "" if len(lacking) == len(stages) else f" {', '.join(lacking)}"
            message = f"the round has no reading of {entry.protocol.id}{which}"
            problems.caution(
                "round-unmeasured", entry.protocol.place, message, "is a table missing, or under another name?"
            )
