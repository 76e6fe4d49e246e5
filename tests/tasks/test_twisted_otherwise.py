# SPDX-License-Identifier: MIT
"""A twist that was another one than was asked for: offered as a correction, said, and kept."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.pump import tag
from tests.tasks.test_three_boxes import made, site, wire
from tests.web.conftest import form_token, settings_of, signed_in
from wiretrack.encoding import document
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.tasks.describe.sites import dump_site
from wiretrack.tasks.identify import state as ringout_state
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

TAGS = [tag(f"PMP04{number}") for number in range(8)]
MATE = dict(zip(map(format_tag, TAGS), "21364578", strict=True))
WANTED = Wanted(pull="P1", near="MDB", far="PH1")


@dataclass
class Slip(RealBundle):
    """Wires, and a hand that exchanges two ends of the twists in the far box, once."""

    made: tuple[tuple[str, ...], ...] = ()  # what it twisted then

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        if step["step"] == "join" and step["at"] == "far" and not self.made:
            (*one, last), (*two, other), *more = step["groups"]
            step = {**step, "groups": [[*one, other], [*two, last], *more]}
            self.made = tuple(map(tuple, step["groups"]))
        return super().answer(step)


def carried_out(ringing: Ringing, wires: RealBundle) -> Result:
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, wires.answer(document(step)))
    return ringing.finish("roof")


@pytest.fixture
def slipped(tmp_path: Path) -> Iterator[tuple[Registry, Slip]]:
    """A registry in which eight wires are rung out by a hand that slipped, and those wires."""
    facts = site()
    with made(tmp_path, {**facts, "conductors": [wire(one, "PH1") for one in TAGS]}) as registry:
        wires = Slip(dict(MATE), ohm_each=0.3)
        carried_out(Ringing.begin(registry, WANTED), wires)
        yield registry, wires


def same(typed: str, groups: tuple[tuple[str, ...], ...]) -> bool:
    named = [frozenset(part.replace(" ", "").split("+")) for part in typed.split(",")]
    return set(named) == set(map(frozenset, groups))


def test_the_slip_that_happened_is_offered_and_mended_by_saying_so(
    slipped: tuple[Registry, Slip],
) -> None:
    registry, wires = slipped
    state = ringout_state.state(registry, "P1")
    assert state.finished
    assert not any(match.sure for match in state.result.matches)
    (offered,) = [slip for slip in state.slips if same(slip.typed, wires.made)]
    assert offered.told in " ".join(state.result.notes)
    after = ringout_state.correct(registry, "P1", state.version, offered.number, offered.typed)
    assert not after.slips
    assert {m.near: m.far for m in after.result.matches} == MATE
    assert all(match.sure for match in after.result.matches)
    assert (after.finished, after.kind, after.guidance.phase) == (False, "join", "verify")
    latest = Ringing.latest(registry, "P1")
    engine = latest.engine
    assert isinstance(engine, Ringout)
    wires.place = engine.evidence.place
    whole = carried_out(latest, wires)
    assert all(match.sure for match in whole.matches)
    log = ringout_state.log(registry, "P1").log
    (done,) = [one for one in log if one.number == offered.number]
    assert (done.answer, done.superseded) == (f"twisted otherwise: {offered.typed}", 1)


def test_the_phone_offers_it_as_a_button_and_takes_other_twists_in_its_log(
    slipped: tuple[Registry, Slip],
) -> None:
    registry, wires = slipped
    client: Any = signed_in(create_app(settings_of(registry.path)), name="phone-1")
    page = client.get("/ringouts/P1").text
    state = client.get("/api/ringouts/P1").json
    (offered,) = [slip for slip in state["slips"] if same(slip["typed"], wires.made)]
    assert f'value="{offered["typed"]}">Yes: {offered["told"]}</button>' in page
    assert 'name="typed" placeholder="1 + 3, 4 + 5"' in client.get("/ringouts/P1/log").text

    def send(typed: str) -> Any:
        version = client.get("/api/ringouts/P1").json["version"]
        given = {"seen": version, "number": str(offered["number"]), "typed": typed}
        token = form_token(client.get("/ringouts/P1").text)
        return client.post("/ringouts/P1/corrections", data={**given, "form_token": token})

    for typed, told in (("1 + 99", "is called 99"), ("1", "is not an answer"), ("1+1", "once")):
        refused = send(typed)
        assert (refused.status_code, told in refused.text) == (422, True)
    assert client.get("/api/ringouts/P1").json["version"] == state["version"]
    assert send(offered["typed"]).status_code in (200, 303)
    assert "slips" not in client.get("/api/ringouts/P1").json
    assert f"twisted otherwise: {offered['typed']}" in client.get("/ringouts/P1/log").text


def test_ends_are_named_as_they_are_in_the_box_or_refused(tmp_path: Path) -> None:
    facts = site()
    with made(tmp_path, {**facts, "conductors": [wire(one, "PH1") for one in TAGS]}) as registry:
        ringing, wires = Ringing.begin(registry, WANTED), RealBundle(dict(MATE), ohm_each=0.3)
        while (step := ringing.next_step()).kind != "join":
            ringing.answer(step, wires.answer(document(step)))
        assert not isinstance(step, Result)
        before, (one, two, *_) = len(ringing.record.answers), MATE
        with pytest.raises(BadInputError, match="No end in MDB is called ZZZ"):
            ringing.answer_typed(step, f"{one} + zzz")
        with pytest.raises(BadInputError, match="No end in MDB is called"):
            ringing.answer(step, {"twisted": [[one, "7"]]})
        with pytest.raises(BadInputError, match="Each end is named once"):
            ringing.answer_typed(step, f"{one} + {one.replace('-', '')}")
        assert len(ringing.record.answers) == before
        ringing.answer_typed(step, f"{one.replace('-', '').lower()} + {two}")
        kept = Ringing.latest(registry, "P1")
        assert kept.engine.held("near") == ringing.engine.held("near") == ((one, two),)
        assert not kept.left_out


def test_what_was_twisted_otherwise_goes_with_the_site_file(
    slipped: tuple[Registry, Slip], tmp_path: Path
) -> None:
    registry, wires = slipped
    state = ringout_state.state(registry, "P1")
    (offered,) = [slip for slip in state.slips if same(slip.typed, wires.made)]
    ringout_state.correct(registry, "P1", state.version, offered.number, offered.typed)
    folder = tmp_path / "other"
    folder.mkdir()
    dump_site(registry, folder / "dump.json")
    with made(folder, json.loads((folder / "dump.json").read_text("utf-8"))) as other:
        assert Ringing.latest(other, "P1").engine.matched == MATE
