# SPDX-License-Identifier: MIT
"""Readings made while the server can't be reached: kept, counted, sent in order, never twice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PE
from tests.web.browsing import CHROMIUM, PHONE, served, sign_in, until
from wiretrack.library import OpenSite
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.landing import land

if TYPE_CHECKING:
    from pathlib import Path


def log(page: Any, ohms: str) -> None:
    """Log the next continuity reading that isn't taken yet, from the circuit's plan."""
    page.click(".step[data-kind=continuity]:not(.taken) >> nth=0")
    page.fill("#f-value", ohms)
    page.click("#reading button.main")
    page.wait_for_selector("#outcome .verdict")
    page.click("#back")


def stored(db: Path) -> list[str]:
    with open_registry(db) as registry:
        return [r["value"] for r in registry.rows("SELECT value FROM readings ORDER BY rowid")]


def test_readings_survive_reload_and_a_closed_browser_and_go_out_in_order_once(
    chromium: Any, db: Path, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"
    with served(db) as pages:

        def opened() -> Any:
            return chromium.browser_type.launch_persistent_context(
                profile, executable_path=CHROMIUM, args=["--no-sandbox"], **PHONE
            )

        context = opened()
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.reload()
        context.set_offline(True)
        for ohms in ("0.31", "0.32"):
            log(page, ohms)
        assert page.inner_text("#waiting-title") == "2 readings wait on this phone"
        assert stored(db) == []
        page.reload()
        assert page.inner_text("#waiting-title") == "2 readings wait on this phone"
        context.close()  # the emulated cut ends a moment before; what slips out is sent again

        context = opened()
        context.set_offline(True)
        page = context.new_page()
        page.goto(f"{pages.address}/tests/PUMP")
        assert page.inner_text("#waiting-title") == "2 readings wait on this phone"
        log(page, "0.33")
        context.set_offline(False)
        page.wait_for_selector("#waiting", state="hidden")
        assert stored(db) == ["0.31 ohm", "0.32 ohm", "0.33 ohm"]
        page.reload()
        page.wait_for_load_state("networkidle")
        context.close()
    assert stored(db) == ["0.31 ohm", "0.32 ohm", "0.33 ohm"]


def test_an_answer_lost_on_the_way_back_does_not_store_the_reading_twice(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        lost: list[int] = []

        def lose(route: Any) -> None:
            """Let the reading through and lose the answer, the first time."""
            if lost:
                route.continue_()
                return
            lost.append(route.fetch().status)
            route.abort()

        page.route("**/api/readings", lose)
        log(page, "0.31")
        page.wait_for_selector("#waiting", state="hidden")
        assert lost == [201]
    assert stored(db) == ["0.31 ohm"]


def test_where_the_record_changed_meanwhile_both_are_shown_and_a_person_decides(
    chromium: Any, db: Path
) -> None:
    with served(db) as pages:
        context = chromium.new_context(**PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        context.set_offline(True)
        log(page, "0.31")
        log(page, "0.32")
        for tag, terminal in ((PE, "TB1:4"), (L1, "TB1:5")):
            with open_registry(db) as registry:
                land(registry, tag, End(enclosure="PH1", terminal=terminal))
        context.set_offline(False)
        page.click("#waiting-send")
        page.wait_for_selector("#waiting .fault")
        told = page.inner_text("#waiting-list")
        assert f"The record of {format_tag(PE)} was changed since" in told
        assert "then PH1, now PH1 TB1:4" in told
        assert stored(db) == []
        page.click("#waiting-list li >> nth=0 >> text=Save it")
        until(page, "() => document.querySelectorAll('#waiting-list li').length === 1")
        page.click("text=Delete it")
        page.wait_for_selector("#waiting", state="hidden")
    assert stored(db) == ["0.31 ohm"]


def test_a_reading_corrected_without_signal_supersedes_the_wrong_one_once_it_is_sent(
    chromium: Any, db: Path
) -> None:
    with OpenSite(open_registry(db)) as site:
        site.log(L1, "continuity", "0.9 ohm")
    with served(db) as pages:
        context = chromium.new_context(**PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, pages.address, f"/history/conductor/{L1}")
        page.click("text=Correct this reading")
        assert "Instead of" in page.inner_text("main")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        context.set_offline(True)
        page.fill("#f-value", "0.3")
        page.click("#reading button.main")
        page.wait_for_selector("#outcome .verdict")
        assert page.is_hidden("#reading")  # else the next one would supersede the wrong one again
        assert stored(db) == ["0.9 ohm"]
        context.set_offline(False)
        page.wait_for_selector("#waiting", state="hidden")
    with OpenSite(open_registry(db)) as site:
        wrong, right = sorted(site.conductor(L1).readings, key=lambda one: one.value or "")[::-1]
        assert wrong.superseded_by is right
        assert right.value == "0.3 ohm"


def test_cautions_are_confirmed_once_before_insulation_and_voltage(chromium: Any, db: Path) -> None:
    with served(db) as pages:
        page = chromium.new_context(**PHONE).new_page()
        sign_in(page, pages.address, "/tests/PUMP")
        page.click(".step[data-kind=insulation] >> nth=0")
        assert page.is_visible(".guard[data-kind=insulation]")
        assert not page.is_visible("#reading")
        page.click(".guard[data-kind=insulation] .confirm")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        for key in "2000":
            page.tap(f'.pad [data-key="{key}"]')
        page.check("[name=over]")
        page.click("#reading button.main")
        page.wait_for_selector("#outcome .verdict")
        assert page.inner_text("#outcome .verdict").lower() == "pass"
        assert "IEC 60364-6" in page.inner_text("#outcome")
        page.click("#back")
        page.click(".step[data-kind=insulation]:not(.taken) >> nth=0")
        assert page.is_visible("#reading")
        page.click("#back")
        page.click(".step[data-kind=voltage] >> nth=0")
        assert page.is_visible(".guard[data-kind=voltage]")
    assert stored(db) == [">2000 Mohm"]


def test_without_https_readings_wait_in_a_closed_browser_too_and_the_page_says_so(
    chromium: Any, db: Path, tmp_path: Path
) -> None:
    from playwright.sync_api import Error

    # Only https and this machine itself are secure contexts (W3C Secure Contexts); roof.test isn't.
    arguments = ["--no-sandbox", "--host-resolver-rules=MAP roof.test 127.0.0.1"]
    with served(db, hosts={"roof.test"}) as pages:
        address = pages.address.replace("127.0.0.1", "roof.test")

        def opened() -> Any:
            return chromium.browser_type.launch_persistent_context(
                tmp_path / "profile", executable_path=CHROMIUM, args=arguments, **PHONE
            )

        context = opened()
        page = context.new_page()
        sign_in(page, address, "/tests/PUMP")
        assert not page.evaluate("isSecureContext")
        context.set_offline(True)
        log(page, "0.31")
        log(page, "0.32")
        assert page.inner_text("#waiting-title") == "2 readings wait on this phone"
        assert stored(db) == []
        assert "can't be loaded again without signal" in page.inner_text("#waiting")
        with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
            page.reload()
        context.close()  # the emulated cut ends a moment before; what slips out is sent again

        context = opened()
        page = context.new_page()
        page.goto(f"{address}/")
        page.wait_for_selector("#waiting", state="hidden")
        context.close()
    assert stored(db) == ["0.31 ohm", "0.32 ohm"]
