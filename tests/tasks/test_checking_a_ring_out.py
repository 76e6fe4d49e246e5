# SPDX-License-Identifier: MIT
"""A finished ring-out whose matches are checked once more: on the terminal, the phone, by two."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1
from tests.tasks.test_ringing_again import MATE, rung_out, wanted
from tests.web.conftest import form_token, settings_of, signed_in
from tests.web.test_ringing_out_by_phone import BEGIN, job, meter, typed
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify import state as ringout_state
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

CHECK = {"check": "always"}


def mark(registry: Registry) -> str | None:
    rows = registry.rows(
        "SELECT mark FROM ends JOIN conductors AS c ON c.id = conductor_id JOIN enclosures AS e"
        " ON e.id = enclosure_id WHERE c.tag = ? AND e.code = 'PH1'",
        [L1],
    )
    return str(rows[0]["mark"]) if rows[0]["mark"] else None


def checked(ringing: Ringing) -> Result:
    """Carry a check out, all of it closed; return the result."""
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, step.parse({"ohms": 0.6} if step.is_touch else {"done": True}))
    return ringing.finish("roof")


def test_a_finished_ring_out_is_open_again_until_its_check_is_done(registry: Registry) -> None:
    before = rung_out(registry)
    assert mark(registry) == MATE[next(iter(MATE))]
    latest = Ringing.latest(registry, "P1")
    assert latest.can_be_checked
    asked = Ringing.gone_on(registry, "P1", CHECK, who="roof")
    assert not asked.finished
    assert mark(registry) is None
    assert asked.guidance.phase == "verify"
    assert asked.settings.gear.told == "alone, a check at the end"
    after = checked(Ringing.gone_on(registry, "P1", {}))
    assert (
        after.probes == before.probes + 2
    )  # two twisted; two that a broken wire could hide behind
    assert [(m.near, m.far) for m in after.matches] == [(m.near, m.far) for m in before.matches]
    assert mark(registry) == MATE[next(iter(MATE))]
    again = Ringing.gone_on(registry, "P1", CHECK)
    assert again.finished
    assert not again.can_be_checked


def test_other_gear_is_still_refused_once_all_is_done(registry: Registry) -> None:
    rung_out(registry)
    with pytest.raises(BadInputError, match="is rung out, so its gear"):
        Ringing.latest(registry, "P1").switch({"crew": 2})
    assert Ringing.latest(registry, "P1").finished


def test_of_two_who_ask_for_a_check_at_once_one_is_told(registry: Registry) -> None:
    rung_out(registry)
    seen = ringout_state.state(registry, "P1").version
    state = ringout_state.check(registry, "P1", seen)
    assert (state.kind, state.finished, state.guidance.phase) == ("join", False, "verify")
    with pytest.raises(ChangedMeanwhileError):
        ringout_state.check(registry, "P1", seen)
    undone = ringout_state.answer(registry, "P1", state.version, "done")
    back = ringout_state.undo(registry, "P1", undone.version)
    assert (back.kind, back.guidance.phase) == ("join", "verify")


def test_a_corrected_or_undone_answer_brings_a_check_unless_that_is_left_out(
    registry: Registry,
) -> None:
    for check, expected in (("auto", True), ("never", False)):
        ringing = Ringing.begin(registry, wanted(check=check, again=True, switch=False))
        while not parse_step(document(ringing.next_step())).is_touch:
            ringing.answer(ringing.next_step(), {"done": True})
        ringing.answer(ringing.next_step(), {"ohms": "OL"})
        ringing = ringing.undo()
        bundles = {bundle.check for bundle in ringing.settings.bundles.values()}
        assert bundles == {check}
        assert (ringing.engine.bundle.check == "led") is expected  # type: ignore[union-attr]


def test_the_phone_offers_a_check_once_all_is_done(tmp_path: Path) -> None:
    db, mate = job(tmp_path)
    client: Any = signed_in(create_app(settings_of(db)))
    bundle = meter(mate)
    token = form_token(client.get("/ringouts/P1").text)
    client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})

    def lead() -> dict[str, Any]:
        while not (state := client.get("/api/ringouts/P1").json)["over"]:
            with open_registry(db) as registry:
                step = Ringing.latest(registry, "P1").next_step()
            given = {"seen": state["version"], "typed": typed(bundle.answer(document(step)))}
            client.post("/ringouts/P1/answers", data={**given, "form_token": token})
        return dict(state)

    before = lead()
    page = client.get("/ringouts/P1").text
    assert "Check some matches once more" in page
    client.post("/ringouts/P1/check", data={"seen": before["version"], "form_token": token})
    page = client.get("/ringouts/P1").text
    assert "Checking the matches once more: connect these, then touch them in BOX." in page
    after = lead()
    assert after["probes"] == before["probes"] + 2
    page = client.get("/ringouts/P1").text
    assert "Check some matches once more" not in page.partition("<details")[0]
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P1")
        told = [line for tag in mate for line in ringing.why(tag)]
    assert sum(line.startswith("Checked: with ") for line in told) == 2
