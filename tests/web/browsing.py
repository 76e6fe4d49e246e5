# SPDX-License-Identifier: MIT
"""A server on loopback and a real browser, as a phone on the roof has them."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

from tests.web.conftest import CODE, settings_of
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
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
def process(db: Path, *arguments: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Run the command on a free port; give its lines as pairs, and stop it as people do."""
    command = [sys.executable, "-c", "from wiretrack.cli import main; main()", "--db", str(db)]
    started = subprocess.Popen(
        [*command, "serve", "--port", "0", *arguments],
        stdout=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "COLUMNS": "200", "NO_COLOR": "1"},
    )
    assert started.stdout is not None
    said: dict[str, str] = {}
    for line in started.stdout:
        if line.startswith("Ctrl-C"):
            break
        name, _, value = line.strip().partition("  ")
        said[name] = value.strip()
    try:
        yield said["address"], said
    finally:
        started.send_signal(signal.SIGINT)
        started.communicate(timeout=20)
        assert started.returncode in (0, 130)


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
