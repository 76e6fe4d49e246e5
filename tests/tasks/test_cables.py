# SPDX-License-Identifier: MIT
"""A cable groups the conductors that are its cores, from the file to whoever asks."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.record_of import record_of
from wiretrack.errors import SiteFileError
from wiretrack.model.parts import SiteFacts
from wiretrack.store.loading import create_registry
from wiretrack.store.searching import find
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import dump_site, load_site

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

TAGS = ("PVMP01P", "PVMP02N")


def core(tag: str, **facts: str) -> dict[str, Any]:
    return {
        "tag": tag, "circuit": "K", "function": "L1", "size": "4 mm2", "pull": "P",
        "cable": "CBL-7", "from": {"enclosure": "A"}, "to": {"enclosure": "B"}, **facts,
    }  # fmt: skip


def site(*conductors: dict[str, Any]) -> dict[str, Any]:
    return {
        "format": "wiretrack-site/1",
        "enclosures": [{"code": "A"}, {"code": "B"}],
        "raceways": [{"code": "W1", "from": "A", "to": "B"}],
        "circuits": [{"code": "K"}],
        "pulls": [{"code": "P", "path": ["W1"]}],
        "conductors": list(conductors),
    }


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    create_registry(tmp_path / "new.db", SiteFacts())
    with open_registry(tmp_path / "new.db") as opened:
        (tmp_path / "site.json").write_text(json.dumps(site(core(TAGS[0], core="1"))), "utf-8")
        load_site(opened, tmp_path / "site.json")
        yield opened


def test_show_search_and_dump_know_the_cable(registry: Registry, tmp_path: Path) -> None:
    record = record_of(registry, TAGS[0])
    assert (record["cable"], record["core"]) == ("CBL-7", "1")
    assert [hit.code for hit in find(registry, "CBL-7")] == [TAGS[0]]
    for target in (tmp_path / "dump.json", tmp_path / "dump"):
        dump_site(registry, target)
        copy = tmp_path / f"{target.name}.db"
        create_registry(copy, SiteFacts())
        with open_registry(copy) as other:
            load_site(other, target)
            assert record_of(other, TAGS[0])["cable"] == "CBL-7"


@pytest.mark.parametrize(
    ("stated", "field"), [({"core": "1"}, "core"), ({"core": "2"}, ""), ({}, "")]
)
def test_a_later_file_adds_other_cores_alone(
    registry: Registry, tmp_path: Path, stated: dict[str, str], field: str
) -> None:
    file = tmp_path / "more.json"
    more = {"format": "wiretrack-site/1", "conductors": [core(TAGS[1], **stated)]}
    file.write_text(json.dumps(more), "utf-8")
    if not field:
        load_site(registry, file)
        assert record_of(registry, TAGS[1])["cable"] == "CBL-7"
        return
    with pytest.raises(SiteFileError) as caught:
        load_site(registry, file)
    assert [fault.place for fault in caught.value.faults] == [f"conductors[0].{field}"]
    assert [str(f).partition(": ")[2] for f in caught.value.faults] == [
        "PVM-P01P in the registry is core '1' of cable 'CBL-7' too. Give each core its own."
    ]


def test_a_core_that_is_out_of_use_may_be_stated_again(registry: Registry, tmp_path: Path) -> None:
    retired = "UPDATE conductors SET retired_at = '2026-01-01', retired_because = 'removed'"
    registry.db.execute(retired)
    file = tmp_path / "more.json"
    more = {"format": "wiretrack-site/1", "conductors": [core(TAGS[1], core="1")]}
    file.write_text(json.dumps(more), "utf-8")
    load_site(registry, file)
    assert record_of(registry, TAGS[1])["core"] == "1"
