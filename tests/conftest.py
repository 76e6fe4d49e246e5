# SPDX-License-Identifier: MIT
"""Fixtures that every room's tests may use."""

from __future__ import annotations

import gc
import json
import os
import shutil
import signal
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings

from tests.pump import PUMP
from tests.warm import never_wait_for_the_disk
from wiretrack import days
from wiretrack.files import shipped
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.demo import REGISTRY, build_demo
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from collections.abc import Iterator


settings.register_profile("wiretrack", deadline=None)  # how long one takes says nothing
settings.load_profile("wiretrack")
gc.disable()  # what is loaded and collected stays: nobody need look through it again and again

# Whoever starts the tests in the background hands down an interrupt that is ignored; the servers
# that tests start and interrupt are to have it as from a terminal.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_configure(config: pytest.Config) -> None:
    """Keep what the program keeps for its user in a folder of this run alone, doctests' too."""
    folder = os.environ["XDG_STATE_HOME"] = tempfile.mkdtemp(prefix="wiretrack-state-")
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


def pytest_collection_finish() -> None:
    """Leave all that is there by now to itself."""
    gc.freeze()
    gc.enable()


@pytest.fixture(autouse=True)
def _no_time_zone() -> Iterator[None]:
    """Count days as where no site's time zone is known, whatever a test before has opened."""
    days.use(None)
    yield
    days.use(None)


@pytest.fixture(autouse=True)
def _no_wait_for_the_disk(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave it to the system when a registry reaches the disk, but where `durable` is asked for."""
    if not request.node.get_closest_marker("durable"):
        never_wait_for_the_disk(monkeypatch.setattr)


# A phone that hangs up amid a script leaves the test server's open file to the collector.
HUNG_UP = (
    r"ignore:Exception ignored in. <_io.FileIO name='.*/static/"
    ":pytest.PytestUnraisableExceptionWarning"
)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is done in the browser."""
    for item in items:
        if "chromium" in getattr(item, "fixturenames", ()):
            item.add_marker("browser")
            item.add_marker(pytest.mark.filterwarnings(HUNG_UP))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The browser, begun once."""
    from tests.web.browsing import browser

    with browser() as found:
        yield found


@pytest.fixture(autouse=True)
def _pages_closed(request: pytest.FixtureRequest) -> Iterator[None]:
    """Close what a test left open in the browser, but not what its module shares."""
    if "chromium" not in request.fixturenames:
        yield
        return
    found = request.getfixturevalue("chromium")
    before = list(found.contexts)
    yield
    for context in found.contexts:
        if context not in before:
            context.close()


@pytest.fixture(scope="session")
def demo_db(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The registry of the demo site, as the demo leaves it: built once, a copy for each worker."""
    import fcntl

    run = tmp_path_factory.getbasetemp()
    built = (run.parent if "PYTEST_XDIST_WORKER" in os.environ else run) / "built"
    with built.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not built.exists():
            build_demo(built.with_suffix(".part"))
            built.with_suffix(".part").rename(built)
    copy = shutil.copytree(built, tmp_path_factory.mktemp("demo") / "site")
    return Path(copy) / REGISTRY


@pytest.fixture(scope="session")
def pump_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A registry that holds the pump, made once to be copied."""
    folder = tmp_path_factory.mktemp("pump")
    path, file = folder / "pump.db", folder / "pump.json"
    file.write_text(json.dumps(PUMP), encoding="utf-8")
    new_site(path, "Example")
    with open_registry(path) as registry:
        load_site(registry, file)
    return path


@pytest.fixture
def db(pump_template: Path, tmp_path: Path) -> Path:
    """The path of a registry that holds the pump."""
    for file in (pump_template, pump_template.with_suffix(".json")):
        shutil.copy(file, tmp_path)
    return tmp_path / pump_template.name


@pytest.fixture(scope="session")
def mill_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The registry of the demo site, as its file describes it, made once to be copied."""
    path = tmp_path_factory.mktemp("mill") / "mill.db"
    new_site(path, "mill")
    with open_registry(path) as registry:
        load_site(registry, shipped("demo_db") / "site.json")
    return path


@pytest.fixture
def mill_db(mill_template: Path, tmp_path: Path) -> Path:
    """The path of a registry of the demo site, as its file describes it."""
    return Path(shutil.copy(mill_template, tmp_path))


@pytest.fixture
def registry(db: Path) -> Iterator[Registry]:
    """The open registry that holds the pump."""
    with open_registry(db) as opened:
        yield opened
