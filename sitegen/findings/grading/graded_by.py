"""Whose grade of a specimen is the finding, where more than one person graded.

The round may name its graders, first the one whose grades are the finding (`graders` in round.yaml). Without that it is
who graded most of a protocol's specimens in the round, over all stages, so that before and after are seen by one eye;
of two with equally many, who comes first in the tables. A specimen that this person did not grade takes the grade of
the next who did, and the cell says so. The others' grades are the check on the first's; none is averaged in.
"""

from collections.abc import Iterable, Sequence

from sitegen.records.measured.readings import Reading


def graders_in_order(readings: Iterable[Reading], declared: Sequence[str] = ()) -> tuple[str, ...]:
    """The graders of a protocol's readings, the one whose grades are the finding first.

    Readings without a grader are by one person, named "". Source: the module's text.
    """
    count: dict[str, int] = {}
    for reading in readings:  # in the order of the tables: a mapping keeps who came first
        if reading.value is not None:
            count[reading.grader] = count.get(reading.grader, 0) + 1
        else:
            count.setdefault(reading.grader, 0)
    named = [grader for grader in declared if grader in count]
    return (*named, *sorted((grader for grader in count if grader not in named), key=lambda grader: -count[grader]))


def chosen(readings: Sequence[Reading], graders: Sequence[str]) -> tuple[Reading, ...]:
    """The readings that are the finding, in the order written: of each specimen those of the first who has any."""
    place = {grader: number for number, grader in enumerate(graders)}
    best: dict[str, tuple[bool, int]] = {}
    for reading in readings:
        rank = (reading.value is None, place[reading.grader])
        best[reading.specimen] = min(best.get(reading.specimen, rank), rank)
    return tuple(r for r in readings if place[r.grader] == best[r.specimen][1])


def others_count(readings: Iterable[Reading], first: str) -> tuple[tuple[str, int], ...]:
    """How many of the readings used are by somebody else than `first`, by grader, in the order written."""
    count: dict[str, int] = {}
    for reading in readings:
        if reading.value is not None and reading.grader != first:
            count[reading.grader] = count.get(reading.grader, 0) + 1
    return tuple(count.items())
