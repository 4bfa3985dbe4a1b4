"""Values made by the workers of a running cluster: the same functions behind the executor of dask's `distributed`.

A worker sees the publication under the same path (a shared disk). It opens a session of its own and gives back what it
made with the digests of all inputs; what was made of other files, or by another release of the tool, is never taken.
"""

import datetime as dt
import logging
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from sitegen.pipeline.build import opened
from sitegen.pipeline.release import release_by_content
from sitegen.pipeline.workers import MadeThere, Refused, Workers, make_there

if TYPE_CHECKING:
    from concurrent.futures import Executor

RELEASE = release_by_content()  # of what is loaded, whatever lies on the disk when a worker that runs for weeks is asked
_ADDRESS = re.compile(r"(tcp://|tls://)?[^\s/]+:\d{1,5}")
WAIT = 10.0  # s for the scheduler to answer, and for a first worker to be there
PATIENCE = 120.0  # s for a piece of work: a worker or scheduler that stands still isn't waited for without end


class NoCluster(Exception):
    """There is no cluster to work with; the text says why."""


class ClusterWorkers(Workers):
    """The workers of a cluster, while its client is connected."""

    def __init__(self, client: Any, folder: Path, day: dt.date) -> None:
        super().__init__(max(2, len(client.nthreads())))
        self._client, self._folder, self._day = client, str(folder.resolve()), day

    @contextmanager
    def at_work(self) -> "Iterator[Executor | None]":
        yield self._client.get_executor(pure=False)

    def task(self, names: Sequence[str]) -> tuple[Callable[..., MadeThere], tuple[object, ...]]:
        return made_on_cluster, (self._folder, self._day, RELEASE, tuple(names))

    def patience(self) -> float | None:
        return PATIENCE if not self.lost else 0.0 if self.lost[-1] == "TimeoutError" else PATIENCE


@contextmanager
def cluster(address: str, folder: Path, day: dt.date) -> Iterator[ClusterWorkers]:
    """The workers of a running cluster, for one build. Raises NoCluster."""
    try:
        import distributed
    except ImportError as fault:
        raise NoCluster(f"the package 'distributed' is missing ({fault}); it comes with sitegen[cluster]") from None
    _hush()
    client = _client(distributed, address)
    try:
        yield ClusterWorkers(client, folder, day)
    finally:
        client.close(timeout=WAIT)


def _hush() -> None:
    """What the library logs of lost connections is for those who run the cluster; whoever builds hears what came of it."""
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


_one_at_a_time = Lock()  # a session notes what is looked up: two pieces at a time in one process would mix that up


def made_on_cluster(folder: str, day: dt.date, release: bytes, names: Sequence[str]) -> MadeThere:
    """Make some values on a worker. Raises Refused where the worker has another release of the tool."""
    if not release == RELEASE == release_by_content():
        raise Refused("a worker has another release of the tool, of a library or of Python, or was started before it came")
    with _one_at_a_time, ExitStack() as stack:
        stack.enter_context(opened(Path(folder), day=day))
        return make_there(names)
