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


def until(page: Any, true: str, arg: Any = None) -> None:
    """Wait until a JavaScript expression, or function of `arg`, is true in a page.

    Playwright's own waiting evaluates text within the page, which our pages' policy forbids.
    """
    from playwright.sync_api import Error

    page.wait_for_load_state("load")
    for _ in range(200):
        try:
            if page.evaluate(true, arg):
                return
        except Error as error:
            if "context was destroyed" not in error.message:  # by going on to another page
                raise
        page.wait_for_timeout(50)
    pytest.fail(f"this did not come true: {true}")
