# SPDX-License-Identifier: MIT
"""Each write is one change with an id: in the log's entry, and in each line of the history."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from wiretrack.store import changing
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import dump_site, load_site, new_site

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


def test_what_else_is_said_of_a_change_is_kept_in_entry_lines_and_dump(
    db: Path, tmp_path: Path
) -> None:
    more = {"why": "measured again", "on": "2026-05-02"}
    with open_registry(db) as registry:
        with registry.write("Mira", more=more) as written:
            written.execute("UPDATE site SET name = 'Barn'")
        (body,) = registry.rows("SELECT body FROM log ORDER BY nr DESC LIMIT 1")
        assert problems(registry) == []  # the line follows from the entry, to the letter
        changing.set_base_address(registry, None)
        dump_site(registry, tmp_path / "all.json")
    assert json.loads(body["body"])["more"] == more
    lines = json.loads((tmp_path / "all.json").read_text("utf-8"))["changes"]
    assert [line.get("more") for line in lines[-2:]] == [more, None]
    new_site(tmp_path / "copy.db", "Copy")
    with open_registry(tmp_path / "copy.db") as copy:
        load_site(copy, tmp_path / "all.json")
        found = copy.rows("SELECT more FROM changes WHERE more IS NOT NULL")
    assert [json.loads(row["more"]) for row in found] == [more]
