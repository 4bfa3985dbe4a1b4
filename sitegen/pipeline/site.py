"""The site that pages are made of, each part looked up when somebody asks for it."""

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, cast

from sitegen import stock as stock_files
from sitegen.disk.bytecode import StockBytecode
from sitegen.disk.store import digest_of
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.language import UnknownLanguage, open_language
from sitegen.figures.forms.term_forms import LinkedTerms, TermForms
from sitegen.findings.ranking.ordered import RoundOrder
from sitegen.pages.plan.moves import with_moves
from sitegen.pages.plan.plan import Plan, make_plan
from sitegen.pages.site import Assets, Site
from sitegen.pages.theme.theme import Theme, ThemeError, open_theme, static_file, stylesheet
from sitegen.pipeline import findings, pictures, reading
from sitegen.pipeline.demand import derived, node, report, session
from sitegen.pipeline.drawings import draw
from sitegen.pipeline.inputs import FILE
from sitegen.pipeline.views import Lookup, asked_for, product_name, shown, shown_product_ids
from sitegen.place import Place
from sitegen.problems import Problems

STYLE_FOLDER = "theme"
_compiled = StockBytecode(stock_files.themes_folder() / "bench")


@derived
def plan() -> Plan:
    """Which pages there are, and where each stands."""
    problems = Problems()
    found = with_moves(shown(), make_plan(shown()), problems)
    report(problems)
    return found


@derived
def usable_languages() -> bool:
    """Whether every edition's language can be used."""
    problems, settings = Problems(), reading.usable_settings()
    for tag in settings.tags:
        try:
            lang = open_language(tag, stock_files.content_folder() / "catalogues")
        except UnknownLanguage as unknown:
            message = f"the language {unknown.tag!r} can't be used: no forms of numbers and dates are known for it"
            hint = f"did you mean {unknown.hint}?" if unknown.hint else ""
            problems.error("language-unknown", settings.place_of(tag), message, hint)
            break
        if not lang.catalogue_complete:
            message = f"not all words of the pages are translated into {tag} yet; the others are shown in English"
            problems.caution("language-words", settings.place_of(tag), message)
    report(problems)
    return not problems.has_errors


def editions() -> Mapping[str, Edition]:
    """Every edition, by language."""
    settings = reading.usable_settings()
    return _editions(settings.tags, settings.lead)


@cache
def _editions(tags: tuple[str, ...], lead: str) -> Mapping[str, Edition]:
    catalogues = stock_files.content_folder() / "catalogues"
    publication = shown()
    protocols = Lookup(reading.protocols, lambda id: reading.protocols().get(id))
    names = Lookup(shown_product_ids, product_name)
    return {
        tag: Edition(open_language(tag, catalogues), lead, publication.products, protocols, names, _Lookups())
        for tag in tags
    }


class _Lookups:
    """Words made once for many pages are noted as looked up by each."""

    def noting(self, make: Callable[[], Any]) -> tuple[Any, Any]:
        return session().noting(make)

    def note_again(self, looked_up: Any) -> None:
        session().note_again(looked_up)


@derived
def own_theme() -> tuple[str, ...]:
    """The digests of the publication's own templates and style: whatever is made by them looks this up."""
    names = reading.names_below(STYLE_FOLDER)
    return tuple(f"{name} {session().digest(node(FILE, name)).hex()}" for name in names)


def own_theme_folder() -> Path | None:
    """The folder of the publication's own templates and style, if there is one."""
    return reading.context().folder / STYLE_FOLDER if own_theme() else None


def theme(tag: str) -> Theme:
    """The theme for one edition. Raises ThemeError where it can't be used."""
    return _theme(tag, own_theme(), own_theme_folder())


@cache
def _theme(tag: str, own: tuple[str, ...], folder: Path | None) -> Theme:
    language = open_language(tag, stock_files.content_folder() / "catalogues")
    compiled = _compiled if folder is None else {}  # what a publication brings stays in this process
    return open_theme(stock_files.themes_folder() / "bench", folder, language, compiled)


def place_of_fault(fault: ThemeError) -> Place:
    """Where a fault of a theme stands."""
    folder, name = reading.context().folder, fault.template
    if fault.path is not None and fault.path.is_relative_to(folder):
        name = fault.path.relative_to(folder).as_posix()
    return Place(name, max(fault.line, 1), fault.column)


def report_fault(fault: ThemeError, code: str) -> None:
    """Report a template or style sheet at fault."""
    problems = Problems()
    problems.error(code, place_of_fault(fault), fault.message)
    report(problems)


@derived
def assets() -> Assets:
    """The theme's files; names change with their content, so that a host may let browsers keep them for ever."""
    look = reading.usable_settings().theme
    try:
        opened = theme(reading.usable_settings().lead)
        style = stylesheet(opened, look.accent, look.text_face, look.label_face)
    except ThemeError as fault:
        report_fault(fault, "theme")
        style = b""
    bench = stock_files.themes_folder() / "bench"
    script, icon = static_file(bench, "table.js"), static_file(bench, "icon.svg")
    return Assets(
        f"assets/theme-{digest_of(style).hex()[:10]}.css",
        f"assets/icon-{digest_of(icon).hex()[:10]}.svg",
        script.decode().strip(),
        style.decode(),
    )


def terms() -> Mapping[str, TermForms]:
    """The terms of each edition whose first use on a page leads to the glossary."""
    session().note(node("terms"))
    reading.usable_settings()
    return _linked_terms(session().digest(node("terms")), session().digest(node("usable_settings")))


@cache
def _linked_terms(terms: bytes, settings: bytes) -> Mapping[str, TermForms]:
    return LinkedTerms(shown())


def _order(id: str) -> RoundOrder | None:
    return findings.round_order(id).order


def _currency(id: str) -> str | None:
    return findings.round_order(id).currency


class _Behind(Mapping[tuple[str, str, str], Any]):
    """How a translation lags, looked up by kind of page, id and language."""

    def __getitem__(self, key: tuple[str, str, str]) -> Any:
        found = findings.behind(*key)
        if found is None:
            raise KeyError(key)
        return found

    def __iter__(self) -> Any:
        raise LookupError("looked up by key alone")

    def __len__(self) -> int:
        raise LookupError("looked up by key alone")


class _SiteView(Site):
    """A Site whose fields are functions: each is called when somebody asks for the field."""

    __slots__ = ()


_FIELDS: dict[str, Callable[[], Any]] = {
    "publication": shown,
    "plan": plan,
    "editions": editions,
    "findings": findings.findings,
    "rigs": findings.rig_states,
    "orders": lambda: Lookup(findings.ordered_rounds, _order),
    "currencies": lambda: Lookup(findings.ordered_rounds, _currency),
    "pictures": pictures.pictures,
    "assets": assets,
    "behind": _Behind,
    "terms": terms,
    "wetted": pictures.wetted,
}


def _view(drawing: bool) -> Site:
    made: dict[str, Any] = {name: asked_for(ask) for name, ask in _FIELDS.items()}
    made["draw"] = asked_for(lambda: draw if drawing else None)
    return cast(Site, object.__new__(type("SiteView", (_SiteView,), {"__slots__": (), **made})))


@cache
def site() -> Site:
    """The site of the open session."""
    return _view(drawing=True)


@cache
def site_without_drawings() -> Site:
    """The same with charts left empty, which is enough to check every text."""
    return _view(drawing=False)
