"""Work spread over processes, of this machine or of others. The result is the same whatever their number."""

import gc
import os
import pickle
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from threading import Timer
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:  # each is loaded where there is much to do: a build after one edit does without
    from concurrent.futures import Executor, Future
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

P = TypeVar("P")
R = TypeVar("R")
WORTH = 150  # pages: below it a second process costs more than it saves
CHUNK = 32
AHEAD = 64  # pieces on their way at a time: enough to keep many workers busy, few enough to hold in memory
PATIENCE = 10.0  # s until it is asked whether anybody is still at work
FROZEN = (
    300.0  # s without a piece until those at work are given up: a chunk of pages takes a second, a first one a minute
)
_lost = 0


class Elsewhere:
    """Processes that share no memory with this one, behind any executor; a lost one costs time, never a page.

    What they don't bring is made here: nobody is left, a worker has another tool or sees other files, a fault on the way.
    A fault of the work itself comes up again here, as if there were no others.
    """

    def __init__(
        self, executor: "Executor", task: Callable[[Any], Any], is_anybody_there: Callable[[], bool],
        is_sound: Callable[[Any, Any], bool] = lambda piece, found: True,
    ) -> None:  # fmt: skip
        """`task` is called there with a piece, so it has to be one that can be sent: a function of a module, or a partial of one.

        What comes back for a piece is taken where `is_sound` says so of the two, and else made here.
        """
        self._is_sound = is_sound
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
                if not reason and future is not None and not self._is_sound(piece, future.result()):
                    reason = "a worker gave back something else than was asked for"
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
        end = time.monotonic() + FROZEN
        while future is not None and (future.done() or not self._lost):
            try:
                future.result(PATIENCE)
            except Exception as fault:
                if future.done():
                    return _said(fault)
                if not self._is_anybody_there():
                    self._lost = "no worker is left"
                elif time.monotonic() > end:
                    self._lost = f"no worker brought anything for {FROZEN:.0f} s"
            else:
                return ""
        return self._lost


def _said(fault: Exception) -> str:
    from concurrent.futures import CancelledError

    return "the connection was lost" if isinstance(fault, CancelledError) else str(fault) or type(fault).__name__


def workers_for(pages: int, asked: int | Elsewhere | None) -> int | Elsewhere:
    """How many processes to use: as asked, else two where there is enough to do and more than one processor."""
    if isinstance(asked, Elsewhere) or asked is not None:
        return asked if isinstance(asked, Elsewhere) else max(1, asked)
    return processes(None) if pages > WORTH else 1


def processes(asked: int | Elsewhere | None) -> int:
    """How many processes of this machine may be used: as asked, else two where there is more than one processor."""
    if isinstance(asked, int):
        return max(1, asked)
    try:
        processors = len(os.sched_getaffinity(0))
    except AttributeError:  # not on this system
        processors = os.cpu_count() or 1
    return min(2, processors) if _can_fork() else 1


def _can_fork() -> bool:
    return hasattr(os, "fork")


def spread(work: Callable[[P], R], pieces: Sequence[P], workers: int | Elsewhere) -> Iterator[R]:
    """What `work` makes of each piece, in order. Processes are forked now, so `work` may hold anything; results are pickled."""
    if isinstance(workers, Elsewhere):
        yield from workers.made(work, pieces)
        return
    if workers < 2 or len(pieces) < 2 or not _can_fork():
        yield from map(work, pieces)
        return
    with _shared_memory(), closing(_Forked(work, pieces, min(workers, len(pieces)))) as forked:
        yield from forked.made()


def lost_workers() -> int:
    """How many processes of this machine were lost since this was asked last, most likely for want of memory; each cost only time."""
    global _lost
    lost, _lost = _lost, 0
    return lost


def chunks(items: Sequence[P]) -> list[Sequence[P]]:
    """Neighbours together: pages of one round share charts; and a task costs 70 µs, of a chunk of pages 2 µs each."""
    return [items[start : start + CHUNK] for start in range(0, len(items), CHUNK)]


@contextmanager
def _shared_memory() -> Iterator[None]:
    """What is there now is left alone by the collections of processes that are forked, and so stays shared memory."""
    gc.collect()
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


class _Forked:
    """Processes forked for one run of pieces, each with a pipe of its own and one piece in hand.

    One that is lost takes nothing with it: what it had in hand is made here, and so is what failed there, so that a
    fault of the work itself comes up as if there were no others. No thread, lock or queue is shared, so any of them
    can be ended at any instant.
    """

    def __init__(self, work: Callable[[Any], Any], pieces: Sequence[Any], workers: int) -> None:
        """Start up to `workers` of them: as many as the system allows."""
        self._work, self._pieces, self._sent = work, pieces, 0
        self._in_hand: dict[Connection, int] = {}  # of each process at work, the number of its piece
        self._brought: dict[int, bytes] = {}  # what came before its turn; empty where it has to be made here
        self._started: list[tuple[BaseProcess, Connection]] = []
        try:
            while len(self._started) < workers and self._start():
                pass
        except BaseException:  # Ctrl-C
            self.close()
            raise

    def _start(self) -> bool:
        import multiprocessing

        context = multiprocessing.get_context("fork")
        ours: Any  # a class of the system's
        try:
            ours, theirs = context.Pipe()
        except OSError:
            return False
        not_theirs = [*(connection for _, connection in self._started), ours]
        process = context.Process(target=_serve, args=(theirs, not_theirs, self._work, self._pieces), daemon=True)
        try:
            process.start()
        except OSError:
            ours.close()
            return False
        finally:
            theirs.close()  # so that the end of the process is the end of the pipe
        self._started.append((process, ours))
        return True

    def made(self) -> Iterator[Any]:
        """What is made of each piece, in order."""
        from multiprocessing.connection import wait

        for _, connection in self._started:
            self._hand_out(connection)
        for number, piece in enumerate(self._pieces):
            while number in self._in_hand.values():
                found = wait(list(self._in_hand), FROZEN)
                for ready in found:
                    self._take(ready)
                if not found:
                    self._give_up()
            brought = self._brought.pop(number, b"")
            yield pickle.loads(brought)[0] if brought else self._work(piece)

    def _hand_out(self, connection: Any) -> None:
        if self._sent < len(self._pieces):
            try:
                connection.send(self._sent)
            except OSError:
                _count_lost()
                return
            self._in_hand[connection] = self._sent
            self._sent += 1

    def _take(self, connection: Any) -> None:
        number = self._in_hand.pop(connection)
        try:
            with self._ended_in_time(connection):
                self._brought[number] = connection.recv_bytes()
        except (EOFError, OSError):  # lost, perhaps in the middle of a sentence
            _count_lost()
        else:
            self._hand_out(connection)

    @contextmanager
    def _ended_in_time(self, connection: Any) -> Iterator[None]:
        """A process that is stopped in the middle of what it brings is ended, which ends what it brings."""
        process = next(process for process, pipe in self._started if pipe is connection)
        timer = Timer(FROZEN, process.kill)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()

    def _give_up(self) -> None:
        """Nobody brought anything for long: whoever has a piece in hand is stopped or stuck, and is ended."""
        for process, connection in self._started:
            if connection in self._in_hand:
                process.kill()
                _count_lost()
        self._in_hand.clear()

    def close(self) -> None:
        """End them at once, whatever they are at: nobody waits for it any more."""
        for process, _ in self._started:
            process.kill()
        for process, pipe in self._started:
            process.join()
            pipe.close()


def _count_lost() -> None:
    global _lost
    _lost += 1


def _serve(
    connection: "Connection", not_theirs: Sequence["Connection"], work: Callable[[Any], Any], pieces: Sequence[Any]
) -> None:
    """In a forked process: make the pieces whose numbers are sent, until there is nobody to send any."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to all processes of a terminal; whoever builds hears it
    for other in not_theirs:
        other.close()
    try:
        while True:
            connection.send_bytes(_made_of(work, pieces[connection.recv()]))
    except (EOFError, OSError):
        return


def _made_of(work: Callable[[Any], Any], piece: Any) -> bytes:
    """Nothing where it failed, whatever it was: it is then made, and told, where the others wait for it."""
    try:
        return pickle.dumps((work(piece),), 5)
    except Exception:
        return b""
