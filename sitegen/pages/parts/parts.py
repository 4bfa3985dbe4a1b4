"""Parts that several kinds of page share: disclosure, spec table, care, findings, links to data and methods."""

import datetime as dt
import itertools
from collections.abc import Sequence

from sitegen.figures.answers.prose import fill_prose
from sitegen.figures.answers.values import Values
from sitegen.figures.forms import numbers
from sitegen.figures.forms.dates import date_text, iso, year_month
from sitegen.figures.forms.edition import Edition, capital
from sitegen.figures.wording.care import care_words, finish_source
from sitegen.figures.wording.cells import further_times, word_cell
from sitegen.figures.wording.claims import outcome_text
from sitegen.figures.wording.disclosure import count_text, word_facts
from sitegen.findings.disclosure import (
    independence_facts,
    pay_is_disclosed,
    sample_facts,
    short_facts,
    weak_facts,
)
from sitegen.findings.found import Cell as FoundCell
from sitegen.findings.found import Measured, RoundFindings
from sitegen.pages.plan.plan import DISCLOSURE, METHOD, REVIEW, Page
from sitegen.pages.plan.standing import first_published
from sitegen.pages.site import Sheet
from sitegen.pages.views import (
    Byline,
    Care,
    Cell,
    Disclosure,
    Entry,
    Finding,
    Head,
    Link,
    Moment,
    Picture,
    SampleNote,
    Step,
    Table,
)
from sitegen.problems import Problems
from sitegen.records.ledger import Sample
from sitegen.records.measured.round import Round
from sitegen.records.product import Photo, Product, Version
from sitegen.records.texts.texts import Text, TextPhoto

FEW_SAMPLES = 2  # so many are told one by one near the top of a page; more are counted


def moment(edition: Edition, day: dt.date) -> Moment:
    """A date for a reader and for a machine."""
    return Moment(text=date_text(edition.lang, day), iso=iso(day))


def published_day(text: Text, texts: Sequence[Text]) -> dt.date | None:
    """When a text was published: a translation without a day of its own, with the lead text (the first of `texts`)."""
    return text.head.date or texts[0].head.date


def byline(sheet: Sheet, text: Text, texts: Sequence[Text]) -> Byline:
    """Who wrote a text (one of `texts`, the lead text first), who translated it, when it was published and changed."""
    head, day = text.head, published_day(text, texts)
    return Byline(
        author=sheet.site.publication.settings.author,
        published=moment(sheet.edition, day) if day else None,
        updated=moment(sheet.edition, head.updated) if head.updated else None,
        translator=head.translator,
        notes=tuple(note for note in (first_credit(sheet, text), *_text_notes(sheet, text)) if note),
    )


def first_credit(sheet: Sheet, text: Text) -> Link | None:
    """The line that credits whoever published a review first, with the terms; None where it was here."""
    first = first_published(sheet)
    if first is None:
        return None
    day = date_text(sheet.edition.lang, first.date)
    if text.lang == first.language:
        said = sheet.t(
            "First published by {outlet} on {date}, republished here with leave.", outlet=first.outlet, date=day
        )
    else:
        said = sheet.t("First published by {outlet} on {date}, translated with leave.", outlet=first.outlet, date=day)
    return Link(text=said, href=first.address, note=sheet.say(first.terms))


def _text_notes(sheet: Sheet, text: Text) -> tuple[Link, ...]:
    """What a reader should know of a text's language: that it has no other, or that the lead has gone on since."""
    if text.lang != sheet.tag:
        return (only_in(sheet, text.lang),)
    lag = sheet.site.behind.get((sheet.page.kind, sheet.page.id, text.lang))
    path = sheet.site.plan.path(sheet.page, lag.lead) if lag else None
    if lag is None or path is None:
        return ()
    name = sheet.edition.lang.name_of(lag.lead)
    message = sheet.t("This translation follows an earlier text; the latest is in {language}.", language=name)
    return (Link(text=message, href=sheet.href(path)),)


def only_in(sheet: Sheet, lang: str) -> Link:
    """The note on a page that shows the lead's text for want of its own."""
    path = sheet.site.plan.path(sheet.page, lang) or sheet.path
    name = sheet.edition.lang.name_of(lang)
    return Link(text=sheet.t("This text exists only in {language}.", language=name), href=sheet.href(path))


def disclosure(sheet: Sheet, samples: tuple[Sample, ...]) -> Disclosure:
    """The disclosure block, from the ledger, the policies and a text's first publication alone."""
    sentences = sheet.site.publication.stock.sentences
    path = sheet.site.plan.path(Page(DISCLOSURE), sheet.tag)
    return Disclosure(
        short=_short_disclosure(sheet, samples),
        independence=independence(sheet),
        samples=tuple(
            SampleNote(
                heading=sample_heading(sheet, sample),
                sentences=word_facts(sheet.edition, sample_facts(sample), sentences),
            )
            for sample in samples
        ),
        more=Link(text=sheet.t("How this publication stays independent"), href=sheet.href(path)) if path else None,
    )


def _short_disclosure(sheet: Sheet, samples: tuple[Sample, ...]) -> str:
    """How the samples came and went, or their numbers where they are many; always with all that weakens independence."""
    publication = sheet.site.publication
    sentences, settings = publication.stock.sentences, publication.settings
    first = first_published(sheet)
    if len(samples) <= FEW_SAMPLES:
        facts = (*short_facts(samples), *weak_facts((), first, settings))
        return " ".join(word_facts(sheet.edition, facts, sentences))
    weak = word_facts(sheet.edition, weak_facts(samples, first, settings), sentences)
    return " ".join([count_text(sheet.edition, samples), *dict.fromkeys(weak)])


def independence(sheet: Sheet) -> tuple[str, ...]:
    """What the publication takes and doesn't take, in sentences."""
    publication = sheet.site.publication
    disclosed = pay_is_disclosed(publication.samples, publication.elsewhere.values())
    facts = independence_facts(publication.settings, disclosed_pay=disclosed)
    return word_facts(sheet.edition, facts, publication.stock.sentences)


def sample_heading(sheet: Sheet, sample: Sample) -> str:
    """What marks one sample: its id, version, size and colour."""
    parts = [sheet.t("Sample {id}", id=sample.id)]
    if sample.version is not None:
        parts.append(sheet.t("version {version}", version=sample.version.id))
    parts += [sheet.t("size {size}", size=sample.size)] if sample.size else []
    parts += [sheet.say(sample.colour)] if sample.colour else []
    return ", ".join(parts)


def spec_table(sheet: Sheet, product: Product, version: Version) -> Table:
    """The spec table of a product's version, by its maker's word and the receipt."""
    t = sheet.t
    rows = [(t("Maker"), product.maker, "", True)]
    if product.kind:
        rows.append((t("Kind"), sheet.say(product.kind), "", False))
    rows.append((t("Version"), version_text(sheet, version), "", False))
    if version.price:
        amount = numbers.money(sheet.edition.lang, version.price.amount, version.price.currency)
        rows.append((t("Price"), amount, t("on {date}", date=date_text(sheet.edition.lang, version.price.date)), False))
    rows += [(sheet.say(d.name), sheet.say(d.value), "", False) for d in version.details]
    return Table(
        caption=t("{product} according to the maker", product=product.name),
        heads=(Head(text=t("Property")), Head(text=t("Value"))),
        rows=tuple(
            (Cell(text=name), Cell(text=value, note=note, literal=literal)) for name, value, note, literal in rows
        ),
    )


def version_text(sheet: Sheet, version: Version) -> str:
    """A version by its id and since when it is sold."""
    if version.since is None:
        return version.id.id
    if isinstance(version.since, dt.date):
        since = date_text(sheet.edition.lang, version.since)
    else:
        year, month = version.since.split("-")
        since = year_month(sheet.edition.lang, int(year), int(month))
    return sheet.t("{version}, since {date}", version=version.id.id, date=since)


def care(sheet: Sheet, product: Product, version: Version) -> Care | None:
    """Care in words and the finish according to the maker; other versions where their label differs."""
    if not version.care and version.finish is None:
        return None
    stock = sheet.site.publication.stock
    others = tuple(
        Step(
            name=sheet.t("Version {version}", version=other.id.id),
            value="; ".join(care_words(sheet.edition, other, stock)),
        )
        for other in product.versions
        if other is not version and other.care and {w.id for w in other.care} != {w.id for w in version.care}
    )
    return Care(
        version=version.id.id,
        edition=version.care_edition,
        words=care_words(sheet.edition, version, stock),
        finish=sheet.say(version.finish.says) if version.finish else "",
        finish_source=finish_source(sheet.edition, version.finish) if version.finish else "",
        others=others,
    )


def finding(sheet: Sheet, findings: RoundFindings, measured: Measured, cell: FoundCell) -> Finding:
    """One entrant's finding of one measure, with its letter group and what became of the maker's claim."""
    worded = word_cell(sheet.edition, measured, cell)
    letters = findings.letters().get(f"{cell.product} {measured.measure.text}", "")
    verdicts = [*further_times(sheet.edition, measured, cell)] + [
        sheet.t("The maker's claim: {outcome}", outcome=outcome_text(sheet.edition, judged).lower())
        for judged in findings.claims_of(cell.product)
        if judged.measure == measured.measure
    ]
    stage = measured.measure.stage
    several = len(findings.stages_of(measured.protocol.id)) > 1
    path = sheet.site.plan.path(Page(METHOD, measured.protocol.id), sheet.tag)
    return Finding(
        name=sheet.edition.protocol(measured.protocol.id),
        detail=sheet.edition.stage(stage) if several else "",
        value=worded.value,
        spread=worded.spread,
        letters=letters,
        verdict=". ".join(filter(None, (*verdicts, worded.note, capital(worded.mark)))),
        href=sheet.href(path) if path else "",
        id=finding_id(measured),
    )


def finding_id(measured: Measured) -> str:
    """What a finding is called in the address of its page's evidence."""
    return f"finding-{measured.measure.text.replace(' ', '-').replace('_', '-')}"


def letters_note(sheet: Sheet, findings: RoundFindings) -> str:
    """What the letters mean; empty where there are none."""
    if not any(entry.letters for entry in findings.compared):
        return ""
    return sheet.t("Same letter: no clear difference.")


def cautions(sheet: Sheet, round: Round | None) -> tuple[str, ...]:
    """The cautions for this kind of gear, of washing where it is washed, then of makers' instructions and local rules."""
    if round is None:
        return ()
    found = [sheet.say(words) for words in round.cautions]
    stages = itertools.chain(round.stages, *(protocol.stages for protocol in round.protocols))
    if any(stage.washes for stage in stages):
        found.append(wash_caution(sheet))
    if not found:
        return ()
    return (*found, sheet.say(sheet.site.publication.stock.sentences["caution.safety"]))


def wash_caution(sheet: Sheet) -> str:
    """What whoever washes samples must know of waterproof things in a machine."""
    return sheet.say(sheet.site.publication.stock.sentences["caution.wash"])


def method_links(sheet: Sheet, findings: RoundFindings) -> tuple[Link, ...]:
    """How each measure was taken."""
    ids = dict.fromkeys(measured.protocol.id for measured in findings.measured)
    links = (sheet.link(Page(METHOD, id), sheet.edition.protocol(id)) for id in ids)
    return tuple(link for link in links if link is not None)


def data_path(round: str, protocol: str) -> str:
    """Where the readings of a protocol in a round can be downloaded."""
    return f"data/{round}/{protocol}.csv"


def data_links(sheet: Sheet, findings: RoundFindings) -> tuple[Link, ...]:
    """The readings as CSV, a file for each protocol."""
    ids = dict.fromkeys(m.protocol.id for m in findings.measured if any(c.summary for c in m.cells))
    text = "{name}, CSV"
    return tuple(
        Link(text=text.format(name=sheet.edition.protocol(id)), href=sheet.href(data_path(findings.round.id, id)))
        for id in ids
    )


def data_licence(sheet: Sheet) -> Link | None:
    """On which terms the readings may be used, as far as the publication says; a link where it gives an address."""
    settings = sheet.site.publication.settings
    if not settings.data_licence:
        return None
    text = sheet.t("Licence of these data: {licence}", licence=settings.data_licence)
    return Link(text=text, href=settings.licence_address)


def record_picture(sheet: Sheet, photo: Photo | None, *, lazy: bool = True, caption: bool = True) -> Picture | None:
    """A record's photo in this edition's words."""
    if photo is None:
        return None
    text = sheet.say(photo.caption) if caption else ""
    return sheet.picture(photo.file.id, sheet.say(photo.alt), text, lazy=lazy)


def text_picture(sheet: Sheet, photo: TextPhoto, values: Values, problems: Problems, *, lazy: bool) -> Picture | None:
    """A text's photo, described in the text's language."""
    alt, caption = (fill_prose(words, values, problems) for words in (photo.alt, photo.caption))
    return sheet.picture(photo.file.id, alt, caption, lazy=lazy)


def review_entry(sheet: Sheet, id: str, problems: Problems, *, picture: bool = True) -> Entry | None:
    """A review in a list; None where the edition hasn't got it."""
    publication = sheet.site.publication
    review = publication.cards[id]
    text = review.text(sheet.tag)
    path = sheet.site.plan.path(Page(REVIEW, id), sheet.tag)
    if path is None:
        return None
    shown = text or review.texts[0]
    values, day = text_values(sheet, id, shown), published_day(shown, review.texts)
    product = publication.products.get(review.facts.product.id) if review.facts.product else None
    photo = shown.head.photos[0] if shown.head.photos else None
    image = None
    if picture:
        image = (
            text_picture(sheet, photo, values, problems, lazy=True)
            if photo
            else record_picture(sheet, product.photo if product else None)
        )
    return Entry(
        title=fill_prose(shown.head.title, values, problems),
        href=sheet.href(path),
        summary=fill_prose(shown.head.summary, values, problems),
        date=moment(sheet.edition, day) if day else None,
        picture=_bare(image),
        lang="" if text else shown.lang,
        note=sheet.say(product.kind) if product else "",
    )


def _bare(picture: Picture | None) -> Picture | None:
    """A list shows a picture without its caption, smaller, so it asks for a smaller file."""
    from dataclasses import replace

    return replace(picture, caption="", sizes="(min-width: 40rem) 16rem, 100vw") if picture else None


def text_values(sheet: Sheet, review: str = "", text: Text | None = None) -> Values:
    """Where the values in a text come from: those of a review's product and round first; in the forms of its language."""
    site = sheet.site
    product = round = ""
    if review:
        product, round = site.publication.reviewed[review]
        round = round or site.publication.round_of(product)
    return Values(
        edition=site.editions[text.lang] if text is not None and text.lang in site.editions else sheet.edition,
        rounds=site.findings,
        product=product,
        round=round,
        index=site.publication.index,
    )


def rounds_with(sheet: Sheet, protocol: str) -> list[Round]:
    """The rounds that use a protocol, newest first."""
    rounds = sheet.site.publication.rounds.values()
    found = [r for r in rounds if not r.single and any(p.protocol.id == protocol for p in r.protocols)]
    return sorted(found, key=lambda r: (r.end or r.start or dt.date.min, r.id), reverse=True)
