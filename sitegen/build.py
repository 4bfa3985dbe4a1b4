"""The whole pipeline: text files → records → findings → figures → pages → a finished folder. Read this first."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from sitegen import stock
from sitegen.datatypes import dataclass
from sitegen.disk.digests import Digests, FileDigests, tool_digest
from sitegen.disk.kept_checks import Checked
from sitegen.disk.kept_pages import PIECE, KeptPages
from sitegen.disk.memory import Memory, Pieces, key_of
from sitegen.disk.output import Output
from sitegen.disk.page_digests import kept_pages
from sitegen.disk.workers import Elsewhere, chunks, spread, workers_for
from sitegen.figures.charts import ChartFigure
from sitegen.figures.draw import Style, drawing_key
from sitegen.figures.draw import draw as draw_chart
from sitegen.figures.edition import Edition
from sitegen.figures.language import UnknownLanguage, open_language
from sitegen.figures.term_forms import linked_terms
from sitegen.findings.rig_state import judge_rig_record
from sitegen.pages import feeds
from sitegen.pages.moves import with_moves
from sitegen.pages.open_data import open_data
from sitegen.pages.plan import REVIEW, ROUND, Page, make_plan
from sitegen.pages.render import make_view, render_extra, render_sheet, sheets
from sitegen.pages.site import Assets, PictureFile, PictureSet, Sheet, Site, WettedShown
from sitegen.pages.theme import Theme, ThemeError, open_theme, static_file, stylesheet
from sitegen.pages.traced import Trace, Use, traced
from sitegen.place import Place
from sitegen.problems import Problem, Problems
from sitegen.records.embargo import as_of
from sitegen.records.keeping import Keep, make_anew
from sitegen.records.publication import Held, Publication, read_publication
from sitegen.records.references import used_photos
from sitegen.records.stock_records import Stock, read_stock
from sitegen.supported import check_texts, find_rounds
from sitegen.text.source import walk_sources

Progress = Callable[[str, int, int], None]
Files = dict[str, bytes]
MOST_AT_HAND = 200  # drawings
PICTURE_WORKERS = 2  # threads: the image library works outside Python's lock


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
    keep = Pieces(memory, tool, files.sure)
    publication = read(folder, problems, progress, keep)
    if publication is None or problems.has_errors:
        return Built(unique(problems))
    publication = as_of(publication, day)
    pictures, photos = make_pictures(folder, publication, memory, problems, progress)
    trace = Trace()
    kept_checks = keep.table("checks")
    site = make_site(
        folder,
        publication,
        pictures,
        problems,
        _remembered(memory if tool else Memory(None), trace, tool),
        keep,
        Digests(files, publication.files),
        kept_checks,
    )
    if site is None or problems.has_errors:
        return Built(unique(problems))
    wetted, overlays = make_wetted(folder, publication, memory, problems)
    site = replace(site, wetted=wetted)
    kept = kept_pages(Digests(files, publication.files), to, site, memory, tool)
    compiled = keep.table("templates")
    output = Output(to)
    try:
        for path, data in (photos | overlays).items():
            output.put(path, data)
        pages = make_pages(folder, site, output, kept, trace, problems, progress, compiled, workers)
        if problems.has_errors:
            output.discard()
            return Built(unique(problems))
        for path, data in (make_assets(folder, site) | dict(open_data(publication))).items():
            output.put(path, data)
        output.finish()
    except BaseException:
        output.discard()
        raise
    if kept is not None:
        kept.save()
    keep.save_table("templates", compiled)
    keep.save_table("checks", kept_checks)
    keep.save_table("files", files.now)
    memory.forget_unused()
    return Built(
        unique(problems),
        True,
        pages,
        output.changed + output.unchanged,
        output.changed,
        len(pictures),
        publication.held,
    )


def file_digests(folder: Path, memory: Memory, tool: str) -> FileDigests:
    """Digests of the publication's files, those of the last build known beforehand."""
    return FileDigests(folder, Pieces(memory, tool).table("files"))


def check(folder: Path, progress: Progress = _quiet) -> Problems:
    """Everything that a build would find wrong, with nothing drawn and nothing written."""
    problems = Problems()
    publication = read(folder, problems, progress)
    if publication is None:
        return problems
    pictures = {ref.id: PictureSet(1, 1, (PictureFile(1, ref.id, ref.id),)) for ref in used_photos(publication)}
    site = make_site(folder, publication, pictures, problems) if not problems.has_errors else None
    if site is not None:
        every = tuple(sheets(site))
        for number, sheet in enumerate(every, 1):
            make_view(sheet, problems)
            progress("checking", number, len(every))
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
    kept_checks: dict[str, tuple[str, str, Checked]] | None = None,
) -> Site | None:  # fmt: skip
    """Findings, editions and plan: everything that pages are made of. None where a language can't be used.

    `kept_checks` holds what was found of the texts at the last build, and afterwards what was found at this one.
    """
    editions = open_editions(publication, problems)
    if editions is None:
        return None
    digests = digests or Digests(FileDigests(folder), publication.files)
    rigs = {id: judge_rig_record(rig, publication.protocols) for id, rig in publication.rigs.items()}
    rounds = find_rounds(publication, rigs, digests, keep or Pieces(Memory(None), ""))
    lagging = check_texts(publication, rounds, digests, {} if kept_checks is None else kept_checks, problems)
    assets = _assets(folder, publication, problems)
    plan = with_moves(publication, make_plan(publication), problems)
    terms = linked_terms(publication)
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
        editions[tag] = Edition(lang, settings.lead, publication.products, publication.protocols)
    return editions


def _remembered(memory: Memory, trace: Trace, tool: str) -> Callable[[ChartFigure, str], str]:
    """Draws charts, each drawing once for all languages and, with one `tool`, all builds; `trace` takes up which."""
    drawn: dict[str, str] = {}
    last: dict[
        tuple[int, str], tuple[object, str, str]
    ] = {}  # by identity: the pages of a round show the very same charts

    def draw(figure: ChartFigure, direction: str) -> str:
        found = last.get((id(figure.spec), direction))
        if found is None or found[0] is not figure.spec:
            if len(last) > MOST_AT_HAND:
                last.clear()
            found = last[id(figure.spec), direction] = (figure.spec, *drawing(figure, direction))
        trace.used.add((PIECE, found[2]))
        return found[1]

    def drawing(figure: ChartFigure, direction: str) -> tuple[str, str]:
        style = Style(direction="rtl" if direction == "rtl" else "ltr")
        key = key_of("chart", tool, drawing_key(figure.spec, style))
        if key not in drawn:
            kept = memory.get(key)
            drawn[key] = (
                kept.decode() if kept is not None else memory.put(key, draw_chart(figure.spec, style).encode()).decode()
            )
        return drawn[key], key

    return draw


def make_pictures(
    folder: Path, publication: Publication, memory: Memory, problems: Problems, progress: Progress
) -> tuple[dict[str, PictureSet], Files]:
    """The photos that any page shows, in the sizes that pages need."""
    from sitegen.disk.pictures import picture_files

    wanted = {ref.id: ref for ref in used_photos(publication)}
    sets: dict[str, PictureSet] = {}
    files: Files = {}
    with ThreadPoolExecutor(PICTURE_WORKERS) as workers:
        made = workers.map(lambda name: picture_files(folder, name, memory), wanted)
        for number, (name, result) in enumerate(zip(wanted, made, strict=True), 1):
            if isinstance(result, str):
                problems.error("picture", wanted[name].place, f"the picture '{name}' {result}")
            else:
                sizes = tuple(PictureFile(s.width, s.webp_path, s.jpeg_path) for s in result)
                sets[name] = PictureSet(result[-1].width, result[-1].height, sizes)
                files |= {s.webp_path: s.webp for s in result} | {s.jpeg_path: s.jpeg for s in result}
            progress("pictures", number, len(wanted))
    return sets, files


def make_wetted(
    folder: Path, publication: Publication, memory: Memory, problems: Problems
) -> tuple[dict[str, tuple[WettedShown, ...]], Files]:
    """What the photo pairs of every round give, with the overlay pictures."""
    from sitegen.disk.images import BadPicture
    from sitegen.disk.wetted_files import wetted_files

    shown: dict[str, tuple[WettedShown, ...]] = {}
    files: Files = {}
    for id, round in publication.rounds.items():
        for number, pair in enumerate(round.photo_pairs, 1):
            try:
                found = wetted_files(folder, pair, memory)
            except (BadPicture, OSError) as fault:
                problems.error("picture", pair.place, f"a picture of this pair {fault}")
                continue
            path = f"photos/wetted/{id}-{number}"
            one = WettedShown(
                pair,
                found.fault,
                found.share,
                found.low,
                found.high,
                found.width,
                found.height,
                f"{path}.webp",
                f"{path}.jpg",
            )
            shown[id] = (*shown.get(id, ()), one)
            files |= {} if found.fault else {one.webp: found.webp, one.jpeg: found.jpeg}
    return shown, files


def make_pages(
    folder: Path, site: Site, output: Output, kept: KeptPages | None, trace: Trace, problems: Problems, progress: Progress,
    compiled: dict[str, bytes], workers: int | Elsewhere | None = None,
) -> int:  # fmt: skip
    """Put every page, and what machines read, into `output`, page by page, so that few are in memory at a time.

    Gives their number. A template at fault is a problem of its file.
    """
    # One code for all languages and builds: compiling the templates takes as long as a hundred pages.
    themes = {tag: _theme(folder, edition, compiled) for tag, edition in site.editions.items()}
    before = output.changed + output.unchanged
    every = tuple(sheets(site))
    todo = [sheet for sheet in every if not _taken_over(sheet, output, kept, problems)]
    done, told = len(every) - len(todo), dict[str, tuple[Problem, ...]]()
    try:
        make = partial(_make_chunk, themes, traced(site, trace), trace)
        wanted = [(sheet.page, sheet.tag, sheet.path) for sheet in sorted(todo, key=partial(_round_shown, site))]
        for chunk in spread(make, chunks(wanted), workers_for(len(todo), workers)):
            for path, data, uses, found in chunk:
                output.put(path, data)
                told[path] = found
                if kept is not None:
                    kept.made(path, uses, found)
            done += len(chunk)
            progress("pages", done, len(every))
        for sheet in todo:  # what is told doesn't depend on the order of making
            problems.extend(told[sheet.path])
        for path, data in render_extra(site, themes):
            output.put(path, data)
    except ThemeError as fault:
        problems.error("template", Place(_template_name(folder, fault), max(fault.line, 1), 1), fault.message)
    for tag in site.plan.tags:
        output.put(f"{tag}/feed.xml", feeds.atom(site, tag, problems))
    return output.changed + output.unchanged - before


def _round_shown(site: Site, sheet: Sheet) -> tuple[str, str]:
    """By which pages are made one after another: those of one round and language show the very same charts."""
    round, review = "", site.publication.reviews.get(sheet.page.id) if sheet.page.kind == REVIEW else None
    if review is not None and review.facts.round is not None:
        round = review.facts.round.id
    elif sheet.page.kind == ROUND:
        round = sheet.page.id
    return round, sheet.tag


def _taken_over(sheet: Sheet, output: Output, kept: KeptPages | None, problems: Problems) -> bool:
    """Take a page over from the published folder, where all that it was made from is the same."""
    said = kept.fresh(sheet.path) if kept is not None else None
    if said is None or not output.keep(sheet.path):
        return False
    problems.extend(said)
    return True


def _make_chunk(
    themes: Mapping[str, Theme], site: Site, trace: Trace, wanted: Sequence[tuple[Page, str, str]]
) -> list[tuple[str, bytes, frozenset[Use], tuple[Problem, ...]]]:
    """Some pages: path, bytes, what each was made from, what is wrong with it."""
    made = []
    for page, tag, path in wanted:
        trace.used.clear()
        problems = Problems()
        data = render_sheet(Sheet(site, site.editions[tag], page, path), themes, problems)
        made.append((path, data, frozenset(trace.used), tuple(problems)))
    return made


def _template_name(folder: Path, fault: ThemeError) -> str:
    if fault.path is not None and fault.path.is_relative_to(folder):
        return fault.path.relative_to(folder).as_posix()
    return fault.template


def _theme(folder: Path, edition: Edition, compiled: dict[str, bytes]) -> Theme:
    own = folder / "theme"
    return open_theme(stock.themes_folder() / "bench", own if own.is_dir() else None, edition.lang, compiled)


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
        problems.error("theme", Place(_template_name(folder, fault), max(fault.line, 1), 1), fault.message)
        style = b""
    bench = stock.themes_folder() / "bench"
    script, icon = static_file(bench, "table.js"), static_file(bench, "icon.svg")
    return Assets(
        f"assets/theme-{key_of(style)[:10]}.css",
        f"assets/icon-{key_of(icon)[:10]}.svg",
        script.decode().strip(),
        style.decode(),
    )


def make_assets(folder: Path, site: Site) -> Files:
    """The theme's files, sitemap, robots.txt, and the headers for hosts that take them."""
    icon = static_file(stock.themes_folder() / "bench", "icon.svg")
    return {
        site.assets.stylesheet: site.assets.style.encode(),
        site.assets.icon: icon, "sitemap.xml": feeds.sitemap(site), "robots.txt": feeds.robots(site),
        "response-headers.txt": feeds.response_headers(site),
    }  # fmt: skip
