# SPDX-License-Identifier: MIT
"""A binder's pages: whole without a network or a program, every record on one, all text as text."""

from __future__ import annotations

import json
import re
from collections import deque
from typing import TYPE_CHECKING, Any

import pytest

from tests.binder.conftest import Bound, bound, registry_of
from tests.binder.crawling import Page, pages, records, target
from tests.pump import L1, L2, PUMP, conductor, tag
from wiretrack import manner
from wiretrack.electrical.quantity_text import shown
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.landing import land
from wiretrack.tasks.report.report import Reporter
from wiretrack.tasks.trouble.search import Answer
from wiretrack.tasks.trouble.searching import answer, start, undo

if TYPE_CHECKING:
    from pathlib import Path

_REPORT = re.compile(r'<section class="report" id="report"[^>]*>(.*?)</section>', re.DOTALL)
_ALONE = re.compile(r'<main class="report">(.*?)<nav.*?</nav>(.*?)</main>', re.DOTALL)
MARKUP = "<script>document.title='owned'</script><b>'\"&amp;"
OLD, NEW = tag("PMP0D1"), tag("PMP0D2")


@pytest.fixture(scope="module")
def found(mill: Bound) -> dict[str, Page]:
    return dict(pages(mill.folder))


def test_a_tag_is_written_with_one_hyphen_on_every_page(mill: Bound) -> None:
    twice = re.compile(r"\b[0-9A-Z]{3}--[0-9A-Z]{4}\b")
    assert [name for name, page in pages(mill.folder) if twice.search(page.text)] == []


def test_every_link_leads_to_something_that_is_there(mill: Bound, found: dict[str, Page]) -> None:
    for name, page in found.items():
        for link in page.links:
            path, mark = target(name, link)
            assert (mill.folder / path).is_file(), f"{name} leads to {path}"
            assert not mark or mark in found[path].ids


def test_every_page_is_reached_from_the_first(found: dict[str, Page]) -> None:
    seen, waiting = {"index.html"}, deque(["index.html"])
    while waiting:
        name = waiting.popleft()
        for link in found[name].links:
            path, _ = target(name, link)
            if path in found and path not in seen:
                seen.add(path)
                waiting.append(path)
    assert seen == set(found)


def test_the_list_of_all_tags_leads_to_every_conductor_in_order(
    mill: Bound, found: dict[str, Page]
) -> None:
    tags = [str(c.tag) for c in mill.document.conductors]
    listed = [target("tags.html", link) for link in found["tags.html"].links if "#" in link]
    assert [mark for _, mark in listed if mark != "main"] == sorted(tags)
    homes = {(f"circuits/{c.circuit}.html", str(c.tag)) for c in mill.document.conductors}
    assert set(listed) - {("tags.html", "main")} == homes


def test_every_record_of_the_registry_is_on_a_page(mill: Bound, found: dict[str, Page]) -> None:
    document = mill.document
    for what in ("circuits", "enclosures", "raceways", "pulls"):
        for record in getattr(document, what):
            assert record.code in found[f"{what}/{record.code}.html"].text
    wires = {tag: Page(text) for tag, text in records(mill.folder).items()}
    assert len(wires) == len(document.conductors)
    for c in document.conductors:
        page = wires[str(c.tag)]
        for fact in (c.circuit, c.function, c.size, c.insulation, c.note, c.from_end.terminal):
            assert fact is None or " ".join(fact.split()) in page.text
    for reading in document.readings:
        page = wires[format_tag(reading.subject)]
        assert reading.id in page.ids
        assert shown(reading.value) in page.text
        assert not reading.note or reading.note in page.text
    for instrument in document.instruments:
        assert instrument.code in found["instruments.html"].text
    for terminal in document.terminals:
        assert terminal.code in found[f"enclosures/{terminal.enclosure}.html"].text
    for device in document.devices:
        assert device.code in found[f"enclosures/{device.enclosure}.html"].text
    for row in document.rest["label_prints"]:
        assert str(row["stock"]) in wires[format_tag(str(row["tag"]))].text
    for ringout in document.rest["ringouts"]:
        page = found[f"pulls/{ringout['pull']}.html"]
        # The first step: a search for contacts, with the raceway or two by two.
        assert re.search(r"touch (the raceway|[\w-]{8}.{0,30}) and [\w-]{8}", page.text)


def record_of(made: Bound, tag: str) -> Page:
    """Return a conductor's record as a page of its own."""
    return Page(records(made.folder)[format_tag(tag)])


def test_pages_need_no_script_no_frame_and_nothing_from_elsewhere(
    mill: Bound, found: dict[str, Page]
) -> None:
    for name, page in found.items():
        assert page.elements[0][0] == "html"
        assert mill.text(name).lower().startswith("<!doctype html>")
        for element, attributes in page.elements:
            assert element not in ("iframe", "object", "embed", "base")
            if element == "img":  # those of the manual, which lie in the binder
                assert re.fullmatch(r"pictures/[a-z]+\.png", str(attributes["src"]))
                assert (mill.folder / name).parent.joinpath(str(attributes["src"])).is_file()
            assert not [key for key in attributes if key.startswith("on")]
            if element == "script":
                assert str(attributes["src"]).endswith("look/find.js")
                assert "integrity" not in attributes
    style = mill.text("look/binder.css")
    assert "url(" not in style
    assert "@import" not in style
    script = mill.text("look/find.js")
    assert not re.search(r"\b(fetch|XMLHttpRequest|import|eval|innerHTML)\b", script)


def test_elements_are_closed_in_the_order_in_which_they_were_opened(found: dict[str, Page]) -> None:
    for name, page in found.items():
        assert page.mismatched == [], name
        assert page.open == [], name


def test_a_policy_forbids_every_script_but_the_binders_own(found: dict[str, Page]) -> None:
    for page in found.values():
        policies = [
            str(a["content"]) for e, a in page.elements
            if e == "meta" and a.get("http-equiv") == "Content-Security-Policy"
        ]  # fmt: skip
        assert len(policies) == 1
        assert "default-src 'none'" in policies[0]
        assert "unsafe" not in policies[0]


def test_every_page_leads_back_to_the_start(found: dict[str, Page]) -> None:
    for name, page in found.items():
        assert "index.html" in [target(name, link)[0] for link in page.links], name


def test_a_circuits_page_ends_with_its_report_as_it_is_written_alone(
    mill: Bound, found: dict[str, Page]
) -> None:
    listed = [target("reports.html", link) for link in found["reports.html"].links]
    with open_registry(mill.db) as registry:
        manner.use(registry.manner())
        reporter = Reporter(registry, made_at="2026-05-02")
        for circuit in mill.document.circuits:
            name = f"circuits/{circuit.code}.html"
            assert (name, "report") in listed
            assert ("reports.html", "") in [target(name, link) for link in found[name].links]
            (part,) = _REPORT.findall(mill.text(name))
            ((title, alone),) = _ALONE.findall(reporter.page(circuit.code))
            assert Page(part).text == Page(title + alone).text


def test_the_same_registry_and_date_give_the_same_bytes(mill: Bound, tmp_path: Path) -> None:
    again = bound(mill.db, tmp_path / "again")
    files = sorted(p.relative_to(mill.folder) for p in mill.folder.rglob("*") if p.is_file())
    others = sorted(p.relative_to(again.folder) for p in again.folder.rglob("*") if p.is_file())
    assert files == others
    for file in files:
        assert (mill.folder / file).read_bytes() == (again.folder / file).read_bytes(), file


def test_the_binder_states_its_date_on_every_page(mill: Bound, found: dict[str, Page]) -> None:
    for name, page in found.items():
        assert "2026-05-02" in page.text, name
    assert "2026-05-02" in mill.text("README.txt")


def test_markup_in_every_name_is_text_on_every_page(tmp_path: Path) -> None:
    made = bound(registry_of(hostile(), tmp_path), tmp_path / "binder")
    shown = 0
    for name, page in pages(made.folder):
        for element, attributes in page.elements:
            assert element != "b" or "owned" not in str(attributes)
            if element == "script":
                assert set(attributes) == {"src", "defer"}, name
        shown += MARKUP in page.text
        for link in page.links:
            assert (made.folder / target(name, link)[0]).is_file()
    assert shown > 10
    words = made.text("look/words-1.js")
    assert words.isascii()
    inside = json.loads(words.removeprefix("wiretrackBinder.add(").removesuffix(");\n"))
    assert MARKUP in inside
    assert "\x1b" not in "".join(made.text(p) for p in ("index.html", "circuits.html"))


def hostile() -> dict[str, Any]:
    """Return the pump with markup in every free text, and codes that no medium takes as names."""
    site = json.loads(json.dumps(PUMP))
    site["site"]["name"] = MARKUP
    for row in site["enclosures"]:
        row["name"] = row["where"] = MARKUP
    site["circuits"][0]["title"] = MARKUP
    for row in site["conductors"]:
        row["note"] = row["core"] = MARKUP[:40]
        row["note"] = MARKUP
    site["instruments"][0]["name"] = MARKUP
    site["readings"] = [
        {"kind": "continuity", "subject": L1, "value": "0.3 ohm", "note": MARKUP, "by": MARKUP,
         "at": "2026-05-02T10:15:00+02:00", "instrument": "M1"}
    ]  # fmt: skip
    renamed = {"MDB": 'A"/><s>', "PH1": "con", "W1": "W 1/2 ö'\"", "P1": "nul", "PUMP": "../x"}
    text = json.dumps(site)
    for code, other in renamed.items():
        text = text.replace(f'"{code}"', json.dumps(other))
    found: dict[str, Any] = json.loads(text)
    return found


def test_a_retired_conductor_keeps_its_page_and_names_what_follows_it(tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    old = conductor(OLD, "N", "BU", "Q4:5")
    site["conductors"] += [
        {**old, "retired_at": "2025-03-04", "retired_because": "replaced"},
        {**conductor(NEW, "N", "BU", "Q4:5"), "follows": OLD},
    ]
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    found = dict(pages(made.folder))
    assert "RETIRED: replaced, 2025-03-04" in record_of(made, OLD).text
    assert f"Followed by {format_tag(NEW)}" in record_of(made, OLD).text
    assert f"It follows {format_tag(OLD)}" in record_of(made, NEW).text
    assert format_tag(OLD) in found["retired.html"].text
    assert format_tag(OLD) not in found["enclosures/MDB.html"].text
    assert format_tag(NEW) in found["enclosures/MDB.html"].text
    assert format_tag(OLD) not in found["punchlist.html"].text


def test_an_abandoned_conductor_is_a_caution_wherever_it_may_be_touched(tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    gone = {"retired_at": "2025-03-04"}
    site["conductors"] += [
        {**conductor(OLD, "N", "BU", "Q4:5"), **gone, "retired_because": "abandoned"},
        {**conductor(NEW, "N", "BU", "Q4:7"), **gone, "retired_because": "removed"},
    ]
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    found = dict(pages(made.folder))
    caution = "An abandoned conductor may still be live"
    for name in ("enclosures/MDB.html", "enclosures/PH1.html", "circuits/PUMP.html",
                 "site-report.html"):  # fmt: skip
        assert caution in found[name].text, name
        assert format_tag(OLD) in found[name].text or name == "site-report.html", name
    (report,) = _REPORT.findall(made.text("circuits/PUMP.html"))
    assert caution in Page(report).text
    assert found["circuits/PUMP.html"].text.index(caution) < made.text("circuits/PUMP.html").index(
        report
    )
    assert caution not in record_of(made, NEW).text
    assert "RETIRED: abandoned in its raceway, 2025-03-04" in record_of(made, OLD).text
    assert f"{format_tag(OLD)} PUMP N, abandoned" in found["raceways/W1.html"].text
    for name in ("raceways/W1.html", "enclosures/MDB.html"):  # what was pulled out isn't there
        assert format_tag(NEW) not in found[name].text, name


def test_a_new_piece_shows_what_was_read_of_the_old_one_as_the_old_ones(tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    old = conductor(OLD, "N", "BU", "Q4:5")
    site["conductors"] += [
        {**old, "retired_at": "2025-03-04", "retired_because": "cut"},
        {**conductor(NEW, "N", "BU", "Q4:5"), "follows": OLD},
    ]
    site["readings"] = [
        {"kind": "continuity", "subject": OLD, "value": "0.777 ohm", "instrument": "M1",
         "at": "2024-05-02T10:15:00+02:00"}
    ]  # fmt: skip
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    found = record_of(made, NEW)
    text = found.text
    assert "Readings None yet." in text
    assert text.index(f"Read of {format_tag(OLD)}, from which it came") < text.index("0.777 Ω")
    assert not [i for i in found.ids if re.fullmatch(r"[0-9a-f-]{36}", i)]


def test_a_ratio_of_timed_readings_stands_with_both_readings_and_the_ratio_before(
    tmp_path: Path,
) -> None:
    site = json.loads(json.dumps(PUMP))
    site["readings"] = [
        {"kind": "insulation", "subject": L1, "value": value, "after": after, "against": "PE",
         "test_voltage": "500 V", "at": f"{day}T10:15:00+02:00"}
        for day, late in (("2022-06-01", "1500 Mohm"), ("2026-05-02", "1200 Mohm"))
        for value, after in (("1000 Mohm", "60 s"), (late, "600 s"))
    ]  # fmt: skip
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    text = record_of(made, L1).text
    assert (
        "2026-05-02 polarization index to PE at 500 V: 1.2 (1.2 GΩ after 600 s, 1 GΩ after 60 s). "
        "Before: 1.5 on 2022-06-01. Now 0.8 times that. No limit is published for wiring. "
        "defined by IEEE 43-2013, for windings"
    ) in text
    assert "No earlier ratio to compare with. No limit is published for wiring." in text


def test_a_search_for_a_fault_is_told_on_its_circuits_page(tmp_path: Path) -> None:
    db = registry_of(PUMP, tmp_path)
    with open_registry(db) as registry:
        start(registry, "dead-circuit", format_tag(L1))
        answer(registry, "PUMP", Answer("no", note="taken back"))
        undo(registry, "PUMP")
        answer(registry, "PUMP", Answer("yes", note="lamp lit"))
    made = bound(db, tmp_path / "binder")
    text = dict(pages(made.folder))["circuits/PUMP.html"].text
    assert "Searches for faults" in text
    assert "dead-circuit, not finished" in text or "dead-circuit, found:" in text
    assert "Is it there? yes, lamp lit" in text
    assert "taken back" not in text


def test_an_empty_registry_makes_a_binder_too(tmp_path: Path) -> None:
    empty = {"format": "wiretrack-site/1", "site": {"name": "Nothing yet"}}
    made = bound(registry_of(empty, tmp_path), tmp_path / "binder")
    found = dict(pages(made.folder))
    assert "Nothing yet" in found["index.html"].text
    for name, page in found.items():
        for link in page.links:
            assert (made.folder / target(name, link)[0]).is_file()


def test_a_conductors_page_says_what_the_record_says(mill: Bound, found: dict[str, Page]) -> None:
    # The demo's faulty conductor, as its site file has it (demo_db/site.json).
    markup = records(mill.folder)["QF1-895O"]
    page = Page(markup).text
    for words in (
        "SLUICE", "L2", "12 AWG", "MDP", "Q4:4", "SLC", "Q1:3", "0.282 Ω", "0.21 MΩ",
        "IEC 60364-6:2016 table 6.1", "W8", "W9", "W10", "Q4 in MDP is open",
    ):  # fmt: skip
        assert words in page
    assert markup.count("<svg") == 4  # the code, two series of readings, the route


def test_the_lists_of_a_large_site_are_parted_and_joined_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wiretrack.tasks.binder.lists.ROWS_A_PAGE", 2)
    made = bound(registry_of(PUMP, tmp_path), tmp_path / "binder")
    found = dict(pages(made.folder))
    listed = [
        target(name, link)
        for name in ("tags.html", "tags-2.html")
        for link in found[name].links
        if link.startswith("circuits/PUMP.html#")
    ]
    assert [tag for _, tag in listed] == [str(c.tag) for c in made.document.conductors]
    assert "tags-2.html" in found["tags.html"].links
    assert "tags.html" in found["tags-2.html"].links
    assert format_tag(L2) in found["tags.html"].text


def test_what_was_changed_is_told_on_the_page_that_it_changed(tmp_path: Path) -> None:
    db = registry_of(PUMP, tmp_path)
    with open_registry(db) as registry:
        land(registry, L1, End(enclosure="PH1", terminal="X:7"), who="roof")
    made = bound(db, tmp_path / "binder")
    found = dict(pages(made.folder))
    told = record_of(made, L1).text.partition("History")[2]
    assert f"{format_tag(L1)}: to terminal unknown → X:7, to state unknown → landed by roof" in told
    assert f"conductor {format_tag(L1)} added with " in told
    assert "X:7" not in record_of(made, L2).text
    assert "terminal PH1/X:7 added" in found["enclosures/PH1.html"].text.partition("History")[2]
    assert "X:7" in found["enclosures/PH1.html"].text


def test_a_crowded_circuit_is_drawn_in_part_and_listed_whole(tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    tags = [tag(f"PMP{n:03d}") for n in range(100, 200)]
    site["conductors"] += [conductor(t, "N", "BU", f"N:{n // 2}") for n, t in enumerate(tags)]
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    found = dict(pages(made.folder))
    # Fifty pairs, each on one terminal; the other three are joined to nothing.
    assert made.text("circuits/PUMP.html").count('aria-label="What is connected, drawing') == 40
    assert "10 more that hang together aren't drawn" in found["circuits/PUMP.html"].text
    assert all(format_tag(t) in found["circuits/PUMP.html"].text for t in tags)
    # A hundred and three records stand on three pages, in order, each page leading to the others.
    names = ["circuits/PUMP.html", "circuits/PUMP.2.html", "circuits/PUMP.3.html"]
    stand = [name for name in names for mark in found[name].ids if len(mark) == 8]
    assert [stand.count(name) for name in names] == [50, 50, 3]
    assert set(records(made.folder)) == {str(c.tag) for c in made.document.conductors}
    for name in names:
        led = {target(name, link)[0] for link in found[name].links}
        assert led >= set(names) - {name}
        for link in found[name].links:
            path, mark = target(name, link)
            assert not mark or mark in found[path].ids


def test_spares_stand_by_box_and_a_shared_conductor_once(tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    site["circuits"] += [{"code": "FAN"}, {"code": "PUMP.2"}]
    shared = conductor(NEW, "N", "BU", "N:1") | {"circuit": ["FAN", "PUMP"]}
    spare = conductor(OLD, "signal", "BU", "Q4:9")
    del spare["circuit"]
    site["conductors"] += [shared, spare]
    made = bound(registry_of(site, tmp_path), tmp_path / "binder")
    found, wires = dict(pages(made.folder)), records(made.folder)
    assert format_tag(NEW) in found["circuits/FAN.html"].ids
    assert format_tag(NEW) not in found["circuits/PUMP.html"].ids
    led = [target("circuits/PUMP.html", link) for link in found["circuits/PUMP.html"].links]
    assert ("circuits/FAN.html", format_tag(NEW)) in led
    assert format_tag(OLD) in found["spares/MDB.html"].ids
    assert "SPARE" in wires[format_tag(OLD)]
    led = [target("enclosures/MDB.html", link) for link in found["enclosures/MDB.html"].links]
    assert ("spares/MDB.html", format_tag(OLD)) in led
    words = json.loads(made.text("look/words-1.js")[len("wiretrackBinder.add(") : -3]).split("\n")
    places = {line.split("\t")[1]: line.split("\t")[4] for line in words}
    assert places[format_tag(OLD)] == f"spares/MDB.html#{format_tag(OLD)}"
    assert places[format_tag(NEW)] == f"circuits/FAN.html#{format_tag(NEW)}"
