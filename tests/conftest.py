# SPDX-License-Identifier: MIT
"""Fixtures that every room's tests may use."""

from __future__ import annotations

import json
import signal
from typing import TYPE_CHECKING

import pytest

from tests.pump import PUMP
from wiretrack import days
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# Whoever starts the tests in the background hands down an interrupt that is ignored; the servers
# that tests start and interrupt are to have it as from a terminal.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def _no_time_zone() -> Iterator[None]:
    """Count days as where no site's time zone is known, whatever a test before has opened."""
    days.use(None)
    yield
    days.use(None)


@pytest.fixture
def db(tmp_path: Path) -> Path:
    """The path of a registry that holds the pump."""
    path, file = tmp_path / "pump.db", tmp_path / "pump.json"
    file.write_text(json.dumps(PUMP), encoding="utf-8")
    new_site(path, "Example")
    with open_registry(path) as registry:
        load_site(registry, file)
    return path


@pytest.fixture
def registry(db: Path) -> Iterator[Registry]:
    """The open registry that holds the pump."""
    with open_registry(db) as opened:
        yield opened
