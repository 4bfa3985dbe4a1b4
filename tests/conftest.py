"""What tests share: a small publication, the built demo, and that CI skips no browser test in silence."""

import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Generator
from pathlib import Path

import pytest
from builders import write
from hypothesis import settings

# Stores, scans and locks of the tests go where nobody's own are.
CACHE = tempfile.mkdtemp(prefix="sitegen-tests-")
os.environ["XDG_CACHE_HOME"] = CACHE
atexit.register(shutil.rmtree, CACHE, ignore_errors=True)

# A shell that runs the tests in the background has them ignore Ctrl-C, and commands that they start with them.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

REPOSITORY = Path(__file__).resolve().parents[1]
IN_CI = os.environ.get("CI") == "true"

# In CI the same examples every time: a change must not fail for what it didn't touch.
settings.register_profile("ci", deadline=None, derandomize=True, database=None)
settings.register_profile("here", deadline=None)
settings.load_profile("ci" if IN_CI else "here")


@pytest.fixture(scope="session")
def repository() -> Path:
    """The checkout that is tested."""
    return REPOSITORY


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """The sound small publication in a folder of its own."""
    return write(tmp_path / "moorkamp")


@pytest.fixture(scope="session")
def built_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo as `sitegen build` makes it; built once for each process that runs tests."""
    to = tmp_path_factory.mktemp("demo") / "site"
    command = [
        sys.executable,
        "-m",
        "sitegen",
        "build",
        str(REPOSITORY / "demo_site"),
        "--to",
        str(to),
        "--quiet",
    ]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, timeout=600)
    if done.returncode != 0:
        pytest.fail(f"the demo does not build:\n{done.stdout}{done.stderr}"[-4000:], pytrace=False)
    return to


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All browser tests go to one process, which then builds the demo and starts Chromium once."""
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.xdist_group("browser"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With CI=true a skipped browser test is a failure that gives the reason of the skip."""
    report = yield
    if IN_CI and report.skipped and not hasattr(report, "wasxfail") and item.get_closest_marker("browser"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, which CI does not allow: {_reason(report.longrepr)}"
    return report


def _reason(longrepr: object) -> str:
    """The reason of a skip: the last of (path, line, reason)."""
    return str(longrepr[2] if isinstance(longrepr, tuple) else longrepr).removeprefix("Skipped: ")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What tests noted for people to read: smells that are no faults."""
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "note":
                terminalreporter.section(f"note of {report.nodeid.rsplit('::', 1)[-1]}")
                terminalreporter.write_line(str(text))
