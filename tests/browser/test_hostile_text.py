"""A publication whose every text is an attack, opened in Chromium: nothing runs, and readers see what was written.

The attacks and where they come from stand in `hostile_payloads.py`. The content-security policy is switched off for
most of it, so that escaping alone has to hold; that the policy holds too is looked at once.
"""

import csv
import io
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL, write
from hostile_payloads import FORMULAS, PAYLOADS
from lxml import etree, html

from sitegen.pipeline.build import build

from .conftest import _served

pytestmark = pytest.mark.browser

KINDS = {
    "review", "round", "product", "method", "rig", "guide", "about", "disclosure", "glossary", "home", "list",
}  # fmt: skip
LONG = 2400  # characters of a text that may have 5000: its escaped form counts in no limit, but pages get long
ATTEMPTS = PAYLOADS[::4]
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?", re.ASCII)

# Calls of `alert` are counted before any script of a page runs.
COUNT = "for (const name of ['alert', 'confirm', 'prompt', 'msgbox']) window[name] = () => { top.ran = (top.ran || 0) + 1; };"
# What a reader does by hand, all at once: touch everything, reach everything by keyboard, open what is folded.
TOUCH = """() => {
  for (const part of document.querySelectorAll('*'))
    for (const name of ['mouseover', 'pointerover', 'mouseenter', 'focus', 'focusin', 'load', 'error', 'toggle'])
      part.dispatchEvent(new Event(name));
  for (const part of document.querySelectorAll('details')) part.open = true;
}"""
# Elements and attributes that would run, load or lead something, whether or not it has happened yet.
FOREIGN = r"""() => {
  const bad = [];
  for (const part of document.querySelectorAll('*')) {
    const name = part.localName;
    if (['iframe','object','embed','form','base','video','audio','marquee','template','plaintext','textarea','xss',
         'foreignobject','animate','set','mglyph','frameset','portal','isindex','noscript'].includes(name))
      bad.push(name);
    if (name === 'script' && part.type !== 'application/ld+json' && /alert|angriff/.test(part.textContent)) bad.push(part.outerHTML);
    if (name === 'meta' && /refresh/i.test(part.httpEquiv)) bad.push(part.outerHTML);
    for (const {name: key, value} of part.attributes) {
      if (/^on|^srcdoc$|^formaction$|^ping$|^style$/.test(key) || /["'<>]/.test(key)) bad.push(name + ' ' + key);
      if (['href', 'src', 'action', 'data', 'xlink:href', 'poster', 'srcset'].includes(key)) {
        const address = new URL(value.split(' ')[0] || '.', document.baseURI);
        if (!['http:', 'https:', 'mailto:', 'file:'].includes(address.protocol) || address.hostname === 'angriff.example')
          bad.push(name + ' ' + key + '=' + value);
      }
    }
  }
  return bad;
}"""


class Words:
    """Texts full of attacks; each begins with another one, so that none hides the rest."""

    def __init__(self) -> None:
        self.next = 0

    def __call__(self, longest: int = 290) -> str:
        """As many attacks as fit, from where the last text stopped."""
        text = ""
        while len(attack := PAYLOADS[self.next % len(PAYLOADS)]) + len(text) < longest or not text:
            text += f"{attack} " if len(attack) < longest else ""
            self.next += 1
        return text.strip()

    def yaml(self, longest: int = 290, prose: bool = False) -> str:
        """The same as a scalar of YAML; in `prose` braces are marked as plain ones."""
        text = self(longest)
        return json.dumps(text.replace("{", "\\{") if prose else text)


def picture() -> bytes:
    """A grey photo."""
    from PIL import Image

    data = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(data, "JPEG")
    return data.getvalue()


def publication(words: Words, html_in_texts: str) -> dict[str, str | bytes]:
    """The small publication with an attack in every field that takes a text."""
    y, prose = words.yaml, lambda longest=LONG: words.yaml(longest, prose=True)
    photo = f"{{file: photos/a.jpg, alt: {y(LONG)}, caption: {y(LONG)}}}"
    cells = [*FORMULAS, *PAYLOADS]
    mass = "product,specimen,value,unit,date,grader,note\n" + "".join(
        ",".join([product, str(n), str(value), "g", "2026-08-11", quoted(cells[n % len(FORMULAS)]), quoted(cells[7 * n % len(cells)])]) + "\n"
        for product, value in (("tarn", 412.0), ("fenn", 388.0), ("fjell", 395.5)) for n in range(1, 40)
    )  # fmt: skip
    head = f"title: {prose(280)}\nsummary: {prose()}\n"
    files: dict[str, str | bytes] = {
        "publication.yaml": f"""\
name: {y(120)}
lead: de
editions: [en]
address: https://moorkamp.example/
author: {y()}
tagline: {y()}
place: {y()}
contact: {y()}
policies: {{paid: no, affiliate: no, advertising: no}}
data_licence: {y()}
html_in_texts: {html_in_texts}
""",
        "rounds/trousers/round.yaml": f"""\
title: {y()}
summary: {y(LONG)}
kind: {y()}
place: {y()}
conditions: {y(LONG)}
photo: {photo}
from: 2026-08-10
to: 2026-10-02
date: 2026-10-03
entrants: [tarn, {{product: fenn, version: "2026"}}, fjell]
stages: [new, after 3 washes]
protocols: [spray, mass, rustle, {{protocol: run_time, stages: [new]}}]
instruments: {{mass: {{resolution: 0.5 g, calibration: 0.3 g}}}}
anchors: {{mass: {{worth_0: 600 g, worth_100: 250 g}}}}
uses:
  - {{id: commute, name: {y()}, weights: {{spray after 3 washes: 4, mass: 1}}}}
limits: [{y(LONG)}, {y()}]
cautions: [{y(LONG)}, {y()}]
""",
        "rounds/trousers/mass.csv": mass,
        "rounds/trousers/rustle.csv": "product,specimen,value\ntarn,1,2\ntarn,2,2\nfenn,1,1\nfenn,2,3\nfjell,1,3\n",
        "rounds/trousers/codes.csv": f"code,product,specimen,seed\n{quoted(words())},tarn,9,7\nK2,fenn,9,7\n",
        "rounds/trousers/spray.csv": SMALL["rounds/trousers/spray.csv"].replace(";ib", ";" + quoted(words(80))),
        "protocols/rustle.yaml": f"""\
name: {y(120)}
short: {y(60)}
measures: {y(LONG)}
basis: standard
standard: {y()}
related: [{y()}, {y()}]
departs: {y(LONG)}
scale: ordinal
better: lower
grades:
  - {{grade: 1, name: {y()}, also: 10}}
  - {{grade: 2, name: {y()}, also: 20}}
  - {{grade: 3, name: {y()}, also: 30}}
also_called: {y(90)}
conditions: [{{id: room, name: {y()}, unit: "%", low: 40, high: 60}}]
steps: [{y()}, {y(LONG)}]
cautions: [{y()}]
limits: [{y()}]
""",
        "ledger.yaml": f"""\
samples:
  - id: {y(60)}
    product: tarn
    version: "2026"
    obtained: loaned
    from: {y()}
    role: maker
    selected_by: supplier
    received: 2026-08-03
    due: 2026-11-30
    shipping: supplier
    benefit: {y()}
    preview: none
    size: {y(90)}
    colour: {y()}
    serial: geheim-1
    private: geheim-2
    used_up: {y(LONG)}
  - {{id: {y(60)}, product: fenn, obtained: bought, from: {y()}, role: shop, received: 2026-08-04, receipt: {y()}}}
  - {{id: {y(60)}, product: fjell, obtained: bought, from: {y()}, role: shop, received: 2026-08-04, receipt: {y()}}}
""",
        "glossary.yaml": f"moor:\n  term: {y(100)}\n  means: {y(LONG)}\n  also: {{en: [{y(80)}]}}\n",
        "rigs/scale/rig.yaml": f"""\
name: {y(120)}
summary: {y(LONG)}
protocols: [mass, rustle]
checks: [{{id: reference, name: {y()}, unit: g, low: 499, high: 501}}]
""",
        "rigs/scale/log.csv": "date,check,value,unit,note\n"
        + "".join(f"2026-08-{10 + n},reference,500.{n},g,{quoted(words())}\n" for n in range(8)),
        "photos/a.jpg": picture(),
        "reviews/tarn/data.yaml": f"""\
first_published:
  outlet: {y()}
  date: 2026-09-20
  address: https://hochweg.example/?a=1&b=(alert(1))&c=%22%3E%3Cscript%3E
  language: de
  terms: {y(LONG)}
  fee: yes
""",
        "reviews/tarn/de.md": f"""---
{head}product: tarn
version: "2026"
round: trousers
date: 2026-10-04
updated: 2026-10-05
good: [{prose()}]
less_good: [{prose()}]
suits: {prose()}
corrections: [{{date: 2026-10-20, text: {prose()}}}]
photos: [{{file: photos/a.jpg, alt: {prose()}, caption: {prose()}}}]
translator: {y()}
slug: tarn
---
{body()}""",
        "reviews/tarn/en.md": f"---\n{head}good: [{prose()}]\ntranslator: {y()}\nslug: tarn\n---\n{body()}",
        "guides/care/de.md": f"---\n{head}date: 2026-10-01\nslug: care\n---\n{body()}",
        "guides/care/en.md": f"---\n{head}date: 2026-10-01\nslug: care\n---\n{body()}",
        "about/de.md": f"---\n{head}---\n{body()}",
        "about/en.md": f"---\n{head}---\n{body()}",
    }
    for product in ("tarn", "fenn", "fjell"):
        files[f"products/{product}.yaml"] = f"""\
name: {y(150)}
maker: {y()}
kind: {y()}
photo: {photo}
versions:
  - id: "2026"
    care: [wash.30.mild, bleach.no]
    care_edition: {y()}
    finish: {{says: {y()}, source: {y()}, date: 2026-08-03}}
    price: {{amount: 149.90, currency: EUR, date: 2026-09-01}}
    claims: [{{protocol: mass, value: 412 g, tolerance: 3 %, source: {y()}, date: 2026-09-01}}]
    details: [{{name: {y()}, value: {y(LONG)}}}, {{name: {y()}, value: {y()}}}]
"""
    return files


def quoted(cell: str) -> str:
    """A cell of a table (RFC 4180)."""
    return '"' + cell.replace('"', '""') + '"'


def body() -> str:
    """A Markdown text with each attack wherever words, titles, alternatives and code may stand."""
    plain = [attack for attack in PAYLOADS if "{" not in attack]
    flat = [attack for attack in plain if not re.search(r"[\[\]|\\()\u2028]", attack)]
    parts = [f"## {attack}\n" for attack in flat[::9]]
    parts += [f"{attack.lstrip('-')}\n" for attack in plain]
    parts += [
        f"word {attack} word\n\n- {attack}\n\n> {attack}\n\n`` {attack} ``\n\n    {attack}\n" for attack in plain[::3]
    ]
    parts += [f'![a {attack}](photos/a.jpg "{attack.replace(chr(34), chr(39))}")\n' for attack in flat[::7]]
    parts += [f"[{attack}](guide:care '{attack.replace(chr(39), chr(34))}')\n" for attack in flat[1::7]]
    parts += [
        f"[a](https://moorkamp.example/?{attack.replace(' ', '')} '{attack.replace(chr(39), chr(34))}')\n"
        for attack in flat[2::7]
    ]
    parts += ["## T\n\n| a | b |\n|---|---|\n" + "".join(f"| {attack} | {attack} |\n" for attack in flat[::4])]
    parts += [
        f'<b>{attack}\n\n<table><tr><td>{attack}\n\n<abbr title="{attack.replace(chr(34), "")}">x</abbr>\n'
        for attack in flat[::5]
    ]
    return "\n".join(parts)


def built(folder: Path, html_in_texts: str) -> Path:
    result = build(write(folder / "pub", publication(Words(), html_in_texts)), folder / "site", None, workers=1)
    assert result.published, [str(problem) for problem in result.problems if problem.severity.name == "ERROR"][:5]
    return folder / "site"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The hostile publication, built."""
    return built(tmp_path_factory.mktemp("hostile"), "no")


@pytest.fixture(scope="module")
def pages(site: Path) -> dict[str, str]:
    """The largest page of each kind in each edition, by its path."""
    found: dict[tuple[str, str], tuple[int, str]] = {}
    for file in sorted(site.rglob("*.html")):
        path, text = file.relative_to(site).as_posix(), file.read_text("utf-8")
        kind = re.search(r'<body[^>]* data-kind="([^"]+)"', text)
        assert kind is not None, path
        key = (path.split("/")[0] if "/" in path else "", kind[1])
        found[key] = max(found.get(key, (0, "")), (len(text), path))
    return {path: kind for (_, kind), (_, path) in found.items()}


def folded(text: str) -> str:
    """With every run of blanks as one: figures and their units are kept together by no-break spaces."""
    return " ".join(text.split())


def look(reader: Any, address: str) -> tuple[list[str], str]:
    """What is wrong with a page after everything on it was touched, and what can be read on it."""
    reader.page.goto(address)
    reader.page.evaluate(TOUCH)
    faults = [*reader.faults, *reader.page.evaluate(FOREIGN)]
    ran = reader.page.evaluate("window.ran || 0")
    faults += [f"{ran} scripts ran"] if ran else []
    faults += [f"went to {reader.page.url}"] if reader.page.url != address else []
    reader.faults.clear()
    return faults, folded(reader.page.evaluate("document.body.textContent"))


def watched(reader: Any) -> Any:
    """A reader whose pages are watched for whatever runs or opens."""
    reader.page.context.add_init_script(COUNT)
    reader.page.route(
        "**/favicon.ico", lambda route: route.fulfill(status=204)
    )  # asked for by the browser, not by a page
    reader.page.on("dialog", lambda dialog: (reader.faults.append(f"dialog: {dialog.message}"), dialog.dismiss()))
    reader.page.context.on("page", lambda page: reader.faults.append(f"opened: {page.url}"))
    return reader


def test_the_attacks_work(reading: Callable[..., Any], tmp_path: Path) -> None:
    """The tests below mean something: put into a page unescaped, most attacks that need nobody's click are noticed."""
    noticed = []
    with reading(bypass_csp=True) as reader:
        watched(reader)
        for number, attack in enumerate(ATTEMPTS):
            file = tmp_path / f"{number}.html"
            file.write_text(f"<!doctype html><meta charset=utf-8><title>t</title><p>{attack}", "utf-8")
            reader.page.route("https://angriff.example/**", lambda route: route.abort())
            try:
                reader.page.goto(file.as_uri(), wait_until="commit")
                reader.page.evaluate(TOUCH)
                seen = bool(reader.page.evaluate("window.ran || 0")) or bool(reader.page.evaluate(FOREIGN))
            except Exception:  # the page went elsewhere
                seen = True
            if seen or reader.faults:
                noticed.append(attack)
            reader.faults.clear()
    assert len(noticed) > 0.6 * len(ATTEMPTS)


@pytest.mark.parametrize("policy", ["off", "on"])
def test_nothing_runs(policy: str, site: Path, pages: dict[str, str], reading: Callable[..., Any]) -> None:
    """On each kind of page no script runs, no dialog opens, nothing is asked of elsewhere, nothing leads away.

    In both languages without the policy, in the lead with it.
    """
    assert set(pages.values()) >= KINDS - {"guide", "about"}
    told, shown = {}, {}
    with _served(site, "/") as top, reading(bypass_csp=policy == "off") as reader:
        watched(reader)
        for path in pages if policy == "off" else [path for path in pages if not path.startswith("en/")]:
            faults, shown[path] = look(reader, top + path)
            if faults:
                told[path] = faults
    assert told == {}
    for path, text in shown.items():
        read = [attack for attack in PAYLOADS if folded(attack) in text]
        wanted = len(PAYLOADS) if pages[path] in {"review", "round", "product"} else 5
        assert len(read) >= wanted, (path, set(PAYLOADS) - set(read))


def test_nothing_of_a_text_runs_where_html_is_allowed(
    tmp_path: Path, pages: dict[str, str], reading: Callable[..., Any]
) -> None:
    """With `html_in_texts: allow list` the same holds, without the policy: what harms is taken out of the texts."""
    site = built(tmp_path, "allow list")
    told = {}
    with _served(site, "/") as top, reading(bypass_csp=True) as reader:
        watched(reader)
        for path in (
            "de/reviews/tarn.html",
            "en/reviews/tarn.html",
            "de/guides/care.html",
            "en/guides/care.html",
            "de/about.html",
        ):
            faults, shown = look(reader, top + path)
            assert reader.page.locator(".body b").count() > 2 and reader.page.locator(".body table").count() > 2
            if faults:
                told[path] = faults
            assert "word" in shown
    assert told == {}


def trees(site: Path) -> Iterator[tuple[str, Any]]:
    for path in sorted(site.rglob("*.html")):
        yield path.relative_to(site).as_posix(), html.fromstring(path.read_bytes())


def test_feeds_hold_the_words_as_text(site: Path) -> None:
    """Feeds and sitemap are well-formed XML without entities or instructions, and hold the attacks to the letter."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True)
    for name in ("de/feed.xml", "en/feed.xml", "sitemap.xml"):
        root = etree.fromstring((site / name).read_bytes(), parser)
        assert root.getroottree().docinfo.doctype == ""
        assert {type(node) for node in root.iter()} == {etree._Element}  # no comment, instruction or entity
        assert {etree.QName(node).localname for node in root.iter()} <= {
            "feed", "id", "title", "subtitle", "updated", "link", "author", "name", "entry", "published", "rights", "summary",
            "urlset", "url", "loc", "lastmod",
        }  # fmt: skip
        assert not [
            a
            for node in root.iter()
            for a in (node.get("href"), node.text)
            if a and a.startswith(("javascript", "data:"))
        ]
        if name != "sitemap.xml":
            read = folded(" ".join(root.itertext()))
            assert len([attack for attack in PAYLOADS if folded(attack) in read]) > 0.8 * len(PAYLOADS)


def test_structured_data_is_data(site: Path) -> None:
    """JSON-LD parses on every page, has no `<` (HTML Living Standard, 4.12.1.3), and holds attacks only as texts."""
    found, count = "", 0
    for path, tree in trees(site):
        for block in tree.xpath("//script[@type='application/ld+json']/text()"):
            assert not set("<>&\u2028\u2029") & set(block), path
            data = json.loads(block)
            for node in data if isinstance(data, list) else [data]:
                assert node["@context"] == "https://schema.org" and "x" not in node
            found, count = found + json.dumps(data, ensure_ascii=False), count + 1
    assert count > 20
    assert "alert(1)" in found


def test_drawings_are_drawings(site: Path) -> None:
    """SVG holds shapes and words: no script, handler, link, foreign element or address."""
    known = set(
        "svg g path rect line circle ellipse polyline polygon use defs symbol clippath text tspan title desc style".split()
    )
    count = 0
    for path, tree in trees(site):
        for drawing in tree.iter("svg"):
            count += 1
            assert {node.tag.lower() for node in drawing.iter()} <= known, path
            for node in drawing.iter():
                assert not [key for key in node.attrib if key.startswith("on")], path
                assert not [v for k, v in node.attrib.items() if k.endswith("href") and not v.startswith("#")], path
    for file in site.rglob("*.svg"):
        count += 1
        assert not re.search(rb"<script|\son\w+=|javascript:|https?://(?!www\.w3\.org/)", file.read_bytes())
    assert count > 10


def test_a_spreadsheet_runs_no_cell(site: Path) -> None:
    """No cell of the open data begins like a formula but for numbers (OWASP, CSV injection; from memory), and nothing is lost."""
    begun = 0
    for file in sorted(site.rglob("*.csv")):
        for row in csv.reader(io.StringIO(file.read_text("utf-8"), newline="")):
            for cell in row:
                begun += cell.startswith("'")
                assert not cell.startswith(
                    ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
                ) or NUMBER.fullmatch(cell)
    data = (site / "data" / "trousers" / "mass.csv").read_text("utf-8")
    assert begun > 20 and all(f"'{formula}" in data.replace('""', '"') for formula in FORMULAS)


def test_what_is_private_stays_so(site: Path) -> None:
    """The ledger's `private` and `serial` are in no file."""
    assert not [path for path in site.rglob("*") if path.is_file() and b"geheim-" in path.read_bytes()]
