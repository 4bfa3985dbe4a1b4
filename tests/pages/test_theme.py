"""Templates: that they show a view, escape what it holds, and that a fault in them names its place."""

import json
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from markupsafe import Markup

from sitegen.figures.answers.key_figures import KeyLine
from sitegen.figures.forms.language import Language, open_language
from sitegen.pages import views
from sitegen.pages.theme.contrast import contrast
from sitegen.pages.theme.theme import TEMPLATES, Theme, ThemeError, View, compile_all, open_theme, render, stylesheet

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "themes" / "bench"
VOID = {"meta", "link", "img", "br", "source", "hr", "input"}


@pytest.fixture(scope="module")
def english() -> Language:
    return open_language("en", ROOT / "content" / "catalogues")


@pytest.fixture(scope="module")
def german() -> Language:
    return open_language("de", ROOT / "content" / "catalogues")


@pytest.fixture(scope="module")
def bench(english: Language) -> Theme:
    return open_theme(BENCH, None, english)


def frame(kind: str = "review", **changes: object) -> views.Frame:
    made = views.Frame(
        kind=kind,
        lang="en",
        direction="ltr",
        title="Fjellrinn 2",
        document_title="Fjellrinn 2 – Nordhang",
        description="Measured on one bench.",
        canonical="https://nordhang.example/en/",
        alternates=(("en", "https://nordhang.example/en/"), ("x-default", "https://nordhang.example/")),
        stylesheet="../a/site.css",
        inline_style=Markup(),
        script=Markup(""),
        icon="../a/icon.svg",
        feed="feed.xml",
        feed_title="Nordhang",
        site_name="Nordhang",
        tagline="On one bench",
        home="./",
        nav=(views.Link(text="Reviews", href="reviews/", current=True),),
        languages=(views.Link(text="Deutsch", href="../de/", lang="de"),),
        trail=(views.Link(text="Home", href="./"), views.Link(text="Fjellrinn 2", href="", current=True)),
        structured=Markup('{"@context": "https://schema.org"}'),
        csp="default-src 'none'; style-src 'self'",
        noindex=False,
        colophon=("Written here.",),
        footer=(views.Link(text="Feed", href="feed.xml"),),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


MOMENT = views.Moment(text="4 October 2026", iso="2026-10-04")
BYLINE = views.Byline(author="Hanne Falkenrieth", published=MOMENT, notes=(views.Link(text="A note", href=""),))
TABLE = views.Table(
    caption="Mass of all",
    heads=(views.Head(text="Product"), views.Head(text="Mass", unit="g", number=True)),
    rows=(
        (
            views.Cell(text="Grashut", literal=True, sort="grashut"),
            views.Cell(text="412.0", number=True, letters="ab", note="of three", sort="412.0"),
        ),
    ),
    note="Means.",
    sortable=True,
)
SVG = Markup('<svg viewBox="0 0 9 9" role="img" aria-label="Drawn"></svg>')
CHART = views.Chart(id="c1", title="Two are lighter", caption="Dots are means.", svg=SVG, table=TABLE)
PICTURE = views.Picture(
    src="p.jpg",
    webp="p.webp 400w",
    jpeg="p.jpg 400w",
    sizes="100vw",
    width=4,
    height=3,
    alt="A slope",
    caption="There.",
)
DISCLOSURE = views.Disclosure(
    short="On loan; it went back.",
    independence=("Nobody pays for a text here.",),
    samples=(views.SampleNote(heading="Sample T01", sentences=("On loan.", "It went back.")),),
    more=views.Link(text="How we stay independent", href="disclosure/"),
)
LINKS = (views.Link(text="Spray test", href="spray/", note="ISO 4920"),)
STEPS = (views.Step(name="Place", value="Nordhang", note="indoors"),)
ENTRY = views.Entry(title="Grashut", href="t/", summary="Light.", date=MOMENT, picture=PICTURE, facts=("412 g",))
CARE = views.Care(version="2026", edition="ISO 3758:2012", words=("Line dry",), finish="None", finish_source="Maker")


def review(**changes: object) -> views.ReviewPage:
    made = views.ReviewPage(
        frame=frame(),
        byline=BYLINE,
        summary="Light trousers for wet ways.",
        maker="Werkhof Ost",
        product=views.Link(text="Fjellrinn 2", href="p/"),
        picture=PICTURE,
        disclosure=DISCLOSURE,
        cautions=("The drying time is provisional.",),
        key=(
            KeyLine(name="Mass", detail="new", value="412 g", says=("Third of eight.", "Holds."), href="#finding-mass"),
        ),
        findings=(
            views.Finding(
                name="Mass", detail="new", value="(412.0 ± 1.2) g", spread="3", letters="ab", verdict="V.", id="f-m"
            ),
        ),
        letters_note="Letters that are shared.",
        good=("Quiet",),
        less_good=("Thin",),
        suits="Showers.",
        charts=(CHART,),
        claims=replace(TABLE, caption="Claims and values"),
        wetted=(views.Wetted(sentence="6 % of the hoop looks wet."),),
        body=(
            views.Block(html=Markup("<p>Three weeks outdoors.</p>")),
            views.Block(chart=replace(CHART, id="c9")),
            views.Block(table=replace(TABLE, caption="Placed", sortable=False)),
        ),
        specs=replace(TABLE, caption="Specification"),
        care=CARE,
        order=("Second of eight.",),
        cant_tell=("How long the finish lasts.",),
        corrections=(views.Correction(date=MOMENT, text="The price was wrong."),),
        methods=LINKS,
        data=LINKS,
        data_licence=views.Link(text="Licence of these data: CC0", href="https://terms.example/"),
        round=views.Link(text="Eight trousers", href="r/"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def bare_review() -> views.ReviewPage:
    return review(
        picture=None, cautions=(), key=(), findings=(), letters_note="", good=(), less_good=(), suits="", charts=(),
        claims=None, care=None, order=(), cant_tell=(), corrections=(), methods=(), data=(), round=None,
    )  # fmt: skip


def round_page() -> views.RoundPage:
    return views.RoundPage(
        frame=frame("round", script=Markup("sorting();")),
        byline=BYLINE,
        summary="Eight trousers.",
        conditions="In a cool room.",
        picture=None,
        facts=STEPS,
        disclosure=DISCLOSURE,
        cautions=(),
        choices=(views.Choice(use="Wet way", sentences=("Grashut, first in 71 of 100 simulated repeats.",)),),
        key_facts=("Grashut is clearly the lightest: 412 g.",),
        table=TABLE,
        full_table=replace(TABLE, caption="All figures", sortable=False),
        letters_note="",
        washing=(replace(TABLE, caption="Washed", sortable=False),),
        washing_charts=(replace(CHART, id="c3"),),
        differences=("Two differ.",),
        charts=(CHART,),
        orders=(
            views.UseOrder(
                name="Wet way",
                sentences=("First in 71 draws.",),
                table=replace(TABLE, caption="Worths"),
                charts=(replace(CHART, id="c2"),),
            ),
        ),
        order_notes=("By fixed anchors.",),
        verdicts=None,
        claims=None,
        rig_notes=("In order.",),
        graders=("Two graders agree.",),
        wetted=(),
        changes=("Halde lost one grade.",),
        cant_tell=("Seams.",),
        further_limits=("Straps.",),
        entrants=(ENTRY,),
        methods=LINKS,
        data=LINKS,
        data_licence=views.Link(text="Licence of these data: CC0", href="https://terms.example/"),
    )


def text_page() -> views.TextPage:
    contents = (views.Link(text="Rain", href="#rain"),)
    return views.TextPage(
        frame=frame("guide"), byline=BYLINE, summary="Washing helps.", picture=PICTURE,
        body=(views.Block(html=Markup('<h2 id="rain">Rain</h2><p>It rains.</p>')),), contents=contents, related=LINKS,
    )  # fmt: skip


def method_page() -> views.MethodPage:
    return views.MethodPage(
        frame=frame("method"), measures="How water runs off.", facts=STEPS, departs="On the garment.",
        conditions=TABLE, steps=("Pour.",), grades=replace(TABLE, caption="Grades"), cautions=(),
        cant_tell=("Seams.",), rigs=LINKS, used_in=LINKS,
    )  # fmt: skip


def rig_page() -> views.RigPage:
    return views.RigPage(
        frame=frame("rig"), lead="Check by check.", state=("In order.",), charts=(CHART,),
        runs=replace(TABLE, caption="Runs"), methods=LINKS, data=LINKS,
        data_licence=views.Link(text="Licence of these data: CC0", href=""),
    )  # fmt: skip


def product_page() -> views.ProductPage:
    return views.ProductPage(
        frame=frame("product"), kind="trousers", maker="Werkhof Ost", picture=PICTURE, specs=TABLE, care=(CARE,),
        claims=replace(TABLE, caption="Claims"), tested_in=LINKS, disclosure=DISCLOSURE,
    )  # fmt: skip


def disclosure_page() -> views.DisclosurePage:
    return views.DisclosurePage(
        frame=frame("disclosure"),
        lead="Where samples go.",
        independence=("Nobody pays.",),
        ledger=TABLE,
        notes=("N.",),
    )


def list_page() -> views.ListPage:
    more = views.Link(text="All reviews", href="reviews/")
    sections = (
        views.Section(title="Latest", entries=(ENTRY,), lead="New ones.", more=more),
        views.Section(title="Rounds", entries=(replace(ENTRY, lang="de", picture=None),)),
    )
    return views.ListPage(frame=frame("home"), lead="We measure.", sections=sections)


def choice_page() -> views.ChoicePage:
    return views.ChoicePage(
        frame=frame("choice", nav=(), languages=(), trail=(), footer=()),
        greetings=(("de", "Guten Tag.", "Bitte wählen."),),
        editions=(views.Link(text="Deutsch", href="de/", lang="de"),),
        entries=LINKS,
    )


PAGES: dict[str, Callable[[], View]] = {
    "review": review,
    "bare review": bare_review,
    "round": round_page,
    "text": text_page,
    "method": method_page,
    "rig": rig_page,
    "product": product_page,
    "disclosure": disclosure_page,
    "list": list_page,
    "choice": choice_page,
}


class Outline(HTMLParser):
    """Every element with its attributes; notes what is closed out of turn."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.misplaced: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.misplaced.append(tag)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.found if name == tag]


@pytest.fixture(params=PAGES, ids=str)
def html(request: pytest.FixtureRequest, bench: Theme) -> str:
    return render(bench, PAGES[request.param]())


def test_every_view_has_a_template() -> None:
    """Each view with a frame has a template of its own, and each template named is there."""
    framed = {kind for kind in vars(views).values() if "frame" in getattr(kind, "__dataclass_fields__", ())}
    assert set(TEMPLATES) == framed
    assert all((BENCH / "templates" / name).is_file() for name in TEMPLATES.values())


def test_elements_are_closed(html: str) -> None:
    """Whatever is empty in a view, every element is closed in turn."""
    outline = Outline(html)
    assert (outline.misplaced, outline.open) == ([], [])


def test_ids_are_unique(html: str) -> None:
    """No id stands twice on a page, and each aria-labelledby leads to one (HTML, 3.2.6)."""
    outline = Outline(html)
    ids = [attributes["id"] for _, attributes in outline.found if "id" in attributes]
    assert sorted(set(ids), key=str) == sorted(ids, key=str)
    assert {a["aria-labelledby"] for _, a in outline.found if "aria-labelledby" in a} <= set(ids)


def test_headings_leave_no_level_out(html: str) -> None:
    """One h1, and no heading more than one level below the one before it."""
    levels = [int(tag[1]) for tag, _ in Outline(html).found if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip([0, *levels[:-1]], levels, strict=True))


def test_landmarks(html: str) -> None:
    """One main and one footer; each nav has a name of its own (WAI-ARIA practices, landmarks)."""
    outline = Outline(html)
    assert (len(outline.all("main")), len(outline.all("footer"))) == (1, 1)
    names = [attributes.get("aria-label") for attributes in outline.all("nav")]
    assert names and all(names) and len(set(names)) == len(names)


def test_tables_say_what_heads_what(html: str) -> None:
    """Each table has a caption and a scrolling region that the keyboard reaches; each head has its scope."""
    outline = Outline(html)
    tables, regions = outline.all("table"), [a for a in outline.all("div") if a.get("role") == "region"]
    assert len(tables) == len(outline.all("caption")) == len(regions)
    assert all(region["tabindex"] == "0" for region in regions)
    assert {attributes.get("scope") for attributes in outline.all("th")} <= {"col", "row"}


def test_nothing_inline(html: str) -> None:
    """No style attribute, no event handler, no script but data and the one that the policy names by its digest."""
    outline = Outline(html)
    assert not [
        name for _, attributes in outline.found for name in attributes if name == "style" or name.startswith("on")
    ]
    scripts = [a for a in outline.all("script") if a.get("type") != "application/ld+json"]
    assert len(scripts) <= 1 and all(a == {} for a in scripts)
    assert not outline.all("style")


def test_policy_comes_first(html: str) -> None:
    """The policy stands before anything it must govern: directly after the encoding."""
    head = [(tag, attributes) for tag, attributes in Outline(html).found if tag == "meta"][:2]
    assert head[0][1] == {"charset": "utf-8"}
    assert head[1][1]["http-equiv"] == "Content-Security-Policy"


def test_order_of_a_review(bench: Theme) -> None:
    """A review owes its reader this order: what it is, how the sample came, key figures, good and less good, the
    author's text with what is placed in it, cautions, care, corrections; then the evidence, closed.
    """
    html = render(bench, review())
    wanted = [
        "<h1", "Light trousers", "On loan; it went back.", "Hanne Falkenrieth", "Third of eight.", "Quiet", "Thin",
        "Three weeks outdoors", 'id="c9"', "The drying time", "Line dry", "The price was wrong.", "<details class",
        "(412.0 ± 1.2) g", 'id="c1"', "Claims and values", 'id="data"', "Nobody pays for a text here.",
    ]  # fmt: skip
    main = html[html.index("<main") :]
    places = [main.index(text) for text in wanted]
    assert places == sorted(places)


def test_a_chart_has_its_finding_and_its_data(bench: Theme) -> None:
    """A figure says its finding in words, then shows the drawing, then its data (WCAG 2.2, 1.1.1)."""
    html = render(bench, review(claims=None))
    figure = html[html.index('<figure class="drawing"') : html.index("</figure>", html.index('class="drawing"'))]
    parts = [figure.index(text) for text in ("<figcaption", "Two are lighter", "<svg", "<details", "<table")]
    assert parts == sorted(parts)


def test_text_is_escaped(bench: Theme) -> None:
    """What an author writes can't become markup, in text or in an attribute."""
    bad = '<script>"&'
    picture = replace(PICTURE, alt=bad)
    html = render(bench, review(summary=bad, picture=picture, frame=frame(description=bad)))
    assert bad not in html
    assert html.count("&lt;script&gt;&#34;&amp;") == 3


def test_structured_data_arrives_whole(bench: Theme) -> None:
    """JSON-LD stands in its script element unescaped, so that it can be read again."""
    html = render(bench, review())
    found = re.search(r'<script type="application/ld\+json">(.*?)</script>', html)
    assert found and json.loads(found[1]) == {"@context": "https://schema.org"}


def test_inline_style_is_to_the_letter(bench: Theme) -> None:
    """The style element holds exactly the text whose hash the policy names, and replaces the link."""
    html = render(bench, replace(choice_page(), frame=frame("missing", inline_style=Markup("p>a{color:red}"))))
    assert "<style>p>a{color:red}</style>" in html
    assert 'rel="stylesheet"' not in html


def test_text_in_another_language(bench: Theme) -> None:
    """A text that an edition lacks is shown as in another language (WCAG 2.2, 3.1.2)."""
    html = render(bench, review(text_lang="de"))
    assert '<div class="body prose" lang="de">' in html
    assert 'lang="de"' not in render(bench, review(frame=frame(languages=())))


def test_words_of_the_edition(german: Language) -> None:
    """Interface words come from the edition's catalogue, those with values too."""
    html = render(open_theme(BENCH, None, german), review())
    assert german.text("Key figures") in html
    assert german.text("Version {version}", version="2026") in html
    assert german.text("Key figures") != "Key figures"


def test_words_are_escaped(tmp_path: Path, english: Language) -> None:
    """A word is printed as a value would be, whether it stands alone, in an expression or as an argument."""
    macro = "{% macro say(word) %}{{ word }}{% endmacro %}"
    source = macro + """{{ t("a<b") }}|{{ t("a<b") ~ "" }}|{{ say(t("a<b")) }}"""
    assert render(own_theme(tmp_path, english, list=source), list_page()) == "|".join(["a&lt;b"] * 3)


def test_templates_are_compiled_once(english: Language, german: Language, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was compiled for one language serves the next, which still speaks its own words."""
    compiled: dict[str, bytes] = {}
    wanted = render(open_theme(BENCH, None, german), review())
    render(open_theme(BENCH, None, english, compiled), review())
    monkeypatch.setattr("jinja2.Environment.compile", None)
    assert render(open_theme(BENCH, None, german, compiled), review()) == wanted
    assert len(compiled) == 3  # layout, parts and review


def test_all_templates_are_compiled_before_processes_part(
    tmp_path: Path, english: Language, german: Language, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those that only others import or extend as well, and the stock's behind one of the publication's own."""
    own_theme(tmp_path, english, list='{% extends "stock/list.html" %}')
    for own in (None, tmp_path):
        compiled: dict[str, bytes] = {}
        wanted = [render(open_theme(BENCH, own, german), view) for view in (review(), list_page(), round_page())]
        compile_all(open_theme(BENCH, own, english, compiled))
        with monkeypatch.context() as late:
            late.setattr("jinja2.Environment.compile", None)
            theme = open_theme(BENCH, own, german, compiled)
            assert [render(theme, view) for view in (review(), list_page(), round_page())] == wanted


def test_a_changed_template_is_compiled_anew(tmp_path: Path, english: Language) -> None:
    """Kept code is never used for a template that has changed since."""
    compiled: dict[str, bytes] = {}
    own_theme(tmp_path, english, list="one")
    assert render(open_theme(BENCH, tmp_path, english, compiled), list_page()) == "one"
    (tmp_path / "templates" / "list.html").write_text("two", "utf-8")
    assert render(open_theme(BENCH, tmp_path, english, compiled), list_page()) == "two"


def test_names_are_not_translated(bench: Theme) -> None:
    """A name that is to be kept to the letter says so to translating browsers (HTML, translate)."""
    assert '<th scope="row" data-sort="grashut" translate="no">Grashut</th>' in render(bench, round_page())


def test_sorting_is_offered_where_it_is_meant(bench: Theme) -> None:
    """Only a table that is to be sorted is marked for the script, which is loaded only where it is named."""
    html = render(bench, round_page())
    assert "<table data-sortable" in html and "<script>sorting();</script>" in html
    plain = render(
        bench,
        replace(
            round_page(),
            frame=frame("round"),
            table=replace(TABLE, sortable=False),
            charts=(),
            washing_charts=(),
            orders=(),
        ),
    )
    assert "data-sortable" not in plain and "<script src" not in plain


def test_the_script_is_small() -> None:
    """The one script stays below 2.5 kB and asks nothing of anybody else."""
    script = (BENCH / "static" / "table.js").read_bytes()
    assert len(script) < 2500
    assert not re.search(rb"fetch|XMLHttp|https?:|cookie|localStorage|innerHTML|eval", script)


# ---- a publication's own templates and faults in them


def own_theme(folder: Path, language: Language, **templates: str) -> Theme:
    (folder / "templates").mkdir()
    for name, source in templates.items():
        (folder / "templates" / f"{name}.html").write_text(source, "utf-8")
    return open_theme(BENCH, folder, language)


def test_own_template_replaces_stock(tmp_path: Path, english: Language) -> None:
    """A publication's template of the same name is used instead; the others stay."""
    theme = own_theme(tmp_path, english, list="<p>{{ view.lead }} {{ t('Reviews') }}</p>")
    assert render(theme, list_page()) == "<p>We measure. Reviews</p>"
    assert render(theme, rig_page()) == render(open_theme(BENCH, None, english), rig_page())


def test_own_template_builds_on_stock(tmp_path: Path, english: Language) -> None:
    """A template can take over the one it replaces and change one block."""
    source = '{% extends "stock/rig.html" %}{% block main %}{{ super() }}<hr>{% endblock %}'
    assert render(own_theme(tmp_path, english, rig=source), rig_page()).count("<hr>") == 1


FAULTS = [
    ("one\n{% if %}", 2, "Expected an expression"),
    ("one\n\n{{ view.leed }}", 3, "has no attribute 'leed'"),
    ("{{ nothing }}", 1, "'nothing' is undefined"),
    ("{% if view %}\n", 1, "Unexpected end of template"),
    ('{% include "lost.html" %}', 1, "there is no template 'lost.html'"),
    ('{% include "list.html" %}', 1, "the template includes or calls itself without end"),
    ("\n{{ 1 / 0 }}", 2, "division by zero"),
    ("{{ view.lead + 1 }}", 1, "can only concatenate str"),
    ("{{ view.__class__.__mro__ }}", 1, "unsafe"),
    ("{{ view.lead.__init__.__globals__ }}", 1, "unsafe"),
    ("{% for n in range(3) %}{% endfor %}", 1, "'range' is undefined"),
    ("{{ tn('one', 'more') }}", 1, "missing 1 required positional argument"),
    ("{{ t('Version {version}', wrong=1) }}", 1, "version"),
    ('{% import "parts.html" as p %}\n{{ p.table(view, "x") }}', 0, "has no attribute"),
]


@pytest.mark.parametrize(("source", "line", "message"), FAULTS, ids=[message for _, _, message in FAULTS])
def test_faults_name_their_place(source: str, line: int, message: str, tmp_path: Path, english: Language) -> None:
    """Whatever an author gets wrong in a template comes back as one error with template, line and reason."""
    theme = own_theme(tmp_path, english, list=source)
    with pytest.raises(ThemeError) as caught:
        render(theme, list_page())
    assert message in caught.value.message
    if line:
        assert (caught.value.template, caught.value.line) == ("list.html", line)
        assert caught.value.path == tmp_path / "templates" / "list.html"
        assert str(caught.value).startswith(f"list.html:{line}: ")
    else:
        assert caught.value.template == "parts.html" and caught.value.line > 1


def test_template_that_is_no_text(tmp_path: Path, english: Language) -> None:
    """A file that isn't UTF-8 is a fault of that template, not a traceback."""
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "list.html").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ThemeError, match=r"list\.html"):
        render(open_theme(BENCH, tmp_path, english), list_page())


# ---- theme.yaml and the style sheet


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("", 0, "expected a line 'name: …'"),
        ("name: [", 1, "can't be read"),
        ("- a", 0, "expected a line 'name: …'"),
        ("name: A\ndescription: {}\n", 0, "expected a line 'description: …'"),
    ],
)
def test_faults_in_the_defaults(text: str, line: int, message: str, tmp_path: Path, english: Language) -> None:
    """A theme.yaml that lacks something says which line it wants."""
    (tmp_path / "theme.yaml").write_text(text, "utf-8")
    with pytest.raises(ThemeError) as caught:
        open_theme(tmp_path, None, english)
    assert message in str(caught.value)
    assert caught.value.line in (line, line + 1)


def test_no_theme(tmp_path: Path, english: Language) -> None:
    """A folder without theme.yaml is no theme."""
    with pytest.raises(ThemeError, match=r"theme\.yaml: can't be read"):
        open_theme(tmp_path / "none", None, english)


def chosen(css: str, name: str) -> list[str]:
    return re.findall(rf"--{name}:([^;}}]+)", css.split("/*", 1)[0])


@pytest.mark.parametrize("accent", ["", "#7a2e1d", "#FC0", "#000000", "#ffffff"])
def test_accent_is_readable_on_both_papers(accent: str, bench: Theme) -> None:
    """Any accent comes out with 4.5 to 1 or more on the light and on the dark paper (WCAG 2.2, 1.4.3)."""
    css = stylesheet(bench, accent).decode()
    pairs = list(zip(chosen(css, "accent"), chosen(css, "paper"), strict=True))
    assert len(pairs) == 2
    assert all(contrast(colour, paper) >= 4.5 for colour, paper in pairs)


def test_ink_of_the_theme_is_readable(bench: Theme) -> None:
    """Text of the theme has 7 to 1 on its paper (WCAG 2.2, 1.4.6), further inks of charts 4.5 (1.4.3)."""
    css = stylesheet(bench).decode()
    for name, wanted in (("ink", 7), ("quiet", 7), ("second", 4.5), ("third", 4.5)):
        light, dark = re.findall(rf"--{name}: (#[0-9a-f]{{6}})", css)[:2]
        assert contrast(light, bench.defaults["paper_light"]) >= wanted
        assert contrast(dark, bench.defaults["paper_dark"]) >= wanted


def test_faces_of_the_publication(bench: Theme) -> None:
    """A publication's typefaces stand where the theme's own would; what it leaves out is the theme's."""
    css = stylesheet(bench, text_face='"Iowan Old Style", serif').decode()
    assert chosen(css, "text-face") == ['"Iowan Old Style", serif']
    assert chosen(css, "label-face") == [bench.defaults["label_face"]]


@pytest.mark.parametrize(
    "bad",
    [
        {"accent": "red"},
        {"accent": "#12"},
        {"text_face": "x;} body{display:none"},
        {"label_face": 'url("//x")'},
        {"text_face": '"Open'},
    ],
)
def test_choices_cannot_break_out(bad: dict[str, str], bench: Theme) -> None:
    """A value that isn't a colour or a list of typefaces is refused and can't end its declaration."""
    with pytest.raises(ThemeError, match="expected"):
        stylesheet(bench, **bad)


def test_paper_that_nothing_stands_out_from(tmp_path: Path, bench: Theme, english: Language) -> None:
    """A theme on middle grey paper is refused with the reason: no accent could be read on it."""
    lines = {**bench.defaults, "paper_light": "#777777"}
    (tmp_path / "theme.yaml").write_text("".join(f"{key}: '{lines[key]}'\n" for key in lines), "utf-8")
    with pytest.raises(ThemeError, match=r"no colour has a contrast of 5\.0 to #777777"):
        stylesheet(open_theme(tmp_path, None, english))


def test_own_style_comes_last(tmp_path: Path, english: Language) -> None:
    """extra.css stands after the theme's rules, so that it wins."""
    (tmp_path / "extra.css").write_text("h1{color:#123}", "utf-8")
    assert stylesheet(open_theme(BENCH, tmp_path, english)).endswith(b"\nh1{color:#123}")


def test_nothing_from_elsewhere(bench: Theme) -> None:
    """The style sheet asks for no other file: no font, no picture, no import."""
    assert not re.search(r"url\(|@import|@font-face|https?:", stylesheet(bench).decode())


def test_the_same_page_twice(english: Language) -> None:
    """The same view gives the same bytes, in a theme opened anew as well."""
    one, other = (open_theme(BENCH, None, english) for _ in range(2))
    assert render(one, review()) == render(one, review()) == render(other, review())
    assert stylesheet(one) == stylesheet(other)
