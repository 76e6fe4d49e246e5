# SPDX-License-Identifier: MIT
"""Two real jobs, from the site file to the label that leads back to the record.

(a) Seven conductors of 12 AWG stranded copper, three black, three red, one green, in 46 m of 1 in.
rigid conduit; a meter with two decimals; leads 0.2 Ω; one bad twist.
(b) A 24-core control cable, all cores black, the numbers unreadable, one core open, a pair shorted.
"""

from __future__ import annotations

import json
import os
import random
import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest

from tests.cases.meter import RealBundle
from tests.drawing import HOURS, full
from tests.record_of import record_of
from wiretrack.encoding import document
from wiretrack.model.tags import ALPHABET, check_character, format_tag
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.test.testing import ReadingText, log_reading

# NEC chapter 9 table 8: 12 AWG stranded uncoated copper, 1.98 Ω per 1000 ft at 75 °C; to 20 °C
# with 0.00323 per K (note 2): 46 m are 0.246 Ω.
OHM_12_AWG_46_M = 1.98 / 304.8 * 46 * (1 + 0.00323 * (20 - 75))
# IEC 60228:2004 table 2, class 2: 1.5 mm², 12.1 Ω/km at 20 °C: 80 m are 0.97 Ω.
OHM_1_5_MM2_80_M = 12.1 * 0.080


def made_tag(rng: random.Random) -> str:
    body = "".join(rng.choice(ALPHABET) for _ in range(6))
    return body + check_character(body)


def site(tags: list[str], colours: list[str], **wire: Any) -> dict[str, Any]:
    functions = wire.pop("functions")
    return {
        "format": "wiretrack-site/1",
        "site": {"code": "J", "name": "Job", "rules": "NEC", "edition": 2023},
        "enclosures": [
            {"code": "PNL", "kind": "panelboard", "name": "panel"},
            {"code": "BOX", "kind": "junction-box", "name": "box up there"},
        ],
        "raceways": [wire.pop("raceway")],
        "circuits": [wire.pop("circuit")],
        "pulls": [{"code": "P1", "path": ["W1"]}],
        "conductors": [
            {
                "tag": tag, "circuit": "C", "function": function, "colour": colour, "pull": "P1",
                "from": {"enclosure": "PNL"}, "to": {"enclosure": "BOX"}, **wire,
            }
            for tag, colour, function in zip(tags, colours, functions, strict=True)
        ],
        "instruments": [
            {"code": "M", "kind": "multimeter", "accuracy": "0.5% + 2 digits",
             "resolution": "0.01 ohm"}
        ],
    }  # fmt: skip


def registry_with(document: dict[str, Any], folder: Path) -> Path:
    """Return a registry of a site in a folder: a copy of the one made of it first."""
    return Path(shutil.copy(_made_of(json.dumps(document)), folder))


@cache
def _made_of(text: str) -> Path:
    folder = Path(mkdtemp(dir=os.environ["XDG_STATE_HOME"]))
    db, file = folder / "job.db", folder / "job.json"
    file.write_text(text, "utf-8")
    new_site(db, "Job")
    with open_registry(db) as registry:
        load_site(registry, file)
    return db


def ring_out(db: Path, bundle: RealBundle, **wanted: Any) -> dict[str, Any]:
    """Ring the pull out, closing and opening the registry again every few steps."""
    request = Wanted(pull="P1", near="PNL", far="BOX", **wanted)
    for _ in range(2000):
        with open_registry(db) as registry:
            ringing = Ringing.begin(registry, request)
            for _ in range(7):
                step = ringing.next_step()
                if isinstance(step, Result):
                    found: dict[str, Any] = document(ringing.finish("test"))
                    return found
                ringing.answer(step, bundle.answer(document(step)))
    raise AssertionError("the ring-out doesn't end")


@pytest.mark.parametrize("seed", range(6))
def test_seven_conductors_in_rigid_conduit(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    tags = [made_tag(rng) for _ in range(7)]
    colours = ["BK", "BK", "BK", "RD", "RD", "RD", "GN"]
    marks = rng.sample(range(1, 8), 7)
    mate = {format_tag(tag): str(mark) for tag, mark in zip(tags, marks, strict=True)}
    document = site(
        tags,
        colours,
        functions=["L1", "L1", "L1", "L2", "L2", "L2", "PE"],
        size="12 AWG",
        metal="Cu",
        insulation="THWN-2",
        strands=19,
        length="46 m",
        circuit={"code": "C", "title": "job", "system": "ac-1ph", "max_voltage": "240 V"},
        raceway={"code": "W1", "from": "PNL", "to": "BOX", "type": "RMC", "trade_size": "1",
                 "length": "45 m", "bends_deg": 270, "metal": True},
    )  # fmt: skip
    db = registry_with(document, tmp_path)
    twisted = format_tag(rng.choice(tags))
    bundle = RealBundle(mate, OHM_12_AWG_46_M, bad_twist={twisted: 3.1})
    far_colours = ",".join(colour for _, colour in sorted(zip(marks, colours, strict=True)))
    result = ring_out(db, bundle, far_colours=far_colours)
    assert {m["near"]: m["far"] for m in result["matches"]} == mate
    assert result["walks"] == bundle.walks == 1
    assert result["probes"] == bundle.probes
    assert (result["faults"], result["unresolved"]) == ([], [])
    with open_registry(db) as registry:
        record = record_of(registry, tags[0])
        assert record["ends"][1]["mark"] == mate[format_tag(tags[0])]
        assert record["expected_ohms"] == pytest.approx(OHM_12_AWG_46_M, rel=1e-9)
        shown = f"{OHM_12_AWG_46_M + 0.2:.2f}"
        text = ReadingText(subject=tags[0], kind="continuity", value=shown, leads="0.2",
                           instrument="M", temp="20")  # fmt: skip
        assert log_reading(registry, text).verdict.outcome == "pass"


def test_a_bad_twist_is_questioned_and_not_believed_to_be_an_open_conductor(tmp_path: Path) -> None:
    tags = [made_tag(random.Random(seed)) for seed in range(7)]
    colours = ["BK", "BK", "BK", "RD", "RD", "RD", "GN"]
    mate = {format_tag(tag): str(8 - n) for n, tag in enumerate(tags, 1)}
    document = site(
        tags, colours, functions=["L1"] * 6 + ["PE"], size="12 AWG", metal="Cu", strands=19,
        length="46 m", circuit={"code": "C", "system": "ac-1ph"},
        raceway={"code": "W1", "from": "PNL", "to": "BOX", "metal": True},
    )  # fmt: skip
    db = registry_with(document, tmp_path)
    twist = {format_tag(tag): 3.1 for tag in tags}  # wherever it is joined, the twist is bad
    bundle = RealBundle(mate, OHM_12_AWG_46_M, bad_twist=twist)
    result = ring_out(db, bundle, far_colours=",".join(reversed(colours)))
    assert {m["near"]: m["far"] for m in result["matches"]} == mate
    assert result["questions"]
    assert all(question["ohms"] > question["expected"] for question in result["questions"])


@pytest.mark.parametrize("seed", [0, *map(full, range(1, 4 if HOURS else 2))])
def test_a_control_cable_with_an_open_core_and_a_shorted_pair(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    tags = [made_tag(rng) for _ in range(24)]
    marks = rng.sample(range(1, 25), 24)
    mate = {format_tag(tag): str(mark) for tag, mark in zip(tags, marks, strict=True)}
    document = site(
        tags,
        ["BK"] * 24,
        functions=["signal"] * 24,
        size="1.5 mm2",
        metal="Cu",
        strands=7,
        length="80 m",
        circuit={"code": "C", "title": "control", "system": "signal", "max_voltage": "24 V"},
        raceway={"code": "W1", "from": "PNL", "to": "BOX", "type": "cable", "length": "79 m"},
    )
    db = registry_with(document, tmp_path)
    broken, one, other = (format_tag(tag) for tag in rng.sample(tags, 3))
    bundle = RealBundle(
        mate, OHM_1_5_MM2_80_M, open_tags=frozenset({broken}), shorted=((one, other),)
    )
    result = ring_out(db, bundle)
    sound = {near: far for near, far in mate.items() if near not in (broken, one, other)}
    matched = {m["near"]: m["far"] for m in result["matches"]}
    assert sound.items() <= matched.items() <= mate.items()
    assert matched.keys() - sound.keys() <= {broken} & set(result["by_exclusion"])
    faults = {fault["kind"]: set(fault["ends"]) for fault in result["faults"]}
    assert set(faults) == {"open", "short"}
    assert broken in faults["open"]
    assert {one, other} <= faults["short"]
    assert {one, other} <= set(result["unresolved"])
