# SPDX-License-Identifier: MIT
"""What a merge of a few changes costs: it follows the changes, not the site."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.benchmarks.merging_speed import site
from tests.drawing import full
from tests.record_of import add_document
from wiretrack.store import tails
from wiretrack.store.health import backup
from wiretrack.store.store import open_other, open_registry
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from pathlib import Path

EACH = 50  # steps of sqlite's machine between two counts


def steps(folder: Path, conductors: int, changes: int = 100) -> int:
    """Return how many steps sqlite takes for a merge of so many changes, half of them apart."""
    one, other = folder / f"{conductors}a.db", folder / f"{conductors}b.db"
    new_site(one, "large")
    with open_registry(one) as registry:
        add_document(registry, site(conductors))
        backup(registry, other)
    for path, start in ((one, 50), (other, 0)):
        with open_registry(path) as registry:
            for number in range(start, start + changes):
                with registry.write() as db:
                    sql = "UPDATE conductors SET note = ? WHERE nr = ?"
                    db.execute(sql, [path.name, number + 1])
    counted = [0]

    def count() -> None:
        counted[0] += 1

    with open_registry(one) as registry, open_other(other) as theirs:
        for opened in (registry, theirs):
            opened.connection.set_progress_handler(count, EACH)
        taken = tails.take(registry, tails.StoredTail(theirs))
        rows = registry.rows("SELECT count(*) AS n FROM undecided")
    assert (taken.changes, rows[0]["n"]) == (changes, changes // 2)
    return counted[0] * EACH


@pytest.mark.parametrize("larger", [4_000, full(10_000)])
def test_a_hundred_changes_cost_the_same_at_a_thousand_and_on_a_larger_site(
    tmp_path: Path, larger: int
) -> None:
    few, many = steps(tmp_path, 1_000), steps(tmp_path, larger)
    assert abs(many - few) <= few / 5, (few, many)
