"""A reader's browser and the three ways a site reaches it: at the root of a host, below a folder of one, straight from disk."""

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from fnmatch import fnmatchcase
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import unquote, urlsplit

import pytest

CHROMIUM = os.environ.get("SITEGEN_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
GIVEN_UP = "net::ERR_ABORTED"  # the reader went on to another page before this had come
SLOW_MACHINE = 30_000  # ms


class _Host(SimpleHTTPRequestHandler):
    """A plain static host: index.html for folders, 404.html for what isn't there, the headers that the site asks for."""

    def __init__(self, *args: Any, site: Path, base: str, **kwargs: Any) -> None:
        self._base = base
        self._rules = header_rules(site / "response-headers.txt")
        super().__init__(*args, directory=str(site), **kwargs)

    def translate_path(self, path: str) -> str:
        """Addresses outside the folder of the site are nowhere."""
        inside = urlsplit(path).path
        return (
            super().translate_path("/" + inside.removeprefix(self._base))
            if inside.startswith(self._base)
            else "/nowhere"
        )

    def end_headers(self) -> None:
        """Add the headers of every rule that fits the address."""
        inside = "/" + unquote(urlsplit(self.path).path).removeprefix(self._base)
        for pattern, name, value in self._rules:
            if fnmatchcase(inside, pattern):
                self.send_header(name, value)
        super().end_headers()

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """The site's own page for what isn't there."""
        body = (Path(self.directory) / "404.html").read_bytes()
        self.send_response(code)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""


def header_rules(file: Path) -> tuple[tuple[str, str, str], ...]:
    """(pattern, name, value) of a response-headers.txt: a pattern a line, below it indented `Name: value`."""
    rules, pattern = [], ""
    for line in file.read_text("utf-8").splitlines():
        if line[:1].isspace():
            name, _, value = line.strip().partition(": ")
            rules.append((pattern, name, value))
        elif line.strip():
            pattern = line.strip()
    return tuple(rules)


@contextmanager
def _served(site: Path, base: str) -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_Host, site=site, base=base)) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}{base}"
        finally:
            server.shutdown()
            thread.join()


@pytest.fixture(scope="session")
def mounts(browser: Any, built_demo: Path) -> Iterator[dict[str, str]]:
    """The address of the demo's top, ending in a slash, in each of the three ways. Asks for the browser first: without one nothing is built."""
    with _served(built_demo, "/") as root, _served(built_demo, "/gear/notes/") as folder:
        yield {"root": root, "folder": folder, "disk": built_demo.resolve().as_uri() + "/"}


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """The system's Chromium, without a window."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium: install the system's package chromium, or name one in SITEGEN_CHROMIUM")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # As the superuser (in containers) Chromium runs only without its sandbox; it sees nothing but our own pages.
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield chromium
        chromium.close()


class Reader(NamedTuple):
    """One open page, and everything that went wrong while it was open."""

    page: Any
    faults: list[str]


Opener = Callable[..., AbstractContextManager[Reader]]


@pytest.fixture(scope="session")
def reading(browser: Any) -> Opener:
    """`with reading(address, …) as reader:` a fresh visit; further words go to the browser's context (viewport, color_scheme …)."""

    @contextmanager
    def visit(address: str = "", **settings: Any) -> Iterator[Reader]:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}} | settings)
        context.set_default_timeout(SLOW_MACHINE)
        page = context.new_page()
        reader = Reader(page, [])
        _watch(page, reader.faults)
        if address:
            page.goto(address, wait_until="load")
        yield reader
        context.close()

    return visit


def _watch(page: Any, faults: list[str]) -> None:
    """Note errors of scripts and policies, requests that fail, and requests that leave for elsewhere."""
    page.on(
        "console",
        lambda said: faults.append(f"console: {said.text}") if said.type in {"error", "warning"} else None,
    )
    page.on("pageerror", lambda error: faults.append(f"script: {error}"))
    page.on(
        "requestfailed",
        lambda request: (
            faults.append(f"failed: {request.url} {request.failure}") if request.failure != GIVEN_UP else None
        ),
    )
    page.on(
        "response",
        lambda answer: faults.append(f"{answer.status}: {answer.url}") if answer.status >= 400 else None,
    )
    page.on(
        "request",
        lambda request: faults.append(f"elsewhere: {request.url}") if _is_elsewhere(request.url) else None,
    )


def _is_elsewhere(address: str) -> bool:
    parts = urlsplit(address)
    return parts.scheme not in {"file", "data", "blob"} and parts.hostname != "127.0.0.1"
