"""Values made by several processes: of this machine, or of a cluster behind any executor. The result is the same.

A process is given names of values and gives back all that it made on the way, each with what it looked up. One that is
lost costs time, never a value: what it was to make is made here.
"""

import gc
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from sitegen.pipeline.demand import Made, Session, session

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

AHEAD = 4  # chunks on their way for each process: enough to keep it busy, few enough to hold in memory


ENDED = "a process was ended by the system, perhaps for want of memory"


class MadeThere(NamedTuple):
    """What came of one piece of work, and the digests of the inputs that it was made from."""

    made: list[Made]
    inputs: dict[str, bytes]


class Refused(Exception):
    """A process would not make what is wanted, or made it of something else; the text says why."""


class Workers:
    """Where values are made besides this process. Made new for each build."""

    def __init__(self, count: int | None = None) -> None:
        """`count` processes of this machine; by default as many as it has processors, two at most."""
        self.count = max(1, count) if count is not None else _processors()
        self.lost: list[str] = []  # why pieces of work were done here after all

    @contextmanager
    def at_work(self) -> "Iterator[Executor | None]":
        """An executor while there is work; None where this process does best alone."""
        if self.count < 2 or not hasattr(os, "fork"):
            yield None
            return
        import multiprocessing
        from concurrent.futures import ProcessPoolExecutor

        session().store.commit()  # so that they can read it
        gc.collect()
        gc.freeze()  # what is here now stays memory that is shared
        executor = ProcessPoolExecutor(self.count, multiprocessing.get_context("fork"), _begin)
        try:
            yield executor
        except BaseException:  # Ctrl-C too: nobody waits for what they are at
            for process in dict(executor._processes or {}).values():
                process.kill()
            raise
        finally:
            executor.shutdown(wait=True, cancel_futures=True)
            gc.unfreeze()

    def task(self, names: Sequence[str]) -> "tuple[Callable[..., MadeThere], tuple[object, ...]]":
        """What the executor is to call for some values, and with what."""
        return make_there, (tuple(names),)

    def patience(self) -> float | None:
        """For how many seconds an answer is waited for; None for ever."""
        return None


def _processors() -> int:
    try:
        found = len(os.sched_getaffinity(0))
    except AttributeError:  # not on this system
        found = os.cpu_count() or 1
    return min(2, found)


def _begin() -> None:
    """In a forked process: the store's connection stays its parent's, and Ctrl-C is heard there."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    open_session = session()
    _inherited.append(open_session.store)  # never closed here: that would let go of the parent's locks
    open_session.store = open_session.store.for_reading()


_inherited: list[object] = []


def make_there(names: Sequence[str]) -> MadeThere:
    """Make some values in the session of this process."""
    found = session()
    wanted = frozenset(names)
    made = found.made_here(names, wanted.__contains__)
    return MadeThere(made, found.input_digests(made))


class Cost(NamedTuple):
    """What making values of a kind takes: from how many on a second process saves time, and how many make a piece of work."""

    worth: int
    chunk: int


TEXTS, PAGES, ROUNDS, PICTURES = Cost(48, 16), Cost(48, 16), Cost(3, 1), Cost(2, 1)


def make_all(names: Sequence[str], workers: Workers, cost: Cost) -> Iterator[tuple[str, bytes | None]]:
    """Bring values up to date, by several processes where that is worth it; gives each in order, with its bytes where it
    was made now.
    """
    here = session()
    todo = [name for name in names if not here.is_current(name)] if len(names) >= cost.worth else []
    if len(todo) < cost.worth:
        yield from ((name, _made_now(here, name)) for name in names)
        return
    made_elsewhere = set(todo)
    with workers.at_work() as executor:
        brought = _brought(todo, executor, workers, cost.chunk) if executor is not None else iter(())
        ready: dict[str, bytes | None] = {}
        for name in names:
            while executor is not None and name in made_elsewhere and name not in ready:
                chunk = next(brought, None)
                if chunk is None:
                    break
                ready.update(chunk)
            data = ready.pop(name, None)
            yield name, data if data is not None else _made_now(here, name)


def _made_now(here: Session, name: str) -> bytes | None:
    """The bytes of a raw value that had to be made; None where it was up to date."""
    if here.is_current(name):
        return None
    found = here.look_up(name)
    return found if isinstance(found, bytes) else None


def _brought(
    todo: Sequence[str], executor: "Executor", workers: Workers, size: int
) -> Iterator[dict[str, bytes | None]]:
    """The chunks as they come back, in order; one that doesn't is left to be made here."""
    chunks = [todo[start : start + size] for start in range(0, len(todo), size)]
    ahead: deque[Future[MadeThere] | None] = deque()
    sent = 0
    for chunk in chunks:
        while sent < len(chunks) and len(ahead) < AHEAD * workers.count:
            ahead.append(_sent(executor, workers, chunks[sent]))
            sent += 1
        yield _taken(chunk, ahead.popleft(), workers)


def _sent(executor: "Executor", workers: Workers, names: Sequence[str]) -> "Future[MadeThere] | None":
    try:
        task, arguments = workers.task(names)
        return executor.submit(task, *arguments)
    except Exception as fault:  # whatever an executor says that has lost its processes
        workers.lost.append(_said(fault))
        return None


def _taken(names: Sequence[str], future: "Future[MadeThere] | None", workers: Workers) -> dict[str, bytes | None]:
    if future is None:
        return dict.fromkeys(names)
    here = session()
    try:
        found = future.result(workers.patience())
        for name, digest in found.inputs.items():
            if here.digest(name) != digest:
                raise Refused("other files of the publication were seen there, or they were changed meanwhile")
        data = {made.node: here.take_over(made) for made in found.made}
    except Exception as fault:  # a fault of the work itself comes up again where it is done here
        future.cancel()
        workers.lost.append(_said(fault))
        return dict.fromkeys(names)
    return {name: data.get(name) for name in names}


def _said(fault: BaseException) -> str:
    if type(fault).__name__ == "BrokenProcessPool":
        return ENDED
    return str(fault) or type(fault).__name__
