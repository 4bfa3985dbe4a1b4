"""Frozen classes whose methods are written late behave as the standard library's: it is the reference here."""

import copy
import dataclasses
import pickle
from dataclasses import field
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen import datatypes

OPTIONS = [
    {"frozen": True, "slots": True, "kw_only": True},
    {"frozen": True, "slots": True},
    {"frozen": True},
    {"frozen": True, "slots": True, "eq": False},
    {"frozen": True, "slots": True, "order": True},
    {"slots": True},
]


def both(**options: Any) -> tuple[type, type]:
    """The same class by this package and by the standard library."""
    made = []
    for decorator in (datatypes.dataclass, dataclasses.dataclass):

        class Thing:
            """A thing."""

            name: str
            size: int = 3
            parts: list[int] = field(default_factory=list, hash=False)
            place: str = field(default="x", compare=False, repr=False)
            seen: dict[str, int] = field(default_factory=dict, init=False, compare=False)

            def double(self) -> int:
                return 2 * self.size

        Thing.__qualname__ = "Thing"
        made.append(decorator(**options)(Thing))
    return made[0], made[1]


VALUES = st.fixed_dictionaries(
    {"name": st.text()},
    optional={"size": st.integers(), "parts": st.lists(st.integers(), max_size=3), "place": st.text()},
)


@pytest.mark.parametrize("options", OPTIONS, ids=str)
@given(one=VALUES, other=VALUES)
def test_as_the_standard_library_does(options: dict[str, Any], one: dict[str, Any], other: dict[str, Any]) -> None:
    """Values, printing, equality, hash, replacing and copying are those of `dataclasses.dataclass`."""
    ours, theirs = both(**options)
    a, b, x, y = ours(**one), ours(**other), theirs(**one), theirs(**other)
    assert [getattr(a, f.name) for f in dataclasses.fields(ours)] == [
        getattr(x, f.name) for f in dataclasses.fields(theirs)
    ]
    assert repr(a) == repr(x)
    assert (a == b, a == a, a != b, a == one) == (x == y, x == x, x != y, x == one)
    if options.get("frozen"):
        assert (hash(a) == hash(b)) == (hash(x) == hash(y))
    if options.get("order"):
        assert (a < b, a <= b, a > b, a >= b) == (x < y, x <= y, x > y, x >= y)
        with pytest.raises(TypeError):
            assert a < one
    assert repr(dataclasses.replace(a, name="new")) == repr(dataclasses.replace(x, name="new"))
    assert repr(copy.deepcopy(a)) == repr(copy.copy(x))
    assert a.double() == x.double() and dataclasses.is_dataclass(ours)


@pytest.mark.parametrize("options", OPTIONS, ids=str)
def test_refuses_what_the_standard_library_refuses(options: dict[str, Any]) -> None:
    """Unknown and missing values are a TypeError, and so is a frozen field that is set or deleted."""
    for kind in both(**options):
        for wrong in ({}, {"name": "a", "nmae": "b"}, {"name": "a", "seen": {}}):
            with pytest.raises(TypeError):
                kind(**wrong)
        if options.get("frozen"):
            made = kind(name="a")
            with pytest.raises(dataclasses.FrozenInstanceError):
                made.name = "b"
            with pytest.raises(dataclasses.FrozenInstanceError):
                del made.name


@datatypes.dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A class that a pickle can name."""

    name: str
    place: str = field(compare=False)


@datatypes.dataclass(frozen=True, slots=True, kw_only=True)
class Further(Kept):
    """One that inherits."""

    size: int = 0

    def __post_init__(self) -> None:
        if self.size < 0:
            raise ValueError("below zero")


@given(st.text(), st.text(), st.integers(min_value=0))
def test_pickles_give_all_back(name: str, place: str, size: int) -> None:
    """Also fields that don't count for equality, and those of the class above."""
    for made in (Kept(name=name, place=place), Further(name=name, place=place, size=size)):
        back = pickle.loads(pickle.dumps(made, 5))
        assert type(back) is type(made) and back == made and back.place == place and repr(back) == repr(made)
    assert Kept(name=name, place="") != Further(name=name, place="")


def test_a_class_checks_itself() -> None:
    """`__post_init__` is called, by `replace` too."""
    with pytest.raises(ValueError):
        dataclasses.replace(Further(name="a", place="b"), size=-1)
