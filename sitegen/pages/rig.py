"""The page of a rig: whether it was in order, run by run."""

from sitegen.figures.numbers import quantity
from sitegen.figures.dates import date_text
from sitegen.pages.frame import make_frame
from sitegen.pages.plan import METHOD, Page
from sitegen.pages.site import Sheet
from sitegen.pages.views import Cell, Head, Link, RigPage, Table
from sitegen.problems import Problems


def rig_page(sheet: Sheet, problems: Problems) -> RigPage:
    """The view of a rig."""
    publication = sheet.site.publication
    rig = publication.rigs[sheet.page.id]
    title = sheet.say(rig.name)
    links = (sheet.link(Page(METHOD, ref.id), sheet.edition.protocol(ref.id)) for ref in rig.protocols)
    checks = rig.all_checks(publication.protocols)
    rows = tuple(
        (Cell(text=date_text(sheet.edition.lang, run.date, "medium")), Cell(text=sheet.say(checks[run.check].name)),
         Cell(text=quantity(sheet.edition.lang, run.value, checks[run.check].unit), number=True))
        for run in rig.runs
    )  # fmt: skip
    heads = (Head(text=sheet.t("Date")), Head(text=sheet.t("Check")), Head(text=sheet.t("Value"), number=True))
    return RigPage(
        frame=make_frame(sheet, title=title, description=sheet.say(rig.summary) or title), lead=sheet.say(rig.summary), state=(), charts=(),
        runs=Table(caption=sheet.t("All runs"), heads=heads, rows=rows), methods=_present(links), data=(),
    )  # fmt: skip


def _present(links: object) -> tuple[Link, ...]:
    return tuple(link for link in links if link is not None)  # type: ignore[attr-defined]
