# SPDX-License-Identifier: MIT
"""Saving a damaged registry and keeping copies, at the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.pump import L1

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def test_copies_by_day_and_how_many_readings_are_newer(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    wiretrack("test", "log", L1, "--kind", "continuity", "0.31")
    assert (
        "1 reading and no copy known. Next, copy the record to a USB stick: wiretrack backup FILE"
        in (wiretrack("verify").words)
    )
    made = wiretrack("backup", tmp_path / "copy.db", "--keep", "2", "--json")
    assert (made.status, made.json["problems"], made.json["removed"]) == (0, [], [])
    assert made.json["bytes"] > 100_000
    assert "backup FILE" not in wiretrack("verify").out
    for value in ("0.32", "0.33"):
        wiretrack("test", "log", L1, "--kind", "continuity", value)
    assert "2 readings since the copy of 20" in wiretrack("verify").words
    for _ in range(2):
        assert wiretrack("backup", tmp_path / "copy.db", "--keep", "2").status == 0
    assert len(list(tmp_path.glob("copy-*.db"))) == 2


def test_rescue_at_the_command_line(wiretrack: Wiretrack, db: Path, tmp_path: Path) -> None:
    for value in ("0.33", "0.35"):
        wiretrack("test", "log", L1, "--kind", "continuity", value)
    new = tmp_path / "new.db"
    ran = wiretrack("rescue", db, new)
    assert ran.status == 0
    assert ran.out.startswith("Saved ")
    assert wiretrack("rescue", db, new).status == 2
    data = db.read_bytes()
    db.write_bytes(data.replace(b'"value":"0.33"', b'"value":"0.44"'))
    found = wiretrack("rescue", db, tmp_path / "other.db", "--json")
    assert (found.status, found.json["readings"], len(found.json["lost"])) == (1, 1, 1)
    assert wiretrack("rescue", tmp_path / "none.db", tmp_path / "x.db").status == 3
