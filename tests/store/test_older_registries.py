# SPDX-License-Identifier: MIT
"""What an older wiretrack wrote comes over as a site file; its registry is refused, untouched.

``data/version_4.db.gz`` and its dump, ``data/version_4.site.json``, were both written by the last
wiretrack whose registries had version 4 (commit 8ba82d0); only the names of who wrote were changed
since, in both.
"""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from tests.record_of import add_document
from wiretrack.cli.wording import told
from wiretrack.errors import RegistryError
from wiretrack.exchange.read import read_site
from wiretrack.model.parts import SiteFacts
from wiretrack.store.dumping import document
from wiretrack.store.loading import create_registry
from wiretrack.store.schema import VERSION
from wiretrack.store.store import open_registry

DATA = Path(__file__).parent / "data"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    file = tmp_path / "old.db"
    file.write_bytes(gzip.decompress((DATA / "version_4.db.gz").read_bytes()))
    return file


def test_an_older_registry_is_refused_with_how_it_comes_over(old: Path) -> None:
    before = old.read_bytes()
    with pytest.raises(RegistryError) as caught:
        open_registry(old)
    assert told(caught.value) == (
        f"{old} was made by an older wiretrack (format 4; this one needs {VERSION})."
        " Write it as a site file with that version, then load the file."
        " Do it with: wiretrack load FILE"
    )
    assert old.read_bytes() == before


def test_an_older_dump_loads(tmp_path: Path) -> None:
    create_registry(tmp_path / "new.db", SiteFacts(name="new"))
    given = read_site(DATA / "version_4.site.json")
    with open_registry(tmp_path / "new.db") as registry:
        add_document(registry, given)
        assert document(registry).readings == given.readings
