"""Where a publication's own templates run: they may show a view, in bounded time and size, and do nothing else.

Jinja2's sandbox keeps a template from Python's insides. What it leaves open is closed here: filters and methods that
make much of little, texts printed unescaped, formats with places of their own, files outside the folder, loops
and calls without end. Every fault is an exception with a sentence; the template's line is in its traceback.
"""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from functools import wraps
from pathlib import Path
from typing import Any

from jinja2 import BaseLoader, Environment, TemplateNotFound, TemplateSyntaxError, Undefined, nodes
from jinja2.exceptions import SecurityError
from jinja2.filters import FILTERS
from jinja2.loaders import split_template_path
from jinja2.runtime import Context
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

from sitegen.text.source import read_inside

MOST_WORK = 40_000_000  # characters that one page may come to while it is put together; a long one has 2,000,000
STEP = 100  # characters that a turn of a loop or a call counts for
LONGEST = 1_000_000  # characters of one value
MOST_ITEMS = 100_000  # in one list, with all the lists in it
LARGEST_TEMPLATE = 1_000_000  # bytes
_MOST_BITS = 512  # of a whole number

_LETTING = (  # nothing that grows with a number, prints unescaped, or is left to chance
    "abs capitalize count d default dictsort e escape first float forceescape groupby int items join last length list "
    "lower map max min reject rejectattr reverse round select selectattr sort string title trim truncate unique upper "
    "urlencode wordcount"
).split()
_METHODS = frozenset(
    "capitalize casefold count endswith find get index isdigit isoformat items keys lower lstrip removeprefix "
    "removesuffix rstrip split splitlines startswith strip swapcase title upper values".split()
)
_PLAIN = (
    str,
    bytes,
    int,
    float,
    Decimal,
    dt.date,
    list,
    tuple,
    dict,
)  # whose methods are Python's, not a view's fields
_PRINTED = (str, int, float, Decimal, dt.date)
_ODD_PLACE = re.compile(r"\{(?!\{|[A-Za-z]\w*\})")


class Guarded(ImmutableSandboxedEnvironment):
    """The environment of templates that somebody brought along; `begin` before each page."""

    intercepted_binops = frozenset({"+", "*", "**", "%"})

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.left = MOST_WORK
        self.finalize = self.printed
        self.counted = self.spend
        self.filters.clear()
        self.filters.update({name: _bounded(self, FILTERS[name]) for name in _LETTING})

    def begin(self) -> None:
        """A new page has all its work before it."""
        self.left = MOST_WORK

    def spend(self, characters: int) -> None:
        """Count work. Raises SecurityError when a page has had its share."""
        self.left -= characters + STEP
        if self.left < 0:
            raise SecurityError("this page takes too many steps or gets too long: look for a loop or call without end")

    def printed(self, value: Any) -> Any:
        """What `{{ … }}` prints: texts, numbers and days. Raises SecurityError for anything else."""
        if isinstance(value, Undefined) or value is None:
            return value
        if not isinstance(value, _PRINTED):
            raise SecurityError(f"expected a text or a number to print, found {_kind(value)}")
        self.spend(len(value) if isinstance(value, str) else 0)
        return value

    def joined(self, *parts: Any) -> Any:
        """`a ~ b`: escaped as soon as one of them is markup."""
        texts = [part if isinstance(part, Markup) else str(self.printed(part)) for part in parts]
        self.grown(sum(map(len, texts)))
        return Markup("").join(texts) if any(isinstance(text, Markup) for text in texts) else "".join(texts)

    def grouped(self, value: Any) -> Any:
        """A list, tuple or group as it is, if it isn't too large with everything in it."""
        self.spend(_items(value))
        return value

    def grown(self, length: int) -> None:
        """Count a value of this length. Raises SecurityError for one that is too long."""
        if length > LONGEST:
            raise SecurityError(f"expected at most {LONGEST:,} characters in one text, found {length:,}")
        self.spend(length)

    # What Jinja2 asks of a sandbox

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        """Fields of a view; of Python's own types only methods that give no more than they took."""
        return super().is_safe_attribute(obj, attr, value) and (not isinstance(obj, _PLAIN) or attr in _METHODS)

    def wrap_str_format(self, value: Any) -> Callable[..., str] | None:
        """Texts have no `format`: a width in it makes gigabytes. Raises SecurityError."""
        if super().wrap_str_format(value) is not None:
            raise SecurityError("texts can't be formatted here: put them side by side, as in {{ a }} {{ b }}")
        return None

    def call(self, context: Context, called: Any, /, *args: Any, **kwargs: Any) -> Any:
        """A call counts as work, like what is handed over in lists."""
        if called is self.counted:  # put there by ourselves, in each turn of each loop: it has to be quick
            self.spend(args[0])
            return None
        for arg in (*args, *kwargs.values()) if kwargs else args:
            if isinstance(arg, (list, tuple, dict)):
                self.spend(_items(arg))
        self.spend(0)
        return super().call(context, called, *args, **kwargs)

    def call_binop(self, context: Context, operator: str, left: Any, right: Any) -> Any:
        """Sums, products, powers and rests that stay small. Raises SecurityError for others."""
        if operator == "+" and isinstance(left, (list, tuple)) and isinstance(right, (list, tuple)):
            self.spend(_items(left) + _items(right))
        elif operator == "+" and isinstance(left, str) and isinstance(right, str):
            self.grown(len(left) + len(right))
        elif operator != "+" and not (
            isinstance(left, (int, float, Decimal)) and isinstance(right, (int, float, Decimal))
        ):
            raise SecurityError(f"expected two numbers beside {operator}, found {_kind(left)} and {_kind(right)}")
        elif isinstance(left, int) and isinstance(right, int):
            bits = (
                left.bit_length() * max(1, abs(right)) if operator == "**" else left.bit_length() + right.bit_length()
            )
            if bits > _MOST_BITS:
                raise SecurityError(f"a number gets too large here, by {operator}")
        elif operator == "**" and (isinstance(left, Decimal) or isinstance(right, Decimal)):
            raise SecurityError("expected whole numbers beside **")
        return super().call_binop(context, operator, left, right)

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        tree = super()._parse(source, name, filename)
        _Counting(name, filename).visit(tree)
        tree.set_environment(self)
        return tree


class InsideFolder(BaseLoader):
    """Templates that lie in a folder within a root, the theme's or the publication's, which no link leads out of."""

    def __init__(self, root: Path, folder: str) -> None:
        self._root, self._folder = root, folder

    def get_source(self, environment: Environment, template: str) -> tuple[str, str, Callable[[], bool]]:
        """As the library's. Raises SecurityError for a template that leads elsewhere, is no file or is too large."""
        name = "/".join((self._folder, *split_template_path(template)))
        try:
            text = read_inside(self._root, name, LARGEST_TEMPLATE).decode()
        except (FileNotFoundError, NotADirectoryError):
            raise TemplateNotFound(template) from None
        except UnicodeDecodeError:
            raise SecurityError(f"the template '{template}' is not UTF-8 text") from None
        except OSError as fault:
            raise SecurityError(f"the template '{template}' {fault.strerror}") from None
        return text, str(self._root / name), lambda: True


def with_plain_places(say: Callable[..., str]) -> Callable[..., str]:
    """A function of messages for templates: a place holds a name alone, such as `{date}`, and takes a text or a number.

    `{date.year}` or `{date:>9}` would be Python's own format, which knows no sandbox.
    """

    def said(*args: Any, **values: Any) -> str:
        for text in args:
            if isinstance(text, str) and _ODD_PLACE.search(text.replace("{{", "").replace("}}", "")):
                raise SecurityError("a place in a message holds a name alone, such as {date}")
        for value in values.values():
            if not isinstance(value, _PRINTED):
                raise SecurityError(f"expected a text or a number to put into a message, found {_kind(value)}")
        return say(*args, **values)

    return said


def _kind(value: Any) -> str:
    if isinstance(value, str):
        return "a text"
    if isinstance(value, dict):
        return "a group"
    return "a list" if isinstance(value, (list, tuple)) else f"a {type(value).__name__}"


def _items(value: Any, left: int = MOST_ITEMS) -> int:
    """How many things a list holds, with those in its lists. Raises SecurityError from MOST_ITEMS on."""
    count, waiting = 0, [value]
    while waiting:
        found = waiting.pop()
        inner: Iterable[Any] = (
            found.values() if isinstance(found, dict) else found if isinstance(found, (list, tuple)) else ()
        )
        waiting.extend(inner)
        count += 1
        if count + len(waiting) > left:
            raise SecurityError(f"expected at most {left:,} things in one list, with all lists in it")
    return count


def _bounded(environment: Guarded, filter: Callable[..., Any]) -> Callable[..., Any]:
    """A filter that takes texts and lists of a bounded size and gives such."""

    @wraps(filter)
    def applied(*args: Any, **kwargs: Any) -> Any:
        given = args[1:] if hasattr(filter, "jinja_pass_arg") else args
        if filter in (FILTERS["join"], FILTERS["string"]):
            _check_texts(environment, given, kwargs)
        found = filter(*args, **kwargs)
        if isinstance(found, str):
            environment.grown(len(found))
        else:
            environment.spend(_items(found) if isinstance(found, (list, tuple, dict)) else 0)
        return found

    return applied


def _check_texts(environment: Guarded, given: tuple[Any, ...], kwargs: dict[str, Any]) -> None:
    """Before texts are joined: how long that gets."""
    parts = list(given[0]) if isinstance(given[0], (list, tuple, dict)) else [given[0]]
    between = str(given[1] if len(given) > 1 else kwargs.get("d", ""))
    attribute = given[2] if len(given) > 2 else kwargs.get("attribute")
    if attribute is None:
        for part in parts:
            if not isinstance(part, _PRINTED) and not isinstance(part, Undefined) and not isinstance(part, Iterator):
                raise SecurityError(f"expected texts or numbers, found {_kind(part)}")
    environment.grown(sum(len(part) for part in parts if isinstance(part, str)) + len(between) * len(parts))


class _Counting(NodeTransformer):
    """Puts what counts into a template: into each loop, macro and block, around each list, for each `~`."""

    def __init__(self, name: str | None, filename: str | None) -> None:
        self.name = name
        self.filename = filename

    def _counted(self, node: nodes.Node, *args: Any, **kwargs: Any) -> nodes.Node:
        body: list[nodes.Node] = node.body  # type: ignore[attr-defined]
        data = sum(len(text.data) for part in body for text in part.find_all(nodes.TemplateData))
        self.generic_visit(node, *args, **kwargs)
        call = _call("counted", [nodes.Const(data)], node.lineno)
        body.insert(0, nodes.ExprStmt(call, lineno=node.lineno))
        return node

    visit_For = visit_Macro = visit_CallBlock = visit_Block = visit_Template = _counted

    def visit_Concat(self, node: nodes.Concat) -> nodes.Node:
        self.generic_visit(node)
        return _call("joined", node.nodes, node.lineno)

    def _grouped(self, node: nodes.Node) -> nodes.Node:
        self.generic_visit(node)
        return node if getattr(node, "ctx", "load") != "load" else _call("grouped", [node], node.lineno)

    visit_List = visit_Tuple = visit_Dict = _grouped

    def visit_ScopedEvalContextModifier(self, node: nodes.ScopedEvalContextModifier) -> nodes.Node:
        raise TemplateSyntaxError(
            "texts are always escaped: 'autoescape' can't be set", node.lineno, self.name, self.filename
        )


def _call(method: str, args: list[Any], line: int) -> nodes.Call:
    target = nodes.EnvironmentAttribute(method, lineno=line)
    return nodes.Call(target, args, [], None, None, lineno=line)
