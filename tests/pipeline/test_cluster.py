"""Pages made by a cluster on the loopback: a scheduler and two workers, each a process of its own, as on other machines."""

import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from rich_publication import DAY, write_rich

from bench.publication import write_publication
from sitegen.pipeline.release import LIBRARIES, release_by_content

REPOSITORY = Path(__file__).resolve().parents[2]
HAS_CLUSTER = importlib.util.find_spec("distributed") is not None
needs_cluster = pytest.mark.skipif(
    not HAS_CLUSTER, reason="the package 'distributed' (extra 'cluster') isn't installed"
)
LOOPBACK = "127.0.0.1"
# Small pieces of work, so that a small publication is spread.
SPREAD = """\
import sitegen.pipeline.build as build
from sitegen.pipeline.workers import Cost
build.PAGES = build.TEXTS = build.ROUNDS = build.PICTURES = Cost(2, 4)
"""
DONE = "; the work was done all the same\n"
REVIEWS = 16  # in two languages some 150 pages: five pieces of work


class Cluster:
    """Processes that the test started, and nothing else."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "scheduler.json"
        self.workers: list[subprocess.Popen[bytes]] = []
        self.all: list[subprocess.Popen[bytes]] = []
        self.scheduler = self._start(
            "dask_scheduler", "--host", LOOPBACK, "--port", "0", "--no-dashboard", "--no-jupyter"
        )
        self.address = _until(self._address, "the scheduler did not start")

    def add_worker(self, **environment: str) -> "subprocess.Popen[bytes]":
        """One more worker, which sees the machine as it is with this environment."""
        where = ("--local-directory", str(self.folder), "--host", LOOPBACK, "--no-dashboard")
        worker = self._start("dask_worker", "--nthreads", "1", "--no-nanny", *where, **environment)
        self.workers.append(worker)
        return worker

    def end(self) -> None:
        """End what was started here, by its own handle."""
        for process in self.all:
            process.kill()
            process.wait(30)

    def _start(self, module: str, *options: str, **environment: str) -> "subprocess.Popen[bytes]":
        command = [sys.executable, "-m", f"distributed.cli.{module}", "--scheduler-file", str(self.file), *options]
        environment = {**os.environ, "PYTHONPATH": str(REPOSITORY), "OPENBLAS_NUM_THREADS": "1", **environment}
        with (self.folder / f"{module}-{len(self.all)}.log").open("wb") as log:
            self.all.append(subprocess.Popen(command, cwd=self.folder, env=environment, stdout=log, stderr=log))
        return self.all[-1]

    def _address(self) -> str:
        try:
            return str(json.loads(self.file.read_text())["address"])
        except (OSError, ValueError):
            return ""


def _until(found: Callable[[], Any], otherwise: str, seconds: float = 60) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if result := found():
            return result
        time.sleep(0.05)
    raise AssertionError(otherwise)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """A scheduler on the loopback without workers yet."""
    (tmp_path / "cluster").mkdir()
    started = Cluster(tmp_path / "cluster")
    yield started
    started.end()


def own_cache(to: Path) -> dict[str, str]:
    """The environment of builds into a folder: what is stored of one is nothing to those into another."""
    return {"XDG_CACHE_HOME": f"{to}-cache"}


def start(folder: Path, to: Path, *options: str, **environment: str) -> "subprocess.Popen[str]":
    """A build as its own process."""
    words = ["build", str(folder), "--to", str(to), "--date", DAY, *options]
    command = [sys.executable, "-c", f"{SPREAD}import sitegen.cli\nraise SystemExit(sitegen.cli.main({words}))"]
    return subprocess.Popen(
        command, cwd=REPOSITORY, env={**os.environ, **own_cache(to), **environment},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def made(folder: Path, to: Path, *options: str, **environment: str) -> tuple[dict[str, bytes], str]:
    """Every file of the site, and what was said on the error stream besides how far it is."""
    process = start(folder, to, *options, **environment)
    out, errors = process.communicate(timeout=300)
    assert process.returncode == 0, out + errors
    return tree(to), _said(errors)


def _said(errors: str) -> str:
    return "".join(line for line in errors.splitlines(True) if not line.endswith("…\n"))


@pytest.fixture
def alone(tmp_path: Path) -> dict[str, bytes]:
    """Every file that one process makes of the publication in `pub`."""
    write_publication(tmp_path / "pub", REVIEWS)
    return made(tmp_path / "pub", tmp_path / "alone", "--workers", "1")[0]


def tree(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
def test_a_cluster_makes_the_same_site(cluster: Cluster, tmp_path: Path) -> None:
    """Two workers, every kind of page, photos, own templates, a text that waits: the same files as one process makes; then again from memory."""
    folder = write_rich(tmp_path / "pub")
    alone, _ = made(folder, tmp_path / "alone", "--workers", "1")
    cluster.add_worker(), cluster.add_worker(TZ="Asia/Kathmandu", LC_ALL="C", PYTHONHASHSEED="7")
    assert made(folder, tmp_path / "site", "--cluster", cluster.address) == (alone, "")
    text = folder / "reviews" / "tarn" / "de.md"
    text.write_text(text.read_text("utf-8").replace("## Am Berg", "## Am Hang"), "utf-8")
    changed, _ = made(folder, tmp_path / "alone", "--workers", "1")
    assert made(folder, tmp_path / "site", "--cluster", cluster.address) == (changed, "")
    assert changed != alone


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
def test_a_lost_worker_costs_only_time(cluster: Cluster, alone: dict[str, bytes], tmp_path: Path) -> None:
    """One of two workers is killed while pages are made: the other makes what it had, and every file is as it would have been."""
    lost, _ = cluster.add_worker(), cluster.add_worker()
    process = start(tmp_path / "pub", tmp_path / "site", "--cluster", cluster.address)
    assert process.stderr is not None
    before = ""
    while not before.endswith("pages …\n"):  # said when the first piece has come back
        line = process.stderr.readline()
        assert line, before
        before += line
    lost.send_signal(signal.SIGKILL)
    out, errors = process.communicate(timeout=300)
    assert (process.returncode, _said(before + errors)) == (0, ""), out + errors
    assert lost.wait(30) == -signal.SIGKILL and cluster.workers[1].poll() is None
    assert tree(tmp_path / "site") == alone


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
def test_with_all_workers_lost_the_build_ends_here(cluster: Cluster, alone: dict[str, bytes], tmp_path: Path) -> None:
    """Scheduler and workers are killed while pages are made: the build makes the rest itself, says so, and the site is whole."""
    cluster.add_worker()
    process = start(tmp_path / "pub", tmp_path / "site", "--cluster", cluster.address)
    assert process.stderr is not None
    while not process.stderr.readline().endswith("pages …\n"):
        assert process.poll() is None
    cluster.end()
    out, errors = process.communicate(timeout=300)
    assert process.returncode == 0, out + errors
    assert re.fullmatch(f"([^\n]+{DONE})+", _said(errors))
    assert tree(tmp_path / "site") == alone


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
@pytest.mark.parametrize("who", ["scheduler", "worker"])
def test_a_frozen_cluster_is_not_waited_for_without_end(
    who: str, cluster: Cluster, alone: dict[str, bytes], tmp_path: Path
) -> None:
    """Scheduler or worker are stopped while pages are made, with their connections open: the build makes the rest itself."""
    worker = cluster.add_worker()
    words = [
        "build",
        str(tmp_path / "pub"),
        "--to",
        str(tmp_path / "site"),
        "--date",
        DAY,
        "--cluster",
        cluster.address,
    ]
    code = (
        "import sitegen.cli, sitegen.pipeline.cluster as cluster\ncluster.WAIT, cluster.PATIENCE = 1.0, 3.0\n"
        f"raise SystemExit(sitegen.cli.main({words}))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code], cwd=REPOSITORY, env={**os.environ, **own_cache(tmp_path / "site")},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stderr is not None
    while not process.stderr.readline().endswith("pages …\n"):
        assert process.poll() is None
    (worker if who == "worker" else cluster.scheduler).send_signal(signal.SIGSTOP)
    out, errors = process.communicate(timeout=120)
    assert process.returncode == 0, out + errors
    assert re.fullmatch(f"([^\n]+{DONE})+", _said(errors))
    assert tree(tmp_path / "site") == alone


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
def test_a_worker_with_another_tool_makes_no_page(cluster: Cluster, tmp_path: Path) -> None:
    """A worker whose copy of the tool differs by one byte refuses; the pages are made here, and the reason is told."""
    folder = write_rich(tmp_path / "pub")
    alone, _ = made(folder, tmp_path / "alone", "--workers", "1")
    other = tmp_path / "other"
    for name in ("sitegen", "content", "themes"):
        shutil.copytree(REPOSITORY / name, other / name)
    (other / "sitegen" / "__init__.py").write_text(
        (REPOSITORY / "sitegen" / "__init__.py").read_text("utf-8") + "\n# other\n", "utf-8"
    )
    cluster.add_worker(PYTHONPATH=str(other))
    found, said = made(folder, tmp_path / "site", "--cluster", cluster.address)
    assert found == alone
    assert re.fullmatch(f"a worker has another release of [^\n]+{DONE}", said)


@needs_cluster
@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
@pytest.mark.parametrize(
    ("address", "reason"),
    [
        (f"tcp://{LOOPBACK}:9", f"no scheduler answers at 'tcp://{LOOPBACK}:9'"),
        ("nonsense://x", "expected the address of a scheduler, such as "),
        ("", "has no workers"),
    ],
    ids=["nobody", "nonsense", "no workers"],
)
def test_no_cluster_is_told_plainly(address: str, reason: str, cluster: Cluster, tmp_path: Path) -> None:
    """Where nothing answers or nobody works, the command says so in a line, and nothing is made."""
    command = [
        "build",
        str(write_rich(tmp_path / "pub")),
        "--to",
        str(tmp_path / "site"),
        "--cluster",
        address or cluster.address,
    ]
    code = (
        "import sitegen.cli, sitegen.pipeline.cluster as cluster\ncluster.WAIT = 1.0\n"
        f"raise SystemExit(sitegen.cli.main({command}))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=REPOSITORY, capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1), done.stderr
    assert done.stderr.startswith("sitegen: ") and reason in done.stderr
    assert not (tmp_path / "site").exists()


def test_without_the_package_the_option_says_what_is_missing(tmp_path: Path) -> None:
    """Who hasn't got the extra is told its name, and what to install."""
    (tmp_path / "distributed.py").write_text("raise ImportError('not here')\n")
    process = start(
        write_rich(tmp_path / "pub"), tmp_path / "site", "--cluster", "tcp://127.0.0.1:9", PYTHONPATH=str(tmp_path)
    )
    out, errors = process.communicate(timeout=120)
    assert (process.returncode, out, errors.count("\n")) == (2, "", 1)
    assert "'distributed' is missing" in errors and "sitegen[cluster]" in errors


def test_the_libraries_that_make_a_tool_are_those_it_asks_for() -> None:
    """Whether two copies of the tool are alike is judged by every library that it runs on."""
    asked = tomllib.loads((REPOSITORY / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    assert sorted(LIBRARIES) == sorted(re.split(r"[><=~ ]", text)[0] for text in asked)


def test_a_release_is_named_by_its_content(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every copy has the same name wherever and whenever it was put there; one byte more, or a file, gives another."""
    from sitegen.pipeline import release

    copy = tmp_path / "sitegen"
    shutil.copytree(release.PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(release, "PACKAGE", copy)
    names = [release_by_content()]
    os.utime(copy / "cli.py", (5, 5))
    assert release_by_content() == names[0]
    with (copy / "cli.py").open("a") as file:
        file.write("\n")
    names.append(release_by_content())
    (copy / "more.py").write_text("")
    names.append(release_by_content())
    assert len(set(names)) == 3
