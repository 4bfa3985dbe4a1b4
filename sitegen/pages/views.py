"""What a template may see, and nothing else.

Every view is a frozen record of finished text: numbers, dates and units are already in the
edition's own form, addresses are already relative to the page. A template does no arithmetic,
formats no number and looks nothing up. `Markup` fields hold trusted HTML that the text room or
the chart drawing made; every other string is escaped by the template engine.
"""

from typing import TYPE_CHECKING

from markupsafe import Markup

from sitegen.datatypes import dataclass
from sitegen.figures.wording.tables import Cell as Cell
from sitegen.figures.wording.tables import Head as Head
from sitegen.figures.wording.tables import Table as Table

if TYPE_CHECKING:
    from sitegen.figures.answers.key_figures import KeyLine  # with all that findings need


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """An address with its text; `lang` is set where the text is in another language than the page."""

    text: str
    href: str
    lang: str = ""
    current: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A date in the edition's words, and in ISO 8601 for the `datetime` attribute."""

    text: str
    iso: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A drawn chart: `title` says the finding, `caption` what is drawn and how; `table` its data."""

    id: str
    title: str
    caption: str
    svg: Markup
    table: Table
    legend: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo in several widths: `webp` and `jpeg` are srcset values, `src` the fallback."""

    src: str
    webp: str
    jpeg: str
    sizes: str
    width: int
    height: int
    alt: str
    caption: str = ""
    lazy: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding in the list of those that matter.

    `name` "Mass", `detail` "after 3 washes" or "", `value` "(412.0 ± 1.2) g" or "not measured",
    `spread` "median of 3 specimens, 4 to 5", `letters` "ab" or "", `verdict` a sentence or "".
    """

    name: str
    detail: str
    value: str
    spread: str = ""
    letters: str = ""
    verdict: str = ""
    href: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A condition or fact as name and value, for short lists of terms."""

    name: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleNote:
    """What one sample's ledger lines say: `heading` "Sample T01 · size M", `sentences` derived prose."""

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disclosure:
    """The disclosure block: `short` stands near the top of the page, the rest in its own section."""

    short: str
    independence: tuple[str, ...]
    samples: tuple[SampleNote, ...]
    more: Link | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A line in a list of pages: a review, round, guide, method or product."""

    title: str
    href: str
    summary: str = ""
    date: Moment | None = None
    picture: Picture | None = None
    facts: tuple[str, ...] = ()
    lang: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A titled group of entries; `more` leads to the whole list. `choices`: which for what, of a
    comparison that it shows, or where nothing could be picked, its `facts`.
    """

    title: str
    entries: tuple[Entry, ...]
    lead: str = ""
    more: Link | None = None
    choices: "tuple[Choice, ...]" = ()
    facts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What every page's layout needs, whatever its kind.

    `alternates` are (hreflang, absolute address) with the page itself and x-default;
    `structured` is JSON-LD and `script` a script, both safe inside a script element; `csp` the policy
    for <meta>, which names their digests.
    """

    kind: str
    lang: str
    direction: str
    title: str
    document_title: str
    description: str
    canonical: str
    alternates: tuple[tuple[str, str], ...]
    stylesheet: str
    inline_style: Markup
    script: Markup
    icon: str
    feed: str
    feed_title: str
    site_name: str
    tagline: str
    home: str
    nav: tuple[Link, ...]
    languages: tuple[Link, ...]
    trail: tuple[Link, ...]
    structured: Markup
    csp: str
    noindex: bool
    colophon: tuple[str, ...]
    footer: tuple[Link, ...]
    properties: tuple[tuple[str, str], ...] = ()  # of the page, for those who show links to it (Open Graph)


@dataclass(frozen=True, slots=True, kw_only=True)
class Byline:
    """Who wrote, translated and when; `notes` such as "follows an earlier text" stand beside it."""

    author: str
    published: Moment | None
    updated: Moment | None = None
    translator: str = ""
    notes: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """Care of the tested version in words, and what the maker says of the finish."""

    version: str
    edition: str
    words: tuple[str, ...]
    finish: str
    finish_source: str
    others: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A correction: when, and what was changed."""

    date: Moment
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wetted:
    """A wetted share read from photographs: a sentence, and the picture with the wet area marked."""

    sentence: str
    picture: Picture | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A stretch of a text, or what its author placed there: one of the four."""

    html: Markup = Markup("")
    chart: Chart | None = None
    table: Table | None = None
    photos: tuple[Wetted, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPage:
    """A review, in the order that a page owes its reader: answer, explanation, evidence."""

    frame: Frame
    byline: Byline
    summary: str
    maker: str
    product: Link
    picture: Picture | None
    disclosure: Disclosure
    cautions: tuple[str, ...]
    key: "tuple[KeyLine, ...]"
    findings: tuple[Finding, ...]
    letters_note: str
    good: tuple[str, ...]
    less_good: tuple[str, ...]
    suits: str
    charts: tuple[Chart, ...]
    claims: Table | None
    wetted: tuple[Wetted, ...]
    body: tuple[Block, ...]
    specs: Table
    care: Care | None
    order: tuple[str, ...]
    cant_tell: tuple[str, ...]
    corrections: tuple[Correction, ...]
    methods: tuple[Link, ...]
    data: tuple[Link, ...]
    data_licence: Link | None
    round: Link | None
    text_lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class UseOrder:
    """How the entrants come out for one use: who is first, how surely, the table of worths, charts of both."""

    name: str
    sentences: tuple[str, ...]
    table: Table
    charts: tuple[Chart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which for what: a use, the pick with its sureness, and what would change it; `href` leads to it from another page."""

    use: str
    sentences: tuple[str, ...]
    href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPage:
    """The comparison of all entrants of a round: answer, table, explanation, evidence."""

    frame: Frame
    byline: Byline
    summary: str
    conditions: str
    picture: Picture | None
    facts: tuple[Step, ...]
    disclosure: Disclosure
    cautions: tuple[str, ...]
    choices: tuple[Choice, ...]
    key_facts: tuple[str, ...]
    table: Table
    full_table: Table
    letters_note: str
    washing: tuple[Table, ...]
    washing_charts: tuple[Chart, ...]
    differences: tuple[str, ...]
    charts: tuple[Chart, ...]
    orders: tuple[UseOrder, ...]
    order_notes: tuple[str, ...]
    verdicts: Table | None
    claims: Table | None
    rig_notes: tuple[str, ...]
    graders: tuple[str, ...]
    wetted: tuple[Wetted, ...]
    changes: tuple[str, ...]
    cant_tell: tuple[str, ...]
    further_limits: tuple[str, ...]
    entrants: tuple[Entry, ...]
    methods: tuple[Link, ...]
    data: tuple[Link, ...]
    data_licence: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPage:
    """A guide or the about page: a text with pictures."""

    frame: Frame
    byline: Byline
    summary: str
    picture: Picture | None
    body: tuple[Block, ...]
    contents: tuple[Link, ...]
    related: tuple[Link, ...]
    text_lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A term of the glossary: its anchor, its name, its other names (also as one line), what it means."""

    id: str
    name: str
    also: tuple[str, ...]
    also_text: str
    means: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GlossaryPage:
    """The words of the trade, in the order of the language."""

    frame: Frame
    lead: str
    terms: tuple[Explained, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPage:
    """How one thing is measured."""

    frame: Frame
    measures: str
    facts: tuple[Step, ...]
    departs: str
    conditions: Table | None
    steps: tuple[str, ...]
    grades: Table | None
    cautions: tuple[str, ...]
    cant_tell: tuple[str, ...]
    rigs: tuple[Link, ...]
    used_in: tuple[Link, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RigPage:
    """The state of one rig over time."""

    frame: Frame
    lead: str
    state: tuple[str, ...]
    charts: tuple[Chart, ...]
    runs: Table
    methods: tuple[Link, ...]
    data: tuple[Link, ...]
    data_licence: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductPage:
    """What is known of a product and its versions."""

    frame: Frame
    kind: str
    maker: str
    picture: Picture | None
    specs: Table
    care: tuple[Care, ...]
    claims: Table | None
    tested_in: tuple[Link, ...]
    disclosure: Disclosure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DisclosurePage:
    """How the publication stays independent, and the whole ledger in words."""

    frame: Frame
    lead: str
    independence: tuple[str, ...]
    ledger: Table
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ListPage:
    """A list of pages of one kind, or the front page of an edition."""

    frame: Frame
    lead: str
    sections: tuple[Section, ...]
    picture: Picture | None = None
    terms: tuple[str, ...] = ()  # what the publication takes and doesn't take, in sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicePage:
    """The page at the top that offers the editions, and the page for unknown addresses."""

    frame: Frame
    greetings: tuple[tuple[str, str, str], ...]
    editions: tuple[Link, ...]
    entries: tuple[Link, ...] = ()
