"""The readings as open data: one CSV (RFC 4180) for each protocol of a round, the same in every language."""

import re
from collections.abc import Iterable
from io import StringIO
from typing import TYPE_CHECKING

from sitegen.records.fields.units import name_of
from sitegen.records.fields.words import LEAD
from sitegen.records.publication import Publication

if TYPE_CHECKING:
    from sitegen.records.measured.readings import Reading

# OWASP, CSV injection; from memory. The last four are the full-width forms, which some spreadsheets take for the others.
_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# Where spreadsheets of other countries or settings begin a new cell; in quotes or not, as those stand within the cell then.
_SEPARATORS = re.compile(r"([;|\t\r\n])")
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
_HEADER = ("product", "version", "stage", "specimen", "time", "time_unit", "value", "unit", "date", "grader", "note")


def data_of_round(publication: Publication, id: str, protocol: str) -> bytes:
    """The readings of one round by one protocol."""
    versions = {e.product.id: e.version.id if e.version else "" for e in publication.rounds[id].entrants}
    readings = [reading for reading in publication.readings[id] if reading.protocol == protocol]
    return _file(publication, protocol, readings, versions)


def data_of_rig(publication: Publication, id: str) -> bytes:
    """The log of one rig."""
    rig = publication.rigs[id]
    checks = rig.all_checks(publication.protocols)
    rows = [
        (run.date.isoformat(), run.check, f"{run.value:f}", name_of(checks[run.check].unit), run.note)
        for run in rig.runs
    ]
    return _csv(("date", "check", "value", "unit", "note"), rows)


def _file(publication: Publication, protocol: str, readings: "list[Reading]", versions: dict[str, str]) -> bytes:
    record = publication.protocols[protocol]
    along = name_of(record.along.unit) if record.along else ""
    rows = []
    for r in readings:
        note = r.note.text("en", publication.settings.lead) if r.note and r.note.exact(LEAD) else ""
        row = (
            r.product,
            versions.get(r.product, ""),
            r.stage.text,
            r.specimen,
            "" if r.along is None else f"{r.along:f}",
            along if r.along is not None else "",
            r.beyond.text if r.beyond else "" if r.value is None else f"{r.value:f}",
            name_of(record.unit),
            r.date.isoformat() if r.date else "",
            r.grader,
            note,
        )
        rows.append(row)
    return _csv(_HEADER, rows)


def _csv(header: Iterable[str], rows: Iterable[Iterable[str]]) -> bytes:
    import csv  # readings and logs change less often than texts

    out = StringIO()
    plain = csv.writer(out, lineterminator="\r\n")
    quoting = csv.writer(out, lineterminator="\r\n", quoting=csv.QUOTE_ALL)
    plain.writerow(header)
    for row in rows:
        cells = [_harmless(cell) for cell in row]
        # the library quotes for its own separator alone
        (quoting if any(map(_SEPARATORS.search, cells)) else plain).writerow(cells)
    return out.getvalue().encode()


def _harmless(cell: str) -> str:
    """A cell of which a spreadsheet runs no part as a formula, at whichever separator it begins a new cell.

    Each part that would be run gets an apostrophe; numbers stay numbers.
    """
    guarded = "".join(_guarded(part) for part in _SEPARATORS.split(cell))
    return "'" + guarded if guarded.startswith(("\t", "\r", "\n")) else guarded


def _guarded(part: str) -> str:
    """A part without separators, behind an apostrophe where it begins as a formula does.

    Blanks and quotation marks before it are looked through: some spreadsheets drop them.
    """
    begins = part.lstrip().lstrip('"').lstrip()
    return "'" + part if begins.startswith(_FORMULA) and not _NUMBER.fullmatch(part) else part
