"""Cautions about who graded, and about specimens that can't be found again at another stage."""

from collections.abc import Iterable, Mapping
from itertools import combinations

from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.measured.protocol import ORDINAL, RATIO, YES_OR_NO, Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Round


def check_graded(
    round: Round, readings: Iterable[Reading], protocols: Mapping[str, Protocol], problems: Problems
) -> None:
    """Graders of the round who graded nothing, graders who never saw the same specimen, specimens without marks."""
    by_protocol: dict[str, list[Reading]] = {}
    for reading in readings:
        if reading.value is not None:
            by_protocol.setdefault(reading.protocol, []).append(reading)
    _check_declared(round, {reading.grader for rows in by_protocol.values() for reading in rows}, problems)
    for id, rows in by_protocol.items():
        if protocols[id].scale in {ORDINAL, YES_OR_NO}:
            _check_apart(id, rows, problems)
        if protocols[id].scale in {ORDINAL, RATIO}:
            _check_marks(id, rows, problems)


def _check_declared(round: Round, known: set[str], problems: Problems) -> None:
    if not known:
        return  # a planned round names its graders before they grade
    for ref in round.graders:
        if ref.id not in known:
            named = sorted(known - {""})
            hint = meant_or(ref.id, named, f"graders in the tables: {', '.join(named) or 'none'}")
            problems.caution("grader-unused", ref.place, f"{quoted(ref.id)} graded nothing in this round", hint)


def _check_apart(protocol: str, rows: list[Reading], problems: Problems) -> None:
    """Two graders of one protocol without a common specimen: nobody can tell how far they agree."""
    seen: dict[str, set[tuple[object, ...]]] = {}
    first: dict[str, Reading] = {}
    for row in rows:
        first.setdefault(row.grader, row)
        if row.specimen:
            seen.setdefault(row.grader, set()).add((row.product, row.stage, row.specimen))
    for one, other in combinations(first, 2):
        if not seen.get(one, set()) & seen.get(other, set()):
            message = f"{quoted(one)} and {quoted(other)} graded no specimen both by {protocol}, so how far they agree is not known"
            hint = "let both grade some specimens of each product, or name the graders of the round in order under `graders`"
            problems.caution("graders-apart", first[other].place, message, hint)


def _check_marks(protocol: str, rows: list[Reading], problems: Problems) -> None:
    """Specimens without marks at several stages: what each one lost can't be told."""
    unmarked = [row for row in rows if not row.specimen and not row.stage.reproofed]
    if unmarked and len({row.stage for row in rows}) > 1:
        message = (
            f"a specimen of {unmarked[0].product} without a mark: before and after can't be matched for {protocol}"
        )
        hint = "number the specimens under `specimen`, the same at each stage; without, they count as separate pieces"
        problems.caution("specimens-unmarked", unmarked[0].place, message, hint)
