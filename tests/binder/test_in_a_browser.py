# SPDX-License-Identifier: MIT
"""The binder opened from its folder in a real browser whose network is cut."""

from __future__ import annotations

import io
import json
import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.binder.conftest import Bound, bound, registry_of
from tests.binder.test_pages import MARKUP, hostile
from tests.pdf import page_texts
from tests.pump import L1, PUMP
from tests.web.browsing import AXE, DESKTOP, PHONE, until
from wiretrack.model.tags import ALPHABET, check_character, format_tag

if TYPE_CHECKING:
    from collections.abc import Iterator

SIZES: dict[str, dict[str, Any]] = {"phone": PHONE, "desktop": DESKTOP}
FAULTY = "QF1-895O"  # the demo's conductor with a real fault
RECORD = f"circuits/SLUICE.html#{FAULTY}"
REPORT, SITE_REPORT = "circuits/SLUICE.html#report", "site-report.html"
NARROW = {**PHONE, "viewport": {"width": 320, "height": 640}}  # WCAG 2.2, 1.4.10
PAGES = [
    "index.html", "tags.html", RECORD, REPORT, "circuits/PV-OUT.html",
    "enclosures/MDP.html", "raceways/W8.html", "pulls/P-SLIP.html", "pulls/P-WHEEL.html",
    "punchlist.html", "checks.html", "markings.html", "instruments.html", "trends.html",
    "retired.html", "reports.html", "pulls.html", "circuits.html", "enclosures.html",
]  # fmt: skip


@pytest.fixture(params=list(SIZES), scope="module")
def page(request: pytest.FixtureRequest, chromium: Any) -> Iterator[Any]:
    context = chromium.new_context(**SIZES[request.param])
    context.set_offline(True)
    yield context.new_page()
    context.close()


@pytest.fixture
def desk(chromium: Any) -> Iterator[Any]:
    context = chromium.new_context(**DESKTOP)
    context.set_offline(True)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_its_width_and_runs_without_complaint(
    page: Any, mill: Bound, path: str
) -> None:
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("requestfailed", lambda request: complaints.append(request.url))
    page.goto(mill.address + path)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("h1").count() == 1
    codes = "[...document.querySelectorAll('a.code')].map(e => getComputedStyle(e).display)"
    assert "block" not in page.evaluate(codes)
    assert page.locator("#find").is_visible()
    small = page.evaluate(
        """() => [...document.querySelectorAll("input, nav a, .button, summary")]
            .filter(e => e.checkVisibility())
            .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
            .filter(([, box]) => box.width < 44 || box.height < 44).map(([html]) => html)"""
    )
    assert small == []  # WCAG 2.2 success criterion 2.5.5: 44 by 44 CSS pixels
    assert complaints == []


def test_the_sites_report_keeps_its_style_and_leads_back_to_the_binder(
    page: Any, mill: Bound
) -> None:
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(mill.address + SITE_REPORT)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate("getComputedStyle(document.querySelector('th')).textAlign") == "left"
    boxes = [link.bounding_box() for link in page.locator("nav.back a").all()]
    assert all(box["height"] >= 44 and box["width"] >= 44 for box in boxes)  # WCAG 2.2, 2.5.5
    assert complaints == []
    page.evaluate("document.body.append(document.createElement('style'))")
    page.evaluate("document.querySelector('body > style').textContent = 'h1 { display: none }'")
    assert page.locator("h1").is_visible()  # the policy lets no other style in
    assert complaints
    page.click("nav.back a")
    page.wait_for_url(lambda url: not url.endswith(SITE_REPORT))
    assert page.locator("h1").inner_text() == mill.document.site.name


@pytest.mark.parametrize("path", [*PAGES, SITE_REPORT])
def test_axe_finds_nothing_serious(page: Any, mill: Bound, path: str) -> None:
    if not AXE:
        pytest.skip("axe-core isn't here; fetch it with npm and set WIRETRACK_AXE to axe.min.js")
    page.goto(mill.address + path)
    page.evaluate(Path(AXE).read_text("utf-8"))
    found = page.evaluate("axe.run().then(r => r.violations)")
    serious = [
        (v["id"], [n["html"][:120] for n in v["nodes"]])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    assert serious == []


def hits(page: Any, text: str) -> list[str]:
    """Type words into the search and return the names of what it finds."""
    page.fill("#words", text)
    until(page, "!document.getElementById('said').textContent.startsWith('Reading')")
    return [str(name) for name in page.locator("#hits b").all_inner_texts()]


FOCUSED = "id => document.activeElement.id === id"


def scrolled_to(page: Any) -> None:
    """Wait until the head of the record is on the screen: a page scrolls there after it is loaded.

    Asked from outside, as the page may have no scripts.
    """
    for _ in range(600):
        box = page.locator(f"[id='{FAULTY}'] h2").bounding_box()
        if 0 <= box["y"] < 640 - box["height"]:
            return
        page.wait_for_timeout(50)
    pytest.fail(f"the record is at {box}")


def test_a_conductor_is_found_by_keyboard_alone(desk: Any, mill: Bound) -> None:
    desk.goto(mill.address + "index.html")
    desk.keyboard.press("/")
    desk.keyboard.type("head sluice")
    desk.wait_for_selector("#hits a")
    desk.keyboard.press("ArrowDown")
    assert desk.evaluate("document.activeElement.textContent").startswith("SLC")
    desk.keyboard.press("Enter")
    desk.wait_for_url("**/enclosures/SLC.html")
    desk.keyboard.press("/")
    desk.keyboard.type("qfl 8950")  # small letters, a space, an l for 1, a zero for the last O
    desk.wait_for_selector("#hits a")
    assert "Did you mean" in desk.inner_text("#said")
    desk.keyboard.press("Escape")
    desk.keyboard.type("qfi895o")
    desk.wait_for_selector("#hits a")
    desk.keyboard.press("Enter")
    desk.wait_for_url(f"**/{RECORD}")
    until(desk, FOCUSED, FAULTY)
    desk.keyboard.press("Tab")  # the next thing that takes the keyboard is in the record
    assert desk.evaluate("document.activeElement.closest('article').id") == FAULTY
    desk.keyboard.press("/")
    desk.keyboard.type("0aze mtb")  # one on the very page that is open
    desk.wait_for_selector("#hits a")
    desk.keyboard.press("Enter")
    desk.wait_for_url("**/circuits/SLUICE.html#0AZ-EMTB")
    until(desk, FOCUSED, "0AZ-EMTB")
    assert desk.locator("#hits a").count() == 0


def test_a_scanned_label_leads_to_the_wires_record_on_the_narrowest_phone(
    chromium: Any, mill: Bound
) -> None:
    page = chromium.new_context(**NARROW).new_page()
    for typed in ("WT:QF1895O", "http://old-host.lan/QF1895O"):  # what a phone's camera gives
        page.goto(mill.address + "index.html")
        assert hits(page, typed) == [FAULTY]
        page.tap("#hits a")
        page.wait_for_url(f"**/{RECORD}")
        scrolled_to(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()


@pytest.mark.parametrize(
    "typed",
    ["qf1-895o", "QF1 895O", "qfl895o", "QFI-895O", "WT:QF1895O", "http://x.lan:80/QF1895O"],
)
def test_a_tag_is_found_in_any_writing(desk: Any, mill: Bound, typed: str) -> None:
    desk.goto(mill.address + "tags.html")
    assert hits(desk, typed) == [FAULTY]


def test_a_wrong_check_character_is_told_with_the_tag_that_was_meant(
    desk: Any, mill: Bound
) -> None:
    desk.goto(mill.address + "index.html")
    for wrong in ("QF1-8950", "FQ1-895O", "QF2-895O"):
        assert hits(desk, wrong) == [FAULTY]
        assert "check character is wrong" in desk.inner_text("#said")


def test_a_right_tag_of_another_site_is_said_to_be_none_of_this(desk: Any, mill: Bound) -> None:
    desk.goto(mill.address + "index.html")
    stdnum = pytest.importorskip("stdnum.iso7064.mod_37_36")
    chance, own = random.Random(7), {c.tag for c in mill.document.conductors}
    for _ in range(20):
        body = "".join(chance.choice(ALPHABET) for _ in range(6))
        tag = body + stdnum.calc_check_digit(body)  # an independent MOD 37,36
        assert tag not in own
        assert hits(desk, tag) == []
        assert desk.inner_text("#said") == f"No conductor of this site is tagged {format_tag(tag)}."


def test_words_must_all_occur_and_the_best_comes_first(desk: Any, mill: Bound) -> None:
    desk.goto(mill.address + "index.html")
    assert hits(desk, "pump")[0] == "PUMP"
    assert hits(desk, "SLUICE L2") == [FAULTY]
    assert hits(desk, "w8")[0] == "W8"
    assert FAULTY in hits(desk, "breaker q4 left open")
    assert hits(desk, "sluice zebra") == []
    assert "zebra" in desk.inner_text("#said")
    assert hits(desk, "MÍLL électrician") != []


def test_every_conductor_is_found_by_its_tag(desk: Any, mill: Bound) -> None:
    desk.goto(mill.address + "index.html")
    for conductor in mill.document.conductors:
        written = str(conductor.tag)
        assert hits(desk, written.lower()) == [written]


def test_without_scripts_the_list_of_tags_leads_there(chromium: Any, mill: Bound) -> None:
    context = chromium.new_context(**PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(mill.address + "index.html")
    assert not page.locator("#find").is_visible()
    page.click("text=all tags in order >> nth=0")
    page.click(f"text={FAULTY}")
    page.wait_for_url(f"**/{RECORD}")
    scrolled_to(page)
    context.close()


def test_the_code_on_a_page_leads_back_to_its_tag(desk: Any, mill: Bound) -> None:
    zxingcpp = pytest.importorskip("zxingcpp")
    from PIL import Image

    for path, text in ((RECORD, "WT:QF1895O"),
                       ("enclosures/MDP.html", "WT:BOX/MDP")):  # fmt: skip
        desk.goto(mill.address + path)
        picture = Image.open(io.BytesIO(desk.screenshot()))
        assert [code.text for code in zxingcpp.read_barcodes(picture)] == [text]


def test_markup_in_names_runs_nowhere_not_even_in_the_search(chromium: Any, tmp_path: Path) -> None:
    made = bound(registry_of(hostile(), tmp_path), tmp_path / "b # ö %20")
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    for file in sorted(made.folder.rglob("*.html")):
        page.goto(file.as_uri())
        assert "owned" not in page.title() or page.title().count("<script>")
        assert page.evaluate("document.querySelectorAll('script:not([src])').length") == 0
    page.goto(made.address + "index.html")
    found = hits(page, "owned")
    assert len(found) >= 3
    assert MARKUP in page.inner_text("#hits")
    page.locator("#hits a").first.click()
    page.wait_for_url(lambda url: "index.html" not in url)
    page.wait_for_selector("h1")
    context.close()


def test_a_folder_that_lost_its_search_data_says_so(chromium: Any, tmp_path: Path) -> None:
    made = bound(registry_of(json.loads(json.dumps(PUMP)), tmp_path), tmp_path / "binder")
    (made.folder / "look" / "words-1.js").unlink()
    context = chromium.new_context(**DESKTOP)
    page = context.new_page()
    page.goto(made.address + "index.html")
    page.fill("#words", L1)
    until(page, "document.getElementById('said').textContent.includes('whole')")
    context.close()


def test_a_page_prints_without_what_only_a_screen_needs(desk: Any, mill: Bound) -> None:
    desk.emulate_media(media="print")
    desk.goto(mill.address + "circuits/SLUICE.html")
    assert not desk.locator("#find").is_visible()
    assert not desk.locator("header nav").is_visible()
    assert desk.locator("h1").is_visible()
    assert all(one.is_visible() for one in desk.locator("article, figure svg").all())
    desk.goto(mill.address + RECORD)  # of one conductor that was looked up, its own record alone
    assert desk.locator("article:visible, main > :visible").count() == 1
    assert desk.locator("figure svg:visible").count() == 1
    assert desk.locator(f"h2:text-is('{FAULTY}')").is_visible()
    assert "2026-05-02" in desk.inner_text("header")


def test_a_report_prints_alone_where_the_page_was_opened_at_it(
    chromium: Any, mill: Bound, tmp_path: Path
) -> None:
    page, sheets = chromium.new_page(), list[list[str]]()
    for path in (REPORT, "circuits/SLUICE.html", RECORD):
        page.goto("about:blank")
        page.goto(mill.address + path)
        page.pdf(path=str(tmp_path / "printed.pdf"), prefer_css_page_size=True)
        sheets.append(page_texts(tmp_path / "printed.pdf"))
    report, whole, record = sheets
    assert "Verification report: circuit SLUICE" in report[0]
    for number, sheet in enumerate(report, 1):
        assert f"{number} / {len(report)}" in sheet
        assert (
            "circuit SLUICE, sluice gate drive, Sallowmere Mill and Boatyard, 2026-05-02" in sheet
        )
    for sheet in (*whole, *record):
        assert "Conclusion and signatures" not in sheet
    assert FAULTY in record[0]
    assert "Before you begin" in whole[0]


def test_the_search_knows_the_same_check_characters_as_the_tags(desk: Any, mill: Bound) -> None:
    desk.goto(mill.address + "index.html")
    chance = random.Random(3)
    for _ in range(20):
        body = "".join(chance.choice(ALPHABET) for _ in range(6))
        wrong = chance.choice([c for c in ALPHABET if c != check_character(body)])
        hits(desk, body + wrong)
        assert "check character is wrong" in desk.inner_text("#said")
