"""The whole pipeline: text files → records → findings → figures → pages → a finished folder. Read this first."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from sitegen import stock
from sitegen.datatypes import dataclass
from sitegen.disk.digests import Digests, FileDigests, tool_digest
from sitegen.disk.kept_checks import Kept
from sitegen.disk.kept_pages import KeptPages
from sitegen.disk.kept_site import forget_site, keep_site
from sitegen.disk.memory import Memory, Pieces, key_of
from sitegen.disk.output import Output
from sitegen.disk.page_digests import kept_pages
from sitegen.disk.workers import Elsewhere, processes
from sitegen.figures.charts import ChartFigure
from sitegen.figures.edition import Edition
from sitegen.figures.language import UnknownLanguage, open_language
from sitegen.figures.term_forms import LinkedTerms
from sitegen.pages import feeds
from sitegen.pages.moves import with_moves
from sitegen.pages.open_data import rig_data
from sitegen.pages.plan import make_plan
from sitegen.pages.render import make_view, sheets
from sitegen.pages.site import Assets, PictureFile, PictureSet, Site
from sitegen.pages.theme import ThemeError, open_theme, static_file, stylesheet
from sitegen.pages.traced import Trace
from sitegen.pages_made import make_pages, remembered, template_name
from sitegen.photos_made import make_pictures, make_wetted
from sitegen.place import Place
from sitegen.problems import Problem, Problems
from sitegen.records.embargo import as_of
from sitegen.records.keeping import Keep, make_anew
from sitegen.records.publication import Held, Publication, read_publication
from sitegen.records.stock_records import Stock, read_stock
from sitegen.supported import check_texts, find_rounds, judge_rigs
from sitegen.text.source import walk_sources

Progress = Callable[[str, int, int], None]
Files = dict[str, bytes]


@dataclass(frozen=True, slots=True)
class Built:
    """What a build came to. `published` is False where errors stopped it and the old site still stands."""

    problems: Problems
    published: bool = False
    pages: int = 0
    files: int = 0
    changed: int = 0
    pictures: int = 0
    held: tuple[Held, ...] = ()
    site: Site | None = None  # what the pages were made from
    made: tuple[str, ...] = ()  # after edits within texts: the files that differ may be these alone
    called: str = ""  # what the site is called where it was kept, see `disk/kept_site.py`


def _quiet(stage: str, done: int, of: int) -> None:
    """Progress for nobody."""


def build(
    folder: Path,
    to: Path,
    memory: Memory,
    progress: Progress = _quiet,
    day: dt.date = dt.date.min,
    workers: int | Elsewhere | None = None,
) -> Built:
    """Build the publication in `folder` into `to`, as it may be shown on `day` (by default with every embargo in
    force). Errors stop it before anything is published. `workers` are so many processes, or those of a cluster.

    Raises NotOurs where `to` holds files of somebody else, OSError where the disk fails.
    """
    problems = Problems()
    tool = tool_digest()
    files = file_digests(folder, memory, tool)
    keep = Pieces(memory, tool, files.sure, workers=processes(workers))
    publication = read(folder, problems, progress, keep)
    keep.save_shelves()  # now: what is sound isn't read again once a fault is mended, and workers elsewhere find it
    if publication is None or problems.has_errors:
        return Built(unique(problems))
    publication = as_of(publication, day)
    pictures, photos = make_pictures(folder, publication, memory, problems, progress)
    trace = Trace()
    kept_checks, digests = keep.table("checks"), Digests(files, publication.files)
    site = make_site(
        folder,
        publication,
        pictures,
        problems,
        remembered(memory if tool else Memory(None), trace, tool),
        keep,
        digests,
        kept_checks,
    )
    if site is None or problems.has_errors:
        return Built(unique(problems))
    wetted, overlays = make_wetted(folder, publication, memory, problems)
    site = replace(site, wetted=wetted)
    kept = kept_pages(digests, to, site, memory, tool)
    compiled = keep.table("templates")
    output, told = Output(to), len(problems)
    try:
        for path, data in (photos | overlays).items():
            output.put(path, data)
        pages = make_pages(folder, site, output, kept, trace, problems, progress, compiled, workers)
        if problems.has_errors:
            output.discard()
            return Built(unique(problems))
        for path, data in (make_assets(site) | dict(rig_data(publication))).items():
            output.put(path, data)
        output.finish()
    except BaseException:
        output.discard()
        raise
    called = ""
    if kept is not None:
        if len(problems) == told:  # what is told of a page is told anew at each build
            counts = pages, output.changed + output.unchanged, len(pictures)
            called = _kept(keep, site, kept, kept_checks, problems, counts)
        else:
            forget_site(keep)
        kept.save()  # after the site, which has to know of all pages that are in it
    keep.save_table("templates", compiled)
    keep.save_table("checks", kept_checks)
    keep.save_table("files", files.now)
    keep.close()
    memory.forget_unused()
    return Built(
        unique(problems),
        True,
        pages,
        output.changed + output.unchanged,
        output.changed,
        len(pictures),
        publication.held,
        site,
        called=called,
    )


def _kept(
    keep: Pieces, site: Site, pages: KeptPages, checks: Mapping[str, Kept], problems: Problems,
    counts: tuple[int, int, int],
) -> str:  # fmt: skip
    """Keep the site for the build after an edit within a text; gives what it is called."""
    own: set[Problem] = set()  # of texts: told anew where one is edited
    if len(problems):
        notes = keep.shelves["reviews"].notes.values() if "reviews" in keep.shelves else ()
        own = {problem for note in notes for problem in note.told}
        own |= {problem for _, one in checks.values() for problem in (*one.editions, *one.figures)}
    faulty = frozenset(problem.place.file for problem in problems if problem not in own)
    return keep_site(keep, site, pages, tuple(unique(problems)), faulty, counts)


def file_digests(folder: Path, memory: Memory, tool: str) -> FileDigests:
    """Digests of the publication's files, those of the last build known beforehand."""
    return FileDigests(folder, Pieces(memory, tool).table("files"))


def check(folder: Path, progress: Progress = _quiet) -> Problems:
    """Everything that a build would find wrong, with nothing drawn and nothing written."""
    problems = Problems()
    publication = read(folder, problems, progress)
    if publication is None:
        return problems
    pictures = {ref.id: PictureSet(1, 1, (PictureFile(1, ref.id, ref.id),)) for ref in publication.pictures}
    site = make_site(folder, publication, pictures, problems) if not problems.has_errors else None
    if site is not None:
        for number, sheet in enumerate(sheets(site), 1):
            make_view(sheet, problems)
            progress("checking", number, len(site.plan.paths))
    return unique(problems)


def unique(problems: Problems) -> Problems:
    """Each problem once: a text that is shown on several pages has its faults told once."""
    single = Problems()
    single.extend(dict.fromkeys(problems))
    return single


def read(folder: Path, problems: Problems, progress: Progress = _quiet, keep: Keep = make_anew) -> Publication | None:
    """All records of the publication in `folder`; None where it has no usable settings."""
    progress("reading", 0, 1)
    own, told = keep("stock", _read_stock)
    problems.extend(told)
    publication = read_publication(folder, walk_sources(folder), own, problems, keep)
    progress("reading", 1, 1)
    return publication


def _read_stock() -> tuple[Stock, tuple[Problem, ...]]:
    problems = Problems()
    return read_stock(stock.content_folder(), problems), tuple(problems)


def make_site(
    folder: Path, publication: Publication, pictures: Mapping[str, PictureSet], problems: Problems,
    draw: Callable[[ChartFigure, str], str] | None = None, keep: Pieces | None = None, digests: Digests | None = None,
    kept_checks: dict[str, Kept] | None = None,
) -> Site | None:  # fmt: skip
    """Findings, editions and plan: everything that pages are made of. None where a language can't be used.

    `kept_checks` holds what was found of the texts at the last build, and afterwards what was found at this one.
    """
    editions = open_editions(publication, problems)
    if editions is None:
        return None
    digests = digests or Digests(FileDigests(folder), publication.files)
    rigs = judge_rigs(publication)
    rounds = find_rounds(publication, rigs, digests, keep or Pieces(Memory(None), ""))
    lagging = check_texts(publication, rounds, digests, {} if kept_checks is None else kept_checks, problems)
    assets = _assets(folder, publication, problems)
    make = partial(make_plan, publication)
    planned = keep(f"plan {publication.outline}", make) if keep is not None and publication.outline else make()
    plan = with_moves(publication, planned, problems)
    terms = LinkedTerms(publication)
    return Site(
        publication,
        plan,
        editions,
        rounds.findings,
        rigs,
        rounds.orders,
        rounds.currencies,
        pictures,
        assets,
        draw,
        lagging,
        terms,
    )


def open_editions(publication: Publication, problems: Problems) -> dict[str, Edition] | None:
    """The languages of all editions; None once an unknown one is reported."""
    editions = {}
    settings = publication.settings
    for tag in settings.tags:
        try:
            lang = open_language(tag, stock.content_folder() / "catalogues")
        except UnknownLanguage as unknown:
            message = f"the language {unknown.tag!r} can't be used: no forms of numbers and dates are known for it"
            problems.error(
                "language-unknown",
                settings.place_of(tag),
                message,
                f"did you mean {unknown.hint}?" if unknown.hint else "",
            )
            return None
        if not lang.catalogue_complete:
            message = f"not all words of the pages are translated into {tag} yet; the others are shown in English"
            problems.caution("language-words", settings.place_of(tag), message)
        editions[tag] = Edition(lang, settings.lead, publication.products, publication.protocols, publication.names)
    return editions


def _style(folder: Path, publication: Publication, lang: Any) -> bytes:
    own = folder / "theme"
    look = publication.settings.theme
    theme = open_theme(stock.themes_folder() / "bench", own if own.is_dir() else None, lang)
    return stylesheet(theme, look.accent, look.text_face, look.label_face)


def _assets(folder: Path, publication: Publication, problems: Problems) -> Assets:
    """The theme's files; names change with their content, so that a host may let browsers keep them for ever."""
    lang = open_language(publication.settings.lead, stock.content_folder() / "catalogues")
    try:
        style = _style(folder, publication, lang)
    except ThemeError as fault:
        problems.error("theme", Place(template_name(folder, fault), max(fault.line, 1), fault.column), fault.message)
        style = b""
    bench = stock.themes_folder() / "bench"
    script, icon = static_file(bench, "table.js"), static_file(bench, "icon.svg")
    return Assets(
        f"assets/theme-{key_of(style)[:10]}.css",
        f"assets/icon-{key_of(icon)[:10]}.svg",
        script.decode().strip(),
        style.decode(),
    )


def make_assets(site: Site) -> Files:
    """The theme's files, robots.txt, and the headers for hosts that take them."""
    icon = static_file(stock.themes_folder() / "bench", "icon.svg")
    return {
        site.assets.stylesheet: site.assets.style.encode(),
        site.assets.icon: icon, "robots.txt": feeds.robots(site),
        "response-headers.txt": feeds.response_headers(site),
    }  # fmt: skip
