"""Values as bytes for the store, and back. Reading them can't run anything.

Records are written by the standard library's pickle, whose reader would call whatever the bytes name. This reader
knows a closed set of names: the frozen records, tuples and enumerations of this package, and some plain values of
the standard library. Anything else raises Unreadable.
"""

import datetime as dt
import io
import pickle
from collections import OrderedDict
from dataclasses import is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from importlib import import_module
from typing import Any

from markupsafe import Markup

PROTOCOL = 5
_PLAIN: dict[tuple[str, str], Any] = {
    (kind.__module__, kind.__qualname__): kind
    for kind in (dt.date, dt.datetime, dt.time, dt.timedelta, Decimal, Fraction, Markup, OrderedDict, set, frozenset)
}
_PLAIN["decimal", "Decimal"] = Decimal
_OWN = "sitegen."
_BODIES = {("sitegen.text.markdown_pieces", "Body"), ("sitegen.text.markdown_pieces", "_naming")}


class Unreadable(Exception):
    """Bytes that aren't a value of this release, or that name something which isn't plain data."""


class _Reader(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        plain = _PLAIN.get((module, name))
        if plain is not None:
            return plain
        if module.startswith(_OWN) and not name.startswith("__"):
            found: Any = import_module(module)
            for part in name.split("."):
                found = vars(found)[part]
            if _is_record(found) or (module, name) in _BODIES:
                return found
        raise Unreadable(f"{module}.{name} is no plain record")


def _is_record(kind: object) -> bool:
    if not isinstance(kind, type):
        return False
    return is_dataclass(kind) or issubclass(kind, Enum) or (issubclass(kind, tuple) and hasattr(kind, "_fields"))


def dump(value: object) -> bytes:
    """A value as bytes.

    Raises Unreadable for a value that couldn't be read back: a fault of the program, found when it is written.
    """
    try:
        return pickle.dumps(value, PROTOCOL)
    except (pickle.PicklingError, AttributeError, TypeError) as fault:
        raise Unreadable(str(fault)) from fault


def load(data: bytes) -> Any:
    """The value that `dump` wrote. Raises Unreadable for anything else."""
    try:
        return _Reader(io.BytesIO(data)).load()
    except Unreadable:
        raise
    except Exception as fault:  # damaged bytes fail in any way that Python can
        raise Unreadable(str(fault)) from fault
