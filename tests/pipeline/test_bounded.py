"""Templates that a publication brings take bounded time and memory, whatever they call; the site that stands stays."""

import os
import signal
import time
from pathlib import Path

import pytest
from builders import SMALL, write
from jinja2.filters import FILTERS

from sitegen.pipeline import bounded
from sitegen.pipeline.build import Built, build


def told(built: Built) -> list[str]:
    """Place and message of each problem with a template."""
    return [f"{problem.place}: {problem.message}" for problem in built.problems if problem.code == "template"]


def built_with(tmp_path: Path, list_template: str) -> Built:
    """A build with a list.html of the publication's own, in this process and those that it forks for templates."""
    files = {"theme/templates/list.html": list_template}
    return build(write(tmp_path / "pub", {**SMALL, **files}), tmp_path / "site", None, workers=1)


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bounds that a test needn't wait for."""
    monkeypatch.setattr(bounded, "MOST_SECONDS", 0.5)
    monkeypatch.setattr(bounded, "LAST_SECONDS", 1.0)


def children() -> list[str]:
    """The processes that this one has begun and not waited for (proc(5); Linux only)."""
    return Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()


def test_a_call_that_takes_too_long_is_an_error_at_its_line(
    short: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an exception reaches is reported at the line that it has come to, once for all pages by the template."""
    monkeypatch.setitem(FILTERS, "title", lambda text: any(n < 0 for n in range(10**10)))
    before = children()
    result = built_with(tmp_path, "<p>\n{{ view.frame.title|title }}\n")
    assert told(result) == [f"theme/templates/list.html:2:1: {bounded.TOO_LONG}"]
    assert not result.published and not (tmp_path / "site").exists()
    assert children() == before


def test_a_call_that_never_ends_is_ended(short: None, tmp_path: Path) -> None:
    """One call into C that no exception reaches ends with its process, and the template is named: 10 to the power of
    300,000,000 takes minutes.
    """
    started = time.monotonic()
    before = children()
    result = built_with(tmp_path, "<p>\n{{ 1|round(300000000, 'floor') }}\n")
    assert told(result) == [f"theme/templates/list.html:1:1: {bounded.TOO_LONG}"]
    assert not result.published
    assert time.monotonic() - started < 60
    assert children() == before


def test_memory_of_a_call_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A call that wants gigabytes doesn't get them, and is reported at its line."""
    monkeypatch.setitem(FILTERS, "title", lambda text: "x" * 3_000_000_000)
    result = built_with(tmp_path, "<p>\n{{ view.frame.title|title }}\n")
    [fault] = told(result)
    assert fault.startswith("theme/templates/list.html:2:1: this page takes more memory than there is for one")
    assert not result.published


def test_a_process_that_the_system_ends_is_no_fault_of_the_template(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SIGKILL comes from elsewhere, mostly for want of memory: nothing is said of the template, and the next build works."""
    once = tmp_path / "killed"

    def killed_once(text: str) -> str:
        if not once.exists():
            once.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return text

    monkeypatch.setitem(FILTERS, "title", killed_once)
    with pytest.raises(MemoryError):
        built_with(tmp_path, "{{ view.frame.title|title }}")
    result = built_with(tmp_path, "{{ view.frame.title|title }}")
    assert result.published and told(result) == []


def test_the_stock_theme_begins_no_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What no publication brought is filled right where the build runs."""

    def refuse() -> int:
        raise AssertionError("a process was forked")

    monkeypatch.setattr(os, "fork", refuse)
    assert build(write(tmp_path / "pub"), tmp_path / "site", None, workers=1).published
