"""Work spread over processes. The result is the same whatever their number."""

import gc
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

P = TypeVar("P")
R = TypeVar("R")
WORTH = 150  # pages: below it a second process costs more than it saves
CHUNK = 32
_work: Callable[[Any], Any] | None = None


def workers_for(pages: int, asked: int | None) -> int:
    """How many processes to use: as asked, else two where there is enough to do and more than one processor."""
    if asked is not None:
        return max(1, asked)
    try:
        processors = len(os.sched_getaffinity(0))
    except AttributeError:  # not on this system
        processors = os.cpu_count() or 1
    return min(2, processors) if pages > WORTH and "fork" in multiprocessing.get_all_start_methods() else 1


def spread(work: Callable[[P], R], pieces: Sequence[P], workers: int) -> Iterator[R]:
    """What `work` makes of each piece, in order. Processes are forked now, so `work` may hold anything; results are pickled."""
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
