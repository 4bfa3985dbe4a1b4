"""Every file of the finished site: its path, and the value that is its bytes."""

from collections.abc import Iterator
from typing import NamedTuple

from sitegen import stock as stock_files
from sitegen.disk.shared_pictures import shared_picture
from sitegen.pages.machines import feeds
from sitegen.pages.machines.open_data import data_of_rig, data_of_round
from sitegen.pages.machines.redirects import redirect
from sitegen.pages.parts.parts import data_path
from sitegen.pages.plan.plan import CHOICE, MISSING, Page
from sitegen.pages.render import extra_page, make_view, render_sheet, round_shown
from sitegen.pages.shared_links import is_shared, picture_path
from sitegen.pages.site import Sheet
from sitegen.pages.theme.theme import ThemeError, static_file
from sitegen.pipeline import pictures, reading
from sitegen.pipeline.bounded import bounded_render
from sitegen.pipeline.demand import derived, derived_bytes, node, report, unstored, unstored_bytes
from sitegen.pipeline.site import assets, plan, report_fault, site, site_without_drawings, theme
from sitegen.pipeline.views import shown
from sitegen.problems import Problems

ACCENT = "#2c5748"  # where a publication chooses none


class Output(NamedTuple):
    """A file of the site: its path in the finished folder, and the node whose value it is."""

    path: str
    node: str


def _sheet(kind: str, id: str, tag: str, drawing: bool = True) -> Sheet:
    made_of = site() if drawing else site_without_drawings()
    page = Page(kind, id)
    return Sheet(made_of, made_of.editions[tag], page, plan().paths[page, tag])


@unstored
def page_view(kind: str, id: str, tag: str) -> None:
    """Make what a page shows, but for its charts: what is wrong with it is reported."""
    problems = Problems()
    make_view(_sheet(kind, id, tag, drawing=False), problems)
    report(problems)


@derived
def words_of_shared(kind: str, id: str, tag: str) -> tuple[str, str, str]:
    """Title, figure and what it says, of the picture for those with whom a page is shared."""
    from sitegen.pages.machines.shared_words import shared_words  # few builds change the words of a picture

    title, figure, says = shared_words(_sheet(kind, id, tag, drawing=False))
    return title, figure, says


@derived_bytes
def drawn_shared(title: str, figure: str, says: str, name: str, accent: str) -> bytes:
    """The picture of these words, which looks nothing up: it is drawn again only when they change."""
    return shared_picture(title, figure, says, name, accent)


@unstored_bytes
def shared_file(kind: str, id: str, tag: str) -> bytes:
    """The picture of one page of one edition."""
    settings = reading.usable_settings()
    name = site_without_drawings().editions[tag].say(settings.name)
    return drawn_shared(*words_of_shared(kind, id, tag), name, settings.theme.accent or ACCENT)


@unstored_bytes
def page(kind: str, id: str, tag: str) -> bytes:
    """A page of one edition."""
    problems, data = Problems(), b""
    try:
        data = render_sheet(_sheet(kind, id, tag), theme(tag), problems, bounded_render)
    except ThemeError as fault:
        report_fault(fault, "template")
    report(problems)
    return data


@unstored_bytes
def page_without_address(kind: str, tag: str, path: str) -> bytes:
    """The page that offers the languages, or one for unknown addresses."""
    try:
        return extra_page(Sheet(site(), site().editions[tag], Page(kind), path), theme(tag), bounded_render)
    except ThemeError as fault:
        report_fault(fault, "template")
    return b""


@unstored_bytes
def moved_page(path: str) -> bytes:
    """A page at a former address, which leads on."""
    return redirect(site(), path)


@unstored_bytes
def feed(tag: str) -> bytes:
    """The feed of one edition."""
    problems = Problems()
    found = feeds.atom(site(), tag, problems)
    report(problems)
    return found


@unstored_bytes
def sitemap(path: str) -> bytes:
    """The sitemap, or a part of it."""
    problems = Problems()
    found = feeds.sitemaps(site())[path](problems)
    report(problems)
    return found


@unstored_bytes
def robots() -> bytes:
    """What robots may read."""
    return feeds.robots(site())


@unstored_bytes
def response_headers() -> bytes:
    """The headers for hosts that take them."""
    return feeds.response_headers(site())


@unstored_bytes
def style_sheet() -> bytes:
    """The style sheet."""
    return assets().style.encode()


@unstored_bytes
def icon() -> bytes:
    """The icon."""
    return static_file(stock_files.themes_folder() / "bench", "icon.svg")


@derived
def rounds_with_data() -> tuple[str, ...]:
    """The rounds whose readings are published: those with a page, and those that a review names or carries."""
    publication = shown()
    named = {round for _, round in publication.reviewed.values()}
    return tuple(id for id in publication.rounds if publication.measured[id] or id in named)


@derived
def protocols_read(round: str) -> tuple[str, ...]:
    """The protocols of which a round has readings."""
    return tuple(dict.fromkeys(reading.protocol for reading in shown().readings[round]))


@unstored_bytes
def data_file(round: str, protocol: str) -> bytes:
    """The readings of a round by one protocol."""
    return data_of_round(shown(), round, protocol)


@unstored_bytes
def rig_file(rig: str) -> bytes:
    """The log of a rig."""
    return data_of_rig(shown(), rig)


def pages() -> list[Output]:
    """Every page of every edition; pages of one round together, as they show the same charts."""
    paths = plan().paths
    ordered = sorted(paths, key=lambda key: (round_shown(site(), key[0]), key[1]))
    return [Output(paths[key], node("page", key[0].kind, key[0].id, key[1])) for key in ordered]


def shared_pictures() -> list[Output]:
    """The picture of every page that has one for those who share it."""
    return [
        Output(picture_path(path), node("shared_file", page.kind, page.id, tag))
        for (page, tag), path in plan().paths.items()
        if is_shared(page)
    ]


def checks() -> list[str]:
    """What to look up so that all that is wrong with any page is reported."""
    return [node("page_view", page.kind, page.id, tag) for page, tag in plan().paths]


def other_files() -> Iterator[Output]:
    """Every other file."""
    yield from _pages_beside_the_plan()
    for path in feeds.sitemaps(site()):
        yield Output(path, node("sitemap", path))
    for tag in plan().tags:
        yield Output(f"{tag}/feed.xml", node("feed", tag))
    yield Output("robots.txt", node("robots"))
    yield Output("response-headers.txt", node("response_headers"))
    yield Output(assets().stylesheet, node("style_sheet"))
    yield Output(assets().icon, node("icon"))
    for round in rounds_with_data():
        for protocol in protocols_read(round):
            yield Output(data_path(round, protocol), node("data_file", round, protocol))
    for rig in reading.rig_ids():
        yield Output(f"data/rigs/{rig}.csv", node("rig_file", rig))
    yield from _picture_files()


def _pages_beside_the_plan() -> Iterator[Output]:
    lead = plan().lead
    yield Output("index.html", node("page_without_address", CHOICE, lead, "index.html"))
    for tag in plan().tags:
        path = "404.html" if tag == lead else f"{tag}/404.html"
        yield Output(path, node("page_without_address", MISSING, tag, path))
    for path, (page, tag) in plan().moved.items():
        if plan().best(page, tag) is not None:
            yield Output(path, node("moved_page", path))


def _picture_files() -> Iterator[Output]:
    for name in pictures.checked_pictures():
        for number, file in enumerate(pictures.pictures()[name].files):
            yield Output(file.webp, node("picture_file", name, str(number), pictures.WEBP))
            yield Output(file.jpeg, node("picture_file", name, str(number), pictures.JPEG))
    for round in pictures.rounds_with_pairs():
        for number, one in enumerate(pictures.pairs_of_round(round), 1):
            if not one.fault:
                yield Output(one.webp, node("overlay_file", round, str(number), pictures.WEBP))
                yield Output(one.jpeg, node("overlay_file", round, str(number), pictures.JPEG))
