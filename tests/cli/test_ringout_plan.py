# SPDX-License-Identifier: MIT
"""Planning a ring-out: the methods side by side, held against what then happens."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tests.cases.meter import RealBundle
from tests.pump import L1, L2, PE
from wiretrack.encoding import document
from wiretrack.model.tags import format_tag
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

BOXES = ("--near", "MDB", "--far", "PH1")


def test_the_methods_are_compared_with_the_information_bound(wiretrack: Wiretrack) -> None:
    found = wiretrack(
        "ringout", "plan", "P1", *BOXES, "--reference", "raceway", "--resistors", "100,470,2200",
        "--json",
    ).json  # fmt: skip
    assert found["bound"] == round(math.log2(math.factorial(3)), 1)
    rows = {row["method"]: row for row in found["methods"]}
    methods = {"joins and walks", "resistor kit", "helper with a radio"}
    assert set(rows) == methods | {"pairs only", "no search for contacts"}
    assert rows["joins and walks"]["walks"] == 2
    assert rows["resistor kit"]["walks"] == 1
    assert all(row["touches_worst"] >= row["touches_expected"] for row in rows.values())


def test_colours_known_at_both_boxes_need_no_touch_to_tell_them_apart(wiretrack: Wiretrack) -> None:
    found = wiretrack("ringout", "plan", "P1", *BOXES, "--far-colours", "BK,GNYE,BN", "--json").json
    assert found["bound"] == 0.0
    assert found["methods"][0]["walks"] == 1


def test_the_ring_out_takes_what_was_planned(wiretrack: Wiretrack, db: Path) -> None:
    planned = wiretrack("ringout", "plan", "P1", *BOXES, "--json").json["methods"][0]
    bundle = RealBundle({format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}, 0.3)
    with open_registry(db) as registry:
        ringing = Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
        while not isinstance(step := ringing.next_step(), Result):
            ringing.answer(step, bundle.answer(document(step)))
    assert bundle.walks == planned["walks"]
    assert bundle.probes <= planned["touches_worst"]


def test_the_plan_is_a_table_for_people(wiretrack: Wiretrack) -> None:
    told = wiretrack("ringout", "plan", "P1", *BOXES).words
    assert "Somebody at the" in told
    assert "Quickest: " in told
    usual = "a walk 180 s, an end twisted on or taken out 12 s, a touch 4 s (common practice)"
    assert usual in told
    assert "log2 of the number of arrangements" in told


def test_minutes_are_by_what_the_site_says_that_walks_and_touches_take(
    wiretrack: Wiretrack,
) -> None:
    plan = ("ringout", "plan", "P1", *BOXES)
    before = wiretrack(*plan, "--json").json
    assert before["times"] == {"walk_s": 180.0, "twist_s": 12.0, "touch_s": 4.0}
    wiretrack("set", "site", "walk_time=10 min", "touch_time=2 s")
    after = wiretrack(*plan, "--json").json
    assert after["times"] == {"walk_s": 600.0, "twist_s": 12.0, "touch_s": 2.0}
    for found, walk, touch in ((before, 180, 4), (after, 600, 2)):
        for row in found["methods"]:
            seconds = row["walks"] * walk + row["ends_twisted"] * 12
            seconds += row["touches_expected"] * touch
            assert row["minutes"] == round(seconds / 60), row
    assert "a walk 600 s, an end twisted on or taken out 12 s, a touch 2 s (as the site says" in (
        wiretrack(*plan).words
    )
