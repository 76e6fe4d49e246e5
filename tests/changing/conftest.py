# SPDX-License-Identifier: MIT
"""A barn's lighting and socket circuits, and the demo site, each in a registry of its own."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.changing.barn import BARN
from tests.record_of import add_document
from wiretrack.model.parts import SiteFacts
from wiretrack.store.loading import create_registry
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.describe.sites import load_site

if TYPE_CHECKING:
    from collections.abc import Iterator

DEMO = Path(__file__).parents[2] / "demo_db" / "site.json"


def _made(path: Path) -> None:
    create_registry(path, SiteFacts(name="new"))
    with open_registry(path) as opened:
        add_document(opened, BARN, who="roof")


@pytest.fixture(scope="session")
def barn_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("barn") / "barn.db"
    _made(path)
    return path


@pytest.fixture
def barn(barn_file: Path, tmp_path: Path) -> Iterator[Registry]:
    shutil.copy(barn_file, tmp_path / "barn.db")
    with open_registry(tmp_path / "barn.db") as registry:
        yield registry


@pytest.fixture(scope="session")
def mill_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("mill") / "mill.db"
    create_registry(path, SiteFacts(name="new"))
    with open_registry(path) as opened:
        load_site(opened, DEMO)
    return path


@pytest.fixture
def mill_path(mill_file: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(mill_file, tmp_path / "mill.db"))


@pytest.fixture
def mill(mill_path: Path) -> Iterator[Registry]:
    with open_registry(mill_path) as registry:
        yield registry
