"""The page of a protocol: how one thing is measured."""

from collections.abc import Iterator
from dataclasses import replace

from sitegen.figures.charts.charts import direction_text, unit_symbol
from sitegen.figures.forms.edition import capital
from sitegen.figures.forms.messages import msgid
from sitegen.figures.forms.numbers import number
from sitegen.figures.wording.rigs import limits_text, state_sentences
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import RIG, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.views import Cell, Head, Link, MethodPage, Step, Table
from sitegen.problems import Problems
from sitegen.records.measured.protocol import CURVE, ORDINAL, RATIO, STANDARD, YES_OR_NO, Protocol

SCALES = {
    RATIO: msgid("measured in a unit"), ORDINAL: msgid("grades in order, without equal steps"),
    CURVE: msgid("a curve over time"), YES_OR_NO: msgid("yes or no"),
}  # fmt: skip


def method_page(sheet: Sheet, problems: Problems) -> MethodPage:
    """The view of a protocol."""
    protocol = sheet.site.publication.protocols[sheet.page.id]
    title, measures = sheet.say(protocol.name), sheet.say(protocol.measures)
    rigs = [
        _rig_link(sheet, id) for id, rig in sheet.site.rigs.items() if protocol.id in {r.id for r in rig.rig.protocols}
    ]
    rounds = [
        sheet.link(Page(ROUND, round.id), sheet.say(round.title)) for round in parts.rounds_with(sheet, protocol.id)
    ]
    return MethodPage(
        frame=make_frame(sheet, title=title, description=measures),
        measures=measures,
        facts=tuple(_facts(sheet, protocol)),
        departs=sheet.say(protocol.departs),
        conditions=_conditions(sheet, protocol),
        steps=tuple(map(sheet.say, protocol.steps)),
        grades=_grades(sheet, protocol),
        cautions=(*map(sheet.say, protocol.cautions), *([parts.wash_caution(sheet)] if protocol.after_washing else [])),
        cant_tell=tuple(map(sheet.say, protocol.limits)),
        rigs=_present(rigs),
        used_in=_present(rounds),
    )


def _rig_link(sheet: Sheet, id: str) -> Link | None:
    """The way to a rig's page, with its state in a sentence or two."""
    judged = sheet.site.rigs[id]
    link = sheet.link(Page(RIG, id), capital(sheet.say(judged.rig.name)))
    return replace(link, note=" ".join(state_sentences(sheet.edition, judged)[:2])) if link else None


def _present(links: list[Link | None]) -> tuple[Link, ...]:
    return tuple(link for link in links if link is not None)


def _facts(sheet: Sheet, protocol: Protocol) -> Iterator[Step]:
    if protocol.basis == STANDARD:
        value = sheet.t("measured after the method of {standard} on a home bench", standard=protocol.standard)
        yield Step(name=sheet.t("Standard"), value=value, note=", ".join(protocol.related))
    else:
        yield Step(name=sheet.t("Basis"), value=sheet.t("Common practice"), note=", ".join(protocol.related))
    yield Step(name=sheet.t("Scale"), value=sheet.t(SCALES[protocol.scale]))
    if protocol.unit:
        yield Step(name=sheet.t("Unit"), value=unit_symbol(sheet.edition, protocol.unit))
    yield Step(name=sheet.t("Direction"), value=direction_text(sheet.edition, protocol))
    yield Step(name=sheet.t("Specimens"), value=number(sheet.edition.lang, int(protocol.specimens)))


def _conditions(sheet: Sheet, protocol: Protocol) -> Table | None:
    if not protocol.conditions:
        return None
    rows = tuple(
        (Cell(text=capital(sheet.say(c.name))), Cell(text=limits_text(sheet.edition, c), number=True))
        for c in protocol.conditions
    )
    heads = (Head(text=sheet.t("Condition")), Head(text=sheet.t("Allowed"), number=True))
    return Table(caption=sheet.t("Conditions of each run"), heads=heads, rows=rows)


def _grades(sheet: Sheet, protocol: Protocol) -> Table | None:
    if not protocol.grades:
        return None
    second = any(grade.also is not None for grade in protocol.grades)
    heads = [Head(text=sheet.t("Grade"))]
    heads += [Head(text=sheet.say(protocol.also_called) or sheet.t("Second scale"), number=True)] if second else []
    heads.append(Head(text=sheet.t("What the specimen shows")))
    rows = []
    for grade in protocol.grades:
        row = [Cell(text=number(sheet.edition.lang, grade.grade))]
        row += (
            [Cell(text=number(sheet.edition.lang, grade.also) if grade.also is not None else "\u2013", number=True)]
            if second
            else []
        )
        rows.append((*row, Cell(text=sheet.say(grade.name))))
    return Table(caption=sheet.t("The grades"), heads=tuple(heads), rows=tuple(rows))
