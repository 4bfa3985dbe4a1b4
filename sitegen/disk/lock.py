"""One build of a site at a time: the second waits, and says so. Nothing that a build holds or starts outlives it."""

import ctypes
import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sitegen.disk.cache_folder import cache_file

_DIE_WITH_PARENT = 1  # prctl(2), PR_SET_PDEATHSIG
_held: set[int] = set()  # handles whose locks are this process's own
_owner = 0  # the process that they are of
_watching = False  # whether forks are watched
_running = 0  # how many `alone` this process is in
_too_late = False


@contextmanager
def alone(target: str, waiting: Callable[[], None]) -> Iterator[None]:
    """Hold the site `target` for one build; `waiting` is called once if another holds it.

    The system lets go of the lock when its process ends, however that happens, so none can be left behind.
    Where the system or the disk has no such locks, builds run as if alone: each publishes a whole site, the last one stays.
    """
    try:
        handle = _locked(target, waiting)
    except (ImportError, OSError):
        handle = None
    global _running, _too_late
    before = signal.getsignal(signal.SIGINT)
    _running, _too_late = _running + 1, False
    try:
        yield
    finally:
        _running -= 1
        if handle is not None:
            let_go(handle)
        if signal.getsignal(signal.SIGINT) is _unheard:
            signal.signal(signal.SIGINT, before)


def too_late_to_stop() -> None:
    """Called when all is written and only the exchange is to come: a key pressed now would stop nothing any more.

    Ctrl-C isn't heard from here to the end of `alone`.
    """
    global _too_late
    _too_late = _running > 0
    if _too_late and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, _unheard)


def stopped_in_time() -> bool:
    """Whether what is published is still what it was before the last command of this process began to build."""
    return not _too_late


def hold(handle: int) -> bool:
    """Lock an open file or folder until `let_go` or the end of this process; False where another process holds it.

    Raises ImportError or OSError where the system or the disk has no such locks.
    """
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    keep_from_children(handle)
    return True


def keep_from_children(handle: int) -> None:
    """Have processes that this one forks close `handle`: a lock lasts as long as any of them has it open."""
    global _owner, _watching
    _held.add(handle)
    _owner = os.getpid()
    if not _watching:
        os.register_at_fork(before=_block, after_in_parent=_unblock, after_in_child=_in_child)
        _watching = True


def let_go(handle: int) -> None:
    """Close `handle`, and with it its lock."""
    _held.discard(handle)
    os.close(handle)


def _locked(target: str, waiting: Callable[[], None]) -> int:
    """A handle on the locked file of the site, in the user's cache. Whoever removed it meanwhile removed the lock: once more."""
    import fcntl

    path, told = cache_file("lock", target), False
    if path is None:
        raise OSError("no cache of this user's own")
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            if not hold(handle):
                if not told:
                    waiting()
                told = True
                fcntl.flock(handle, fcntl.LOCK_EX)
                keep_from_children(handle)
            if _is_at(handle, path):
                return handle
        except BaseException:
            let_go(handle)
            raise
        let_go(handle)


def _is_at(handle: int, path: str) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def _block() -> None:
    """Hold Ctrl-C up while a process is forked: what it raises there is printed and lost."""
    if _held:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


def _unblock() -> None:
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _in_child() -> None:
    """In a process that a build forked: it holds no site, hears no Ctrl-C (the build does), and ends when the build does."""
    if not _held:
        return
    for handle in _held:
        os.close(handle)
    _held.clear()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _unblock()
    end_with_parent(_owner)


def end_with_parent(parent: int) -> None:
    """Have this process ended as soon as the one that forked it ends, however that happens. Linux only; a wish elsewhere."""
    try:
        ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL, 0, 0, 0)
    except (OSError, AttributeError):
        return
    if os.getppid() != parent:  # it was gone already
        os._exit(1)


def _unheard(*_: object) -> None:
    """Ctrl-C after the last moment in which it could have stopped something."""
