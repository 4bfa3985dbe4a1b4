"""Views into HTML by a theme's templates. Only this file and `sandbox.py` know Jinja2.

A theme is a folder: `theme.yaml` with its defaults, `templates/*.html`, `static/theme.css`. A publication
may lay own templates over it (`own/templates/NAME.html`) and add to the style sheet (`own/extra.css`). An own
template still finds the one it replaces under `stock/NAME.html`, and can so change a block of it:
`{% extends "stock/review.html" %}`.
"""

import re
from collections.abc import Callable, Iterator, MutableMapping
from contextlib import suppress
from pathlib import Path
from types import CodeType
from typing import Any, Protocol, cast

import yaml
from jinja2 import (
    BytecodeCache,
    ChoiceLoader,
    Environment,
    PrefixLoader,
    StrictUndefined,
    Template,
    TemplateNotFound,
    TemplateSyntaxError,
)
from jinja2.bccache import Bucket
from jinja2.ext import Extension
from jinja2.lexer import Token, TokenStream
from jinja2.runtime import Macro
from markupsafe import escape

from sitegen.datatypes import dataclass
from sitegen.figures.forms.language import Language
from sitegen.pages import views
from sitegen.pages.theme.contrast import is_hex_colour, readable
from sitegen.pages.theme.sandbox import Guarded, InsideFolder, with_plain_places
from sitegen.text.source import LeadsOut, TooLarge, folder_inside, read_inside, stands_inside

__all__ = ["Theme", "ThemeError", "View", "open_theme", "render", "stylesheet"]

TEMPLATES: dict[type, str] = {
    views.ReviewPage: "review.html",
    views.RoundPage: "round.html",
    views.TextPage: "text.html",
    views.MethodPage: "method.html",
    views.RigPage: "rig.html",
    views.ProductPage: "product.html",
    views.DisclosurePage: "disclosure.html",
    views.GlossaryPage: "glossary.html",
    views.ListPage: "list.html",
    views.ChoicePage: "choice.html",
}
DEFAULTS = ("name", "description", "accent", "text_face", "label_face", "paper_light", "paper_dark")
_FACES = re.compile(r"[\w\s,.'\"-]+")  # a font stack and nothing that could end the declaration

CHARTS_AT_HAND = 48  # charts as HTML, some 20 kB each

_SLOT, _SLOT_END = "\ue000", "\ue001"  # private use: no text that is meant to be read has them
_FILLED = re.compile(f"{_SLOT}([^{_SLOT_END}]*){_SLOT_END}")
_WORD_CALL = ("variable_begin", "name", "lparen", "string", "rparen", "variable_end")


class View(Protocol):
    """Anything with a frame; which template shows it is decided by its class."""

    @property
    def frame(self) -> views.Frame: ...


class ThemeError(Exception):
    """A fault in a theme: the template (or file) in question, its line (from 1, 0 unknown) and column, what is wrong.

    `path` is the file on disk where that is known, so that an author's own file can be told from the stock.
    """

    def __init__(self, template: str, line: int, message: str, path: Path | None = None, column: int = 1) -> None:
        super().__init__(template, line, message, path, column)
        self.template = template
        self.line = line
        self.column = column
        self.message = message
        self.path = path

    def __str__(self) -> str:
        place = f"{self.template}:{self.line}" if self.line else self.template
        return f"{place}: {self.message}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Theme:
    """A theme opened for one language; `defaults` are what theme.yaml says, `folders` hold its templates."""

    folder: Path
    own_folder: Path | None
    defaults: dict[str, str]
    folders: tuple[Path, ...]
    environment: Environment


def open_theme(
    theme_folder: Path,
    own_folder: Path | None,
    language: Language,
    compiled: MutableMapping[str, bytes] | None = None,
) -> Theme:
    """The theme in `theme_folder`, overlaid by the publication's `own_folder`, with the words of `language`.

    Templates are read when first rendered. `compiled` takes up what they were compiled to and gives it
    back: hand the same mapping to every language, and keep it for the next run. What doesn't fit a changed
    template, or another version of Python, is compiled anew. Raises ThemeError when theme.yaml can't be used.
    """
    stock = theme_folder / "templates"
    own = _own_templates(own_folder)
    return Theme(
        folder=theme_folder,
        own_folder=own_folder,
        defaults=_read_defaults(theme_folder),
        folders=(own, stock) if own else (stock,),
        environment=_make_environment(stock, own, language, {} if compiled is None else compiled),
    )


def _own_templates(own_folder: Path | None) -> Path | None:
    if own_folder is None:
        return None
    try:
        return folder_inside(own_folder.parent, f"{own_folder.name}/templates")
    except LeadsOut as fault:
        raise ThemeError("templates", 0, f"the folder {fault.strerror}", own_folder / "templates") from fault


def compile_all(theme: Theme) -> None:
    """Have the byte code of every template at hand, also of those that others import or extend.

    One at fault is told by the first page that is made with it.
    """
    names = {path.name for folder in theme.folders for path in folder.glob("*.html")}
    names |= {f"stock/{path.name}" for folder in theme.folders[:-1] for path in folder.glob("*.html")}
    for name in sorted(names):
        with suppress(Exception):
            theme.environment.get_template(name)


def render(theme: Theme, view: View) -> str:
    """The HTML of a view. Raises ThemeError for whatever goes wrong inside a template."""
    name = TEMPLATES[type(view)]
    if isinstance(theme.environment, Guarded):
        theme.environment.begin()
    try:
        return theme.environment.get_template(name).render(view=view, frame=view.frame)
    except Exception as fault:  # a template may be an author's own and fail in any way that Python can
        raise _theme_error(theme, name, fault) from fault


def stylesheet(theme: Theme, accent: str = "", text_face: str = "", label_face: str = "") -> bytes:
    """The style sheet: the publication's choices, then theme.css, then its own extra.css.

    What is left empty is the theme's default. `accent` is a hex colour; on each paper it is used in the
    nearest lightness that can be read there. Raises ThemeError for a value or file that can't be used, and for an
    extra.css that would have readers' browsers ask elsewhere.
    """
    chosen = {**theme.defaults, **_given(accent=accent, text_face=text_face, label_face=label_face)}
    for key in ("accent", "paper_light", "paper_dark"):
        if not is_hex_colour(chosen[key]):
            raise ThemeError("theme.yaml", 0, f"expected {key} like #7a2e1d, found '{chosen[key]}'")
    for key in ("text_face", "label_face"):
        if not _FACES.fullmatch(chosen[key]) or chosen[key].count('"') % 2 or chosen[key].count("'") % 2:
            raise ThemeError("theme.yaml", 0, f"expected names of typefaces for {key}, found '{chosen[key]}'")
    parts = [_choices(chosen), _read(theme.folder, "static/theme.css")]
    own = theme.own_folder
    if own is not None and stands_inside(own.parent, f"{own.name}/extra.css"):
        parts.append(_own_style(own))
    return "\n".join(parts).encode()


def _own_style(own_folder: Path) -> str:
    from sitegen.text.style_sheets import LARGEST_SHEET, style_faults, too_large  # whose patterns take 25 ms to compile

    path = own_folder / "extra.css"
    try:
        # A character takes four bytes at most (RFC 3629, section 3), a byte order mark before them three.
        text = _read(own_folder.parent, f"{own_folder.name}/extra.css", 3 + 4 * LARGEST_SHEET)
    except TooLarge:
        raise ThemeError(path.name, 1, too_large().message, path) from None
    fault, *further = style_faults(text) or (None,)
    if fault is not None:
        message = fault.message + (f" (and {len(further)} more of such faults in this file)" if further else "")
        raise ThemeError(path.name, fault.line, message, path, fault.column)
    return text


def static_file(theme_folder: Path, name: str) -> bytes:
    """A file of the theme as it lies there: its script or its icon."""
    return read_inside(theme_folder, f"static/{name}")


def _choices(chosen: dict[str, str]) -> str:
    light, dark = chosen["paper_light"], chosen["paper_dark"]
    try:
        by_day, by_night = readable(chosen["accent"], light), readable(chosen["accent"], dark)
    except ValueError as fault:
        raise ThemeError("theme.yaml", 0, str(fault)) from fault
    return (
        f":root{{--paper:{light};--accent:{by_day};"
        f"--text-face:{chosen['text_face']};--label-face:{chosen['label_face']}}}\n"
        "@media screen and (prefers-color-scheme:dark){"
        f":root{{--paper:{dark};--accent:{by_night}}}}}"
    )


def _given(**values: str) -> dict[str, str]:
    return {key: value for key, value in values.items() if value}


def _read(root: Path, name: str, most: int | None = None) -> str:
    path = root / name
    try:
        return read_inside(root, name, most).decode("utf-8-sig")
    except TooLarge:
        raise
    except (OSError, UnicodeDecodeError) as fault:
        reason = fault.strerror if isinstance(fault, OSError) else "is not UTF-8 text"
        raise ThemeError(path.name, 0, f"can't be read: {reason}", path) from fault


def _read_defaults(folder: Path) -> dict[str, str]:
    """The lines of theme.yaml, every value as the text it is written with."""
    path = folder / "theme.yaml"
    try:
        found = yaml.load(_read(folder, path.name), Loader=yaml.BaseLoader)
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None)
        reason = getattr(fault, "problem", None) or "it is no YAML"
        raise ThemeError(path.name, mark.line + 1 if mark else 0, f"can't be read: {reason}", path) from fault
    lines = found if isinstance(found, dict) else {}
    for key in DEFAULTS:
        if not isinstance(lines.get(key), str) or not lines[key]:
            raise ThemeError(path.name, 0, f"expected a line '{key}: …'", path)
    return {key: lines[key] for key in DEFAULTS}


def _make_environment(
    stock: Path, own: Path | None, language: Language, compiled: MutableMapping[str, bytes]
) -> Environment:
    # Own templates come with somebody's publication: they may show a view and do nothing else here.
    # The sandbox takes its time, so the stock templates run without it where they are alone.
    make: type[Environment] = Guarded if own else Environment
    of_stock = InsideFolder(stock.parent, stock.name)
    found = [InsideFolder(own.parent.parent, f"{own.parent.name}/{own.name}")] if own else []
    environment = make(
        loader=ChoiceLoader([*found, of_stock, PrefixLoader({"stock": of_stock})]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        cache_size=-1,
        extensions=[_WordSlots],
        bytecode_cache=_Kept(compiled, sandboxed=own is not None),
    )
    environment.template_class = _Worded
    environment.globals.clear()  # no `range`, `lipsum` or `cycler`: a template shows what the view holds
    say: dict[str, Callable[..., str]] = {"t": language.text, "tn": language.plural, "tc": language.text_in}
    environment.globals.update({name: with_plain_places(words) for name, words in say.items()} if own else say)
    environment.globals["once"] = _once()
    return environment


def _once() -> Callable[..., object]:
    """What a macro makes of an item of the view, made once for all pages that show the very same: a round's charts
    stand on the pages of all its entrants, which took a third of the time of all templates.
    """
    kept: dict[tuple[object, ...], tuple[object, object, object]] = {}

    def once(macro: object, item: object, *further: object) -> object:
        if not isinstance(macro, Macro):
            raise TypeError("expected a macro, then what it is called with")
        key = (id(macro), id(item), *further)
        found = kept.get(key)
        if found is None:
            if len(kept) >= CHARTS_AT_HAND:
                kept.clear()
            # Macro and item too: while they are kept, nothing else has their ids.
            found = kept[key] = (macro, item, macro(item, *further))
        return found[2]

    return once


class _WordSlots(Extension):
    """Turns `{{ t("…") }}` into a slot in the text around it, which `_Worded` fills for one language.

    So templates are compiled once for all languages and a word costs nothing when a page is made. Calls that
    stand elsewhere or have values stay calls.
    """

    def filter_stream(self, stream: TokenStream) -> Iterator[Token]:
        tokens = list(stream)
        position = 0
        while position < len(tokens):
            call = tokens[position : position + len(_WORD_CALL)]
            if tuple(token.type for token in call) == _WORD_CALL and call[1].value == "t":
                yield Token(call[0].lineno, "data", f"{_SLOT}{call[3].value}{_SLOT_END}")
                position += len(_WORD_CALL)
            else:
                yield tokens[position]
                position += 1


class _Worded(Template):
    """A compiled template whose slots hold the words of the environment's language."""

    @classmethod
    def from_code(
        cls,
        environment: Environment,
        code: CodeType,
        globals: MutableMapping[str, Any],
        uptodate: Callable[[], bool] | None = None,
    ) -> Template:
        say = cast(Callable[[str], str], environment.globals["t"])
        return super().from_code(environment, _with_words(code, say), globals, uptodate)


def _with_words(constant: Any, say: Callable[[str], str]) -> Any:
    """Code, or a constant in it, with each slot filled; words are escaped as a printed value would be."""
    if isinstance(constant, CodeType):
        return constant.replace(co_consts=tuple(_with_words(each, say) for each in constant.co_consts))
    if isinstance(constant, tuple):
        return tuple(_with_words(each, say) for each in constant)
    if isinstance(constant, str) and _SLOT in constant:
        return _FILLED.sub(lambda slot: str(escape(say(slot[1]))), constant)
    return constant


class _Kept(BytecodeCache):
    """Compiled templates in a mapping that the caller keeps: for the next language, or the next run."""

    def __init__(self, compiled: MutableMapping[str, bytes], sandboxed: bool) -> None:
        self._compiled = compiled
        self._sandboxed = sandboxed  # the sandbox needs other code

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        return f"{super().get_cache_key(name, filename)}{'-sandboxed' * self._sandboxed}"

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self._compiled:
            bucket.bytecode_from_string(self._compiled[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._compiled[bucket.key] = bucket.bytecode_to_string()


def _theme_error(theme: Theme, name: str, fault: Exception) -> ThemeError:
    """A fault with its template and line: the syntax error's, else the innermost in the traceback."""
    message = " ".join(str(fault).split()) or type(fault).__name__
    if isinstance(fault, TemplateSyntaxError):
        reason = " ".join((fault.message or message).split())
        path = Path(fault.filename) if fault.filename else None
        return ThemeError(fault.name or name, fault.lineno, reason, path)
    if isinstance(fault, TemplateNotFound):
        message = f"there is no template '{fault.name}'"
    elif isinstance(fault, RecursionError):
        message = "the template includes or calls itself without end"
    elif isinstance(fault, MemoryError):
        message = (
            "this page takes more memory than there is for one: look for a loop or a call that makes much of little"
        )
    found, line, trace = None, 0, fault.__traceback__
    while trace is not None:
        path = Path(trace.tb_frame.f_code.co_filename)
        if path.suffix == ".html" and any(path.is_relative_to(folder) for folder in theme.folders):
            found, line = path, trace.tb_lineno
        trace = trace.tb_next
    return ThemeError(found.name if found else name, line, message, found)
