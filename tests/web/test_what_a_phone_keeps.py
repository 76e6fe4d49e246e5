# SPDX-License-Identifier: MIT
"""A phone drops what it keeps of the record when its session ends; readings when it is told to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tests.web.browsing import PHONE, served, sign_in, until
from tests.web.conftest import form_token, signed_in
from tests.web.test_without_signal import log, stored
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

KEPT = (
    "caches.open('pages').then((c) => c.keys())"
    ".then((all) => all.filter((r) => !r.url.includes('/static/')).length)"
)


def test_signing_out_asks_about_what_is_not_sent_and_then_drops_all(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE)
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.reload()
        page.goto(pages.address)
        page.goto(f"{pages.address}/tests/PUMP")
        context.set_offline(True)
        log(page, "0.31")
        page.goto(pages.address)
        assert page.evaluate(KEPT) > 0
        asked: list[str] = []

        def refuse(dialog: Any) -> None:
            asked.append(dialog.message)
            dialog.dismiss()

        page.once("dialog", refuse)
        page.click("#leave button")
        assert asked == ["1 reading is not sent. Sign out and delete them?"]
        assert page.evaluate("Object.keys(localStorage).length") > 0
        page.route("**/api/readings", lambda route: route.abort())
        context.set_offline(False)
        page.once("dialog", lambda dialog: dialog.accept())
        page.click("#leave button")
        page.wait_for_selector("#f-code")
        assert page.evaluate("Object.keys(localStorage).length") == 0
        assert page.evaluate(KEPT) == 0
    assert len(stored(db)) <= 1  # it may have gone out as the signal came back


def test_a_session_that_ended_drops_the_pages_and_keeps_the_readings(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE)
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP", name="Ana")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.reload()
        page.goto(f"{pages.address}/tests/PUMP")
        context.set_offline(True)
        log(page, "0.31")
        context.clear_cookies()
        context.set_offline(False)
        until(page, f"{KEPT}.then((n) => n === 0)")
        assert "1 reading waits" in page.inner_text("#waiting-title")
        sign_in(page, pages.address, "/tests/PUMP", name="Bo")
        page.wait_for_selector("#waiting", state="hidden")
    with open_registry(db) as registry:
        rows = registry.rows("SELECT by, entered_by FROM readings")
    assert rows == [{"by": "Ana", "entered_by": "Bo"}]


def test_the_page_names_nobody_to_strangers(app: Any) -> None:
    assert 'content="phone-1"' in signed_in(app).get("/").text
    assert form_token(app.test_client().get("/sign-in").text)
    assert "phone-1" not in app.test_client().get("/").text
