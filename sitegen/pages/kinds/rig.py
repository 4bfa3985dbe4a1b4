"""The page of a rig: whether it was in order, check by check, with the control charts."""

from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import capital
from sitegen.figures.forms.numbers import quantity
from sitegen.figures.forms.typography import keep_units
from sitegen.figures.wording.rigs import control_figures, limits_text, state_sentences
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import METHOD, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.theme.structured import datasets
from sitegen.pages.views import Cell, Head, Link, RigPage, Table
from sitegen.problems import Problems


def rig_page(sheet: Sheet, problems: Problems) -> RigPage:
    """The view of a rig."""
    judged = sheet.site.rigs[sheet.page.id]
    rig = judged.rig
    title, lead = capital(sheet.say(rig.name)), sheet.say(rig.summary)
    state = state_sentences(sheet.edition, judged)
    links = (sheet.link(Page(METHOD, ref.id), sheet.edition.protocol(ref.id)) for ref in rig.protocols)
    figures = control_figures(sheet.edition, judged)
    log = Link(text=sheet.t("Log as CSV"), href=sheet.href(f"data/rigs/{rig.id}.csv"))
    description = lead or " ".join(state[:2])
    nodes = datasets(sheet, title, description, (log,))
    return RigPage(
        frame=make_frame(sheet, title=title, description=description, structured=nodes),
        lead=lead,
        state=state,
        charts=tuple(sheet.chart(figure, number) for number, figure in enumerate(figures, 1)),
        runs=_runs(sheet),
        methods=tuple(link for link in links if link is not None),
        data=(log,),
        data_licence=parts.data_licence(sheet),
    )


def _runs(sheet: Sheet) -> Table:
    """Every logged value with what is allowed and the log's note; those outside are said to be."""
    judged = sheet.site.rigs[sheet.page.id]
    lang = sheet.edition.lang
    out = {(day, held.check, held.value) for day, held in judged.state.out_of_tolerance}
    lead = sheet.edition.lead
    written_in = lead if lead != sheet.tag else ""  # a log is kept in one language
    rows = []
    for run in judged.rig.runs:
        condition = judged.checks[run.check]
        outside = (run.date, run.check, float(run.value)) in out
        rows.append(
            (
                Cell(text=date_text(lang, run.date, "medium")),
                Cell(text=capital(sheet.say(condition.name))),
                Cell(text=quantity(lang, run.value, condition.unit), number=True),
                Cell(text=limits_text(sheet.edition, condition), number=True),
                Cell(text=sheet.t("outside") if outside else "", note=keep_units(run.note), note_lang=written_in),
            )
        )
    heads = (
        Head(text=sheet.t("Date")),
        Head(text=sheet.t("Check")),
        Head(text=sheet.t("Value"), number=True),
        Head(text=sheet.t("Allowed"), number=True),
        Head(text=sheet.t("Remark")),
    )
    return Table(caption=sheet.t("All runs"), heads=heads, rows=tuple(rows))
