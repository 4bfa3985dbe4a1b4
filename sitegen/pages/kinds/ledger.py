"""The page on independence: what the publication takes, and where every sample came from and went."""

import datetime as dt

from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.messages import msgid
from sitegen.figures.wording.disclosure import count_text
from sitegen.pages.parts import parts
from sitegen.pages.plan.plan import PRODUCT, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import make_frame
from sitegen.pages.views import Cell, DisclosurePage, Head, Table
from sitegen.problems import Problems
from sitegen.records.ledger import Sample

HOW = {
    "bought": msgid("bought"), "loaned": msgid("on loan"), "received_keep": msgid("given to keep"),
    "borrowed_private": msgid("borrowed privately"),
}  # fmt: skip
ROLES = {
    "maker": msgid("the maker"), "importer": msgid("the importer"), "shop": msgid("a shop"), "reader": msgid("a reader"),
    "self": msgid("our own"),
}  # fmt: skip


def disclosure_page(sheet: Sheet, problems: Problems) -> DisclosurePage:
    """The view of the page on independence."""
    publication = sheet.site.publication
    title = sheet.t("Disclosure")
    independence = parts.independence(sheet)
    lead = count_text(sheet.edition, publication.samples)
    return DisclosurePage(
        frame=make_frame(sheet, title=title, description=" ".join([*independence, lead]), parents=()),
        lead=lead,
        independence=independence,
        ledger=_ledger(sheet, publication.samples),
        notes=(
            sheet.t(
                "Private lenders are not named. What a supplier may see before publication is said for each sample."
            ),
        ),
    )


def _ledger(sheet: Sheet, samples: tuple[Sample, ...]) -> Table:
    t = sheet.t
    texts = (t("Sample"), t("Product"), t("Obtained"), t("From"), t("Received"), t("Returned"))
    return Table(
        caption=t("The ledger"),
        heads=tuple(Head(text=text) for text in texts),
        rows=tuple(_row(sheet, s) for s in samples),
    )


def _row(sheet: Sheet, sample: Sample) -> tuple[Cell, ...]:
    product = sample.product.id if sample.product else ""
    path = sheet.site.plan.path(Page(PRODUCT, product), sheet.tag)
    name = sheet.edition.product(product)
    return (
        Cell(text=sample.id, literal=True),
        Cell(text=name, literal=True, href=sheet.href(path) if path else ""),
        Cell(text=sheet.t(HOW[sample.obtained])),
        Cell(text=_supplier(sheet, sample)),
        Cell(text=_day(sheet, sample.received)),
        Cell(text=_returned(sheet, sample)),
    )


def _supplier(sheet: Sheet, sample: Sample) -> str:
    role = sheet.t(ROLES[sample.role]) if sample.role else ""
    if sample.role in {"reader", "self"} or not sample.source:
        return role or "\u2013"
    return f"{sample.source} ({role})" if role else sample.source


def _day(sheet: Sheet, day: dt.date | None) -> str:
    return date_text(sheet.edition.lang, day, "medium") if day else "\u2013"


def _returned(sheet: Sheet, sample: Sample) -> str:
    if isinstance(sample.returned, dt.date):
        return _day(sheet, sample.returned)
    if sample.used_up is not None:
        return sheet.say(sample.used_up)
    if sample.lent:
        due = sheet.t("not yet; due {date}", date=_day(sheet, sample.due)) if sample.due else sheet.t("not yet")
        return due
    return sheet.t("kept")
