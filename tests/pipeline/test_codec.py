"""Values as bytes and back: everything that a publication is made of, and nothing that could run."""

import datetime as dt
import os
import pickle
import re
from collections import Counter
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import pytest
from rich_publication import DAY, write_rich

from sitegen.pipeline import build, codec
from sitegen.pipeline.codec import Unreadable
from sitegen.place import Place
from sitegen.problems import Problem, Severity


def test_every_record_comes_back_equal(tmp_path: Path) -> None:
    """Each value that reading and checking a publication of every kind of file derives is equal after a round trip, and
    of the same kind; so are the plain values of the standard library."""
    folder = write_rich(tmp_path / "pub")
    kinds = Counter[str]()
    with build.opened(folder, day=dt.date.fromisoformat(DAY)) as made:
        assert not build.check(folder).has_errors
        assert build._is_sound(made, lambda stage, done, of: None, build.Workers(1))
        for id, (value, _) in made._values.items():
            again = codec.load(codec.dump(value))
            assert type(again) is type(value) and _shown(again) == _shown(value), made._names[id]
            with suppress(LookupError):  # texts without their bodies can't be held against each other
                assert again == value, made._names[id]
            kinds[type(value).__name__] += 1
    assert {"Product", "Rig", "Round", "Settings", "Plan", "tuple", "dict"} <= set(kinds), kinds
    for value in (Decimal("268.0"), dt.date(2026, 10, 4), {"a": frozenset({1})}, Severity.ERROR, b"x", None, 0.1, ()):
        assert codec.load(codec.dump(value)) == value


def _shown(value: object) -> str:
    """All that a value holds, but for where its parts lie in memory and the order of a set."""
    return "".join(sorted(re.sub(r" at 0x[0-9a-f]+", "", repr(value))))


class Calls:
    """Pickled, it has the reader call what it was made with."""

    def __init__(self, call: object, *words: object) -> None:
        self.call, self.words = call, words

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return self.call, self.words


def _named(module: str, name: str, *words: str) -> bytes:
    """Protocol 0 text that calls a name with words, as anybody can type it: for names that pickle would not write."""
    pushed = "".join(f"V{word}\n" for word in words)
    return f"c{module}\n{name}\n({pushed}tR.".encode()


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("os", "system"), ("posix", "system"), ("subprocess", "Popen"), ("builtins", "eval"), ("builtins", "exec"),
        ("builtins", "open"), ("builtins", "getattr"), ("builtins", "__import__"), ("importlib", "import_module"),
        ("pathlib", "Path"), ("functools", "partial"), ("operator", "attrgetter"), ("types", "FunctionType"),
        ("pickle", "loads"), ("collections", "namedtuple"), ("runpy", "run_path"), ("yaml", "unsafe_load"),
        ("sitegen.cli", "main"), ("sitegen.__main__", "main"), ("sitegen.pipeline.codec", "load"),
        ("sitegen.pipeline.codec", "pickle.loads"), ("sitegen.pipeline.codec", "io.open"),
        ("sitegen.disk.store", "os.system"), ("sitegen.disk.store", "remove_store"), ("sitegen.disk.store", "Path"),
        ("sitegen.disk.store", "Store"), ("sitegen.problems", "Problem.__init__"), ("sitegen.problems", "__builtins__"),
        ("sitegen.nothing", "Here"), ("sitegen", "__dict__"),
    ],
)  # fmt: skip
def test_what_could_run_is_refused(module: str, name: str, tmp_path: Path) -> None:
    """Functions, modules, classes with a life of their own, by any way to their names: Unreadable, and nothing was done."""
    mark = tmp_path / "mark"
    with pytest.raises(Unreadable):
        codec.load(_named(module, name, f"touch {mark}"))
    assert not mark.exists()


def test_nothing_executes(tmp_path: Path) -> None:
    """Bytes whose ordinary reader runs a command, plain and hidden within a record, run nothing here."""
    mark = tmp_path / "mark"
    call = Calls(os.system, f"touch {mark}")
    for value in (call, [call], {"a": (call,)}, Problem(Severity.ERROR, "x", Place("a", 1, 1), call, "")):  # type: ignore[arg-type]
        with pytest.raises(Unreadable):
            codec.load(pickle.dumps(value))
    assert not mark.exists()
    pickle.loads(pickle.dumps(call))
    assert mark.exists(), "the bytes were harmless, so nothing was proved"


def test_damaged_bytes_are_unreadable() -> None:
    """Cut anywhere, or with a bit of any byte flipped, they give a value or Unreadable, and raise nothing else."""
    whole = codec.dump((Problem(Severity.CAUTION, "x", Place("a", 1, 1), "he said", "hint"), Decimal("1.0")))
    for at in range(len(whole)):
        with pytest.raises(Unreadable):
            codec.load(whole[:at])
        with suppress(Unreadable):
            codec.load(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])


def test_what_could_not_be_read_back_is_not_written() -> None:
    """A function, an open file: a fault of the program that is found when it writes."""
    with pytest.raises(Unreadable):
        codec.dump(lambda: None)
    with Path("/dev/null").open() as file, pytest.raises(Unreadable):
        codec.dump(file)
