# SPDX-License-Identifier: MIT
"""Asking for a ring-out a second time: to go on, to see its result, to find what stayed open."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.pump import L1, L2, PE
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError
from wiretrack.model.tags import format_tag
from wiretrack.procedure import RINGOUT
from wiretrack.ringout.results import Result
from wiretrack.store.procedures import latest as latest_of
from wiretrack.tasks.identify import state as ringout_state
from wiretrack.tasks.identify.record import ringout_record
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

MATE = {format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}


def wanted(**more: Any) -> Wanted:
    return Wanted(pull="P1", near="MDB", far="PH1", **more)


def rung_out(registry: Registry) -> Result:
    ringing, real = Ringing.begin(registry, wanted()), RealBundle(dict(MATE), ohm_each=0.3)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, real.answer(document(step)))
    return ringing.finish("roof")


def rewrite(registry: Registry, sql: str, *parameters: object) -> None:
    with registry.write() as db:
        db.execute(sql, list(parameters))


def test_the_same_command_shows_a_finished_ring_out_again(registry: Registry) -> None:
    result = rung_out(registry)
    again = Ringing.begin(registry, wanted())
    assert again.finished
    assert document(again.finish()) == document(result)


def test_who_began_and_who_finished_is_in_the_history(registry: Registry) -> None:
    Ringing.begin(registry, wanted(), who="cellar")
    rung_out(registry)
    rows = registry.rows("SELECT by, action FROM changes WHERE what = 'ringouts' ORDER BY seq")
    assert rows == [{"by": "cellar", "action": "added"}, {"by": "roof", "action": "changed"}]


def test_a_ring_out_begun_before_an_option_existed_goes_on(registry: Registry) -> None:
    begun = Ringing.begin(registry, wanted())
    begun.answer(begun.next_step(), {"done": True})
    older = {k: v for k, v in begun.record.settings.items() if k not in ("screen", "instrument")}
    rewrite(registry, "UPDATE procedures SET settings = ?", json.dumps(older))
    on = Ringing.begin(registry, wanted())
    assert on.record.id == begun.record.id
    assert on.steps_done == 1


def test_a_length_that_became_known_since_does_not_stop_a_ring_out(registry: Registry) -> None:
    begun = Ringing.begin(registry, wanted())
    rewrite(registry, "UPDATE conductors SET length_m = 70")
    assert Ringing.begin(registry, wanted()).record.id == begun.record.id


def test_other_references_than_at_the_beginning_are_named_and_refused(registry: Registry) -> None:
    Ringing.begin(registry, wanted())
    with pytest.raises(BadInputError, match="with other references is under way: alone"):
        Ringing.begin(registry, wanted(references=["raceway"]))


@pytest.mark.parametrize("colours", [None, "BK,GNYE"])
def test_marks_of_identified_ends_are_not_given_twice(
    registry: Registry, colours: str | None
) -> None:
    rung_out(registry)
    # The end marked 2 stays known; those on the other two are found to be wrong later.
    rewrite(registry, "UPDATE ends SET mark = NULL WHERE mark IN ('1', '3')")
    ringing = Ringing.begin(registry, wanted(far_colours=colours))
    assert [end.name for end in ringing.settings.far] == ["1", "3"]


def test_marks_begin_anew_where_everything_is_to_be_found_again(registry: Registry) -> None:
    rung_out(registry)
    ringing = Ringing.begin(registry, wanted(again=True))
    assert [end.name for end in ringing.settings.far] == ["1", "2", "3"]
    latest = latest_of(registry, RINGOUT, pull="P1")
    assert latest is not None
    assert latest.result is None


def test_one_that_was_begun_anew_goes_on_by_the_command_without_again(registry: Registry) -> None:
    rung_out(registry)
    begun = Ringing.begin(registry, wanted(again=True))
    real = RealBundle(dict(MATE), ohm_each=0.3)
    step = begun.next_step()
    begun.answer(step, real.answer(document(step)))
    on = Ringing.begin(registry, wanted())
    assert (on.record.id, on.steps_done) == (begun.record.id, 1)
    switched = Ringing.begin(registry, wanted(joins="pairs", switch=True))
    assert (switched.record.id, switched.steps_done) == (begun.record.id, 1)
    assert switched.settings.gear.joins == "pairs"
    while not isinstance(step := switched.next_step(), Result):
        switched.answer(step, real.answer(document(step)))
    switched.finish()
    assert Ringing.begin(registry, wanted(joins="pairs")).finished


def test_other_gear_is_named_and_taken_up_where_it_is_asked_for(registry: Registry) -> None:
    begun = Ringing.begin(registry, wanted())
    begun.answer(begun.next_step(), {"done": True})
    with pytest.raises(BadInputError, match="other gear is under way: alone"):
        Ringing.begin(registry, wanted(crew=2, diode=True))
    on = Ringing.begin(registry, wanted(crew=2, diode=True, switch=True))
    assert on.record.id == begun.record.id
    assert on.steps_done == 1
    assert (on.settings.gear.crew, on.settings.gear.diode) == (2, True)
    assert Ringing.begin(registry, wanted(crew=2, diode=True)).steps_done == 1
    told = ringout_record(registry, "P1").gear
    assert told == ("step 1: alone", "from step 2 on: a helper with a radio, a diode")


def test_a_switch_makes_other_references_of_them_and_no_other_ends(registry: Registry) -> None:
    begun = Ringing.begin(registry, wanted())
    with pytest.raises(BadInputError, match="with other boxes or ends is under way"):
        Ringing.begin(registry, wanted(far_ends=2, switch=True))
    on = Ringing.begin(registry, wanted(references=["raceway"], switch=True))
    assert on.record.id == begun.record.id
    assert on.settings.references == ("raceway",)


def test_a_page_that_shows_a_step_of_the_old_gear_answers_nothing(registry: Registry) -> None:
    begun = Ringing.begin(registry, wanted())
    begun.answer(begun.next_step(), {"done": True})
    seen = ringout_state.version_of(registry, "P1") or ""
    Ringing.begin(registry, wanted(crew=2, switch=True))
    with pytest.raises(ChangedMeanwhileError):
        ringout_state.answer(registry, "P1", seen, "done")
