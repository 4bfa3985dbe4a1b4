"""Work spread over processes, of this machine or of others. The result is the same whatever their number."""

import gc
import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

P = TypeVar("P")
R = TypeVar("R")
WORTH = 150  # pages: below it a second process costs more than it saves
CHUNK = 32
AHEAD = 64  # pieces on their way at a time: enough to keep many workers busy, few enough to hold in memory
PATIENCE = 10.0  # s until it is asked whether anybody is still at work
_work: Callable[[Any], Any] | None = None


class Elsewhere:
    """Processes that share no memory with this one, behind any executor; a lost one costs time, never a page.

    What they don't bring is made here: nobody is left, a worker has another tool or sees other files, a fault on the way.
    A fault of the work itself comes up again here, as if there were no others.
    """

    def __init__(self, executor: Executor, task: Callable[[Any], Any], is_anybody_there: Callable[[], bool]) -> None:
        """`task` is called there with a piece, so it has to be one that can be sent: a function of a module, or a partial of one."""
        self._executor, self._task, self._is_anybody_there = executor, task, is_anybody_there
        self.reasons: list[str] = []  # why pieces were made here, one for each
        self._lost = ""  # why nothing is sent any more

    def made(self, work: Callable[[P], R], pieces: Sequence[P]) -> Iterator[R]:
        """What comes back for each piece, in order; `work` makes here what doesn't."""
        ahead: deque[Future[R] | None] = deque()
        sent = 0
        try:
            for piece in pieces:
                while sent < len(pieces) and len(ahead) < AHEAD:
                    ahead.append(self._send(pieces[sent]))
                    sent += 1
                future = ahead.popleft()
                reason = self._wait(future)
                if reason:
                    self.reasons.append(reason)
                yield work(piece) if future is None or reason else future.result()
        finally:
            for left in ahead:
                if left is not None:
                    left.cancel()

    def _send(self, piece: Any) -> "Future[Any] | None":
        try:
            return None if self._lost else self._executor.submit(self._task, piece)
        except Exception as fault:  # whatever an executor says that has lost its connection
            self._lost = _said(fault)
            return None

    def _wait(self, future: "Future[Any] | None") -> str:
        """Wait for a piece; gives why it has to be made here, if so."""
        while future is not None and (future.done() or not self._lost):
            try:
                future.result(PATIENCE)
            except Exception as fault:
                if future.done():
                    return _said(fault)
                if not self._is_anybody_there():
                    self._lost = "no worker is left"
            else:
                return ""
        return self._lost


def _said(fault: Exception) -> str:
    return "the connection was lost" if isinstance(fault, CancelledError) else str(fault) or type(fault).__name__


def workers_for(pages: int, asked: int | Elsewhere | None) -> int | Elsewhere:
    """How many processes to use: as asked, else two where there is enough to do and more than one processor."""
    if isinstance(asked, Elsewhere):
        return asked
    if asked is not None:
        return max(1, asked)
    try:
        processors = len(os.sched_getaffinity(0))
    except AttributeError:  # not on this system
        processors = os.cpu_count() or 1
    return min(2, processors) if pages > WORTH and "fork" in multiprocessing.get_all_start_methods() else 1


def spread(work: Callable[[P], R], pieces: Sequence[P], workers: int | Elsewhere) -> Iterator[R]:
    """What `work` makes of each piece, in order. Processes are forked now, so `work` may hold anything; results are pickled."""
    if isinstance(workers, Elsewhere):
        yield from workers.made(work, pieces)
        return
    if workers < 2 or len(pieces) < 2:
        yield from map(work, pieces)
        return
    with _forked(work, workers) as executor:
        yield from executor.map(_do, pieces)


def chunks(items: Sequence[P]) -> list[Sequence[P]]:
    """Neighbours together: pages of one round share charts; and a task costs 70 µs, of a chunk of pages 2 µs each."""
    return [items[start : start + CHUNK] for start in range(0, len(items), CHUNK)]


@contextmanager
def _forked(work: Callable[[Any], Any], workers: int) -> Iterator[Executor]:
    global _work
    _work = work
    gc.collect()
    gc.freeze()  # what is there now is left alone by the children's collections, and so stays shared memory
    try:
        with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("fork")) as executor:
            yield executor
    finally:
        _work = None
        gc.unfreeze()


def _do(piece: Any) -> Any:
    assert _work is not None
    return _work(piece)
