# SPDX-License-Identifier: MIT
"""Sheets are read as people write them; a JSON site file has the words of its schema alone."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import SiteFileError
from wiretrack.exchange.read import read_site
from wiretrack.model import kinds as k

if TYPE_CHECKING:
    from pathlib import Path


def write(folder: Path, **tables: str) -> Path:
    for name, content in tables.items():
        (folder / f"{name}.csv").write_text(content, "utf-8")
    return folder


def faults(folder: Path) -> list[str]:
    with pytest.raises(SiteFileError) as caught:
        read_site(folder)
    return [str(fault) for fault in caught.value.faults]


def test_words_and_days_of_a_sheet_are_read_as_people_write_them(tmp_path: Path) -> None:
    folder = write(
        tmp_path,
        site="name,units,rules\nBarn,feet,nec\n",
        enclosures="code,kind\nMDP,Panel\nJ1,box\n",
        raceways='code,from,to,type,length\nW1,MDP,J1,rigid,"12\' 6"""\n',
        circuits="code,system,retired_at\nP,three phase,\nOLD,,24.4.2025\n",
        conductors="circuit,function,size,metal,colour,from.enclosure,to.enclosure\n"
        'P,neutral,"2,5 mm2",copper,light blue,MDP,J1\n',
    )
    found = read_site(folder)
    assert (found.site.units, found.site.rules) == ("ft", "NEC")
    assert [box.kind for box in found.enclosures] == ["panelboard", "junction-box"]
    assert (found.raceways[0].type, found.raceways[0].length_m) == ("RMC", 3.81)
    assert (found.circuits[0].system, found.circuits[1].retired_at) == ("ac-3ph", "2025-04-24")
    (wire,) = found.conductors
    assert (wire.function, wire.size, wire.metal, wire.colour) == ("N", "2.5 mm2", "Cu", "BU")


def test_a_word_or_day_that_may_mean_several_is_a_fault_that_names_them(tmp_path: Path) -> None:
    folder = write(
        tmp_path,
        enclosures="code,kind\nA,box\nB,barrel\n",
        raceways="code,from,to,type\nW1,A,B,pvc\n",
        circuits="code,retired_at\nP,4/5/2025\n",
    )
    assert faults(folder) == [
        "enclosures.csv:3 kind: 'barrel' is not an enclosure kind. Allowed: "
        + ", ".join(k.ENCLOSURE_KIND.words) + ".",
        "raceways.csv:2 type: 'pvc' may be a raceway type in several ways. Write PVC-40 or PVC-80.",
        "circuits.csv:2 retired_at: '4/5/2025' can be read as two days. Write 2025-04-05 or"
        " 2025-05-04.",
    ]  # fmt: skip


def test_a_json_file_has_the_words_of_the_schema_alone(tmp_path: Path) -> None:
    file = tmp_path / "site.json"
    row = {"code": "MDP", "kind": "panel"}
    file.write_text(json.dumps({"format": "wiretrack-site/1", "enclosures": [row]}), "utf-8")
    with pytest.raises(
        SiteFileError, match=r"'panel' is not an enclosure kind\. Did you mean panelboard\?"
    ):
        read_site(file)
