# SPDX-License-Identifier: MIT
"""A server on loopback and a real browser, as a phone on the roof has them."""

from __future__ import annotations

import os
import shutil
import signal
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TextIO

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

from tests.to_be_killed import serve
from tests.warm import started
from tests.web.conftest import CODE, settings_of
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from multiprocessing.process import BaseProcess
    from pathlib import Path

CHROMIUM = os.environ.get("WIRETRACK_CHROMIUM") or shutil.which("chromium")
AXE = os.environ.get("WIRETRACK_AXE", "")
PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 640},
    "has_touch": True,
    "is_mobile": True,
}
DESKTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}


@dataclass
class Served:
    """Where a registry's pages are; `stop` and `start` are the Wi-Fi coming and going."""

    address: str
    db: Path


class Quiet(WSGIRequestHandler):
    """Keeps connections open, as browsers want them, and says nothing of its requests."""

    protocol_version = "HTTP/1.1"

    def log(self, *_: object) -> None:
        """Say nothing."""


@contextmanager
def served(db: Path, **changed: Any) -> Iterator[Served]:
    """Serve a registry's pages on a free port of loopback."""
    app = create_app(settings_of(db, **changed))
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield Served(f"http://127.0.0.1:{server.port}", db)
    finally:
        server.shutdown()
        server.server_close()
        app.extensions["registries"].close()


@contextmanager
def serving(
    db: Path, *arguments: str, until: str, processes: int = 1, ignored: bool = False
) -> Iterator[tuple[list[str], BaseProcess, TextIO]]:
    """Run the command on a free port; give its lines until one that begins so, and what follows."""
    with (
        started(serve, db, list(arguments), processes, ignored) as (server, told),
        open(told.fileno(), encoding="utf-8", closefd=False) as lines,
    ):
        said = [lines.readline()]
        while not said[-1].startswith(until):
            assert said[-1], said
            said.append(lines.readline())
        yield said, server, lines
        if server.pid and server.is_alive():
            os.kill(server.pid, signal.SIGINT)  # as people stop it
        server.join(20)


@contextmanager
def process(db: Path, *arguments: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Run the command; give its lines as pairs, and stop it as people do."""
    with serving(db, *arguments, until="Ctrl-C") as (lines, server, _):
        pairs = (line.strip().partition("  ") for line in lines[:-1])
        said = {name: value.strip() for name, _, value in pairs}
        yield said["address"], said
    assert server.exitcode == 0


@contextmanager
def browser(*arguments: str) -> Iterator[Any]:
    """Start the browser, or skip where there is none."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("there is no chromium here; install Debian's, or set WIRETRACK_CHROMIUM")
    with sync_api.sync_playwright() as playwright:
        yield playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", *arguments]
        )


def sign_in(page: Any, address: str, path: str = "/", name: str = "phone-1") -> None:
    """Open a page as somebody without a session does: through the sign-in form."""
    page.goto(address + path)
    page.fill("#f-code", CODE)
    page.fill("#f-name", name)
    page.click("button.main")
    page.wait_for_selector("nav")
    page.wait_for_load_state("load")  # its scripts too, before anybody taps or loses the signal


def visit(page: Any, address: str) -> None:
    """Open a page, and wait until all that it asked for is there and its scripts are at rest.

    Playwright's "networkidle" waits half a second more, in which no script of ours begins anything.
    """
    under_way = set[Any]()

    def begins(request: Any) -> None:
        under_way.add(request)

    def ends(request: Any) -> None:
        under_way.discard(request)

    heard = {"request": begins, "requestfinished": ends, "requestfailed": ends}
    for event, hear in heard.items():
        page.on(event, hear)
    page.goto(address)
    at_rest = 0
    for _ in range(2000):
        page.evaluate("new Promise((done) => requestIdleCallback(() => done(), { timeout: 500 }))")
        at_rest = 0 if under_way else at_rest + 1
        if at_rest == 3:
            break
        page.wait_for_timeout(10)
    else:
        pytest.fail(f"{address} goes on asking for {[one.url for one in under_way]}")
    for event, hear in heard.items():
        page.remove_listener(event, hear)


def dead_time(page: Any, dead_ms: int) -> None:
    """Serve the script of guided work with another time in which a tap is too soon."""

    def serve(route: Any) -> None:
        answer = route.fetch()
        script = answer.text()
        assert "const DEAD_MS = 700;" in script
        route.fulfill(response=answer, body=script.replace("DEAD_MS = 700", f"DEAD_MS = {dead_ms}"))

    page.route("**/live.js", serve)


def until(page: Any, true: str, arg: Any = None) -> None:
    """Wait until a JavaScript expression, or function of `arg`, is true in a page.

    Playwright's own waiting evaluates text within the page, which our pages' policy forbids.
    """
    from playwright.sync_api import Error

    page.wait_for_load_state("load")
    for _ in range(600):  # half a minute, as playwright's own
        try:
            if page.evaluate(true, arg):
                return
        except Error as error:
            if "context was destroyed" not in error.message:  # by going on to another page
                raise
        page.wait_for_timeout(50)
    pytest.fail(f"this did not come true: {true}")
