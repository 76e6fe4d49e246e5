# SPDX-License-Identifier: MIT
"""A second tap, a second post, a voltage, and a verdict that comes late: in a real browser."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from tests.pump import L1
from tests.web.browsing import PHONE, dead_time, served, sign_in, until
from tests.web.conftest import BEARER, form_token, settings_of, signed_in
from tests.web.test_ringing_out_by_phone import BEGIN, changed, job, steps_until, version
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient


def at_a_touch(db: Path) -> int:
    """Begin a ring-out and go on to its first touch; return how many steps that took."""
    with open_registry(db) as registry:
        wanted = Wanted(pull="P1", near="PNL", far="BOX", references=["raceway"], screen="none")
        ringing = Ringing.begin(registry, wanted)
        while (step := ringing.next_step()).kind != "probe":
            ringing.answer_typed(step, "done")
        return ringing.steps_done


def stored(db: Path) -> int:
    with open_registry(db) as registry:
        return int(registry.rows("SELECT count(*) AS n FROM procedure_answers")[0]["n"])


def tap_twice(page: Any, selector: str, pause_ms: int) -> None:
    """Tap a place on the glass twice, whatever is there by then."""
    box = page.locator(selector).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seen = page.get_attribute("#step > div", "data-version")
    page.touchscreen.tap(x, y)
    if pause_ms:
        changed(page, seen)
        page.wait_for_timeout(pause_ms)
        seen = page.get_attribute("#step > div", "data-version")
    page.touchscreen.tap(x, y)
    if not pause_ms or pause_ms > LATE_MS:
        changed(page, seen)
    page.wait_for_timeout(600)


LATE_MS = 2500  # a dead time in which a loaded machine taps, too


def test_a_second_tap_within_a_moment_of_the_change_answers_nothing(
    chromium: Any, tmp_path: Path
) -> None:
    db, _ = job(tmp_path)
    before = at_a_touch(db)
    with served(db) as pages:
        page = chromium.new_context(**PHONE, service_workers="block").new_page()
        dead_time(page, LATE_MS)
        sign_in(page, pages.address, "/ringouts/P1")
        page.click("#before summary")
        for taken, pause_ms in enumerate((0, 1, 200, 400), start=before + 1):
            until(page, "() => !document.querySelector('#step [aria-disabled]')")
            tap_twice(page, "#step button.main[value=o]", pause_ms)
            assert stored(db) == taken
            assert page.locator("#step button.main[value=o]").count() == 1
        until(page, "() => !document.querySelector('#step [aria-disabled]')")
        tap_twice(page, "#step button.main[value=o]", 3000)  # that was meant: a second touch
        assert stored(db) == taken + 2


def test_a_key_held_down_answers_one_touch(chromium: Any, tmp_path: Path) -> None:
    db, _ = job(tmp_path)
    before = at_a_touch(db)
    with served(db) as pages:
        page = chromium.new_context(**PHONE).new_page()
        sign_in(page, pages.address, "/ringouts/P1")
        until(page, "() => !document.querySelector('#step [aria-disabled]')")
        seen = page.get_attribute("#step > div", "data-version")
        for _ in range(30):
            page.keyboard.down("o")  # not let go: from the second time on it repeats
            page.wait_for_timeout(50)
        page.keyboard.up("o")
        changed(page, seen)
        assert stored(db) == before + 1


def test_what_another_phone_did_a_moment_ago_is_not_answered_by_a_tap_meant_for_before(
    chromium: Any,
    tmp_path: Path,
) -> None:
    db, _ = job(tmp_path)
    before = at_a_touch(db)
    with served(db) as pages:
        page = chromium.new_context(**PHONE, service_workers="block").new_page()
        dead_time(page, LATE_MS)
        sign_in(page, pages.address, "/ringouts/P1")
        until(page, "() => !document.querySelector('#step [aria-disabled]')")
        seen = page.get_attribute("#step > div", "data-version")
        with open_registry(db) as registry:
            ringing = Ringing.latest(registry, "P1")
            ringing.answer_typed(ringing.next_step(), "o")
        changed(page, seen)
        page.locator("#step button.main[value=c]").dispatch_event("click")
        page.wait_for_timeout(300)
        assert stored(db) == before + 1


def test_the_same_form_posted_twice_is_one_answer_and_says_which_step_stands(
    tmp_path: Path,
) -> None:
    db, _ = job(tmp_path)
    client: FlaskClient = signed_in(create_app(settings_of(db)))
    token = form_token(client.get("/ringouts/P1").text)
    client.post("/ringouts/P1/begin", data={**BEGIN, "form_token": token})
    steps_until(client, "probe")
    count, form = stored(db), {"seen": version(client), "typed": "o", "form_token": token}
    form["form_token"] = form_token(client.get("/ringouts/P1").text)
    assert client.post("/ringouts/P1/answers", data=form).status_code == 303
    now = version(client)
    for path, more in (("answers", {}), ("undo", {}), ("corrections", {"number": str(count)})):
        late = client.post(f"/ringouts/P1/{path}", data={**form, **more})
        assert late.status_code == 409
        assert "That step was answered or changed already." in late.text
        assert now in late.text
    assert stored(db) == count + 1


def test_a_voltage_stops_every_phone_until_it_is_proven_dead(chromium: Any, tmp_path: Path) -> None:
    db, _ = job(tmp_path)
    before = at_a_touch(db)
    with served(db) as pages:
        page, other = (chromium.new_context(**PHONE).new_page() for _ in range(2))
        for phone, name in ((page, "roof"), (other, "cellar")):
            sign_in(phone, pages.address, "/ringouts/P1", name)
        touch = page.inner_text("#step .lines")
        seen = page.get_attribute("#step > div", "data-version")
        until(page, "() => !document.querySelector('#step [aria-disabled]')")
        page.fill("#f-ohms", "230V")
        page.press("#f-ohms", "Enter")
        for phone in (page, other):
            changed(phone, seen)
            assert phone.inner_text("h1") == "Voltage present. Prove dead."
            assert "DANGER" in phone.inner_text("#step .fault")
            assert "230 V" in phone.inner_text("#step .lines")
            assert phone.locator("#step button[value=c]:visible").count() == 0
            assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
        seen = page.get_attribute("#step > div", "data-version")
        other.tap("#step .answer button.main[value=dead]")
        changed(page, seen)
        assert page.inner_text("#step .lines") == touch
        seen = page.get_attribute("#step > div", "data-version")
        page.click(".cannot summary")
        page.tap("#step button[value=skip]")
        changed(page, seen)
        assert stored(db) == before + 3
        assert "Put off and not made" in page.inner_text("#step")


def log(page: Any, ohms: str) -> None:
    page.click(".step[data-kind=continuity]:not(.taken) >> nth=0")
    page.fill("#f-value", ohms)
    page.evaluate("document.querySelector('#reading .more').open = true")
    page.fill("#f-leads", "0.01 ohm")
    page.fill("#f-temp", "20 C")
    page.click("#reading button.main")
    page.wait_for_selector("#outcome .verdict")


def test_a_reading_kept_without_signal_that_fails_says_so_once_it_is_stored(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        context.set_offline(True)
        log(page, "0.31")
        page.click("#back")
        log(page, "9")
        assert page.inner_text("#outcome .verdict").lower() == "kept"
        assert not page.is_visible("#verdicts")
        context.set_offline(False)
        page.wait_for_selector("#waiting", state="hidden")
        assert page.inner_text("#outcome .verdict").lower() == "fail"
        told = page.inner_text("#verdicts")
        assert "9 ohm" in told
        assert "fail" in told.lower()
        assert "0.31" not in told
        page.click("#back")
        results = page.locator(".step.taken .result").all_inner_texts()
        assert sorted(text.lower() for text in results) == ["fail", "pass"]
        page.goto(f"{pages.address}/map")  # on every page, until somebody has read it
        assert "9 ohm" in page.inner_text("#verdicts")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.click("#verdicts button")
        assert not page.is_visible("#verdicts")
        page.reload()
        assert not page.is_visible("#verdicts")


def test_a_verdict_in_doubt_is_told_too_and_a_pass_is_not(chromium: Any, db: Path) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, pages.address, f"/readings/new?subject={format_tag(L1)}&kind=insulation")
        context.set_offline(True)
        page.check("[name=cautions]")
        page.fill("#f-value", "700 Mohm")  # against what, and at which voltage, nobody said
        page.click("#reading button.main")
        page.wait_for_selector("#outcome .verdict")
        context.set_offline(False)
        page.wait_for_selector("#verdicts:not([hidden])")
        assert "doubt" in page.inner_text("#verdicts").lower()


def test_of_many_who_answer_one_step_at_the_same_moment_one_is_taken(tmp_path: Path) -> None:
    db, _ = job(tmp_path)
    before = at_a_touch(db)
    clients = [create_app(settings_of(db)).test_client() for _ in range(4)]
    for _ in range(12):
        state = clients[0].get("/api/ringouts/P1", headers=BEARER).get_json()
        body = {"seen": state["version"], "typed": "o" if state["kind"] == "probe" else "done"}
        statuses: list[int] = []
        start = threading.Barrier(len(clients))

        def send(client: FlaskClient, body: Any = body, start: Any = start) -> None:
            start.wait(30)
            sent = client.post("/api/ringouts/P1/answers", json=body, headers=BEARER)
            statuses.append(sent.status_code)  # noqa: B023 - joined within the turn

        threads = [threading.Thread(target=send, args=(client,)) for client in clients]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert sorted(statuses) == [200, 412, 412, 412]
    assert stored(db) == before + 12
    with open_registry(db) as registry:
        assert Ringing.latest(registry, "P1").left_out == ()
