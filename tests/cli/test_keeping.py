# SPDX-License-Identifier: MIT
"""Saving a damaged registry and keeping copies, at the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.pump import L1

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


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
