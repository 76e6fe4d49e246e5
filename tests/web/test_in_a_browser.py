# SPDX-License-Identifier: MIT
"""The pages in a real browser: every page on a phone and a desktop, by keyboard, and by axe."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE, PUMP
from tests.web.browsing import AXE, DESKTOP, PHONE, Served, served, sign_in, until, visit
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.test.testing import ReadingText, log_reading
from wiretrack.tasks.trouble.searching import start

if TYPE_CHECKING:
    from collections.abc import Iterator

TAG, OTHER, OLD = format_tag(L1), format_tag(L2), format_tag(PE)
PAGES = [
    "/", "/find?q=pump", f"/{TAG}", "/enclosures/MDB", "/circuits/PUMP", "/raceways/W1",
    "/pulls/P1", f"/map?lit={TAG}", "/punchlist", "/ringouts", "/ringouts/P1", "/tests",
    "/tests/PUMP", f"/readings/new?subject={TAG}&kind=insulation", f"/trouble?q={TAG}",
    "/enclosures/NOPE", "/faults", f"/faults/{TAG}", f"/faults/{TAG}?method=both-ends",
    f"/faults/{TAG}?method=both-ends&against={L2}&near=0.2344&far=0.4833&temps=20+C",
    f"/faults/{TAG}?method=joint&along=0.9", f"/faults/{TAG}?method=murray&murray=x&good={L2}",
    f"/trees/{TAG}", "/devices/MDB/Q4", "/strings/PV1", "/strings/PV1?reading=1x&cell_temp=20+C",
    "/strings/PV1?reading=350+V&cell_temp=25+C&cautions=1", "/searches/PUMP", f"/{OLD}",
    f"/{OTHER}", "/circuits/PV1", "/ringouts/P1/again", f"/readings/new?subject={OLD}",
    f"/readings/new?subject={OLD}&late=1", f"/history/conductor/{TAG}",
    "/add", "/add/conductor", f"/correct/conductor/{TAG}", "/notes/enclosure/MDB", "/scan",
    "/manual", "/manual/spreadsheets",
]  # fmt: skip
SIZES: dict[str, dict[str, Any]] = {"phone": PHONE, "desktop": DESKTOP}
MARKUP = "<img src=x onerror=\"document.title='owned'\"><b>'&amp;"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("browser")
    with served(filled(folder, PUMP)) as found:
        yield found


def filled(folder: Path, document: dict[str, Any]) -> Path:
    """Make a registry with something for every page to show."""
    db, file = folder / "site.db", folder / "site.json"
    file.write_text(json.dumps({**document, **more(document)}), "utf-8")
    new_site(db, "Example")
    with open_registry(db) as registry:
        load_site(registry, file)
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="9 ohm"))
        for year, ohms in ((2022, "900 M"), (2023, "700 M"), (2024, "500 M")):
            at = f"{year}-05-02T10:00:00+02:00"
            log_reading(
                registry,
                ReadingText(subject=L2, kind="insulation", value=ohms, against="PE", at=at,
                            test_voltage="500 V", temp="20 C"),
            )  # fmt: skip
        replace_conductor(registry, Replacement(tag=PE, same=True))
        start(registry, "tripping-breaker", "PUMP")
    return db


def more(document: dict[str, Any]) -> dict[str, Any]:
    """Return a breaker in the pump's circuit, and a PV string."""
    string: dict[str, Any] = {
        "code": "PV1", "title": document["circuits"][0]["title"], "system": "dc-pv",
        "module": {"voc": "50 V", "voc_pct_per_k": -0.3, "series": 8},
    }  # fmt: skip
    breaker = {"enclosure": "MDB", "code": "Q4", "kind": "breaker", "closed": True,
               "poles": [["Q4:1", "IN:1"]]}  # fmt: skip
    return {"devices": [breaker], "circuits": [*document["circuits"], string]}


@pytest.fixture(params=list(SIZES), scope="module")
def page(request: pytest.FixtureRequest, chromium: Any, site: Served) -> Iterator[Any]:
    context = chromium.new_context(**SIZES[request.param])
    opened = context.new_page()
    sign_in(opened, site.address, "/searches/PUMP")
    opened.click("text=I have done this")
    opened.wait_for_selector("#step .ask")
    yield opened
    context.close()


@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_its_width_has_large_targets_and_runs_without_complaint(
    page: Any, site: Served, path: str
) -> None:
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    visit(page, site.address + path)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("h1").count() >= 1
    small = page.evaluate(
        """() => [...document.querySelectorAll(
                "button, .button, input:not([type=hidden]), select, summary, nav a, a.row")]
            .filter(e => e.checkVisibility() && !e.closest(".pad[hidden]"))
            .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
            .filter(([, box]) => box.width < 44 || box.height < 44)
            .map(([html]) => html)"""
    )
    assert small == []  # WCAG 2.2 success criterion 2.5.5: 44 by 44 CSS pixels
    assert complaints == []


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious(page: Any, site: Served, path: str) -> None:
    if not AXE:
        pytest.skip("axe-core isn't here; fetch it with npm and set WIRETRACK_AXE to axe.min.js")
    visit(page, site.address + path)
    page.evaluate(Path(AXE).read_text("utf-8"))
    found = page.evaluate("axe.run().then(r => r.violations)")
    serious = [
        (v["id"], [n["html"][:120] for n in v["nodes"]])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    assert serious == []


def test_a_label_scanned_without_a_session_asks_for_the_code_and_goes_on(
    chromium: Any, site: Served
) -> None:
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    answer = page.goto(f"{site.address}/{L1}")
    assert answer.status == 401
    assert "PUMP" not in page.content()
    page.fill("#f-code", "not this one")
    page.fill("#f-name", "phone-1")
    page.click("button.main")
    assert "not the access code" in page.inner_text("#fault-code")
    assert page.input_value("#f-name") == "phone-1"
    page.fill("#f-code", "lantern-moss-17")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1.tag")
    assert page.inner_text("h1.tag") == TAG
    cookie = context.cookies()[0]
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Lax")
    context.close()


def test_markup_in_every_name_is_shown_as_text(chromium: Any, tmp_path: Path) -> None:
    document = json.loads(json.dumps(PUMP))
    document["site"]["name"] = MARKUP
    for row in document["enclosures"]:
        row["name"] = row["where"] = MARKUP
    document["circuits"][0]["title"] = MARKUP
    for row in document["conductors"]:
        row["note"] = MARKUP
    with served(filled(tmp_path, document)) as site:
        context = chromium.new_context(**PHONE)
        page = context.new_page()
        sign_in(page, site.address)
        shown = 0
        for path in [*PAGES, f"/find?q={MARKUP}", f"/map?lit={MARKUP}", f"/trouble?q={MARKUP}"]:
            visit(page, site.address + path)
            assert page.title() != "owned"
            assert page.locator("img, main b:has-text('onerror')").count() == 0
            shown += MARKUP in page.inner_text("main")
        assert shown >= 5
        context.close()


def test_a_conductor_is_found_and_its_reading_logged_by_keyboard_alone(
    chromium: Any, site: Served
) -> None:
    context = chromium.new_context(**DESKTOP)
    page = context.new_page()
    sign_in(page, site.address)
    page.focus("#q")
    page.keyboard.type(L1.lower())
    page.keyboard.press("Enter")
    page.wait_for_selector("h1.tag")
    tab_to(page, "Log a reading")
    page.keyboard.press("Enter")
    page.wait_for_selector("#reading")
    tab_to(page, "f-value")
    page.keyboard.type("0.31")
    page.keyboard.press("Enter")
    page.wait_for_selector("#outcome .verdict")
    with open_registry(site.db) as registry:
        rows = registry.rows("SELECT value, by FROM readings ORDER BY rowid DESC LIMIT 1")
    assert rows == [{"value": "0.31 ohm", "by": "phone-1"}]
    context.close()


def test_a_fault_is_searched_for_by_keyboard_alone(chromium: Any, tmp_path: Path) -> None:
    with served(filled(tmp_path, PUMP)) as site:
        context = chromium.new_context(**DESKTOP)
        page = context.new_page()
        sign_in(page, site.address, "/trouble")
        for _ in range(80):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.name") == "symptom":
                break
        page.keyboard.press("ArrowUp")  # from the first choice to the last: an insulation alarm
        assert page.evaluate("document.activeElement.value") == "insulation-alarm"
        tab_to(page, "f-what")
        page.keyboard.type("pump")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=I have done this")
        tab_to(page, "I have done this")
        page.keyboard.press("Enter")
        page.wait_for_selector("#step .ask")
        question = page.inner_text(".ask")
        until(page, "() => !document.querySelector('#step [aria-disabled]')")
        tab_to(page, "f-value")
        page.keyboard.type("0.2 M")
        page.keyboard.press("Enter")  # answers nothing: yes or no is for a person to say
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Shift+Tab")
        assert page.evaluate("document.activeElement.value") == "no"
        assert page.inner_text(".ask") == question
        page.keyboard.press("Enter")
        page.wait_for_selector(".log")
        assert "no, 0.2 M" in page.inner_text(".log")
        context.close()


def test_a_search_answered_without_signal_goes_on_when_it_is_back(
    chromium: Any, tmp_path: Path
) -> None:
    with served(filled(tmp_path, PUMP)) as site:
        context = chromium.new_context(**PHONE)
        page = context.new_page()
        sign_in(page, site.address, "/searches/PUMP")
        page.click("text=I have done this")
        page.wait_for_selector("#step .ask")
        page.wait_for_load_state("networkidle")  # its script is there, which keeps the answer
        context.set_offline(True)
        page.tap("#step button.main[value=yes]")
        page.wait_for_selector("#signal:not([hidden])")
        assert not page.locator(".log").count()
        context.set_offline(False)
        page.wait_for_selector(".log")
        with open_registry(site.db) as registry:
            rows = registry.rows("SELECT count(*) AS n FROM procedure_answers")
        assert rows == [{"n": 1}]
        context.close()


def test_answers_and_the_question_fit_a_small_phone_without_scrolling(
    chromium: Any, site: Served
) -> None:
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    sign_in(page, site.address, "/searches/PUMP")
    page.click("text=I have done this")
    page.wait_for_selector("#step .ask")
    page.wait_for_load_state("load")  # its style too
    lowest = page.evaluate(
        "document.querySelector('button[value=no]').getBoundingClientRect().bottom"
    )
    assert lowest <= page.evaluate("document.querySelector('nav').getBoundingClientRect().top")
    context.close()


def tab_to(page: Any, wanted: str) -> None:
    """Press Tab until the element with that id or text has the focus, once scripts are there."""
    page.wait_for_load_state("load")
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("[document.activeElement.id, document.activeElement.innerText]").count(
            wanted
        ):
            return
    raise AssertionError(f"Tab doesn't reach {wanted}")


def test_the_first_page_weighs_less_than_60_kb_in_all(chromium: Any, site: Served) -> None:
    context = chromium.new_context(**PHONE, service_workers="block")
    page = context.new_page()
    sign_in(page, site.address, f"/{L1}")
    sizes: list[int] = []
    page.on("response", lambda answer: sizes.append(len(answer.body())))
    visit(page, f"{site.address}/{L1}")
    assert 0 < sum(sizes) < 60_000
    context.close()


def test_a_wrong_field_keeps_what_was_typed_and_says_why_beside_it(
    chromium: Any, site: Served
) -> None:
    for script in (True, False):
        context = chromium.new_context(**PHONE, java_script_enabled=script)
        page = context.new_page()
        sign_in(page, site.address)
        page.goto(f"{site.address}/readings/new?subject={TAG}&kind=continuity")
        page.fill("#f-value", "much")
        page.click("#reading button.main")
        page.wait_for_selector("#fault-value")
        assert "'much' is not" in page.inner_text("#fault-value")
        assert page.input_value("#f-value") == "much"
        context.close()
