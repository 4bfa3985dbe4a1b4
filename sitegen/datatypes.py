"""The standard library's dataclasses, whose methods are written when they are first called.

The standard decorator writes and compiles seven methods for each frozen class. With some 280 of them that is half of
the time that the tool takes to start, though one build calls few of them; and it restores a class with slots from
a pickle by a loop over its fields, which is most of the time of a build that finds nearly all as it was. Here a
frozen class costs a twentieth to make and a third to restore, and behaves the same: `fields`, `replace`,
`is_dataclass`, equality, hash, order, printing, `FrozenInstanceError`, copies and pickles. Whatever isn't frozen is the standard one.
"""

import dataclasses as standard
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, slots=False, kw_only=False, eq=True, order=False):
        """As `dataclasses.dataclass`; class and options mean the same."""
        if not frozen or (order and not eq):
            return standard.dataclass(cls, frozen=frozen, slots=slots, kw_only=kw_only, eq=eq, order=order)
        make = partial(_frozen, slots=slots, kw_only=kw_only, eq=eq, order=order)
        return make if cls is None else make(cls)


Fields = tuple["standard.Field[Any]", ...]
Writer = Callable[[type, Fields], tuple[str, dict[str, Any]]]
Setter = Callable[[object, object], None]
_FIELDS = "__late_fields__"
_ORDERS = {"__lt__": "<", "__le__": "<=", "__gt__": ">", "__ge__": ">="}
MOST_BY_HAND = 8  # calls


def _frozen(plain: type, slots: bool, kw_only: bool, eq: bool, order: bool) -> type:
    """The class made anew, with slots, and with methods that are written late."""
    own, names, made = vars(plain), tuple(plain.__annotations__), list[type]()
    body = {name: value for name, value in own.items() if name not in ("__dict__", "__weakref__")}
    for name in names:
        value = body.get(name)
        if slots or (isinstance(value, standard.Field) and value.default is standard.MISSING):
            body.pop(name, None)
        elif isinstance(value, standard.Field):
            body[name] = value.default
    writers: dict[str, Writer] = {"__init__": _init, "__repr__": _repr}
    if eq:
        writers |= {"__eq__": partial(_comparison, "__eq__", "=="), "__hash__": _hash}
    if order:
        writers |= {name: partial(_comparison, name, sign) for name, sign in _ORDERS.items()}
    if slots:
        writers |= {"__getstate__": _getstate, "__setstate__": _setstate}
        taken = {name for base in plain.__mro__[1:] for name in vars(base).get("__slots__", ())}
        body["__slots__"] = tuple(name for name in names if name not in taken)
    body |= {name: _first(made, name, write) for name, write in writers.items() if name not in own}
    body |= {
        name: _Known(plain, kw_only, made)
        for name in ("__dataclass_fields__", "__dataclass_params__", "__match_args__")
    }
    body |= {"__setattr__": _refuse_to_set, "__delattr__": _refuse_to_delete, "__replace__": _replaced}
    body[_FIELDS] = partial(_fields, plain, kw_only)
    made.append(type(plain)(plain.__name__, plain.__bases__, body))
    return made[0]


def _fields(plain: type, kw_only: bool) -> Fields:
    """The fields of a class and those of its bases: what its methods are written from, without asking the standard library."""
    found: dict[str, standard.Field[Any]] = {}
    for base in plain.__mro__[:0:-1]:
        if _FIELDS in vars(base):
            found |= {field.name: field for field in getattr(base, _FIELDS)()}
    given = vars(plain).get("__dataclass_fields__", vars(plain))  # it takes the fields out of the class
    for name in plain.__annotations__:
        value = given.get(name, standard.MISSING)
        field: standard.Field[Any] = value if isinstance(value, standard.Field) else standard.field(default=value)
        field.name, field.kw_only = name, kw_only if field.kw_only is standard.MISSING else field.kw_only
        found[name] = field
    return tuple(found.values())


class _Known:
    """What the standard library knows of a class, asked of it when somebody looks: its fields and the like."""

    def __init__(self, plain: type, kw_only: bool, made: list[type]) -> None:
        self._plain, self._kw_only, self._made = plain, kw_only, made

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    def __get__(self, one: object, of: type) -> Any:
        plain, made = self._plain, self._made[0]
        if "__dataclass_fields__" not in vars(plain):
            plain.__doc__ = plain.__doc__ or "-"  # it would write a signature there
            standard.dataclass(plain, init=False, repr=False, eq=False, kw_only=self._kw_only)
        found = vars(plain)[self._name]
        setattr(made, self._name, found)
        return found


def _replaced(self: Any, /, **changes: object) -> Any:
    """For `copy.replace` (from Python 3.13 on)."""
    return standard.replace(self, **changes)


def __setattr__(self: object, name: str, value: object) -> None:
    raise standard.FrozenInstanceError(f"cannot assign to field {name!r}")


def __delattr__(self: object, name: str) -> None:
    raise standard.FrozenInstanceError(f"cannot delete field {name!r}")


_refuse_to_set, _refuse_to_delete = __setattr__, __delattr__
del __setattr__, __delattr__


def _first(made: list[type], name: str, write: Writer) -> Callable[..., Any]:
    """Stands in for a method until it is written; the class is in `made` by then.

    Half of the classes are made or restored a few times in a build: that much is done by hand, field by field,
    which takes a tenth of the time of writing and compiling the method.
    """
    by_hand = _BY_HAND.get(name)
    left, known = MOST_BY_HAND if by_hand else 0, list[Any]()

    def first(self: object, /, *values: object, **named: object) -> Any:
        nonlocal left, known
        cls, left = made[0], left - 1
        if by_hand is not None and left >= 0:
            if not known:
                fields: Fields = getattr(cls, _FIELDS)()
                known = [fields, tuple(_setters(cls, fields).values())]
            if by_hand(known[0], known[1], self, values, named):
                return None
        source, names = write(cls, getattr(cls, _FIELDS)())
        exec(compile(source, f"<{cls.__qualname__}>", "exec"), names)
        method = names[name]
        method.__qualname__ = f"{cls.__qualname__}.{name}"
        setattr(cls, name, method)
        return method(self, *values, **named)

    return first


def _init_by_hand(
    fields: Fields, setters: Sequence[Setter], self: Any, values: Sequence[object], named: Mapping[str, object]
) -> bool:
    """Set all fields; False where what is given doesn't fit, which the written method then says as it should."""
    ordered = [field.name for field in fields if field.init and not field.kw_only]
    given = dict(zip(ordered, values, strict=False))
    if len(values) > len(ordered) or given.keys() & named.keys():
        return False
    given |= named
    found = []
    for field in fields:
        if field.init and field.name in given:
            found.append(given.pop(field.name))
        elif field.default is not standard.MISSING:
            found.append(field.default)
        elif field.default_factory is not standard.MISSING:
            found.append(field.default_factory())
        else:
            return False
    if given:
        return False
    for setter, value in zip(setters, found, strict=True):
        setter(self, value)
    if hasattr(self, "__post_init__"):
        self.__post_init__()
    return True


def _setstate_by_hand(
    fields: Fields, setters: Sequence[Setter], self: object, values: Sequence[object], named: Mapping[str, object]
) -> bool:
    (state,) = values
    if not isinstance(state, tuple) or len(state) != len(fields):
        return False
    for setter, value in zip(setters, state, strict=True):
        setter(self, value)
    return True


_BY_HAND: Mapping[str, Callable[..., bool]] = {"__init__": _init_by_hand, "__setstate__": _setstate_by_hand}


def _setters(cls: type, fields: Fields) -> dict[str, Any]:
    """What puts a value into a field, past the refusal to set it."""
    return {f"_set_{field.name}": _setter(cls, field.name) for field in fields}


def _setter(cls: type, name: str) -> Setter:
    slot: Any = getattr(cls, name, None)
    if hasattr(slot, "__set__"):
        setter: Setter = slot.__set__  # the slot's own: half the time of object.__setattr__
        return setter
    return lambda self, value: object.__setattr__(self, name, value)


def _init(cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
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


def _values(fields: Fields, of: str = "self") -> str:
    return "(" + "".join(f"{of}.{field.name}, " for field in fields) + ")"


def _repr(cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
    shown = ", ".join(f"{field.name}={{self.{field.name}!r}}" for field in fields if field.repr)
    return f'def __repr__(self):\n    return f"{{self.__class__.__qualname__}}({shown})"', {}


def _comparison(name: str, sign: str, cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
    compared = tuple(field for field in fields if field.compare)
    return (
        f"def {name}(self, other):\n    if other.__class__ is not self.__class__:\n        return NotImplemented\n"
        f"    return {_values(compared)} {sign} {_values(compared, 'other')}"
    ), {}


def _hash(cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
    hashed = tuple(field for field in fields if (field.compare if field.hash is None else field.hash))
    return f"def __hash__(self):\n    return hash({_values(hashed)})", {}


def _getstate(cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
    return f"def __getstate__(self):\n    return {_values(fields)}", {}


def _setstate(cls: type, fields: Fields) -> tuple[str, dict[str, Any]]:
    names = "".join(f"{field.name}, " for field in fields)
    sets = "".join(f"    _set_{field.name}(self, {field.name})\n" for field in fields)
    return f"def __setstate__(self, state):\n    ({names}) = state\n{sets}", _setters(cls, fields)
