# SPDX-License-Identifier: MIT
"""Gear and crew of a ring-out changed while it runs, by form, by program and on two phones."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

import pytest

from tests.tasks.test_three_boxes import made, site
from tests.warm import never_wait_for_the_disk
from tests.web.browsing import PHONE, served, sign_in
from tests.web.conftest import LOG_CODE, READ_CODE, form_token, settings_of, signed_in
from tests.web.test_ringing_out_by_phone import (
    BEGIN,
    changed,
    job,
    meter,
    next_step,
    typed,
)
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

TARGET_PX = 44
ALL = {"crew": "1", "joins": "any", "screen": "auto"}


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return job(tmp_path)[0]


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A registry in which the first step of a ring-out is answered, made once to be copied."""
    path = job(tmp_path_factory.mktemp("begun"))[0]
    with pytest.MonkeyPatch.context() as patch:
        never_wait_for_the_disk(patch.setattr)
        app = create_app(settings_of(path))
        client = signed_in(app)
        token = form_token(client.get("/ringouts/P1").text)
        client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})
        send(client, "answers", typed="open")  # the first step is a touch, to search for contacts
        app.extensions["registries"].close()
    return path


@pytest.fixture
def ringing(db: Path, begun: Path) -> Any:
    """Somebody signed in to that registry."""
    shutil.copy(begun, db)
    return signed_in(create_app(settings_of(db)))


def send(client: Any, path: str, **data: str) -> Any:
    given = {
        "seen": state(client)["version"],
        "form_token": form_token(client.get("/ringouts/P1").text),
        **data,
    }
    return client.post(f"/ringouts/P1/{path}", data=given)


def state(client: Any) -> dict[str, Any]:
    found: dict[str, Any] = client.get("/api/ringouts/P1").json
    return found


def stored(db: Path) -> tuple[dict[str, Any], int]:
    """Return a ring-out's settings and how many answers it has, as the command line finds them."""
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P1")
    return ringing.record.settings, ringing.steps_done


def test_gear_is_changed_half_way_and_what_was_answered_stays(ringing: Any, db: Path) -> None:
    before, steps = stored(db)
    new = {**ALL, "crew": "2", "joins": "pairs", "diode": "1", "resistors": "100, 4.7k"}
    assert send(ringing, "gear", **new).status_code == 303
    after, kept = stored(db)
    assert (steps, kept) == (1, 1)
    assert {"crew": 2, "joins": "pairs", "diode": True, "screen": "auto"}.items() <= after.items()
    assert after["resistors"] == [100, 4700]
    assert {k: before[k] for k in ("near", "far", "references")}.items() <= after.items()
    page = ringing.get("/ringouts/P1").text
    assert "Gear: a helper with a radio, resistors of 100, 4700 Ω, a diode, joins of two" in page
    assert "step 1: alone" in page


def test_the_same_gear_again_writes_nothing(ringing: Any, db: Path) -> None:
    before, version = stored(db), state(ringing)["version"]
    assert send(ringing, "gear", **ALL).status_code == 303
    assert (stored(db), state(ringing)["version"]) == (before, version)


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("resistors", "some <b>", "&#39;some &lt;b&gt;&#39; is not"),
        ("resistors", "100,0", "A resistor of the kit has 0 ohm. It must be above 0."),
        ("resistors", "-100", "is"),
        ("resistors", "nan", "is not"),
        ("resistors", "100," * 100 + "100", "The kit has 101 resistors"),
        ("instrument", "M<9", "M&lt;9"),
        ("crew", "3", "&#39;3&#39; is no crew. It must be 1 or 2."),
        ("crew", "", "&#39;&#39; is no crew."),
        ("joins", "three", "joins is &#39;three&#39;. It must be any or pairs."),
        ("screen", "x", "screen is &#39;x&#39;. It must be auto or first or none."),
    ],
)
def test_gear_that_cannot_be_is_refused_beside_its_field_and_all_that_was_typed_kept(
    ringing: Any, db: Path, field: str, value: str, told: str
) -> None:
    before = stored(db)
    given = {**ALL, "joins": "pairs", "diode": "1", "resistors": "220", field: value}
    answer = send(ringing, "gear", **given)
    assert answer.status_code == 422
    assert stored(db) == before
    form = answer.text.split('<details class="gear" open>')[1].split("</form>")[0]
    assert f'id="fault-{field}"' in form
    assert told in form.split(f'id="fault-{field}"')[1].split("</p>")[0]
    assert 'name="diode" value="1" checked' in form
    if field != "joins":
        assert 'name="joins" value="pairs" checked' in form
    if field == "resistors":
        assert f'value="{value.replace("<", "&lt;").replace(">", "&gt;")}"' in form
        assert 'aria-invalid="true" aria-describedby="fault-resistors"' in form
    else:
        assert 'value="220"' in form
    assert 'id="fault-ohms"' not in answer.text


def test_a_ring_out_is_not_begun_with_gear_that_cannot_be(db: Path) -> None:
    client = signed_in(create_app(settings_of(db)))
    token = form_token(client.get("/ringouts/P1").text)
    for field, value in (("resistors", "0"), ("joins", "three"), ("crew", "9")):
        answer = client.post(
            "/ringouts/P1/begin", data={**BEGIN, "form_token": token, field: value}
        )
        assert answer.status_code == 422
        assert f'id="fault-{field}"' in answer.text
        assert client.get("/api/ringouts/P1").status_code == 400
    with open_registry(db) as registry:
        assert registry.rows("SELECT count(*) AS n FROM procedures") == [{"n": 0}]


def test_gear_changed_after_somebody_answered_is_not_stored_but_stays_in_the_form(
    ringing: Any, db: Path
) -> None:
    seen = state(ringing)["version"]
    other = signed_in(create_app(settings_of(db)), LOG_CODE, "phone-2")
    assert send(other, "answers", typed="o").status_code == 303
    before = stored(db)
    answer = send(ringing, "gear", **ALL, seen=seen, resistors="330")
    assert answer.status_code == 409
    assert "answered or changed already. Here is the one that stands now." in answer.text
    assert 'value="330"' in answer.text.split('<details class="gear" open>')[1]
    assert stored(db) == before


def test_an_answer_to_a_step_planned_for_other_gear_is_not_stored(ringing: Any, db: Path) -> None:
    seen = state(ringing)["version"]
    assert send(ringing, "gear", **{**ALL, "joins": "pairs"}).status_code == 303
    assert send(ringing, "answers", seen=seen, typed="open").status_code == 409
    assert stored(db)[1] == 1


def test_gear_is_fixed_once_the_ring_out_is_over(db: Path) -> None:
    client = signed_in(create_app(settings_of(db)))
    token = form_token(client.get("/ringouts/P1").text)
    client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})
    (db.parent / "same").mkdir()
    bundle = meter(job(db.parent / "same")[1])  # made by the same seed
    for _ in range(200):
        if state(client)["over"]:
            break
        with open_registry(db) as registry:
            answer = typed(bundle.answer(next_step(registry)))
        send(client, "answers", typed=answer)
    assert state(client)["finished"]
    assert 'class="gear"' not in client.get("/ringouts/P1").text
    before = stored(db)
    refused = send(client, "gear", **{**ALL, "crew": "2"})
    assert refused.status_code == 422
    assert "P1 is rung out, so its gear can&#39;t change any more." in refused.text
    assert stored(db) == before


def test_gear_is_changed_by_whoever_may_log_readings_and_nobody_else(
    ringing: Any, db: Path
) -> None:
    app = create_app(settings_of(db))
    changes = {**ALL, "crew": "2"}
    assert send(signed_in(app, READ_CODE), "gear", **changes).status_code == 403
    assert send(ringing, "gear", **changes, form_token="forged").status_code == 403
    assert stored(db)[0]["crew"] == 1
    assert send(signed_in(app, LOG_CODE), "gear", **changes).status_code == 303
    assert stored(db)[0]["crew"] == 2


def test_a_program_changes_the_gear_that_the_state_shows(ringing: Any, db: Path) -> None:
    now = state(ringing)
    token = {"X-Form-Token": form_token(ringing.get("/ringouts/P1").text)}
    gear = {**now["gear"], "crew": 2, "resistors": "100,470"}
    body = {"seen": now["version"], "gear": gear}
    answer = ringing.post("/api/ringouts/P1/gear", json=body, headers=token)
    assert (answer.status_code, answer.json["gear"]) == (200, gear)
    assert stored(db)[0]["resistors"] == [100, 470]
    assert ringing.post("/api/ringouts/P1/gear", json=body, headers=token).status_code == 412


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("crew", True), ("crew", "2"), ("crew", 3), ("diode", 1), ("joins", None),
        ("resistors", [100]), ("resistors", "0"), ("instrument", "none such"), ("extra", 1),
    ],
)  # fmt: skip
def test_a_program_is_told_which_field_of_the_gear_is_wrong(
    ringing: Any, db: Path, field: str, value: object
) -> None:
    now, before = state(ringing), stored(db)
    token = {"X-Form-Token": form_token(ringing.get("/ringouts/P1").text)}
    body = {"seen": now["version"], "gear": {**now["gear"], field: value}}
    answer = ringing.post("/api/ringouts/P1/gear", json=body, headers=token)
    assert (answer.status_code, answer.json["field"]) == (422, field)
    assert stored(db) == before
    incomplete: tuple[object, ...] = (None, [], {"crew": 1})
    for gear in incomplete:
        body = {"seen": now["version"], "gear": gear}
        assert ringing.post("/api/ringouts/P1/gear", json=body, headers=token).status_code == 422


def test_gear_changed_on_one_phone_by_keyboard_shows_on_the_other_which_keeps_what_it_typed(
    chromium: Any,
    db: Path,
) -> None:
    with served(db) as pages:
        phones = [chromium.new_context(**PHONE).new_page() for _ in range(2)]
        for name, phone in zip(("phone-1", "phone-2"), phones, strict=True):
            sign_in(phone, pages.address, "/ringouts/P1", name)
        here, there = phones
        here.click("button.main")
        here.wait_for_selector("#step")
        there.goto(f"{pages.address}/ringouts/P1")
        for phone in phones:
            assert not phone.is_visible(".gear form")
            phone.focus(".gear summary")
            phone.keyboard.press("Enter")
            assert phone.is_visible(".gear form")
            assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
        targets = here.locator(
            ".gear summary, .gear .choices label > span, .gear .field input, .gear select,"
            " .gear button"
        ).all()
        assert len(targets) == 20
        for target in targets:
            box = target.bounding_box()
            assert min(box["width"], box["height"]) >= TARGET_PX
        there.fill("#f-resistors", "330")
        here.focus(".gear [name=crew][value='1']")
        version = here.get_attribute("#step > div", "data-version")
        here.keyboard.press("ArrowRight")
        passed = []
        while not here.evaluate("document.activeElement.matches('.gear button')"):
            passed.append(here.evaluate("document.activeElement.outerHTML.slice(0, 60)"))
            assert len(passed) < 40, passed
            here.keyboard.press("Tab")
        here.keyboard.press("Enter")
        for phone in phones:
            changed(phone, version)
            assert "Gear: a helper with a radio" in phone.inner_text(".gear summary")
        assert there.input_value("#f-resistors") == "330"
        assert there.evaluate("document.activeElement.id") == "f-resistors"
        there.fill("#f-resistors", "much")
        there.press("#f-resistors", "Enter")
        there.wait_for_selector("#fault-resistors")
        assert there.input_value("#f-resistors") == "much"
        assert there.evaluate("document.activeElement.id") == "f-resistors"
    assert stored(db)[0]["crew"] == 2
    assert stored(db)[0]["resistors"] == []


def test_references_and_colours_are_added_by_phone_and_steps_taken_back(
    ringing: Any, db: Path
) -> None:
    before, steps = stored(db)
    colours = "BK,BK,RD,RD,GN"
    more = {**ALL, "known": "1", "far_colours": colours}
    assert send(ringing, "gear", **more).status_code == 303
    after, kept = stored(db)
    assert (kept, after["references"]) == (steps, [])  # the raceway wasn't ticked
    assert [end["colour"] for end in after["far"]] == colours.split(",")
    refused = send(ringing, "gear", **{**more, "far_colours": "BK"})
    assert refused.status_code == 422
    assert 'id="fault-far_colours"' in refused.text
    assert stored(db) == (after, kept)
    log = ringing.get("/ringouts/P1/log").text
    assert "Undo step 1" in log
    assert send(ringing, "undo", number="9").status_code == 422
    assert send(ringing, "undo", number="1").status_code == 303
    assert stored(db)[1] == 0
    assert before["far"] != after["far"]


def test_ends_in_two_boxes_and_numbers_at_both_are_begun_on_a_phone(tmp_path: Path) -> None:
    with made(tmp_path, site()):
        client = signed_in(create_app(settings_of(tmp_path / "site.db")))
    page = client.get("/ringouts/P1").text
    assert all(f'name="{name}"' in page for name in ("also", "near_numbers", "near_colours"))
    form = {"near": "MDB", "far": "PH1", "crew": "1", "form_token": form_token(page)}
    wrong = client.post("/ringouts/P1/begin", data={**form, "near_colours": "BK"})
    assert wrong.status_code == 422
    assert 'aria-describedby="fault-near_colours"' in wrong.text
    assert client.post("/ringouts/P1/begin", data={**form, "also": "PH2"}).status_code == 303
    shown = client.get("/ringouts/P1").text
    assert "<b>4</b> in PH2" in shown
    assert ">PH1</text>" in shown  # the box that the step is for
    assert ">PH1, PH2</text>" not in shown
