"""Values made by several processes: the same values, whatever becomes of a process."""

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path

import pytest

from sitegen.disk.store import Store, digest_of
from sitegen.pipeline import demand, workers
from sitegen.pipeline.demand import Made, Session, derived_bytes, node, session
from sitegen.pipeline.workers import ENDED, Cost, MadeThere, Refused, Workers, make_all

COST, COUNT = Cost(2, 2), 9
HERE = os.getpid()
_behaviour: list[Callable[[str], None]] = []


@derived_bytes
def worked(name: str) -> bytes:
    session().note(node("leaf", name))
    _behaviour[-1](name)
    return name.encode() * 3


WORKED = demand.RULES.pop("worked")
NAMES = [node("worked", str(number)) for number in range(COUNT)]
EXPECTED = [(name, str(number).encode() * 3) for number, name in enumerate(NAMES)]


@pytest.fixture(params=["with a store", "without"])
def here(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Session]:
    """An open session, with a store on the disk and without."""
    monkeypatch.setitem(demand.RULES, "worked", WORKED)
    _behaviour.append(lambda name: None)
    store = Store(tmp_path / "cache" / "store" if request.param == "with a store" else None, b"release")
    made = Session(store)
    made.observe({"leaf": lambda name: digest_of(name.encode())})
    with made.in_use():
        yield made
    store.close()
    _behaviour.clear()


def in_a_worker(do: Callable[[str], None]) -> None:
    """Have a value's making do something in another process than this one."""
    _behaviour[:] = [lambda name: do(name) if os.getpid() != HERE else None]


def test_each_value_comes_in_order(here: Session) -> None:
    """With its bytes, from other processes; all are known here afterwards, and a second time nothing is made."""
    _behaviour[:] = [lambda name: pytest.fail("it was made here") if os.getpid() == HERE else None]
    mine = Workers(2)
    assert list(make_all(NAMES, mine, COST)) == EXPECTED
    assert mine.lost == []
    assert list(make_all(NAMES, mine, COST)) == [(name, None) for name in NAMES]
    assert [here.look_up(name) for name in NAMES] == [data for _, data in EXPECTED] or here.store.path is None


@pytest.mark.parametrize("count", [1, 2])
def test_few_values_are_made_here(count: int, here: Session) -> None:
    """A process is started only where it saves time; what is up to date doesn't count."""
    _behaviour[:] = [lambda name: pytest.fail("a process was started") if os.getpid() != HERE else None]
    assert list(make_all(NAMES[:3], Workers(count), Cost(4, 2))) == EXPECTED[:3]
    assert list(make_all(NAMES[:5], Workers(count), Cost(4, 2))) == [
        *((name, None) for name in NAMES[:3]),
        *EXPECTED[3:5],
    ]


def test_a_lost_process_costs_only_time(here: Session) -> None:
    """One is killed by the system at its work: what it had in hand is made here, and why is told."""
    in_a_worker(lambda name: os.kill(os.getpid(), signal.SIGKILL) if name == "4" else None)
    mine = Workers(2)
    assert list(make_all(NAMES, mine, COST)) == EXPECTED
    assert mine.lost and set(mine.lost) <= {ENDED, *mine.lost[1:]} and ENDED in mine.lost


def test_a_fault_there_alone_costs_only_time(here: Session) -> None:
    """What goes wrong in another process and not in this one is made here; the reason is told."""

    def fail(name: str) -> None:
        raise OSError("no room there")

    in_a_worker(fail)
    mine = Workers(2)
    assert list(make_all(NAMES, mine, COST)) == EXPECTED
    assert mine.lost == ["no room there"] * 5


def test_a_fault_of_the_work_comes_up_here(here: Session) -> None:
    """A fault of the program isn't hidden by having happened elsewhere first."""

    def fail(name: str) -> None:
        if name == "5":
            raise ZeroDivisionError("the work is at fault")

    _behaviour[:] = [fail]
    with pytest.raises(ZeroDivisionError, match="the work is at fault"):
        list(make_all(NAMES, Workers(2), COST))


def test_problems_come_along(here: Session) -> None:
    """What is wrong with a value is reported wherever it was made."""
    from sitegen.place import Place
    from sitegen.problems import Problems

    def find(name: str) -> None:
        problems = Problems()
        problems.error("test", Place(name, 1, 1), "wrong")
        demand.report(problems)

    _behaviour[:] = [find]
    list(make_all(NAMES, Workers(2), COST))
    assert [problem.place.file for problem in here.problems()] == [str(number) for number in range(COUNT)]


class Elsewhere(Workers):
    """Workers whose answers are what a test makes of sound ones."""

    def __init__(self, change: Callable[[MadeThere], object]) -> None:
        super().__init__(2)
        self.change = change

    @contextmanager
    def at_work(self) -> "Iterator[Elsewhere]":  # type: ignore[override]
        yield self

    def submit(self, task: object, names: Sequence[str]) -> "Future[object]":
        """The answer of a session of its own that sees the same leaves."""
        future: Future[object] = Future()
        there = Session(Store(None, b""))
        there.observe({"leaf": lambda name: digest_of(name.encode())})
        with there.in_use():
            future.set_result(self.change(workers.make_there(names)))
        return future


def _other_inputs(found: MadeThere) -> MadeThere:
    return found._replace(inputs=dict.fromkeys(found.inputs, b"other"))


def _replaced(**changes: object) -> Callable[[MadeThere], MadeThere]:
    return lambda found: found._replace(made=[Made(*made)._replace(**changes) for made in found.made])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "change",
    [
        _other_inputs,
        _replaced(data=b"damaged"),
        _replaced(data="text"),
        _replaced(node="nobody"),
        _replaced(node=7),
        _replaced(deps=(node("worked", "unknown"),)),
        lambda found: None,
        lambda found: found._replace(made=None),
        lambda found: found._replace(made=[]),
        lambda found: found._replace(made=["a", "b"]),
    ],
    ids=[
        "other files",
        "damaged",
        "text",
        "a kind nobody knows",
        "no name",
        "unknown lookups",
        "nothing",
        "no list",
        "none",
        "words",
    ],
)
def test_what_comes_back_is_looked_at(change: Callable[[MadeThere], object], here: Session) -> None:
    """Made of other files, damaged, or nothing that was asked for: it isn't taken, whoever gave it back."""
    mine = Elsewhere(change)
    assert list(make_all(NAMES, mine, COST)) == EXPECTED
    assert len(mine.lost) in (0, 5)
    sound = Elsewhere(lambda found: found)
    assert list(make_all(NAMES, sound, COST)) == [(name, None) for name in NAMES]


def test_work_that_is_refused_is_done_here(here: Session) -> None:
    """A worker of another release says so, and its reason is passed on."""

    def refuse(found: MadeThere) -> MadeThere:
        raise Refused("another release")

    mine = Elsewhere(refuse)
    assert list(make_all(NAMES, mine, COST)) == EXPECTED
    assert mine.lost == ["another release"] * 5


def test_two_processes_at_most_by_default() -> None:
    """Whoever wants more says so; nobody can have none."""
    assert 1 <= Workers().count <= 2
    assert (Workers(0).count, Workers(7).count) == (1, 7)
