"""The demo as a reader meets it: in Chromium, served at a root, below a folder, and opened straight from disk."""

import re
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest

Mounts = dict[str, str]  # way to the site → address of its top
Kinds = dict[str, dict[str, str]]  # edition → kind of page → path

MOUNTS = ("root", "folder", "disk")
LEAD, SECOND = "de", "en"

pytestmark = pytest.mark.browser

SENDS_ON = 'http-equiv="refresh"'  # what a page at an old address does
UNSTYLED = {"rgba(0, 0, 0, 0)", "rgb(255, 255, 255)"}

STYLE_OF_BODY = """() => {
  const style = getComputedStyle(document.body);
  return {background: style.backgroundColor, colour: style.color, face: style.fontFamily, margin: style.marginTop};
}"""
# Photos below the fold load when they come into sight; here all of them have to.
LOAD_PHOTOS = """() => Promise.all([...document.images].map(async image => {
  image.loading = 'eager';
  try { await image.decode(); } catch (fault) { return image.currentSrc || image.src; }
  return image.naturalWidth > 0 ? '' : image.currentSrc;
})).then(all => all.filter(text => text))"""
CHART_SIZES = """() => [...document.querySelectorAll('main figure svg')].filter(chart => chart.checkVisibility())
  .map(chart => chart.getBoundingClientRect()).map(box => [box.width, box.height])"""
FOCUS_IS_SEEN = """() => {
  const style = getComputedStyle(document.activeElement), box = document.activeElement.getBoundingClientRect();
  return (style.outlineStyle !== 'none' || style.boxShadow !== 'none') && box.bottom > 0 && box.top < innerHeight;
}"""
TOP_LINK_HAS_FOCUS = (
    "document.activeElement.matches('a.skip') && document.activeElement.getBoundingClientRect().top >= 0"
)
SHOWN_PARTS = """() => [...document.querySelectorAll('nav, .skip, main, main table, main figure svg')]
  .filter(part => part.checkVisibility()).map(part => part.localName)"""


@pytest.fixture(scope="session")
def kinds(built_demo: Path) -> Kinds:
    """Edition → kind of page → the richest page of that kind; the page for choosing a language is under ''. Old addresses are left out."""
    found: dict[str, dict[str, tuple[int, str]]] = {}
    for file in sorted(built_demo.rglob("*.html")):
        path, text = file.relative_to(built_demo).as_posix(), file.read_text("utf-8")
        kind = re.search(r'<body[^>]* data-kind="([^"]+)"', text)
        if kind is None or file.name == "404.html" or SENDS_ON in text:
            continue
        edition = path.split("/")[0] if "/" in path else ""
        best = found.setdefault(edition, {}).get(kind[1], (0, ""))
        found[edition][kind[1]] = max(best, (len(text), path))
    return {edition: {kind: path for kind, (_, path) in pages.items()} for edition, pages in found.items()}


def every(kinds: Kinds) -> list[str]:
    """One page of each kind in each edition."""
    return [path for pages in kinds.values() for path in pages.values()]


def test_the_demo_has_every_kind_of_page(kinds: Kinds) -> None:
    """Both full editions hold reviews, rounds, methods, products, texts, lists, a disclosure: what the other tests look at."""
    wanted = {"review", "round", "method", "product", "disclosure"}
    missing = {edition: sorted(wanted - set(kinds.get(edition, {}))) for edition in (LEAD, SECOND)}
    assert missing == {LEAD: [], SECOND: []}


@pytest.mark.parametrize("mount", MOUNTS)
def test_pages_load_whole(mount: str, mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """No page asks for what isn't there or elsewhere, breaks its own policy, or comes without style or photos; none sets a cookie."""
    told = {}
    with reading() as reader:
        for path in every(kinds):
            reader.page.goto(mounts[mount] + path)
            lost = reader.page.evaluate(LOAD_PHOTOS)
            style = reader.page.evaluate(STYLE_OF_BODY)
            faults = [*reader.faults, *lost, *map(str, reader.page.context.cookies())]
            if style["background"] in UNSTYLED or "Times" in style["face"]:
                faults.append(f"no style: {style}")
            if faults:
                told[path] = faults
            reader.faults.clear()
    assert told == {}


@pytest.mark.parametrize("mount", MOUNTS)
@pytest.mark.parametrize("kind", ["review", "round"])
def test_charts_are_seen(mount: str, kind: str, mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """Every chart takes room on the page, at a wide window and at a narrow one."""
    for width in (1280, 320):
        with reading(mounts[mount] + kinds[LEAD][kind], viewport={"width": width, "height": 900}) as reader:
            sizes = reader.page.evaluate(CHART_SIZES)
        assert sizes
        assert [size for size in sizes if min(size) <= 100] == []


def test_nothing_is_wider_than_a_small_window(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """At 320 CSS pixels no page scrolls sideways (WCAG 2.2, 1.4.10 Reflow; wide tables scroll in their own box)."""
    wide = {}
    with reading(viewport={"width": 320, "height": 640}) as reader:
        for path in every(kinds):
            reader.page.goto(mounts["root"] + path)
            width = reader.page.evaluate("document.documentElement.scrollWidth")
            if width > 320:
                wide[path] = width
    assert wide == {}


@pytest.mark.parametrize("mount", MOUNTS)
def test_languages_lead_to_the_same_page(
    mount: str, mounts: Mounts, kinds: Kinds, built_demo: Path, reading: Any
) -> None:
    """The language link of a review goes to the same review in that language, and from there back again."""
    start = mounts[mount] + kinds[LEAD]["review"]
    twin = mounts[mount] + _named_twin(built_demo / kinds[LEAD]["review"], SECOND)
    with reading(start) as reader:
        product = reader.page.locator("main").inner_text()
        visited = []
        for tag in (SECOND, LEAD):
            reader.page.locator(f'nav.languages a[hreflang="{tag}"]').click()
            reader.page.wait_for_load_state()
            visited.append((reader.page.url, reader.page.locator("html").get_attribute("lang")))
        assert visited == [(twin, SECOND), (start, LEAD)]
        assert reader.page.locator("main").inner_text() == product
        assert reader.faults == []


def _named_twin(page: Path, tag: str) -> str:
    """The path of the same page in another language, as the page tells search engines."""
    told = re.search(rf'<link rel="alternate" hreflang="{tag}" href="https://[^/]+/([^"]+)"', page.read_text("utf-8"))
    assert told is not None, f"{page} names no page in {tag}"
    return told[1]


def test_twins_name_each_other(built_demo: Path, kinds: Kinds) -> None:
    """Every page's language link leads to a page whose own link leads back."""
    lonely = []
    for path in kinds[LEAD].values():
        there = _twin(built_demo / path, SECOND)
        if not there.is_file() or (there.name != "index.html" and _twin(there, LEAD) != (built_demo / path).resolve()):
            lonely.append((path, str(there)))
    assert lonely == []


def _twin(page: Path, tag: str) -> Path:
    link = re.search(rf'<li><a href="([^"]+)"[^>]* hreflang="{tag}"', page.read_text("utf-8"))
    assert link is not None, f"{page} has no link to {tag}"
    return (page.parent / link[1]).resolve()


@pytest.mark.parametrize("mount", MOUNTS)
def test_old_addresses_send_on(mount: str, mounts: Mounts, built_demo: Path, reading: Any) -> None:
    """A page at an address that was given up leads by itself to one that is there and stays."""
    old = [file for file in sorted(built_demo.rglob("*.html")) if SENDS_ON in file.read_text("utf-8")]
    astray = {}
    with reading() as reader:
        for path in (file.relative_to(built_demo).as_posix() for file in old[:5]):
            reader.page.goto(mounts[mount] + path)
            reader.page.wait_for_url(lambda address, path=path: not address.endswith(path))
            reader.page.wait_for_load_state()
            if SENDS_ON in reader.page.content() or reader.faults:
                astray[path] = [reader.page.url, *reader.faults]
    assert astray == {}


@pytest.mark.parametrize("mount", ["root", "folder"])
@pytest.mark.parametrize("lost", ["nothing", "de/reviews/nothing.html", "a/b/c/d/e/nothing.html", "de/reviews/"])
def test_a_lost_reader_gets_a_styled_page(mount: str, lost: str, mounts: Mounts, reading: Any) -> None:
    """What isn't there is answered, at any depth, by a page that has its style and asks for nothing that fails."""
    with reading() as reader:
        answer = reader.page.goto(mounts[mount] + lost)
        style = reader.page.evaluate(STYLE_OF_BODY)
        others = [fault for fault in reader.faults if answer.url not in fault and "status of 404" not in fault]
    assert answer.status == (200 if lost.endswith("/") else 404)
    assert style["background"] not in UNSTYLED
    assert "Times" not in style["face"]
    assert others == []


def test_a_lost_reader_finds_a_way_on(mounts: Mounts, reading: Any) -> None:
    """The links of the page for what isn't there lead to pages, from any depth."""
    with reading(mounts["root"] + "a/b/c/nothing.html") as reader:
        links = reader.page.evaluate("[...document.links].map(link => link.href).filter(href => !href.includes('#'))")
    assert links
    here = [link for link in links if link.startswith(mounts["root"])]
    assert here, f"only {links}"
    assert [link for link in here if urlopen(link).status != 200] == []


def test_the_keyboard_gets_to_the_text_first(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """On every page the first Tab shows the link to the text, and Enter goes there (WCAG 2.2, 2.4.1 Bypass Blocks)."""
    wrong = []
    with reading() as reader:
        for path in kinds[LEAD].values():
            reader.page.goto(mounts["root"] + path)
            reader.page.keyboard.press("Tab")
            top = reader.page.evaluate(TOP_LINK_HAS_FOCUS)
            reader.page.keyboard.press("Enter")
            if top:
                reader.page.wait_for_url("**#content")  # the browser tells a new address a moment after the key
            if not top or not reader.page.url.endswith("#content"):
                wrong.append(path)
    assert wrong == []


def test_the_keyboard_is_seen(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """Whatever has the focus is marked and within the window (WCAG 2.2, 2.4.7 Focus Visible)."""
    unmarked = []
    with reading(mounts["root"] + kinds[LEAD]["review"]) as reader:
        for _ in range(25):
            reader.page.keyboard.press("Tab")
            if not reader.page.evaluate(FOCUS_IS_SEEN):
                unmarked.append(reader.page.evaluate("document.activeElement.outerHTML.slice(0, 120)"))
    assert unmarked == []


def test_no_script_is_needed(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """Without scripts the tables hold the same rows in the same order, and all text of the page is there."""
    for kind in ("review", "round"):
        shown = []
        for scripts in (True, False):
            with reading(mounts["root"] + kinds[LEAD][kind], java_script_enabled=scripts) as reader:
                shown.append(_rows(reader.page))
        assert shown[0]
        assert shown[0] == shown[1]


def _rows(page: Any) -> list[str]:
    """Rows as written in the page; read by the driver, which needs no script of the page."""
    return [re.sub(r"\s+", " ", row.text_content()).strip() for row in page.locator("main table tbody tr").all()]


def test_a_comparison_can_be_sorted_and_narrowed(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """Sorting changes the order alone, twice sorted is turned round; narrowing shows only rows that hold the word."""
    with reading(mounts["root"] + kinds[LEAD]["round"]) as reader:
        table = reader.page.locator("table[data-sortable]").first
        names = table.locator("tbody tr > :first-child")
        before = names.all_text_contents()
        orders = []
        for _ in range(2):
            table.locator("thead th button").first.click()
            orders.append((table.locator("thead th").first.get_attribute("aria-sort"), names.all_text_contents()))
        (up, ascending), (down, descending) = orders
        reader.page.locator("p.narrow input").first.fill(before[-1].strip().split()[0])
        shown = [name for name in names.all() if name.is_visible()]
        assert (up, down) == ("ascending", "descending")
        assert sorted(ascending) == sorted(before)
        assert descending == ascending[::-1] != ascending
        assert [name.text_content() for name in shown] == [before[-1]]
        assert reader.faults == []


def test_dark_is_dark_and_light_is_light(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """The page follows the reader's choice; its text stays 7 to 1 against the paper (WCAG 2.2, 1.4.6, the enhanced figure)."""
    paper = {}
    for scheme in ("light", "dark"):
        with reading(mounts["root"] + kinds[LEAD]["review"], color_scheme=scheme) as reader:
            style = reader.page.evaluate(STYLE_OF_BODY)
        paper[scheme], text = _luminance(style["background"]), _luminance(style["colour"])
        assert (max(paper[scheme], text) + 0.05) / (min(paper[scheme], text) + 0.05) >= 7
    assert paper["dark"] < 0.1 < 0.7 < paper["light"]


def _luminance(colour: str) -> float:
    """Relative luminance of an rgb() colour (WCAG 2.2, definition of relative luminance)."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_paper_gets_the_matter_alone(mounts: Mounts, kinds: Kinds, reading: Any) -> None:
    """In print there is no navigation and no evidence that is closed; what is open is printed, dark on white."""
    for kind in ("review", "round"):
        with reading(mounts["root"] + kinds[LEAD][kind], color_scheme="dark") as reader:
            reader.page.emulate_media(media="print")
            closed = reader.page.evaluate("document.querySelectorAll('.evidence[open], .evidence table').length")
            first = set(reader.page.evaluate(SHOWN_PARTS))
            reader.page.evaluate("document.querySelectorAll('.evidence').forEach(one => one.open = true)")
            shown = set(reader.page.evaluate(SHOWN_PARTS))
            ink = _luminance(reader.page.evaluate(STYLE_OF_BODY)["colour"])
        assert closed and first == ({"main", "svg"} if kind == "review" else {"main", "table", "svg"})
        assert shown == {"main", "table", "svg"}
        assert ink < 0.1
