# SPDX-License-Identifier: MIT
"""What the record has of a raceway is shown where the raceway is."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def test_a_wireways_measures_and_its_height_above_a_roof_are_shown(
    wiretrack: Wiretrack, db: Path, tmp_path: Path
) -> None:
    site = {
        "format": "wiretrack-site/1",
        "site": {"code": "Y", "rules": "NEC", "edition": 2023, "units": "m"},
        "enclosures": [{"code": "A"}, {"code": "B"}],
        "raceways": [
            {"code": "WW", "from": "A", "to": "B", "type": "wireway", "width": "150 mm",
             "height": "100 mm", "above_roof": "10 mm"},
            {"code": "W2", "from": "A", "to": "B", "type": "EMT"},
        ],
    }  # fmt: skip
    (tmp_path / "site.json").write_text(json.dumps(site))
    db.unlink()
    assert wiretrack("new", "--name", "Y").status == 0
    assert wiretrack("load", tmp_path / "site.json").status == 0
    shown = wiretrack("show", "WW").words
    assert "150 x 100 mm" in shown
    assert "0.01 m" in shown
    other = wiretrack("show", "W2").words
    assert "inside" not in other
    assert "roof" not in other
