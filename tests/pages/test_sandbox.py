"""Templates that a publication brings along can show a view and do nothing else, whatever they try.

The ways out of Jinja2's sandbox are those that its own change log closes (2.8.1 `format`, 2.10.1 `format_map`, 3.1.5
indirect `format` and file names, 3.1.6 `|attr`) and the chains of attributes that teaching texts on template injection
list; all from memory.
"""

import os
import re
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from builders import SMALL, write
from markupsafe import Markup

from sitegen.figures.forms.language import Language, open_language
from sitegen.pages import views
from sitegen.pages.theme.sandbox import LARGEST_TEMPLATE
from sitegen.pages.theme.theme import Theme, ThemeError, open_theme, render
from sitegen.pipeline.build import build
from sitegen.problems import render as render_problem

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "themes" / "bench"
LONGEST_ATTEMPT = 20  # seconds of processor time; measured: 4 at most


@pytest.fixture(scope="module")
def english() -> Language:
    return open_language("en", ROOT / "content" / "catalogues")


@pytest.fixture(scope="module")
def view() -> views.ListPage:
    """A page with what a template can lay hands on: texts, markup, links, lists."""
    frame = views.Frame(
        kind="home", lang="en", direction="ltr", title="Moor & Kamp", document_title="T", description="D",
        canonical="https://moorkamp.example/", alternates=(("en", "https://moorkamp.example/"),), stylesheet="s.css",
        inline_style=Markup(), script=Markup("sort();"), icon="i.svg", feed="feed.xml", feed_title="F", site_name="M",
        tagline="<b>", home="./", nav=(views.Link(text="A", href="a/"),), languages=(), trail=(),
        structured=Markup("{}"), csp="default-src 'none'", noindex=False, colophon=("C",), footer=(),
    )  # fmt: skip
    entries = tuple(views.Entry(title=f"E{n}", href="e/", summary="S") for n in range(40))
    return views.ListPage(frame=frame, lead="We measure.", sections=(views.Section(title="Latest", entries=entries),))


def own(folder: Path, language: Language, **templates: str) -> Theme:
    (folder / "templates").mkdir(exist_ok=True)
    for name, source in templates.items():
        (folder / "templates" / f"{name}.html").write_text(source, "utf-8")
    return open_theme(BENCH, folder, language)


ESCAPES = {
    "class chain": "{{ ''.__class__.__mro__[1].__subclasses__() }}",
    "class chain of a view": "{{ view.__class__.__init__.__globals__ }}",
    "by index": "{{ view['__class__']['__mro__'] }}",
    "attr filter": "{{ view|attr('__class__') }}",
    "attr filter of format": "{{ ('{0.__class__}'|attr('format'))(view) }}",
    "map by attribute": "{{ view.sections|map(attribute='__class__')|list|first }}",
    "select by attribute": "{{ view.sections|selectattr('__class__.__mro__')|list|first }}",
    "group by attribute": "{{ view.sections|groupby('__class__')|first }}",
    "sort by attribute": "{{ (view.sections + view.sections)|sort(attribute='__class__.x')|first }}",
    "format": "{{ '{0.__class__}'.format(view) }}",
    "format of a field": "{{ '{v.frame.title.__class__.__mro__}'.format(v=view) }}",
    "format_map": "{{ '{v.__class__}'.format_map({'v': view}) }}",
    "format unbound": "{{ ''.format('{0.__class__}', view) }}",
    "format kept": "{% set f = '{0.__class__}'.format %}{{ f(view) }}",
    "format in a map": "{{ ['{0.__class__}']|map('format', view)|list|first }}",
    "format by message": "{{ t('{v.__class__.__init__.__globals__}', v=view) }}",
    "format by message, text": "{{ t('{v.__class__}', v='x') }}",
    "format by plural": "{{ tn('{v.__class__}', '{v.__class__}', 2, v='x') }}",
    "format by context": "{{ tc('c', '{v[0]}', v='x') }}",
    "width in a message": "{{ t('{v:>99999999999}', v='x') }}",
    "conversion in a message": "{{ t('{v!r}', v='x') }}",
    "a view in a message": "{{ t('{v}', v=view) }}",
    "percent": "{{ '%(a)s' % {'a': view} }}",
    "percent filter": "{{ '%s'|format(view) }}",
    "globals of words": "{{ t.__globals__ }}",
    "self of words": "{{ t.__self__.catalogue_folder }}",
    "closure of words": "{{ t.__closure__ }}",
    "code of a macro": "{% macro m() %}{% endmacro %}{{ m.__call__.__func__.__globals__ }}",
    "inside of a macro": "{% macro m() %}{% endmacro %}{{ m._func.__globals__ }}",
    "inside of self": "{{ self._TemplateReference__context.environment }}",
    "inside of self, public": "{{ self.__init__.__globals__ }}",
    "inside of loop": "{% for x in [1] %}{{ loop._iterator.__class__ }}{% endfor %}",
    "generator frame": "{{ ([1]|map('abs')).gi_frame }}",
    "generator code": "{{ ([1]|map('abs')).gi_code.co_consts }}",
    "cycler": "{{ cycler.__init__.__globals__.os }}",
    "joiner": "{{ joiner.__init__.__globals__.os }}",
    "lipsum": "{{ lipsum.__globals__['os'].popen('id').read() }}",
    "namespace": "{{ namespace.__init__.__globals__ }}",
    "namespace made": "{% set n = namespace(x=1) %}",
    "dict made": "{{ dict.fromkeys }}",
    "url_for": "{{ url_for.__globals__ }}",
    "request": "{{ request.application.__globals__ }}",
    "config": "{{ config.items() }}",
    "builtins": "{{ __builtins__ }}",
    "import": "{{ __import__('os') }}",
    "environment": "{{ environment }}",
    "context": "{{ context }}",
    "a group is changed": "{{ {'a': 1}.update({'a': 2}) }}",
    "a list is changed": "{{ [].append(1) }}",
    "undefined": "{{ nothing.__class__ }}",
    "undefined filter": "{{ (nothing|default(view)).__class__ }}",
    "safe": "{{ view.frame.tagline|safe }}",
    "autoescape off": "{% autoescape false %}{{ view.frame.tagline }}{% endautoescape %}",
    "random": "{{ [1, 2]|random }}",
    "print of a whole view": "{{ view }}",
    "print of a function": "{{ t }}",
    "debug": "{% debug %}",
    "do": "{% do view.frame %}",
}  # fmt: skip
ELSEWHERE = {
    "up": '{% include "../../publication.yaml" %}',
    "up, from": '{% from "../theme.yaml" import x %}',
    "root": '{% include "/etc/passwd" %}',
    "backslash": '{% include "..\\\\..\\\\publication.yaml" %}',
    "by variable": "{% set n = '../' ~ 'theme.yaml' %}{% include n %}",
    "by list": "{% include ['../theme.yaml', '/etc/hostname'] %}",
    "stock up": '{% include "stock/../theme.yaml" %}',
    "extends": '{% extends "../theme.yaml" %}',
    "nul": '{% include "a\\0b" %}',
    "link": '{% include "link.html" %}',
    "folder by link": '{% include "folder/passwd" %}',
    "device": '{% include "zero.html" %}',
    "too large": '{% include "large.html" %}',
}
WITHOUT_END = {
    "range": "{% for n in range(10**9) %}{{ n }}{% endfor %}",
    "power": "{{ 10**(10**10) }}",
    "power of a power": "{{ 2**(2**40) }}",
    "power of ones": "{% set a = 3**300 %}{% set a = a*a %}{% set a = a*a %}{% set a = a*a %}",
    "text times": "{{ 'x' * 10**10 }}",
    "list times": "{{ ([0] * 10**10)|length }}",
    "shifted left": "{{ 'x'.ljust(10**10) }}",
    "in the middle": "{{ 'x'|center(10**10) }}",
    "zeros": "{{ 'x'.zfill(10**10) }}",
    "tabs": "{{ '\\t'.expandtabs(10**10) }}",
    "bytes": "{{ (1).to_bytes(10**10, 'big') }}",
    "width of a format": "{{ '{:>9999999999}'.format(1) }}",
    "width by percent": "{{ '%9999999999d' % 1 }}",
    "indent": "{{ 'a\\nb'|indent(10**10) }}",
    "batch": "{{ [1]|batch(10**9, 0)|list|length }}",
    "slice": "{{ [1]|slice(10**9)|list|length }}",
    "doubled text": "{% set a = 'xxxxxxxx' %}" + "{% set a = a ~ a %}" * 60 + "{{ a|length }}",
    "doubled sum": "{% set a = 'xxxxxxxx' %}" + "{% set a = a + a %}" * 60 + "{{ a|length }}",
    "doubled block": "{% set a %}xxxxxxxx{% endset %}" + "{% set a %}{{ a }}{{ a }}{% endset %}" * 60 + "{{ a|length }}",
    "doubled list": "{% set a = [1, 2] %}" + "{% set a = a + a %}" * 60 + "{{ a|length }}",
    "doubled tree": "{% set a = [1, 2] %}{% set b = [1, 2] %}" + "{% set a = [a, a] %}{% set b = [b, b] %}" * 60 + "{{ a == b }}",
    "doubled group": "{% set a = {'a': 1} %}" + "{% set a = {'a': a, 'b': a} %}" * 60 + "{{ a|string }}",
    "doubled by join": "{% set a = 'xxxxxxxx' %}" + "{% set a = [a, a, a]|join(a) %}" * 60 + "{{ a|length }}",
    "escaped again": "{% set a = '&' %}" + "{% set a = [a|forceescape, a|forceescape]|join %}" * 60 + "{{ view.lead.nothing }}",
    "loops in loops": "".join(f"{{% for a{n} in view.sections[0].entries %}}" for n in range(9)) + "x" + "{% endfor %}" * 9,
    "loops in loops, empty": "".join(f"{{% for a{n} in view.sections[0].entries %}}" for n in range(9)) + "{% endfor %}" * 9,
    "loops that write much": "".join(f"{{% for a{n} in view.sections[0].entries %}}" for n in range(4)) + "x" * 5000 + "{% endfor %}" * 4,
    "macro that calls itself": "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
    "macro that calls itself twice": "{% macro m(n) %}{% if n %}{{ m(n - 1) }}{{ m(n - 1) }}{% endif %}{% endmacro %}{{ m(80) }}",
    "two macros": "{% macro a() %}{{ b() }}{% endmacro %}{% macro b() %}{{ a() }}{% endmacro %}{{ a() }}",
    "caller": "{% macro m() %}{% call m() %}{{ caller() }}{% endcall %}{% endmacro %}{{ m() }}",
    "recursive loop": "{% for x in [1] recursive %}{{ loop([1]) }}{% endfor %}",
    "recursive loop that branches": "{% for x in [1, 2] recursive %}{{ loop([1, 2]) if loop.depth < 60 }}{% endfor %}",
    "includes itself": '{% include "list.html" %}',
    "extends itself": '{% extends "list.html" %}',
    "includes in a circle": '{% include "other.html" %}',
    "imports itself": '{% import "list.html" as l %}',
    "blocks in a circle": "{% block a %}{{ self.a() }}{% endblock %}",
    "brackets": "{{ " + "(" * 5000 + "1" + ")" * 5000 + " }}",
    "lists": "{{ " + "[" * 3000 + "]" * 3000 + " }}",
    "conditions": "{% if 1 %}" * 300 + "{% endif %}" * 300 + "{{ view.nothing }}",
    "minus signs": "{{ " + "-" * 3000 + "1 }}",
}  # fmt: skip


def refused(folder: Path, language: Language, view: views.ListPage, source: str) -> ThemeError:
    """The one error that a template ends in, in bounded time."""
    theme = own(folder, language, list=source)
    started = time.process_time()
    with pytest.raises(ThemeError) as caught:
        render(theme, view)
    assert time.process_time() - started < LONGEST_ATTEMPT
    return caught.value


@pytest.mark.parametrize("source", ESCAPES.values(), ids=ESCAPES)
def test_no_way_out(source: str, tmp_path: Path, english: Language, view: views.ListPage) -> None:
    """Each known way out ends in an error at the template's line, and its sentence shows nothing of the inside."""
    fault = refused(tmp_path, english, view, f"one\n\n{source}\n")
    assert (fault.template, fault.line) == ("list.html", 3)
    assert fault.path == tmp_path / "templates" / "list.html"
    assert not re.search(r"0x[0-9a-f]{6}|/work|sitegen/|site-packages|root:", fault.message)


@pytest.mark.parametrize("source", ELSEWHERE.values(), ids=ELSEWHERE)
def test_no_file_from_elsewhere(source: str, tmp_path: Path, english: Language, view: views.ListPage) -> None:
    """Templates come from the two folders only: not by a path, not by a link, not from a device."""
    templates = tmp_path / "templates"
    templates.mkdir()
    (tmp_path / "theme.yaml").write_text("secret")
    (tmp_path / "publication.yaml").write_text("secret")
    (templates / "link.html").symlink_to("/etc/passwd")
    (templates / "folder").symlink_to("/etc")
    (templates / "zero.html").symlink_to("/dev/zero")
    (templates / "large.html").write_bytes(b"x" * (LARGEST_TEMPLATE + 1))
    fault = refused(tmp_path, english, view, f"one\n{source}\n")
    assert fault.template == "list.html"
    assert fault.line == 2


@pytest.mark.parametrize("source", WITHOUT_END.values(), ids=WITHOUT_END)
def test_no_end_is_no_end(source: str, tmp_path: Path, english: Language, view: views.ListPage) -> None:
    """Whatever would take all time or memory is refused in a moment, by a sentence that names the template."""
    own(tmp_path, english, other='{% include "list.html" %}')
    fault = refused(tmp_path, english, view, source)
    assert fault.template in ("list.html", "other.html")
    assert len(fault.message) < 300


def test_memory_is_bounded() -> None:
    """All that can't end ends within 1.5 GB of address space: nothing big is made first and refused then."""
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000, 1_500_000_000))\n"
        f"sys.path[:0] = [{str(ROOT)!r}, {str(ROOT / 'tests')!r}, {str(Path(__file__).parent)!r}]\n"
        "import tempfile, test_sandbox as t\nfrom pathlib import Path\n"
        "view = t.view.__wrapped__() if hasattr(t.view, '__wrapped__') else t.view._get_wrapped_function()()\n"
        "english = t.open_language('en', t.ROOT / 'content' / 'catalogues')\n"
        "for name in ('doubled text', 'doubled sum', 'doubled block', 'doubled list', 'doubled group', 'doubled by join',"
        " 'text times', 'tabs', 'power'):\n"
        "    with tempfile.TemporaryDirectory() as folder:\n"
        "        fault = t.refused(Path(folder), english, view, t.WITHOUT_END[name])\n"
        "        assert 'MemoryError' not in fault.message and fault.message, (name, fault)\n"
    )
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, env=environment)
    assert (done.returncode, done.stderr) == (0, "")


SOUND = {
    "words and values": ("{{ t('Version {version}', version='3') }}", "Version 3"),
    "a literal brace": ("{{ t('{{x}} {version}', version='3') }}", "{x} 3"),
    "a plural": ("{{ tn('{n} step', '{n} steps', 2) }}", "2 steps"),
    "side by side": ("{{ view.frame.tagline ~ '|' ~ 1 }}", "&lt;b&gt;|1"),
    "markup stays": ("{{ '<' ~ view.frame.script }}", "&lt;sort();"),
    "a block kept": ("{% set a %}<p>{{ view.frame.tagline }}</p>{% endset %}{{ a ~ a }}", "<p>&lt;b&gt;</p>" * 2),
    "joined": ("{{ view.sections|map(attribute='title')|join(', ') }}", "Latest"),
    "joined by attribute": ("{{ view.sections|join('', attribute='title') }}", "Latest"),
    "loops": ("{% for e in view.sections[0].entries if loop.index < 3 %}{{ e.title }}{% endfor %}", None),
    "cycled": ("{% for n in [1, 2, 3] %}{{ loop.cycle('a', 'b') }}{{ loop.index }}{% endfor %}", "a1b2a3"),
    "sums": ("{{ 2 + 3 * 4 }} {{ 7 % 4 }} {{ 2 ** 10 }} {{ 1 / 4 }}", "14 3 1024 0.25"),
    "methods": ("{{ view.lead.upper() }} {{ {'a': 1}.get('a') }} {{ view.lead.split()[0] }}", "WE MEASURE. 1 We"),
    "unpacked": ("{% for a, b in [(1, 2), (3, 4)] %}{{ a }}{{ b }}{% endfor %}", "1234"),
    "set two": ("{% set a, b = 1, 2 %}{{ b }}{{ a }}", "21"),
    "filter": ("{{ view.lead|upper }} {{ ' x '|trim }} {{ [3, 1, 2]|sort|first }}", "WE MEASURE. x 1"),
    "macro": ("{% macro m(a, b='x') %}{{ a }}{{ b }}{{ varargs|length }}{% endmacro %}{{ m(1) }}{{ m(1, 2, 3) }}", "1x0121"),
    "caller": ("{% macro m() %}[{{ caller() }}]{% endmacro %}{% call m() %}x{% endcall %}", "[x]"),
    "stock macro": ('{% import "parts.html" as parts %}{{ parts.links(view.frame.nav)|length > 5 }}', "True"),
}  # fmt: skip


@pytest.mark.parametrize(("source", "shown"), SOUND.values(), ids=SOUND)
def test_what_templates_are_for_works(
    source: str, shown: str | None, tmp_path: Path, english: Language, view: views.ListPage
) -> None:
    """Showing a view needs none of what is refused, and texts stay escaped."""
    if shown is None:
        with pytest.raises(ThemeError, match="loop"):
            render(own(tmp_path, english, list=source), view)
    else:
        assert render(own(tmp_path, english, list=source), view) == shown


def test_each_page_has_its_own_share(tmp_path: Path, english: Language, view: views.ListPage) -> None:
    """A page that took much leaves the next as much."""
    source = (
        "{% for a in view.sections[0].entries %}{% for b in view.sections[0].entries %}"
        + "x" * 10_000
        + "{% endfor %}{% endfor %}"
    )
    theme = own(tmp_path, english, list=source)
    assert [len(render(theme, view)) for _ in range(4)] == [16_000_000] * 4
    with pytest.raises(ThemeError, match="too many steps or gets too long"):
        render(own(tmp_path, english, list=source + source + source), view)


def test_own_templates_change_no_byte_of_other_pages(tmp_path: Path) -> None:
    """The stock templates write the same under guard as without: a template of one's own touches only its pages."""
    plain = build(write(tmp_path / "pub"), tmp_path / "plain", None)
    own = {"theme/templates/rig.html": '{% extends "stock/rig.html" %}'}
    guarded = build(write(tmp_path / "pub", own), tmp_path / "guarded", None)
    assert plain.published and guarded.published, list(guarded.problems)
    files = [
        sorted(p.relative_to(tmp_path / name) for p in (tmp_path / name).rglob("*.*")) for name in ("plain", "guarded")
    ]
    assert files[0] == files[1] and len(files[0]) > 40
    for path in files[0]:
        assert (tmp_path / "plain" / path).read_bytes() == (tmp_path / "guarded" / path).read_bytes(), path


def test_an_author_reads_file_and_line(tmp_path: Path) -> None:
    """In a build it is a problem like any other: file, line, sentence; nothing is published."""
    files = {"theme/templates/list.html": "<p>\n{% for n in view.sections %}{{ n.__class__ }}{% endfor %}"}
    result = build(write(tmp_path / "pub", {**SMALL, **files}), tmp_path / "site", None)
    told = [render_problem(problem, "") for problem in result.problems if problem.code == "template"]
    assert not result.published and len(told) == 1
    assert told[0].startswith("theme/templates/list.html:2:1: error: ") and "unsafe" in told[0]


def test_markup_cannot_be_made(tmp_path: Path, english: Language, view: views.ListPage) -> None:
    """A guest's text stays a text, however a template passes it on."""
    hostile = replace(view, lead="<script>alert(1)</script>")
    sources = (
        "{{ view.lead }}", "{{ view.lead ~ '' }}", "{{ '' ~ view.lead ~ view.frame.script }}", "{{ view.frame.script + view.lead }}",
        "{{ [view.lead]|join }}", "{{ [view.frame.script, view.lead]|join(view.lead) }}", "{% set a %}{{ view.lead }}{% endset %}{{ a }}",
        "{{ view.lead|upper|lower }}", "{{ view.lead|default('') }}", "{% filter lower %}{{ view.lead }}{% endfilter %}",
        "{% macro m(x) %}{{ x }}{% endmacro %}{{ m(view.lead) }}", "{{ t('{x}', x=view.lead) }}", "{{ view.lead|truncate(1000) }}",
        "{{ view.lead|e|upper|lower }}", "{{ (view.frame.script ~ view.lead)|trim }}", "{{ view.lead.strip().lower() }}",
    )  # fmt: skip
    for source in sources:
        shown = render(own(tmp_path, english, list=source), hostile)
        assert "<script>" not in shown and "&lt;script&gt;" in shown, source
