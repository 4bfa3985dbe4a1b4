"""What every page may draw on: the records, the findings, the plan, the editions, the pictures."""

from collections.abc import Callable, Mapping
from dataclasses import field
from typing import TYPE_CHECKING

from markupsafe import Markup

from sitegen.datatypes import dataclass
from sitegen.editions.following.freshness import Behind
from sitegen.figures.charts.chart_text import fitted, slots
from sitegen.figures.charts.charts import ChartFigure
from sitegen.figures.drawing.svg_fill import fill
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.numbers import own_order
from sitegen.figures.forms.term_forms import TermForms
from sitegen.findings.found import RoundFindings
from sitegen.findings.ranking.ordered import RoundOrder
from sitegen.pages.plan.plan import Page, Plan, relative
from sitegen.pages.views import Chart, Link, Picture
from sitegen.records.fields.words import Words
from sitegen.records.publication import Publication

if TYPE_CHECKING:
    from sitegen.findings.rigs.rig_state import JudgedRig
    from sitegen.records.fields.photo_pair import PhotoPair

SIZES = "(min-width: 70rem) 38rem, 100vw"


@dataclass(frozen=True, slots=True)
class PictureFile:
    """One width of a picture, with its paths in the finished folder."""

    width: int
    webp: str
    jpeg: str


@dataclass(frozen=True, slots=True)
class PictureSet:
    """A picture in all its widths, smallest first; `width` and `height` are the largest one's."""

    width: int
    height: int
    files: tuple[PictureFile, ...]


@dataclass(frozen=True, slots=True)
class WettedShown:
    """What a photo pair gave: share and interval (0 to 1) and the overlay's paths, or the code of a refusal."""

    pair: "PhotoPair"
    fault: str = ""
    share: float = 0.0
    low: float = 0.0
    high: float = 0.0
    width: int = 0
    height: int = 0
    webp: str = ""
    jpeg: str = ""


@dataclass(frozen=True, slots=True)
class Assets:
    """Paths of the theme's files in the finished folder; the text of its script, which pages carry, and of its style."""

    stylesheet: str
    icon: str
    script: str
    style: str


@dataclass(frozen=True, slots=True)
class Site:
    """Everything that pages are made of.

    `draw` gives a chart's template for a figure and a direction; without it charts stay empty, which is
    enough to check every text.
    """

    publication: Publication
    plan: Plan
    editions: Mapping[str, Edition]
    findings: Mapping[str, RoundFindings]
    rigs: "Mapping[str, JudgedRig]"
    orders: Mapping[str, RoundOrder]
    currencies: Mapping[str, str]
    pictures: Mapping[str, PictureSet]
    assets: Assets
    draw: Callable[[ChartFigure, str], str] | None = field(default=None, compare=False)
    behind: Mapping[tuple[str, str, str], Behind] = field(default_factory=dict)  # by kind of page, id and language
    terms: Mapping[str, TermForms] = field(
        default_factory=dict, compare=False
    )  # by language, where texts lead to the glossary
    wetted: Mapping[str, tuple[WettedShown, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page being made: the site, its edition, and where it stands."""

    site: Site
    edition: Edition
    page: Page
    path: str

    @property
    def tag(self) -> str:
        """The edition's language tag."""
        return self.edition.tag

    def t(self, msgid: str, /, **values: object) -> str:
        """An interface message."""
        return self.edition.lang.text(msgid, **values)

    def say(self, words: Words | None) -> str:
        """A record's words in this edition."""
        return self.edition.say(words)

    def href(self, path: str) -> str:
        """The address of another path as written on this page."""
        return relative(self.path, path)

    def link(self, page: Page, text: str) -> Link | None:
        """A link to a page in this edition, or in the best other language; None where it is nowhere."""
        best = self.site.plan.best(page, self.tag)
        if best is None:
            return None
        path, tag = best
        if tag == self.tag:
            return Link(text=text, href=self.href(path))
        note = self.edition.lang.name_of(tag)
        return Link(text=text, href=self.href(path), lang=tag, note=note)

    def picture(self, file: str, alt: str, caption: str = "", *, lazy: bool = True) -> Picture | None:
        """A picture in its widths; None where the file isn't among the pictures (which was reported)."""
        found = self.site.pictures.get(file)
        if found is None:
            return None
        middle = found.files[min(1, len(found.files) - 1)]
        return Picture(
            src=self.href(middle.jpeg),
            webp=", ".join(f"{self.href(f.webp)} {f.width}w" for f in found.files),
            jpeg=", ".join(f"{self.href(f.jpeg)} {f.width}w" for f in found.files),
            sizes=SIZES,
            width=found.width,
            height=found.height,
            alt=alt,
            caption=caption,
            lazy=lazy,
        )

    def chart(self, figure: ChartFigure, number: int) -> Chart:
        """A chart drawn and filled with this edition's texts."""
        # Asked each time, though kept: a page has to be noted as made from the drawing.
        template = self.site.draw(figure, self.edition.lang.direction) if self.site.draw is not None else ""
        return self.edition.once(f"chart {number}", figure, lambda: self._chart(figure, number, template))

    def _chart(self, figure: ChartFigure, number: int, template: str) -> Chart:
        svg = ""
        if template:
            places = self.edition.once("slots", figure.spec, lambda: slots(figure.spec))
            texts = tuple(own_order(self.edition.lang, text) for text in fitted(figure.spec, figure.texts, places))
            svg = fill(template, texts, id_prefix=f"c{number}")
        return Chart(id=figure.id, title=figure.title, caption=figure.caption, svg=Markup(svg), table=figure.table)
