"""Pages made by other machines: what a worker there needs, and how it comes to it.

A worker sees the publication and the memory of the build under the same paths (a shared disk). Told which publication,
which memory and which pages, it gives back the pages' bytes: `pages_there` is a plain function of these. It reads the
publication itself, once for a build; findings, pictures and drawings it finds in the memory or makes as any build would.
What it would make of other files, or with another tool, is never taken: it then refuses, and the pages are made here.
"""

import datetime as dt
import logging
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

from sitegen import build as building
from sitegen.disk.alike import files_seen, tool_made_of
from sitegen.disk.digests import FileDigests, tool_digest
from sitegen.disk.memory import Memory, Pieces
from sitegen.disk.output import is_address
from sitegen.disk.workers import Elsewhere
from sitegen.pages.plan import Page
from sitegen.pages.traced import Trace, traced
from sitegen.pages_made import make_chunk, remembered, theme_of
from sitegen.photos_made import make_pictures, make_wetted
from sitegen.problems import Problems
from sitegen.records.embargo import as_of

MADE_OF = tool_made_of()  # what is loaded, whatever lies on the disk when a worker that runs for weeks is asked
_ADDRESS = re.compile(r"(tcp://|tls://)?[^\s/]+:\d{1,5}")
WAIT = 10.0  # s for the scheduler to answer, and for a first worker to be there
Wanted = Sequence[tuple[Page, str]]
Made = list[tuple[str, bytes, frozenset[Any], tuple[Any, ...]]]


class NoCluster(Exception):
    """There is no cluster to work with; the text says why."""


class Differs(Exception):
    """A worker would not make what is wanted; the text says why."""


class Order(NamedTuple):
    """All that a worker is told of a build: where things lie, the day, and what tool and which files it is about."""

    folder: str
    memory: str
    day: dt.date
    tool: str  # what it is made of, the same for each of its copies
    kept_as: str  # the name under which the build's own copy keeps things in the memory
    files: str


@contextmanager
def cluster(address: str, folder: Path, memory: Path, day: dt.date) -> Iterator[Elsewhere]:
    """The workers of a running cluster, for one build. Raises NoCluster."""
    try:
        import distributed
    except ImportError as fault:
        raise NoCluster(f"the package 'distributed' is missing ({fault}); it comes with sitegen[cluster]") from None
    _hush()
    order = Order(
        str(folder.resolve()), str(memory.resolve()), day, MADE_OF, tool_digest(), files_seen(folder.resolve())
    )
    client = _client(distributed, address)
    try:
        yield Elsewhere(
            client.get_executor(pure=False), partial(pages_there, order), lambda: _has_workers(client), is_sound
        )
    finally:
        client.close(timeout=WAIT)


def _hush() -> None:
    """What the library logs of lost connections is for those who run the cluster; whoever builds is told what came of it."""
    for name in ("distributed", "distributed.client"):
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def _client(distributed: Any, address: str) -> Any:
    if not _ADDRESS.fullmatch(address):
        raise NoCluster(f"expected the address of a scheduler, such as tcp://10.0.0.5:8786, found '{address}'")
    try:
        client = distributed.Client(address, timeout=WAIT, set_as_default=False)
    except OSError as fault:
        raise NoCluster(f"no scheduler answers at '{address}' ({fault})") from None
    try:
        client.wait_for_workers(1, timeout=WAIT)
    except TimeoutError:
        client.close(timeout=WAIT)
        raise NoCluster(f"the scheduler at '{address}' has no workers") from None
    return client


def _has_workers(client: Any) -> bool:
    try:
        return client.status == "running" and bool(client.nthreads(callback_timeout=WAIT))
    except Exception:  # whatever a client says whose scheduler is gone, or doesn't answer
        return False


def is_sound(wanted: Wanted, made: object) -> bool:
    """Whether what a worker gave back can be what was wanted: as many pages, each with bytes and an address within the site."""
    if not isinstance(made, list) or len(made) != len(wanted):
        return False
    return all(isinstance(one, tuple) and len(one) == 4 and _is_page(*one[:2]) for one in made)


def _is_page(path: object, data: object) -> bool:
    return isinstance(path, str) and isinstance(data, bytes) and is_address(path)


def pages_there(order: Order, wanted: Wanted) -> Made:
    """Some pages of a build elsewhere: path, bytes, what each was made from, what is wrong with it. Raises Differs."""
    with _ONE_AT_A_TIME:
        return _maker(order)(wanted)


_ONE_AT_A_TIME = (
    Lock()
)  # what a page was made from is noted as it is made: two at a time in one process would mix it up
_ready: tuple[Order, Callable[[Wanted], Made]] | None = None


def _maker(order: Order) -> Callable[[Wanted], Made]:
    """What makes pages of this order, kept for its next pieces; that of the one before is dropped."""
    global _ready
    if _ready is None or _ready[0] != order:
        _ready = None
        _ready = (order, _made_ready(order))
    return _ready[1]


def _made_ready(order: Order) -> Callable[[Wanted], Made]:
    if not order.tool == MADE_OF == tool_made_of():
        raise Differs(
            "a worker has another release of the tool, of a library or of Python, or was started before it came"
        )
    folder, memory, problems, trace = Path(order.folder), Memory(Path(order.memory)), Problems(), Trace()
    keep = Pieces(memory, order.kept_as, FileDigests(folder).sure, alone=False)
    publication = building.read(folder, problems, keep=keep)
    if publication is None or problems.has_errors:
        raise Differs("a worker can't read the publication")
    publication = as_of(publication, order.day)
    pictures, _ = make_pictures(folder, publication, memory, problems, lambda *_: None)
    site = building.make_site(
        folder, publication, pictures, problems, draw=remembered(memory, trace, order.kept_as), keep=keep
    )
    if site is None or problems.has_errors:
        raise Differs("a worker can't read the publication")
    wetted, _ = make_wetted(folder, publication, memory, problems)
    compiled = keep.table("templates")
    themes = {tag: theme_of(folder, edition, compiled) for tag, edition in site.editions.items()}
    if order.files != files_seen(folder):  # looked at last: what was read is then at least as new as what is wanted
        raise Differs("a worker sees other files of the publication, or they were changed meanwhile")
    return partial(make_chunk, themes, traced(replace(site, wetted=wetted), trace), trace)
