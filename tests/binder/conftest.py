# SPDX-License-Identifier: MIT
"""Binders for the tests: of the demo's mill, and of whatever site file a test hands over."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack import manner
from wiretrack.store.dumping import document
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder.binder import WrittenBinder, write_binder
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.model.source import SiteDocument

ON = date(2026, 5, 2)


@dataclass(frozen=True)
class Bound:
    """A registry, what it holds, and its binder."""

    db: Path
    document: SiteDocument
    folder: Path
    made: WrittenBinder

    @property
    def address(self) -> str:
        """The binder's folder as a browser is given it."""
        return f"{self.folder.as_uri()}/"

    def text(self, path: str) -> str:
        """Return the text of one of its files."""
        return (self.folder / path).read_text("utf-8")


def bound(db: Path, folder: Path) -> Bound:
    """Write the binder of a registry."""
    with open_registry(db) as registry:
        manner.use(registry.manner())  # as the command does
        made = write_binder(registry, folder, ON)
        return Bound(db, document(registry), folder, made)


def registry_of(site: dict[str, Any], folder: Path) -> Path:
    """Make a registry of a site file's contents."""
    db, file = folder / "site.db", folder / "site.json"
    file.write_text(json.dumps(site), "utf-8")
    new_site(db, "Example")
    with open_registry(db) as registry:
        load_site(registry, file)
    return db


@pytest.fixture(scope="session")
def mill(demo_db: Path, tmp_path_factory: pytest.TempPathFactory) -> Bound:
    """The binder of the demo's mill, with a ring-out, tests and prints."""
    return bound(demo_db, tmp_path_factory.mktemp("mill") / "binder")
