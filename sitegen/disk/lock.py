"""One build of a site at a time: the second waits, and says so."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def alone(target: str, waiting: Callable[[], None]) -> Iterator[None]:
    """Hold the site `target` for one build; `waiting` is called once if another holds it.

    The system lets go of the lock when its process ends, however that happens, so none can be left behind.
    Where the system or the disk has no such locks, builds run as if alone: each publishes a whole site, the last one stays.
    """
    try:
        import fcntl

        os.makedirs(f"{target}.memory", exist_ok=True)
        handle = os.open(f"{target}.memory/lock", os.O_RDWR | os.O_CREAT, 0o666)
    except (ImportError, OSError):
        yield
        return
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            waiting()
            fcntl.flock(handle, fcntl.LOCK_EX)
        except OSError:
            pass
        yield
    finally:
        os.close(handle)
