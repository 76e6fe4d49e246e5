# SPDX-License-Identifier: MIT
"""What people can state of a site is read, kept and told wrong with its place."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Faults = Callable[[dict[str, Any]], list[str]]

BOXES = [{"code": "A"}, {"code": "B"}]


@pytest.mark.parametrize(
    ("table", "row", "sentence"),
    [
        ("site", {"time_zone": "Mill/Barn"},
         "site.time_zone: 'Mill/Barn' is not a time zone. Write it like Europe/Lisbon or"
         " America/Denver."),
        ("site", {"time_zone": "../passwd"},
         "site.time_zone: '../passwd' is not a time zone. Write it like Europe/Lisbon or"
         " America/Denver."),
        ("circuits", {"code": "K", "supply": "110"},
         "circuits[0].supply: '110' is not a supply. Allowed: 120, 120/240, 208Y/120, 480Y/277,"
         " 240/120 high leg, 230, 400Y/230."),
        ("raceways", {"code": "W", "from": "A", "to": "B", "width": "2 m"},
         "raceways[0].width: Width or height is 2000 mm; it must be at most 1000 mm."),
        ("raceways", {"code": "W", "from": "A", "to": "B", "above_roof": "-1 m"},
         "raceways[0].above_roof: Length is -1 m; it must be above 0 m and at most 100 km."),
        ("instruments", {"code": "M", "range": "0 ohm"},
         "instruments[0].range: Range is 0 ohm; it must be above 0 ohm."),
    ],
)  # fmt: skip
def test_a_wrong_statement_is_named_with_what_is_allowed(
    faults: Faults, table: str, row: dict[str, Any], sentence: str
) -> None:
    site: dict[str, Any] = {"format": "wiretrack-site/1", "enclosures": BOXES}
    site[table] = row if table == "site" else [row]
    assert faults(site) == [sentence]


def test_a_raceway_may_lie_on_the_roof_itself(tmp_path: Path) -> None:
    row = {"code": "W", "from": "A", "to": "B", "above_roof": "0 in"}
    file = tmp_path / "site.json"
    document = {"format": "wiretrack-site/1", "enclosures": BOXES, "raceways": [row]}
    file.write_text(json.dumps(document), encoding="utf-8")
    assert read_site(file).raceways[0].above_roof_m == 0.0
