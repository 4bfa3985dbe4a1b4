"""Work behind an executor comes back whole and in order, whatever becomes of those who do it."""

import multiprocessing
import os
import signal
import struct
import threading
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

import pytest

from sitegen.disk import workers
from sitegen.disk.workers import AHEAD, Elsewhere, lost_workers, spread, workers_for

PIECES = list(range(3 * AHEAD))


def there(piece: int) -> tuple[str, int]:
    """What others make of a piece; the test can tell it from what is made here."""
    return "there", piece


def here(piece: int) -> tuple[str, int]:
    return "here", piece


class Breaking(Executor):
    """Takes pieces; from the one numbered `last` on it does `what` it does when its connection is gone."""

    def __init__(self, last: int, what: Callable[[], "Future[Any]"]) -> None:
        self.last, self.what, self.waiting, self.most = last, what, 0, 0

    def submit(self, task: Callable[..., Any], /, *given: Any, **_: Any) -> "Future[Any]":
        if given[0] >= self.last:
            return self.what()
        future: Future[Any] = Future()
        future.set_result(task(*given))
        return future


def refuse() -> "Future[Any]":
    raise RuntimeError("connection lost")


def fail() -> "Future[Any]":
    future: Future[Any] = Future()
    future.set_exception(ValueError("another release"))
    return future


def cancel() -> "Future[Any]":
    future: Future[Any] = Future()
    future.cancel()
    return future


def time_out() -> "Future[Any]":
    future: Future[Any] = Future()
    future.set_exception(TimeoutError())
    return future


def test_what_others_make_comes_in_order() -> None:
    """With any executor every piece is made there, and the results stand in the order of the pieces."""
    with ThreadPoolExecutor(3) as executor:
        others = Elsewhere(executor, there, lambda: True)
        assert list(spread(here, PIECES, workers_for(5, others))) == [("there", piece) for piece in PIECES]
    assert others.reasons == []


@pytest.mark.parametrize("broken", [refuse, fail, cancel, time_out])
def test_what_others_do_not_bring_is_made_here(broken: Callable[[], "Future[Any]"]) -> None:
    """An executor that breaks after ten pieces, in any way: no piece is lost, doubled or out of place, and the reason is told."""
    others = Elsewhere(Breaking(10, broken), there, lambda: True)
    made = list(spread(here, PIECES, others))
    assert made == [("there" if piece < 10 else "here", piece) for piece in PIECES]
    assert others.reasons and set(others.reasons) <= {
        "connection lost",
        "another release",
        "TimeoutError",
        "the connection was lost",
    }


def test_nobody_left_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that nobody works on are waited for while somebody is there, and then made here."""
    monkeypatch.setattr(workers, "PATIENCE", 0.01)
    asked = iter([True, True, False])
    others = Elsewhere(Breaking(5, Future), there, lambda: next(asked))
    assert list(spread(here, PIECES, others)) == [("there" if piece < 5 else "here", piece) for piece in PIECES]
    assert others.reasons[0] == "no worker is left" and next(asked, None) is None


def test_few_pieces_are_on_their_way_at_a_time() -> None:
    """However much there is to do, no more results than a bound wait in memory; what isn't wanted any more is called off."""
    sent: list[Future[Any]] = []

    def hold() -> "Future[Any]":
        sent.append(Future())
        if len(sent) <= 2:
            sent[-1].set_result(("there", len(sent) - 1))
        return sent[-1]

    made = spread(here, PIECES, Elsewhere(Breaking(0, hold), there, lambda: True))
    assert (next(made), next(made)) == (("there", 0), ("there", 1))
    assert len(sent) == AHEAD + 1
    made.close()  # type: ignore[attr-defined]
    assert [future.cancelled() for future in sent] == [False, False] + [True] * (AHEAD - 1)


def test_a_fault_of_the_work_itself_comes_up() -> None:
    """What fails there and here alike is no matter of the cluster: it is raised as if there were none."""

    def wrong(piece: int) -> tuple[str, int]:
        raise ZeroDivisionError(piece)

    with pytest.raises(ZeroDivisionError):
        list(spread(wrong, PIECES, Elsewhere(Breaking(0, fail), wrong, lambda: True)))


MAIN = os.getpid()
LONG = b"x" * 300_000  # more than a pipe holds


def by_process(piece: int) -> tuple[int, bytes, bool]:
    """What a forked process makes of a piece, and whether it was one."""
    return piece, LONG, os.getpid() != MAIN


@pytest.mark.parametrize("workers", [2, 3, 300])
def test_processes_bring_everything_in_order(workers: int) -> None:
    """Any number of them, with results too long for a pipe: each piece once, in its place, made there; none is left over."""
    assert list(spread(by_process, PIECES, workers)) == [(piece, LONG, True) for piece in PIECES]
    assert multiprocessing.active_children() == [] and lost_workers() == 0


@pytest.mark.parametrize("fatal", [{7}, {0, 1}, set(PIECES)], ids=["one", "both at once", "whoever comes"])
def test_a_killed_process_takes_no_piece_with_it(fatal: set[int]) -> None:
    """Killed (as the system does for want of memory) with a piece in hand: it is made here, and so is the rest if nobody is left."""

    def work(piece: int) -> tuple[int, bool]:
        there = os.getpid() != MAIN
        if there and piece in fatal:
            os.kill(os.getpid(), signal.SIGKILL)
        return piece, there

    made = list(spread(work, PIECES, 2))
    assert [piece for piece, _ in made] == PIECES
    assert not any(there for piece, there in made if piece in fatal)
    lost = min(2, len(fatal))
    assert lost_workers() == lost and any(there for _, there in made) == (lost < 2)


def test_a_process_killed_from_outside_in_the_middle_of_a_sentence() -> None:
    """Half of a result has come when the process is killed: nothing of it is used, the piece is made here."""

    def work(piece: int) -> bytes:
        return bytes([piece % 251]) * (50_000_000 if piece == 1 else 10)  # some 50 MB are on their way for a while

    made = spread(work, PIECES[:8], 2)
    found = [next(made)]
    time.sleep(0.3)  # the other one now waits in the middle of writing
    for process in multiprocessing.active_children():
        assert process.pid is not None
        os.kill(process.pid, signal.SIGKILL)
    found += list(made)
    assert found == [work(piece) for piece in PIECES[:8]] and lost_workers() == 2


def test_what_fails_in_a_process_is_told_as_if_there_were_none() -> None:
    """A fault of the work comes up here at its piece, those before it are brought; one of the process alone is made up for."""

    def work(piece: int) -> int:
        if piece == 5 or (piece == 3 and os.getpid() != MAIN):
            raise MemoryError(piece)
        return piece

    found: list[int] = []
    with pytest.raises(MemoryError, match="5"):
        found.extend(spread(work, PIECES[:3], 2))
        for piece in spread(work, PIECES, 2):
            found.append(piece)
    assert found == [0, 1, 2, 0, 1, 2, 3, 4] and multiprocessing.active_children() == []


def test_what_cannot_be_sent_is_made_here() -> None:
    """A result that can't be pickled is no fault of the work."""
    made = list(spread(lambda piece: lambda: piece, PIECES[:5], 2))
    assert [one() for one in made] == PIECES[:5]


@pytest.mark.parametrize("allowed", [0, 1])
def test_a_system_that_allows_no_more_processes(allowed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer processes than asked for, or none, cost only time (EAGAIN of fork(2))."""
    start, started = BaseProcess.start, []

    def limited(process: BaseProcess) -> None:
        if len(started) == allowed:
            raise BlockingIOError(11, "Resource temporarily unavailable")
        started.append(process)
        start(process)

    monkeypatch.setattr(BaseProcess, "start", limited)
    made = list(spread(by_process, PIECES, 4))
    assert made == [(piece, LONG, allowed > 0) for piece in PIECES] and lost_workers() == 0


def test_whoever_needs_no_more_waits_for_nobody() -> None:
    """Left in the middle, the processes are ended at once, whatever they are at, and waited for."""

    def work(piece: int) -> int:
        if piece:
            time.sleep(600)
        return piece

    threads = threading.active_count()  # other tests of this process may have some
    made, before = spread(work, PIECES, 3), time.monotonic()
    assert next(made) == 0 and len(multiprocessing.active_children()) == 3
    made.close()  # type: ignore[attr-defined]
    assert multiprocessing.active_children() == [] and time.monotonic() - before < 30
    assert threading.active_count() == threads


def test_a_cluster_that_is_frozen_is_not_waited_for_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its workers are there and bring nothing: after a bounded time all that is left is made here, and the reason told."""
    monkeypatch.setattr(workers, "PATIENCE", 0.01)
    monkeypatch.setattr(workers, "FROZEN", 0.1)
    others = Elsewhere(Breaking(5, Future), there, lambda: True)
    start = time.monotonic()
    assert list(spread(here, PIECES, others)) == [("there" if piece < 5 else "here", piece) for piece in PIECES]
    assert others.reasons[0] == "no worker brought anything for 0 s" and time.monotonic() - start < 20


def test_what_a_worker_should_not_give_back_is_made_here() -> None:
    """Each piece is looked at before it is taken."""
    with ThreadPoolExecutor(3) as executor:
        others = Elsewhere(executor, there, lambda: True, lambda piece, found: bool(piece % 2) and found[1] == piece)
        assert list(spread(here, PIECES, others)) == [("there" if piece % 2 else "here", piece) for piece in PIECES]
    assert set(others.reasons) == {"a worker gave back something else than was asked for"}


def stopped(piece: int) -> tuple[int, bytes, bool]:
    """Stops for ever in another process; in this one it makes the piece."""
    if os.getpid() != MAIN:
        os.kill(os.getpid(), signal.SIGSTOP)
    return by_process(piece)


def half_brought(piece: int) -> tuple[int, bytes, bool]:
    """In another process the second of what it makes is begun to be sent, and then it stops for ever."""
    if os.getpid() != MAIN:

        def send_half(self: Any, data: bytes) -> None:
            os.write(self.fileno(), struct.pack("!i", len(data)) + data[:1000])
            os.kill(os.getpid(), signal.SIGSTOP)

        Connection.send_bytes = send_half  # type: ignore[method-assign, assignment]  # in the forked process alone
    return by_process(piece)


@pytest.mark.parametrize("work", [stopped, half_brought])
def test_a_process_that_is_stopped_is_ended_in_time(
    work: Callable[[int], tuple[int, bytes, bool]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before it brings anything or in the middle of it: what it had in hand is made here, whole and in order."""
    monkeypatch.setattr(workers, "FROZEN", 0.5)
    workers.lost_workers()
    found = list(spread(work, range(4), 2))
    assert [(piece, data == LONG) for piece, data, _ in found] == [(piece, True) for piece in range(4)]
    assert sum(not forked for *_, forked in found) >= 2
    assert workers.lost_workers() == 2
