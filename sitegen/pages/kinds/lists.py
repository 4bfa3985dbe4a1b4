"""Lists of pages, the front page of an edition, the choice of languages, and the page for unknown addresses."""

from dataclasses import replace
from urllib.parse import urlsplit

from sitegen.figures.answers.picks import fact_sentences
from sitegen.figures.answers.prose import fill_prose
from sitegen.figures.forms.edition import capital
from sitegen.figures.forms.numbers import listing
from sitegen.pages.parts import parts
from sitegen.pages.parts.orders import choices
from sitegen.pages.plan.plan import CHOICE, GUIDE, HOME, METHOD, PRODUCT, REVIEW, RIG, ROUND, Page
from sitegen.pages.site import Sheet
from sitegen.pages.theme.frame import LIST_LINKS, LIST_TITLES, bare_frame, make_frame
from sitegen.pages.theme.structured import item_list, website
from sitegen.pages.views import ChoicePage, Entry, Link, ListPage, Section
from sitegen.problems import Problems

NEWEST = 6  # reviews on a front page
_LATEST_FIRST = "0000"


def entries_of(sheet: Sheet, kind: str, problems: Problems) -> tuple[Entry, ...]:
    """The pages of one kind in an edition: texts newest first, the others by name."""
    makers = {REVIEW: _review, ROUND: _round, GUIDE: _guide, METHOD: _method, PRODUCT: _product, RIG: _rig}
    found = [makers[kind](sheet, page.id, problems) for page in sheet.site.plan.in_edition(sheet.tag, kind)]
    present = [entry for entry in found if entry is not None]
    if kind in {REVIEW, ROUND, GUIDE}:
        present.sort(key=lambda entry: entry.title)
        present.sort(key=lambda entry: entry.date.iso if entry.date else _LATEST_FIRST, reverse=True)
    else:
        present.sort(key=lambda entry: entry.title.casefold())
    return tuple(present)


def _review(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    return parts.review_entry(sheet, id, problems)


def _round(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    round = sheet.site.publication.rounds[id]
    names = [sheet.edition.product(entrant.product.id) for entrant in round.entrants]
    published = round.published or round.end
    return Entry(
        title=sheet.say(round.title),
        href=_href(sheet, ROUND, id),
        summary=sheet.say(round.summary),
        date=parts.moment(sheet.edition, published) if published else None,
        facts=(listing(sheet.edition.lang, names),),
    )


def _guide(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    guide = sheet.site.publication.guides[id]
    text = guide.text(sheet.tag) or guide.texts[0]
    values, day = parts.text_values(sheet, text=text), parts.published_day(text, guide.texts)
    return Entry(
        title=fill_prose(text.head.title, values, problems),
        href=_href(sheet, GUIDE, id),
        summary=fill_prose(text.head.summary, values, problems),
        date=parts.moment(sheet.edition, day) if day else None,
        lang="" if text.lang == sheet.tag else text.lang,
    )


def _method(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    protocol = sheet.site.publication.protocols[id]
    basis = protocol.standard or sheet.t("Common practice")
    return Entry(
        title=sheet.say(protocol.name), href=_href(sheet, METHOD, id), summary=sheet.say(protocol.measures), note=basis
    )


def _product(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    product = sheet.site.publication.products[id]
    return Entry(
        title=product.name, href=_href(sheet, PRODUCT, id), summary=sheet.say(product.kind), note=product.maker
    )


def _rig(sheet: Sheet, id: str, problems: Problems) -> Entry | None:
    rig = sheet.site.publication.rigs[id]
    return Entry(title=capital(sheet.say(rig.name)), href=_href(sheet, RIG, id), summary=sheet.say(rig.summary))


def _href(sheet: Sheet, kind: str, id: str) -> str:
    return sheet.href(sheet.site.plan.path(Page(kind, id), sheet.tag) or "")


def list_page(sheet: Sheet, problems: Problems) -> ListPage:
    """The list of all pages of one kind."""
    kind = sheet.page.kind
    title = sheet.t(LIST_TITLES[kind])
    entries = entries_of(sheet, kind, problems)
    lead = _lead(sheet, kind)
    frame = make_frame(
        sheet, title=title, description=lead or title, structured=[item_list(sheet, title, entries)], parents=()
    )
    return ListPage(frame=frame, lead=lead, sections=(Section(title="", entries=entries),))


def _lead(sheet: Sheet, kind: str) -> str:
    leads = {
        REVIEW: sheet.t(
            "Every review, the newest first. Each says what was measured, how surely, and what became of the sample."
        ),
        ROUND: sheet.t("Groups of similar products, tested together in the same weeks by the same protocols."),
        GUIDE: sheet.t("How to choose, use and look after outdoor gear."),
        METHOD: sheet.t(
            "Each protocol: what it measures, after which method, under which conditions, and what it can't tell."
        ),
        PRODUCT: sheet.t("Every product tested so far, by name."),
        RIG: sheet.t("The rigs of this bench, and whether they were in order on the days of the tests."),
    }
    return leads[kind]


def lead_of(sheet: Sheet) -> str:
    """What the front page says first: what this is, else on what terms."""
    return sheet.say(sheet.site.publication.settings.tagline) or " ".join(parts.independence(sheet))


def home_page(sheet: Sheet, problems: Problems) -> ListPage:
    """The front page of an edition: what this is, the newest comparison with its answer, then reviews, guides, the others."""
    settings = sheet.site.publication.settings
    rounds = entries_of(sheet, ROUND, problems)
    sections = [_newest_round(sheet, rounds[0])] if rounds else []
    for kind, entries, most in (
        (REVIEW, entries_of(sheet, REVIEW, problems), NEWEST),
        (GUIDE, entries_of(sheet, GUIDE, problems), 4),
        (ROUND, rounds[1:], 3),
    ):
        if entries:
            path = sheet.site.plan.path(Page(kind), sheet.tag) or ""
            more = Link(text=sheet.t(LIST_LINKS[kind]), href=sheet.href(path))
            sections.append(Section(title=sheet.t(LIST_TITLES[kind]), entries=entries[:most], more=more))
    name, tagline = sheet.say(settings.name), sheet.say(settings.tagline)
    independence = parts.independence(sheet)
    frame = make_frame(sheet, title=name, description=" ".join([tagline, *independence]), structured=[website(sheet)])
    return ListPage(
        frame=replace(frame, tagline=""),  # it is the lead
        lead=lead_of(sheet),
        sections=tuple(sections),
        terms=independence if tagline else (),
    )


def _newest_round(sheet: Sheet, entry: Entry) -> Section:
    """The newest round with a pick for each use, in one sentence that leads to what stands behind it."""
    site = sheet.site
    ids = [page.id for page in site.plan.in_edition(sheet.tag, ROUND) if _href(sheet, ROUND, page.id) == entry.href]
    findings = site.findings[ids[0]]
    picked = tuple(
        replace(choice, sentences=choice.sentences[:1], href=f"{entry.href}#choices")
        for choice in choices(sheet, findings)
    )
    facts = () if picked else fact_sentences(sheet.edition, findings)
    title = sheet.t("Newest comparison")
    return Section(title=title, entries=(replace(entry, facts=()),), choices=picked, facts=facts)


def choice_page(sheet: Sheet) -> ChoicePage:
    """The page at the top: a greeting in each language, and the way into each edition."""
    site = sheet.site
    settings = site.publication.settings
    frame = bare_frame(
        sheet,
        title=sheet.say(settings.name),
        description=sheet.say(settings.tagline) or sheet.say(settings.name),
        style="",
        base="",
        choice=sheet.page.kind == CHOICE,
    )
    greetings = tuple(_greeting(sheet, tag) for tag in site.plan.tags)
    return ChoicePage(frame=frame, greetings=greetings, editions=_editions(sheet, ""))


def missing_page(sheet: Sheet, style: str) -> ChoicePage:
    """The page for unknown addresses, which must work from any depth."""
    base = urlsplit(sheet.site.plan.address).path
    text = sheet.t("The page you asked for is not here.")
    frame = bare_frame(sheet, title=sheet.t("Page not found"), description=text, style=style, base=base, choice=False)
    tags = (sheet.tag, *(tag for tag in sheet.site.plan.tags if tag != sheet.tag))
    greetings = tuple(
        (tag, "", sheet.site.editions[tag].lang.text("The page you asked for is not here.")) for tag in tags
    )
    return ChoicePage(frame=frame, greetings=greetings, editions=_editions(sheet, base))


def _greeting(sheet: Sheet, tag: str) -> tuple[str, str, str]:
    edition = sheet.site.editions[tag]
    settings = sheet.site.publication.settings
    return tag, edition.say(settings.name), edition.say(settings.tagline)


def _editions(sheet: Sheet, base: str) -> tuple[Link, ...]:
    links = []
    for tag in sheet.site.plan.tags:
        path = sheet.site.plan.path(Page(HOME), tag) or ""
        lang = sheet.site.editions[tag].lang
        links.append(Link(text=lang.name, href=base + path if base else sheet.href(path), lang=tag))
    return tuple(links)
