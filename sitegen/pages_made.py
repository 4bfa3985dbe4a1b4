"""Pages made by the processes at hand, or taken over from the last build where all that they show is the same."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from sitegen import stock
from sitegen.disk.kept_pages import PIECE, KeptPages
from sitegen.disk.memory import Memory, key_of
from sitegen.disk.output import Output
from sitegen.disk.workers import Elsewhere, chunks, spread, workers_for
from sitegen.figures.charts import ChartFigure
from sitegen.figures.draw import Style, drawing_key, get_ready
from sitegen.figures.draw import draw as draw_chart
from sitegen.figures.edition import Edition
from sitegen.pages import feeds
from sitegen.pages.open_data import round_data
from sitegen.pages.plan import REVIEW, ROUND, Page
from sitegen.pages.render import in_order, render_extra, render_sheet
from sitegen.pages.site import Sheet, Site
from sitegen.pages.theme import Theme, ThemeError, compile_all, open_theme
from sitegen.pages.traced import Trace, Use, traced
from sitegen.place import Place
from sitegen.problems import Problem, Problems
from sitegen.records.publication import Publication

Progress = Callable[[str, int, int], None]
DRAWINGS_AT_HAND = 64


def remembered(memory: Memory, trace: Trace, tool: str) -> Callable[[ChartFigure, str], str]:
    """Draws charts, each drawing once for all languages and, with one `tool`, all builds; `trace` takes up which."""
    drawn: dict[str, str] = {}
    last: dict[
        tuple[int, str], tuple[object, str, str]
    ] = {}  # by identity: the pages of a round show the very same charts

    def draw(figure: ChartFigure, direction: str) -> str:
        found = last.get((id(figure.spec), direction))
        if found is None or found[0] is not figure.spec:
            if len(last) > DRAWINGS_AT_HAND:
                last.clear()
            found = last[id(figure.spec), direction] = (figure.spec, *drawing(figure, direction))
        trace.used.add((PIECE, found[2]))
        return found[1]

    def drawing(figure: ChartFigure, direction: str) -> tuple[str, str]:
        style = Style(direction="rtl" if direction == "rtl" else "ltr")
        key = key_of("chart", tool, drawing_key(figure.spec, style))
        if key not in drawn:
            kept = memory.get(key)
            if len(drawn) > DRAWINGS_AT_HAND:
                drawn.clear()
            drawn[key] = (
                kept.decode() if kept is not None else memory.put(key, draw_chart(figure.spec, style).encode()).decode()
            )
        return drawn[key], key

    return draw


def make_pages(
    folder: Path, site: Site, output: Output, kept: KeptPages | None, trace: Trace, problems: Problems, progress: Progress,
    compiled: dict[str, bytes], workers: int | Elsewhere | None = None,
) -> int:  # fmt: skip
    """Put every page, and what machines read, into `output`, page by page, so that few are in memory at a time.

    Gives their number. A template at fault is a problem of its file.
    """
    # One code for all languages and builds: compiling the templates takes as long as a hundred pages.
    themes = {tag: theme_of(folder, edition, compiled) for tag, edition in site.editions.items()}
    before = output.changed + output.unchanged
    every, paths = in_order(site), site.plan.paths
    todo = [key for key in every if not _taken_over(paths[key], output, kept)]
    done, told = len(every) - len(todo), dict[str, tuple[Problem, ...]]()
    try:
        noting = traced(site, trace)
        make = partial(make_chunk, themes, noting, trace)
        wanted = sorted(todo, key=partial(_round_shown, site))
        hands = workers_for(len(todo), workers)
        if hands != 1:
            compile_all(themes[site.plan.lead])  # once, before processes part: each would, and their byte code be lost
            if isinstance(hands, int) and (
                kept is None or kept.is_first
            ):  # else the drawings are likely to be there already
                get_ready()
        for chunk in spread(make, chunks(wanted), hands):
            for path, data, uses, found in chunk:
                output.put(path, data)
                if found:
                    told[path] = found
                if kept is not None:
                    kept.made(path, uses, found)
            done += len(chunk)
            progress("pages", done, len(every))
        for key in todo if told else ():  # what is told doesn't depend on the order of making
            problems.extend(told.get(paths[key], ()))
        for path, data in render_extra(site, themes):
            output.put(path, data)
    except ThemeError as fault:
        problems.error("template", Place(template_name(folder, fault), max(fault.line, 1), fault.column), fault.message)
    pages = output.changed + output.unchanged - before
    machine_read = feeds.sitemaps(noting)
    machine_read |= {f"{tag}/feed.xml": partial(feeds.atom, noting, tag) for tag in site.plan.tags}
    for path, write in machine_read.items():
        _put_machine_read(path, write, output, kept, trace, problems)
    named = {round for _, round in site.publication.reviewed.values()}  # a review may show a round that has no page yet
    for id in (id for id in site.publication.rounds if site.publication.measured.get(id) or id in named):
        _put_data(id, site.publication, output, kept)
    return pages


def _put_machine_read(
    path: str,
    make: Callable[[Problems], bytes],
    output: Output,
    kept: KeptPages | None,
    trace: Trace,
    problems: Problems,
) -> None:
    """A feed or the sitemap, which looks at every text but not into its body."""
    if _taken_over(path, output, kept):
        return
    trace.used.clear()
    told = Problems()
    output.put(path, make(told))
    problems.extend(told)
    if kept is not None:
        kept.made(path, frozenset(trace.used), tuple(told))


def _put_data(id: str, publication: Publication, output: Output, kept: KeptPages | None) -> None:
    """The readings of a round for everybody's own figures."""
    if kept is not None:
        before = kept.below(f"data/{id}")
        fresh = before and all(map(kept.fresh, before))
        # All are taken over, whatever became of one: what can't be is written below.
        if fresh and sum(map(output.keep, before)) == len(before):
            return
    for path, data in round_data(publication, id):
        if not output.has(path):
            output.put(path, data)
        if kept is not None:
            kept.made(path, [("findings", id)], ())


def _round_shown(site: Site, key: tuple[Page, str]) -> tuple[str, str]:
    """By which pages are made one after another: those of one round and language show the very same charts."""
    page, tag = key
    if page.kind == REVIEW and page.id:
        return site.publication.reviewed[page.id][1], tag
    return page.id if page.kind == ROUND else "", tag


def _taken_over(path: str, output: Output, kept: KeptPages | None) -> bool:
    """Take a file over from the published folder, where all that it was made from is the same."""
    return kept is not None and kept.fresh(path) and output.keep(path)


def make_chunk(
    themes: Mapping[str, Theme], site: Site, trace: Trace, wanted: Sequence[tuple[Page, str]]
) -> list[tuple[str, bytes, frozenset[Use], tuple[Problem, ...]]]:
    """Some pages: path, bytes, what each was made from, what is wrong with it."""
    made = []
    for page, tag in wanted:
        path = site.plan.paths[page, tag]
        trace.used.clear()
        problems = Problems()
        data = render_sheet(Sheet(site, site.editions[tag], page, path), themes, problems)
        made.append((path, data, frozenset(trace.used), tuple(problems)))
    return made


def template_name(folder: Path, fault: ThemeError) -> str:
    if fault.path is not None and fault.path.is_relative_to(folder):
        return fault.path.relative_to(folder).as_posix()
    return fault.template


def theme_of(folder: Path, edition: Edition, compiled: dict[str, bytes]) -> Theme:
    own = folder / "theme"
    return open_theme(stock.themes_folder() / "bench", own if own.is_dir() else None, edition.lang, compiled)
