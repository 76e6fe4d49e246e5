# SPDX-License-Identifier: MIT
"""Each write is one change with an id: in the log's entry, and in each line of the history."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from wiretrack.store import changing
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path


def test_a_write_is_one_change_whose_id_its_entry_and_its_lines_bear(db: Path) -> None:
    with open_registry(db) as registry:
        changing.set_base_address(registry, "http://barn.example", who="Mira")
        first = registry.commit.change
        changing.set_base_address(registry, None, who="Mira")
        second = registry.commit.change
        lines = registry.rows("SELECT change FROM changes ORDER BY seq DESC LIMIT 2")
        (body,) = registry.rows("SELECT body FROM log ORDER BY nr DESC LIMIT 1")
    assert [line["change"] for line in lines] == [second, first]
    assert json.loads(body["body"])["id"] == second != first
    # Eight characters without I, L, O and U: 40 bits, and nobody takes one for another.
    assert re.fullmatch("[0-9a-hjkmnp-tv-z]{8}", second)
