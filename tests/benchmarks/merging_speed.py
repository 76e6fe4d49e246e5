# SPDX-License-Identifier: MIT
"""How long a merge takes, and how that grows: ``python -m pytest tests/benchmarks -s``."""

from __future__ import annotations

import random
import time
from typing import TYPE_CHECKING

from tests.record_of import add_document
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.parts import End
from wiretrack.model.source import SiteDocument
from wiretrack.store.health import backup
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.merging import merge
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from pathlib import Path


def site(count: int, prefix: str = "") -> SiteDocument:
    """Return a site of so many conductors, ten to a circuit, a hundred ends to a box."""
    return SiteDocument(
        enclosures=tuple(Enclosure(code=f"{prefix}B{n}") for n in range(count // 50 + 1)),
        circuits=tuple(Circuit(code=f"{prefix}C{n}") for n in range(count // 10 + 1)),
        conductors=tuple(
            Conductor(
                circuits=(f"{prefix}C{n // 10}",),
                function="L1",
                size="4 mm2",
                from_end=End(enclosure=f"{prefix}B{n // 50}", terminal=f"T{n}"),
                to_end=End(enclosure=f"{prefix}B{n // 50}"),
            )
            for n in range(count)
        ),
    )


def merged_in_s(folder: Path, count: int) -> float:
    """Return the processor time of a merge: a tenth changed in each copy, a tenth new in one."""
    one, other = folder / f"{count}a.db", folder / f"{count}b.db"
    new_site(one, "large")
    with open_registry(one) as registry:
        add_document(registry, site(count))
        backup(registry, other)
    for path in (one, other):
        with open_registry(path) as registry, registry.write() as db:
            records = [row["id"] for row in registry.rows("SELECT id FROM conductors")]
            for record in random.Random(path.name).sample(records, count // 10):
                db.execute("UPDATE conductors SET note = ? WHERE id = ?", [path.name, record])
    with open_registry(other) as registry:
        add_document(registry, site(count // 10, "X"))
    started = time.process_time()
    with open_registry(one) as registry:
        merge(registry, other)
    return time.process_time() - started


def test_four_times_the_conductors_take_about_four_times_as_long(tmp_path: Path) -> None:
    times = {count: merged_in_s(tmp_path, count) for count in (2_000, 8_000)}
    print(f"\nmerge: {times[2_000]:.2f} s for 2,000, {times[8_000]:.2f} s for 8,000 conductors")
    print(f"ratio {times[8_000] / times[2_000]:.1f}; 4 is proportional, 16 quadratic")
