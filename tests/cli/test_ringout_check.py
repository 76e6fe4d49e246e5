# SPDX-License-Identifier: MIT
"""``ringout run --check``: planned for, offered at the end, led, remembered, left out."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING
from unittest import mock

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
OFFER = "Or first, check some matches once more: wiretrack ringout run P1 --check"


def rung_out(db: Path) -> RealBundle:
    bundle = RealBundle({format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}, 0.3)
    with open_registry(db) as registry:
        ringing = Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
        while not isinstance(step := ringing.next_step(), Result):
            ringing.answer(step, bundle.answer(document(step)))
    return bundle


def test_the_plan_tells_what_a_check_takes(wiretrack: Wiretrack) -> None:
    plain, never, longer = (
        wiretrack("ringout", "plan", "P1", *BOXES, *more, "--json").json["methods"][0]
        for more in ((), ("--no-check",), ("--check",))
    )
    assert plain == never
    assert longer["walks"] == plain["walks"] + 1
    assert longer["joins"] == plain["joins"] + 1
    assert plain["touches_expected"] < longer["touches_expected"] <= plain["touches_expected"] + 2
    assert longer["minutes"] > plain["minutes"]


def test_a_check_is_offered_at_the_end_and_led_by_the_pull_alone(
    wiretrack: Wiretrack, db: Path
) -> None:
    bundle = rung_out(db)
    ended = wiretrack("ringout", "run", "P1")
    assert OFFER in ended.words
    steps, lines = [], io.StringIO()
    for options in (("--check",), ()):
        with mock.patch("sys.stdin", lines):
            asked = wiretrack("ringout", "run", "P1", *options, "--jsonl")
        assert asked.status == 2  # the answers ended
        steps.append(json.loads(asked.out.splitlines()[-1]))
    assert steps[0] == steps[1]
    assert (steps[0]["step"], steps[0]["phase"]) == ("join", "verify")
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P1")
        while not isinstance(step := ringing.next_step(), Result):
            ringing.answer(step, bundle.answer(document(step)))
    ended = wiretrack("ringout", "run", "P1")
    assert OFFER not in ended.words
    why = wiretrack("ringout", "status", "P1", "--why", format_tag(L1)).words
    assert why.count("Checked: with ") <= 1
