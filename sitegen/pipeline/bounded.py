"""Pages by templates that a publication brings along: made in a process whose time and memory the system bounds.

The sandbox counts the work that it sees a template do; what a single call takes, it can't see. So such templates are
read, compiled and filled in a process that was forked for them: it is handed finished views, gives back finished text,
and can be ended at any instant. Pages of the stock theme are made right here, as are all where the system can't fork.
"""

import json
import os
import signal
from contextlib import suppress
from multiprocessing.connection import Connection, Pipe
from pathlib import Path
from typing import NoReturn

from sitegen.disk.lock import end_with_parent
from sitegen.pages.theme.sandbox import Guarded
from sitegen.pages.theme.theme import TEMPLATES, Theme, ThemeError, View, render
from sitegen.pipeline import codec

MOST_SECONDS = 5.0  # of processor time for one page, its templates compiled: some fifty times what a long one takes
LAST_SECONDS = 2 * MOST_SECONDS  # then a call that no exception reached is ended with its process
MOST_MEMORY = 512 * 1024 * 1024  # bytes beyond what is in use when the process begins
TOO_LONG = f"this page takes more than {MOST_SECONDS:.0f} s to put together: look for a loop or a call that makes much of little"
BROKEN_OFF = "this page can't be put together: the process that filled its template broke off"
_FINE, _FAULT = b"+", b"-"


def bounded_render(theme: Theme, view: View) -> str:
    """As `theme.render`, within MOST_MEMORY and LAST_SECONDS where the publication has templates of its own.

    Raises ThemeError for a template at fault, MemoryError where the system ended the process.
    """
    if not isinstance(theme.environment, Guarded) or not hasattr(os, "fork"):
        return render(theme, view)
    found = _fillers.get(theme)
    if found is None or found.owner != os.getpid():  # a forked worker has processes of its own
        if found is not None:
            found.end()
        found = _fillers[theme] = _Filler(theme)
    return found.render(view)


def end_processes() -> None:
    """End the processes that were begun here."""
    while _fillers:
        _fillers.popitem()[1].end()


class _Filler:
    """Fills the templates of one theme in a process that begins with the first page, and again after one that ended it."""

    def __init__(self, theme: Theme) -> None:
        self.owner = os.getpid()
        self._theme = theme
        self._begun: tuple[int, Connection] | None = None
        self._refused: dict[str, ThemeError] = {}

    def render(self, view: View) -> str:
        """The HTML of a view. A template that took too long for one page isn't tried for others, each as long."""
        name = TEMPLATES[type(view)]
        if name in self._refused:
            raise self._refused[name]
        try:
            return self._asked(name, codec.dump(view))
        except ThemeError as fault:
            if fault.message == TOO_LONG:
                self._refused[name] = fault
            raise

    def _asked(self, name: str, view: bytes) -> str:
        connection = self._connection()
        try:
            connection.send_bytes(view)
            answer = connection.recv_bytes()
        except (EOFError, OSError):
            raise self._fault_of_end(name, self.end()) from None
        except BaseException:  # Ctrl-C: nobody waits for what it is at
            self.end()
            raise
        if answer.startswith(_FAULT):
            raise _fault_read(answer[1:])
        return answer[1:].decode("utf-8", "surrogatepass")

    def _connection(self) -> Connection:
        if self._begun is None:
            ours, theirs = Pipe()
            pid = os.fork()
            if pid == 0:
                ours.close()
                _serve(self._theme, theirs, self.owner)
            theirs.close()
            self._begun = pid, ours
        return self._begun[1]

    def _fault_of_end(self, name: str, status: int) -> Exception:
        """What an ended process means: too long or a crash is the template's fault, SIGKILL the system's want of memory."""
        by = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
        if by == signal.SIGKILL:
            return MemoryError()
        own = self._theme.folders[0]
        path = own / name if (own / name).is_file() else own
        return ThemeError(name, 0, TOO_LONG if by == signal.SIGPROF else BROKEN_OFF, path)

    def end(self) -> int:
        """End the process, if this one began it; its exit status as waitpid(2) gives it."""
        if self._begun is None:
            return 0
        (pid, connection), self._begun = self._begun, None
        connection.close()
        if self.owner != os.getpid():
            return 0
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)  # where it has ended by itself, its status stays as it is
        return os.waitpid(pid, 0)[1]


_fillers: dict[Theme, _Filler] = {}


def _serve(theme: Theme, connection: Connection, parent: int) -> NoReturn:
    """In the forked process: fill templates until the other end is closed. Nothing of the parent's is tidied up here."""
    try:
        end_with_parent(parent)
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the build hears it
        signal.signal(signal.SIGVTALRM, _stop)
        signal.signal(signal.SIGPROF, signal.SIG_DFL)  # ends the process, whatever it is at
        _bound_memory()
        while True:
            connection.send_bytes(_answer(theme, codec.load(connection.recv_bytes())))
    except BaseException:  # what the parent sees is that the connection is closed
        os._exit(1)


def _answer(theme: Theme, view: View) -> bytes:
    signal.setitimer(signal.ITIMER_VIRTUAL, MOST_SECONDS, 1)  # again, where the exception was taken for another
    signal.setitimer(signal.ITIMER_PROF, LAST_SECONDS)
    try:
        return _FINE + render(theme, view).encode("utf-8", "surrogatepass")
    except ThemeError as fault:
        told = [fault.template, fault.line, fault.message, str(fault.path or ""), fault.column]
        return _FAULT + json.dumps(told).encode()
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.setitimer(signal.ITIMER_PROF, 0)


def _fault_read(told: bytes) -> ThemeError:
    template, line, message, path, column = json.loads(told)
    return ThemeError(template, line, message, Path(path) if path else None, column)


class _TakesTooLong(Exception):
    """Raised in a template, at the line that it has come to."""


def _stop(*_: object) -> NoReturn:
    raise _TakesTooLong(TOO_LONG)


def _bound_memory() -> None:
    """Let this process have MOST_MEMORY more than it has now. Where the system doesn't say how much that is, time alone is bounded."""
    import resource

    try:
        with open("/proc/self/statm", "rb") as file:  # proc(5): the first number is the size in pages
            most = int(file.read().split()[0]) * resource.getpagesize() + MOST_MEMORY
    except OSError:
        return
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))
