# SPDX-License-Identifier: MIT
"""A site says the same from the store as from memory, in parts as in one go."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import TYPE_CHECKING, Any

import pytest

from tests.model.random_sites import random_site
from tests.record_of import add_document
from wiretrack.errors import NotFoundError
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.entity import Point, Subject
from wiretrack.model.site import Site
from wiretrack.model.source import KEYS, TABLES, DocumentSource
from wiretrack.store.dumping import document
from wiretrack.store.source import StoredSource, site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.model.entity import Key
    from wiretrack.model.source import SiteDocument, Source

SEEDS = range(12)


def brute_force(records: tuple[Any, ...], of: type, by: str, keys: list[Key]) -> list[Any]:
    return [record for record in records if set(KEYS[of, by](record)) & set(keys)]


def with_other_subjects(site: SiteDocument) -> SiteDocument:
    """The site with some of its readings taken of a device or of a circuit."""
    device = site.devices[0]
    others = (Subject.of_device(device.enclosure, device.code), Subject("C1"))
    readings = [
        replace(r, subject=others[n % 2]) if n % 7 < 2 else r for n, r in enumerate(site.readings)
    ]
    return replace(site, readings=tuple(readings))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_store_and_a_document_answer_every_question_alike(seed: int, tmp_path: Path) -> None:
    random, path = Random(seed), tmp_path / "site.db"
    new_site(path, "R")
    with open_registry(path) as registry:
        add_document(registry, with_other_subjects(random_site(seed)))
        held = document(registry)
        sources: list[Source] = [StoredSource(registry), DocumentSource(held)]
        whole = site_of(registry)
        whole.load_everything()
        assert sources[0].everything() == replace(held, rest={})
        for of, by in KEYS:
            records = getattr(held, TABLES[of])
            known = sorted({key for r in records for key in KEYS[of, by](r) if key is not None})
            nowhere: list[Key] = ["nowhere", Point("B0", "nowhere")]
            for count in (1, 3, len(known)):
                keys = [
                    *random.sample(known, min(count, len(known))),
                    nowhere[isinstance(known[0], Point)],
                ]
                expected = brute_force(records, of, by, keys)
                assert expected
                for source in sources:
                    read: list[tuple[int, Any]] = [*source.find(of, by, keys)]
                    assert [record for _, record in read] == expected
                    site = Site(source)
                    assert list(site.at(of, by, keys[0])) == brute_force(records, of, by, keys[:1])
                    assert site.find(of, by, keys) == expected
                assert whole.find(of, by, keys) == expected


def test_a_record_is_one_object_however_it_was_found() -> None:
    site = Site(DocumentSource(random_site(1)))
    conductor = site.find(Conductor, "circuit", ["C1"])[0]
    assert site.one(Conductor, conductor.tag) is conductor
    site.load_everything()
    assert conductor in site.at(Conductor, "enclosure", conductor.from_end.enclosure)
    assert any(
        c is conductor for c in site.find(Conductor, "enclosure", ["B0", "B1", "B2", "B3", "B4"])
    )
    assert site.facts.code == "R"


def test_what_is_not_there_is_said() -> None:
    site = Site(DocumentSource(random_site(1)))
    assert site.at(Reading, "subject", "ZZZZZZZ") == ()
    with pytest.raises(NotFoundError):
        site.one(Conductor, "ZZZZZZZ")
