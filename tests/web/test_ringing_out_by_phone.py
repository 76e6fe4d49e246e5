# SPDX-License-Identifier: MIT
"""A whole ring-out on the phone's pages, and two phones that see the same."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.cases.test_two_real_jobs import made_tag, registry_with, site
from tests.record_of import record_of
from tests.web.browsing import PHONE, dead_time, served, sign_in, until
from tests.web.conftest import BEARER, form_token, settings_of, signed_in
from wiretrack.encoding import document
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

COLOURS = ["BK", "BK", "RD", "RD", "GN"]
BEGIN = {"near": "PNL", "far": "BOX", "start": "near", "crew": "1", "raceway": "1"}


def job(folder: Path) -> tuple[Path, dict[str, str]]:
    """Return a registry with five conductors in steel, and which near tag is which far mark."""
    rng = random.Random(7)
    tags = [made_tag(rng) for _ in COLOURS]
    document = site(
        tags,
        COLOURS,
        functions=["L1", "L1", "L2", "L2", "PE"],
        size="12 AWG",
        metal="Cu",
        strands=19,
        length="46 m",
        circuit={"code": "C", "title": "job", "system": "ac-1ph", "max_voltage": "240 V"},
        raceway={"code": "W1", "from": "PNL", "to": "BOX", "metal": True},
    )
    marks = rng.sample("12345", 5)
    return registry_with(document, folder), dict(zip(map(format_tag, tags), marks, strict=True))


def meter(mate: dict[str, str]) -> RealBundle:
    return RealBundle(mate, 0.246, raceway_ohm=0.05)


def typed(answer: dict[str, Any]) -> str:
    """Return what a person types for what the meter shows."""
    if "ohms" not in answer:
        return "done"
    return "o" if answer["ohms"] == "OL" else f"{answer['ohms']}"


def test_a_whole_ring_out_by_touch_on_a_small_screen(chromium: Any, tmp_path: Path) -> None:
    db, mate = job(tmp_path)
    bundle = meter(mate)
    with served(db) as pages:
        page = chromium.new_context(**PHONE, service_workers="block").new_page()
        dead_time(page, 50)
        sign_in(page, pages.address, "/ringouts/P1")
        page.check("[name=raceway]")
        page.fill("#f-far_colours", colours_by_mark(mate))
        page.click("button.main")
        page.wait_for_selector("#step")
        corrected = False
        for _ in range(200):
            state = page.request.get(f"{pages.address}/api/ringouts/P1").json()
            if state["over"]:
                break
            assert state["told"]
            with open_registry(db) as registry:
                step = next_step(registry)
            answer = typed(bundle.answer(step))
            if step["step"] == "probe" and not corrected:
                corrected = True  # the wrong button first, then taken back
                press(page, "o" if answer != "o" else "c")
                changed(page, state["version"])
                page.click(".undo summary")
                wrong = page.get_attribute("#step > div", "data-version")
                if answer == "o":
                    page.click(".undo button[value=o]")
                else:
                    page.fill("#f-again", answer)
                    page.click(".undo .field button >> nth=0")
                changed(page, wrong)
                continue
            press(page, answer)
            changed(page, state["version"])
        assert page.inner_text("h1") == "P1 is rung out"
        told = page.inner_text("table")
        assert all(tag in told for tag in mate)
    with open_registry(db) as registry:
        for tag, mark in mate.items():
            assert record_of(registry, tag)["ends"][1]["mark"] == mark


def colours_by_mark(mate: dict[str, str]) -> str:
    known = dict(zip(mate.values(), COLOURS, strict=True))
    return ",".join(known[mark] for mark in sorted(known))


def next_step(registry: Any) -> dict[str, Any]:
    from wiretrack.tasks.identify.ringing import Ringing

    step = Ringing.latest(registry, "P1").next_step()
    return {"step": step.kind, **document(step)}


def press(page: Any, answer: str) -> None:
    """Answer as a thumb does: a button, or the number pad and Enter."""
    if answer in ("o", "c", "done"):
        page.tap(f"#step .answer button.main[value={answer}]")
        return
    for key in answer:
        page.tap(f'.pad [data-key="{key}"]')
    page.tap("#step .answer .field button >> nth=0")


def changed(page: Any, version: str) -> None:
    """Wait until the page shows another version than that."""
    until(page, "v => document.querySelector('#step > div').dataset.version !== v", arg=version)


def test_two_phones_see_the_same_step_and_one_answer_counts(chromium: Any, tmp_path: Path) -> None:
    db, _ = job(tmp_path)
    with served(db) as pages:
        phones = [chromium.new_context(**PHONE).new_page() for _ in range(2)]
        for name, phone in zip(("phone-1", "phone-2"), phones, strict=True):
            sign_in(phone, pages.address, "/ringouts/P1", name)
        phones[0].check("[name=crew][value='2']")
        phones[0].click("button.main")
        phones[0].wait_for_selector("#step")
        phones[1].goto(f"{pages.address}/ringouts/P1")
        for turn in range(6):
            here, there = phones[turn % 2], phones[1 - turn % 2]
            version = here.get_attribute("#step > div", "data-version")
            button = "c" if here.locator("#step button.main[value=c]").count() else "done"
            here.tap(f"#step .answer button.main[value={button}]")
            for phone in (here, there):
                changed(phone, version)
            assert here.inner_text("#step") == there.inner_text("#step")


def test_an_answer_given_without_signal_is_sent_once_the_server_is_back(
    chromium: Any, tmp_path: Path
) -> None:
    db, _ = job(tmp_path)
    with served(db) as pages:
        context = chromium.new_context(**PHONE)
        page = context.new_page()
        sign_in(page, pages.address, "/ringouts/P1")
        page.click("button.main")
        page.wait_for_selector("#step")
        version = page.get_attribute("#step > div", "data-version")
        page.wait_for_load_state("networkidle")  # its script is there, which keeps the answer
        context.set_offline(True)
        page.tap("#step .answer button.main")
        page.wait_for_selector("#signal:not([hidden])")
        context.set_offline(False)
        changed(page, version)
        with open_registry(db) as registry:
            assert registry.rows("SELECT count(*) AS n FROM procedure_answers") == [{"n": 1}]


def test_an_answer_to_a_step_that_another_phone_answered_is_not_stored(tmp_path: Path) -> None:
    db, _ = job(tmp_path)
    app = create_app(settings_of(db))
    one, other = signed_in(app), signed_in(app, name="phone-2")
    token = form_token(one.get("/ringouts/P1").text)
    assert one.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token}).status_code == 303
    seen = version(one)
    assert answer(one, seen, token).status_code == 303
    late = answer(other, seen, form_token(other.get("/ringouts/P1").text))
    assert late.status_code == 409
    assert "That step was answered or changed already." in late.text
    with open_registry(db) as registry:
        assert registry.rows("SELECT count(*) AS n FROM procedure_answers") == [{"n": 1}]


def version(client: Any) -> str:
    return str(client.get("/api/ringouts/P1").json["version"])


def answer(client: Any, seen: str, token: str) -> Any:
    data = {"seen": seen, "typed": "open", "form_token": token}
    return client.post("/ringouts/P1/answers", data=data)


def test_a_program_rings_out_through_the_api(tmp_path: Path) -> None:
    db, mate = job(tmp_path)
    app, bundle = create_app(settings_of(db)), meter(mate)
    client = signed_in(app)
    token = form_token(client.get("/ringouts/P1").text)
    client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})
    plain = app.test_client()
    for _ in range(200):
        state: dict[str, Any] = plain.get("/api/ringouts/P1", headers=BEARER).get_json()
        if state["over"]:
            break
        with open_registry(db) as registry:
            given = typed(bundle.answer(next_step(registry)))
        sent = plain.post(
            "/api/ringouts/P1/answers",
            json={"seen": state["version"], "typed": given},
            headers=BEARER,
        )
        assert sent.status_code == 200
    assert state["finished"]
    assert {m["near"]: m["far"] for m in state["matches"]} == mate
    again = plain.get(
        "/ringouts/P1/step", headers={**BEARER, "If-None-Match": f'"{state["version"]}"'}
    )
    assert again.status_code == 304


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("tags", "ABC-DEFG", "not a tag"),
        ("far_colours", "mauve", "mauve"),
        ("far_ends", "many", "It must be 1 to 500"),
        ("resistors", "much", "is not"),
        ("far", "PNL", "both"),
        ("near", "<b>", "called"),
    ],
)
def test_a_ring_out_that_cannot_begin_says_why_beside_the_field(
    tmp_path: Path, field: str, value: str, told: str
) -> None:
    db, _ = job(tmp_path)
    client = signed_in(create_app(settings_of(db)))
    token = form_token(client.get("/ringouts/P1").text)
    data = {**BEGIN, field: value, "form_token": token}
    answer = client.post("/ringouts/P1/begin", data=data)
    assert answer.status_code == 422
    assert told in answer.text
    assert 'class="fault"' in answer.text
    assert "<b>'" not in answer.text


@pytest.fixture
def ringing(tmp_path: Path) -> Any:
    """A signed-in client of a ring-out that has just begun, and its registry."""
    db, _ = job(tmp_path)
    client = signed_in(create_app(settings_of(db)))
    token = form_token(client.get("/ringouts/P1").text)
    client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})
    return client, db


def send(client: Any, path: str, **data: str) -> Any:
    page = client.get("/ringouts/P1").text
    given = {"seen": version(client), "form_token": form_token(page), **data}
    return client.post(f"/ringouts/P1/{path}", data=given)


def steps_until(client: Any, kind: str) -> list[dict[str, Any]]:
    """Answer `done` and `open` until a step of that kind is next; return the states on the way."""
    states = [client.get("/api/ringouts/P1").json]
    while states[-1]["kind"] != kind:
        send(client, "answers", typed="o" if states[-1]["kind"] == "probe" else "done")
        states.append(client.get("/api/ringouts/P1").json)
    return states


def test_joins_and_walks_are_undone_back_to_the_first_step(ringing: Any) -> None:
    client, db = ringing
    states = steps_until(client, "walk")
    send(client, "answers", typed="done")
    states.append(client.get("/api/ringouts/P1").json)
    assert {"join", "walk"} <= {state["kind"] for state in states}
    for before in reversed(states[:-1]):
        assert send(client, "undo").status_code == 303
        now = client.get("/api/ringouts/P1").json
        assert (now["kind"], now["told"], now["lines"]) == (
            before["kind"], before["told"], before["lines"],
        )  # fmt: skip
    answer = send(client, "undo")
    assert answer.status_code == 422
    assert "Nothing was done yet" in answer.text
    with open_registry(db) as registry:
        kept = registry.rows("SELECT count(*) AS n FROM procedure_answers")[0]["n"]
    assert kept == 2 * (len(states) - 1)  # nothing is ever taken out of the registry


def test_a_touch_that_was_undone_can_be_answered_otherwise(ringing: Any) -> None:
    client, _ = ringing
    asked = steps_until(client, "probe")[-1]
    send(client, "answers", typed="o")
    send(client, "undo")
    again = client.get("/api/ringouts/P1").json
    assert (again["told"], again["probes"]) == (asked["told"], asked["probes"])
    send(client, "answers", typed="0.4")
    assert client.get("/api/ringouts/P1").json["last"]["answer"] == "0.4 Ω"


def test_everything_that_was_done_is_listed_with_who_said_so(ringing: Any) -> None:
    client, db = ringing
    steps_until(client, "probe")
    send(client, "answers", typed="0.4")
    other = signed_in(create_app(settings_of(db)), name="phone-2")
    kind = client.get("/api/ringouts/P1").json["kind"]
    send(other, "answers", typed="o" if kind == "probe" else "done")
    page = client.get("/ringouts/P1/log").text
    second, first = page.split("<li ")[1:3]
    assert ("<b>open</b>" if kind == "probe" else "<b>done</b>") in second
    assert "phone-2" in second
    assert "<b>0.4 Ω</b>" in first
    assert "phone-1" in first


def test_a_wrong_answer_and_a_wrong_correction_each_keep_what_was_typed(ringing: Any) -> None:
    client, _ = ringing
    steps_until(client, "probe")
    answer = send(client, "answers", typed="", ohms="some <ohms>")
    assert answer.status_code == 422
    own, _, undo = answer.text.partition('<details class="undo"')
    assert 'value="some &lt;ohms&gt;"' in own
    assert "some &lt;" not in undo
    send(client, "answers", typed="o")
    number = str(client.get("/api/ringouts/P1").json["last"]["number"])
    answer = send(client, "corrections", typed="", ohms="some <ohms>", number=number)
    assert answer.status_code == 422
    own, _, undo = answer.text.partition('<details class="undo" open')
    assert "some &lt;" not in own
    assert 'value="some &lt;ohms&gt;"' in undo
    assert 'id="fault-again"' in undo


def test_enter_after_the_ohms_sends_the_ohms_and_not_a_button(
    chromium: Any, tmp_path: Path
) -> None:
    db, _ = job(tmp_path)
    with served(db) as pages:
        page = chromium.new_context(**PHONE).new_page()
        sign_in(page, pages.address, "/ringouts/P1")
        page.click("button.main")
        page.wait_for_selector("#step")
        while not page.locator("#f-ohms").count():
            seen = page.get_attribute("#step > div", "data-version")
            page.tap("#step .answer button.main[value=done]")
            changed(page, seen)
        seen = page.get_attribute("#step > div", "data-version")
        page.fill("#f-ohms", "OL")
        page.press("#f-ohms", "Enter")
        changed(page, seen)
        state = page.request.get(f"{pages.address}/api/ringouts/P1").json()
        assert state["last"]["answer"] == "open"
