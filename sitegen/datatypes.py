"""The standard library's dataclasses, whose methods are written when they are first called.

The standard decorator writes and compiles seven methods for each frozen class. With some 280 of them that is half of
the time that the tool takes to start, though one build calls few of them; and it restores a class with slots from
a pickle by a loop over its fields, which is most of the time of a build that finds nearly all as it was. Here a
frozen class costs a tenth to make and a third to restore, and behaves the same: `fields`, `replace`, `is_dataclass`, equality, hash,
printing, `FrozenInstanceError`, copies and pickles. Whatever isn't frozen, or is ordered, is the standard one.
"""

import dataclasses as standard
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, slots=False, kw_only=False, eq=True, order=False):
        """As `dataclasses.dataclass`; class and options mean the same."""
        if not frozen or order:
            return standard.dataclass(cls, frozen=frozen, slots=slots, kw_only=kw_only, eq=eq, order=order)
        return (lambda plain: _frozen(plain, slots, kw_only, eq)) if cls is None else _frozen(cls, slots, kw_only, eq)


Writer = Callable[[type, tuple["standard.Field[Any]", ...]], tuple[str, dict[str, Any]]]


def _frozen(plain: type, slots: bool, kw_only: bool, eq: bool) -> type:
    own = frozenset(vars(plain))
    made: type = standard.dataclass(plain, init=False, repr=False, eq=False, slots=slots, kw_only=kw_only)
    writers: dict[str, Writer] = {"__init__": _init, "__repr__": _repr}
    if eq:
        writers |= {"__eq__": _eq, "__hash__": _hash}
    if slots:
        writers |= {"__getstate__": _getstate, "__setstate__": _setstate}
    for name, write in writers.items():
        if name not in own:
            setattr(made, name, _first(made, name, write))
    for refusing in (_refuse_to_set, _refuse_to_delete):
        setattr(made, refusing.__name__, refusing)
    return made


def __setattr__(self: object, name: str, value: object) -> None:
    raise standard.FrozenInstanceError(f"cannot assign to field {name!r}")


def __delattr__(self: object, name: str) -> None:
    raise standard.FrozenInstanceError(f"cannot delete field {name!r}")


_refuse_to_set, _refuse_to_delete = __setattr__, __delattr__
del __setattr__, __delattr__


def _first(cls: type, name: str, write: Writer) -> Callable[..., Any]:
    """Stands in for a method until its first call."""

    def first(self: object, /, *values: object, **named: object) -> Any:
        source, known = write(cls, standard.fields(cls))
        exec(compile(source, f"<{cls.__qualname__}>", "exec"), known)
        method = known[name]
        method.__qualname__ = f"{cls.__qualname__}.{name}"
        setattr(cls, name, method)
        return method(self, *values, **named)

    return first


def _setters(cls: type, fields: tuple["standard.Field[Any]", ...]) -> dict[str, Any]:
    """What puts a value into a field, past the refusal to set it."""
    return {f"_set_{field.name}": _setter(cls, field.name) for field in fields}


def _setter(cls: type, name: str) -> Callable[[object, object], None]:
    slot: Any = getattr(cls, name, None)
    if hasattr(slot, "__set__"):
        setter: Callable[[object, object], None] = slot.__set__  # the slot's own: half the time of object.__setattr__
        return setter
    return lambda self, value: object.__setattr__(self, name, value)


def _init(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    known = {**_setters(cls, fields), "_missing": standard.MISSING}
    asked: dict[bool, list[str]] = {False: [], True: []}
    lines = []
    for field in fields:
        name = field.name
        value = name
        if field.default_factory is not standard.MISSING:
            known[f"_make_{name}"] = field.default_factory
            value = f"_make_{name}() if {name} is _missing else {name}" if field.init else f"_make_{name}()"
        elif field.default is not standard.MISSING:
            known[f"_default_{name}"] = field.default
            value = name if field.init else f"_default_{name}"
        if field.init:
            default = f"=_default_{name}" if f"_default_{name}" in known else ""
            asked[bool(field.kw_only)].append(name + ("=_missing" if f"_make_{name}" in known else default))
        lines.append(f"    _set_{name}(self, {value})")
    if hasattr(cls, "__post_init__"):
        lines.append("    self.__post_init__()")
    signature = ", ".join(["self", *asked[False], *(["*", *asked[True]] if asked[True] else [])])
    return "\n".join([f"def __init__({signature}):", *(lines or ["    pass"])]), known


def _values(fields: tuple["standard.Field[Any]", ...], of: str = "self") -> str:
    return "(" + "".join(f"{of}.{field.name}, " for field in fields) + ")"


def _repr(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    shown = ", ".join(f"{field.name}={{self.{field.name}!r}}" for field in fields if field.repr)
    return f'def __repr__(self):\n    return f"{{self.__class__.__qualname__}}({shown})"', {}


def _eq(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    compared = tuple(field for field in fields if field.compare)
    return (
        "def __eq__(self, other):\n    if other.__class__ is not self.__class__:\n        return NotImplemented\n"
        f"    return {_values(compared)} == {_values(compared, 'other')}"
    ), {}


def _hash(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    hashed = tuple(field for field in fields if (field.compare if field.hash is None else field.hash))
    return f"def __hash__(self):\n    return hash({_values(hashed)})", {}


def _getstate(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    return f"def __getstate__(self):\n    return {_values(fields)}", {}


def _setstate(cls: type, fields: tuple["standard.Field[Any]", ...]) -> tuple[str, dict[str, Any]]:
    names = "".join(f"{field.name}, " for field in fields)
    sets = "".join(f"    _set_{field.name}(self, {field.name})\n" for field in fields)
    return f"def __setstate__(self, state):\n    ({names}) = state\n{sets}", _setters(cls, fields)
