# SPDX-License-Identifier: MIT
"""Readings of a conductor that was retired: refused before they are typed, decided by people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE
from tests.web.browsing import PHONE, served, sign_in, until
from tests.web.conftest import BEARER, form_token, reading, signed_in
from tests.web.test_without_signal import log
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

GONE, ABANDONED, DRAWN_OUT = map(format_tag, (L1, L2, PE))
DAY, BEFORE, AFTER = "2026-05-02", "2026-05-01T10:00", "2026-05-03T10:00"


@pytest.fixture
def changed_db(db: Path) -> Path:
    """The pump's registry: L1 replaced, L2 abandoned, PE pulled out."""
    with open_registry(db) as registry:
        replace_conductor(registry, Replacement(tag=L1, same=True, at=DAY))
        retire(registry, L2, abandoned=True, at=DAY)
        retire(registry, PE, abandoned=False, at=DAY)
    return db


@pytest.fixture
def client(changed_db: Path, app: Flask) -> FlaskClient:
    assert changed_db
    return signed_in(app)


def follower(db: Path) -> str:
    with open_registry(db) as registry:
        (row,) = registry.rows("SELECT tag FROM conductors WHERE follows_id IS NOT NULL")
    return format_tag(row["tag"])


def stored(db: Path) -> list[tuple[str, str, str | None]]:
    """Return the tag, the value and the note of every reading."""
    with open_registry(db) as registry:
        rows = registry.rows(
            "SELECT c.tag, r.value, r.note FROM readings AS r"
            " JOIN conductors AS c ON c.id = r.conductor_id ORDER BY r.rowid"
        )
    return [(format_tag(row["tag"]), row["value"], row["note"]) for row in rows]


def test_the_form_of_one_that_is_gone_says_so_at_once_and_leads_on_and_back(
    client: FlaskClient, db: Path
) -> None:
    page = client.get(f"/readings/new?subject={GONE}&kind=insulation").text
    new = follower(db)
    assert f"RETIRED: replaced, {DAY}" in page
    onward = page.split(f'href="/readings/new?subject={new}&amp;kind=insulation">')[1]
    assert f'Log one of&nbsp;<span class="tag">{new}</span>' in onward.split("</a>")[0]
    assert f'href="/{GONE}">Back to {GONE}' in page
    assert 'id="reading"' not in page
    page = client.get(f"/readings/new?subject={DRAWN_OUT}").text
    assert f"RETIRED: pulled out, {DAY}" in page
    assert "Nothing replaces it." in page
    assert f'href="/{DRAWN_OUT}">Back to {DRAWN_OUT}' in page
    assert 'id="reading"' not in page


def test_an_abandoned_one_can_be_read_still_and_is_said_to_be_retired(
    client: FlaskClient, db: Path
) -> None:
    page = client.get(f"/readings/new?subject={ABANDONED}").text
    assert f"RETIRED: abandoned in its raceway, {DAY}" in page
    assert "may still" in page
    assert 'id="reading"' in page
    assert "only what was read before" not in page
    assert "RETIRED" not in client.get(f"/readings/new?subject={follower(db)}").text


@pytest.mark.parametrize(
    ("at", "status", "told"),
    [
        (BEFORE, 303, None),
        (AFTER, 422, f"{GONE} was replaced on {DAY}."),
        ("", 422, "Say on which day"),
        ("once", 422, "&#39;once&#39; is not a time"),
    ],
)
def test_what_was_read_before_is_stored_and_what_was_not_is_refused_beside_the_time(
    client: FlaskClient, db: Path, at: str, status: int, told: str | None
) -> None:
    page = client.get(f"/readings/new?subject={GONE}&late=1").text
    assert 'name="at" type="datetime-local" required' in page
    sent = {"subject": GONE, "kind": "continuity", "value": "0.31", "late": "1", "at": at}
    answer = client.post("/readings/new", data={**sent, "form_token": form_token(page)})
    assert answer.status_code == status
    if told:
        assert told in answer.text.split('id="fault-at"')[1].split("</p>")[0]
        assert 'value="0.31"' in answer.text
        assert f'value="{at}" aria-invalid="true"' in answer.text
    assert stored(db) == ([] if told else [(GONE, "0.31 ohm", None)])


def test_a_form_that_was_open_when_its_conductor_was_retired_keeps_what_was_typed(
    client: FlaskClient, db: Path
) -> None:
    token = form_token(client.get(f"/readings/new?subject={ABANDONED}").text)
    sent = {"subject": GONE, "kind": "continuity", "value": "0.31", "form_token": token}
    answer = client.post("/readings/new", data=sent)
    assert answer.status_code == 422
    assert f"RETIRED: replaced, {DAY}" in answer.text
    assert f"{GONE} was replaced on {DAY}." in answer.text.split('id="fault-subject"')[1]
    assert 'value="0.31"' in answer.text
    assert stored(db) == []


def test_a_program_is_told_what_is_in_the_place_of_what_it_read(
    client: FlaskClient, db: Path
) -> None:
    sent = reading(at=f"{AFTER}:00+00:00")
    answer = client.post("/api/readings", json=sent, headers=BEARER)
    told: dict[str, Any] = answer.get_json()
    assert (answer.status_code, told["field"]) == (422, "subject")
    assert told["now"]["retired"]["in_its_place"] == [follower(db)]
    answer = client.post("/api/readings", json={**sent, "temp": "much"}, headers=BEARER)
    assert answer.status_code == 422
    sent = reading(at=f"{BEFORE}:00+00:00", value="much")
    told = client.post("/api/readings", json=sent, headers=BEARER).get_json()
    assert (told["field"], "now" in told) == ("value", False)
    assert stored(db) == []


def phone(chromium: Any, address: str) -> Any:
    """Return a phone whose plan of the pump's tests was opened before the signal went."""
    page = chromium.new_context(**PHONE, service_workers="block").new_page()
    sign_in(page, address, "/tests/PUMP")
    page.context.set_offline(True)
    return page


def back_in_reach(page: Any) -> str:
    """Bring the signal back, send what waits, and return what is said of it."""
    page.context.set_offline(False)
    page.click("#waiting-send")
    page.wait_for_selector("#waiting .fault")
    return str(page.inner_text("#waiting-list"))


def test_a_reading_made_after_its_conductor_was_replaced_is_decided_by_a_person(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        page = phone(chromium, pages.address)
        with open_registry(db) as registry:
            replace_conductor(registry, Replacement(tag=PE, same=True))
            retire(registry, L1, abandoned=False)
        page.wait_for_timeout(1100)  # times are kept to the second
        log(page, "0.31")
        log(page, "0.32")
        told = back_in_reach(page)
        new = follower(db)
        assert f"{DRAWN_OUT} was replaced on" in told
        assert "then in use, now retired: replaced, " in told
        assert f"replaced by\n{new}" in told
        assert f"{GONE} was pulled out on" in told
        assert stored(db) == []
        for button in page.locator("#waiting button:visible").all():
            assert button.bounding_box()["height"] >= 44
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.reload()
        page.click(f"text=Store it for {new}")
        until(page, "() => document.querySelectorAll('#waiting-list li').length === 1")
        assert not page.locator("text=Store it for").count()
        page.click("text=Delete it")
        page.wait_for_selector("#waiting", state="hidden")
    (only,) = stored(db)
    assert only == (new, "0.31 ohm", f"Logged for {DRAWN_OUT}, which was retired.")


def test_a_reading_made_before_its_conductor_was_retired_shows_both_and_can_be_stored(
    chromium: Any,
    db: Path,
) -> None:
    with served(db) as pages:
        page = phone(chromium, pages.address)
        log(page, "0.31")
        page.wait_for_timeout(1100)  # times are kept to the second
        with open_registry(db) as registry:
            retire(registry, PE, abandoned=False)
        told = back_in_reach(page)
        assert f"The record of {DRAWN_OUT} was changed since" in told
        assert "then in use, now retired: pulled out, " in told
        assert stored(db) == []
        page.click("text=Save it")
        page.wait_for_selector("#waiting", state="hidden")
    assert stored(db) == [(DRAWN_OUT, "0.31 ohm", None)]


def test_what_was_read_before_is_typed_on_the_phone_with_its_time(
    chromium: Any, changed_db: Path
) -> None:
    with served(changed_db) as pages:
        page = chromium.new_context(**PHONE).new_page()
        sign_in(page, pages.address, f"/readings/new?subject={GONE}")
        assert not page.locator("#reading").count()
        page.click("text=It was read before then")
        page.fill("#f-at", AFTER)
        page.fill("#f-value", "0.31")
        page.click("#reading button.main")
        page.wait_for_selector("#fault-at")
        assert page.input_value("#f-value") == "0.31"
        assert page.is_hidden("#waiting")
        page.fill("#f-at", BEFORE)
        page.click("#reading button.main")
        page.wait_for_selector("#outcome .verdict")
    assert stored(changed_db) == [(GONE, "0.31 ohm", None)]
