"""`sitegen sheet`: bench sheets for a round, to print and to fill in, with blind codes in a balanced order."""

import csv
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from html import escape
from io import StringIO

from sitegen.datatypes import dataclass
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.wording.rigs import limits_text
from sitegen.findings.comparison.planning import BenchPlan, Coded, SheetOrder, code_specimens, plan_bench
from sitegen.records.fields.units import name_of
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import CURVE, Protocol
from sitegen.records.measured.round import Round, stages_of

STYLE = """
@page { size: A4; margin: 14mm }
body { font: 11pt/1.4 sans-serif; color: #000; background: #fff; max-width: 182mm; margin: 8mm auto }
h1 { font-size: 17pt; margin: 0 0 2mm } h2 { font-size: 12pt; margin: 5mm 0 1mm }
table { border-collapse: collapse; width: 100%; page-break-inside: auto } tr { page-break-inside: avoid }
th, td { border-bottom: .3mm solid #888; padding: 1.6mm 2mm; text-align: start; vertical-align: top }
thead th { border-bottom: .6mm solid #000 } td.write { border-left: .2mm solid #ccc; min-width: 22mm }
ol, ul { margin: 0; padding-inline-start: 6mm } .caution { border-block: .6mm solid #000; padding: 2mm 0; margin: 3mm 0 }
.block { font-weight: bold } p.fields span { display: inline-block; min-width: 60mm; border-bottom: .2mm solid #888; margin-inline-end: 6mm }
"""


@dataclass(frozen=True, slots=True)
class Sheets:
    """The files of a round's bench sheets by name, and the key of its codes as CSV."""

    files: dict[str, bytes]
    key: bytes


def make_codes(round: Round, protocols: Mapping[str, Protocol], seed: int, taken: Collection[str]) -> tuple[Coded, ...]:
    """Codes for the largest number of specimens that any protocol asks for, none that another round has (`taken`)."""
    most = max(int(protocols[entry.protocol.id].specimens) for entry in round.protocols)
    return code_specimens([entrant.product.id for entrant in round.entrants], most, seed, taken)


def make_plan(round: Round, protocols: Mapping[str, Protocol], seed: int, codes: Sequence[Coded] = ()) -> BenchPlan:
    """An order for each sheet of the round's specimens; `codes` as in `plan_bench`."""
    used = [protocols[entry.protocol.id] for entry in round.protocols]
    sheets = [
        (sheet_name(protocol, stage.text), int(protocol.specimens))
        for protocol in used
        for stage in stages_of(round, protocol)
    ]
    return plan_bench([entrant.product.id for entrant in round.entrants], seed, sheets, codes)


def sheet_name(protocol: Protocol, stage: str) -> str:
    """The name of one sheet: the protocol, with its stage where it isn't the first."""
    return protocol.id if stage == "new" else f"{protocol.id} {stage}"


def key_csv(plan: BenchPlan) -> bytes:
    """The key of the codes, to be kept apart from whoever grades."""
    rows = ((c.code, c.product, str(c.specimen), str(plan.seed)) for c in plan.codes)
    return _csv(("code", "product", "specimen", "seed"), rows)


def make_sheets(round: Round, edition: Edition, plan: BenchPlan, wash_caution: Words) -> Sheets:
    """A printable page and a table to fill in for each protocol and stage; `wash_caution` stands wherever samples are washed."""
    files: dict[str, bytes] = {}
    orders = {order.name: order for order in plan.sheets}
    for entry in round.protocols:
        protocol = edition.protocols[entry.protocol.id]
        for stage in stages_of(round, protocol):
            order = orders[sheet_name(protocol, stage.text)]
            name = sheet_name(protocol, stage.text).replace(" ", "-")
            cautions = (*protocol.cautions, *([wash_caution] if stage.washes else []))
            page = _page(round, edition, replace(protocol, cautions=cautions), edition.stage(stage), order, plan.seed)
            files[f"{name}.html"] = page.encode()
            files[f"{name}.csv"] = _table(protocol, stage.text, order)
    return Sheets(files, key_csv(plan))


def _table(protocol: Protocol, stage: str, order: SheetOrder) -> bytes:
    extra = ("time",) if protocol.scale == CURVE else ()
    header = ("code", "protocol", "stage", *extra, "value", "unit", "date", "grader", "note")
    unit = name_of(protocol.unit)
    rows = ((run.coded.code, protocol.id, stage, *("" for _ in extra), "", unit, "", "", "") for run in order.runs)
    return _csv(header, rows)


def _csv(header: tuple[str, ...], rows: Iterator[tuple[str, ...]]) -> bytes:
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue().encode()


def _page(round: Round, edition: Edition, protocol: Protocol, stage: str, order: SheetOrder, seed: int) -> str:
    t = edition.lang
    title = f"{capital(edition.protocol(protocol.id))}, {stage}"
    seeded = t.text("Order and codes from seed {seed}", seed=seed)
    parts = [
        f"<h1>{escape(title)}</h1>",
        f"<p>{escape(edition.say(round.title))} · {escape(seeded)}</p>",
        _fields(edition),
        *_listed("div", t.text("Cautions"), protocol.cautions, edition, "ul"),
        *_conditions(edition, protocol),
        *_listed("section", t.text("Steps"), protocol.steps, edition, "ol"),
        *_runs(edition, protocol, order),
    ]
    head = f'<meta charset="utf-8"><title>{escape(title)}</title><style>{STYLE}</style>'
    return (
        f'<!doctype html>\n<html lang="{t.tag}" dir="{t.direction}"><head>{head}</head>\n<body>\n'
        + "\n".join(parts)
        + "\n</body></html>\n"
    )


def _fields(edition: Edition) -> str:
    """What is written at the head of the sheet by hand."""
    t = edition.lang
    names = (t.text("Date"), t.text("Grader"), t.text("Room, °C and %"))
    return '<p class="fields">' + "".join(f"{escape(name)} <span>&nbsp;</span>" for name in names) + "</p>"


def _listed(tag: str, title: str, words: tuple[Words, ...], edition: Edition, kind: str) -> Iterator[str]:
    if words:
        kept = ' class="caution"' if tag == "div" else ""
        items = "".join(f"<li>{escape(edition.say(word))}</li>" for word in words)
        yield f"<{tag}{kept}><h2>{escape(title)}</h2><{kind}>{items}</{kind}></{tag}>"


def _conditions(edition: Edition, protocol: Protocol) -> Iterator[str]:
    t = edition.lang
    if protocol.conditions:
        rows = "".join(
            f'<tr><th scope="row">{escape(capital(edition.say(c.name)))}</th><td>{escape(limits_text(edition, c))}</td><td class="write"></td></tr>'
            for c in protocol.conditions
        )
        names = (t.text("Condition"), t.text("Allowed"), t.text("Read today"))
        heads = "".join(f'<th scope="col">{escape(name)}</th>' for name in names)
        yield f"<h2>{escape(t.text('Conditions'))}</h2><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _runs(edition: Edition, protocol: Protocol, order: SheetOrder) -> Iterator[str]:
    t = edition.lang
    unit = f" ({name_of(protocol.unit)})" if protocol.unit else ""
    names = (t.text("Block"), t.text("No."), t.text("Code"), t.text("Value") + unit, t.text("Note"))
    heads = "".join(f'<th scope="col">{escape(name)}</th>' for name in names)
    rows = "".join(
        f'<tr><td>{run.block}</td><td>{run.position}</td><th scope="row">{run.coded.code}</th><td class="write"></td><td class="write"></td></tr>'
        for run in order.runs
    )
    yield f"<h2>{escape(t.text('Readings'))}</h2><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
