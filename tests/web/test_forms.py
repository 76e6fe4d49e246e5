# SPDX-License-Identifier: MIT
"""Forms without any script: what was typed stays, and what is wrong is said beside the field."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2
from tests.record_of import record_of
from tests.web.conftest import CODE, READ_CODE, form_token, signed_in
from wiretrack.library import OpenSite
from wiretrack.model.entities import Conductor
from wiretrack.model.tags import format_tag
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask

READING = {
    "subject": L1,
    "kind": "continuity",
    "value": "0.31",
    "prefix": "",
    "note": "by the pump",
}


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("value", "much"),
        ("value", "-4"),
        ("leads", "2 kg"),
        ("temp", "warm <b>"),
        ("cell_temp", "400 C"),
        ("against", 'the "moon"'),
        ("test_voltage", "0 V"),
        ("after", "a while"),
    ],
)
def test_a_reading_with_a_wrong_field_comes_back_as_it_was_typed(
    app: Flask, db: Path, field: str, typed: str
) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/readings/new?subject={L1}").text)
    answer = client.post("/readings/new", data={**READING, field: typed, "form_token": token})
    assert answer.status_code == 422
    assert f'id="fault-{field}"' in answer.text
    assert f'aria-describedby="fault-{field}"' in answer.text
    kept = typed.replace("<", "&lt;").replace(">", "&gt;").replace('"', "&#34;")
    assert f'value="{kept}"' in answer.text
    assert 'value="by the pump"' in answer.text
    with open_registry(db) as registry:
        assert registry.rows("SELECT 1 FROM readings") == []


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ({"value": "0.31"}, "0.31 ohm"),
        ({"value": "310", "prefix": "m"}, "310 mohm"),
        ({"value": "2000", "prefix": "M", "over": "1"}, ">2000 Mohm"),
        ({"value": "", "over": "1"}, "OL"),
        ({"value": ">500M"}, ">500M"),
        ({"value": "412", "minus": "1", "kind": "voltage", "cautions": "1"}, "-412 V"),
    ],
)
def test_number_prefix_and_over_range_make_one_value(
    app: Flask, db: Path, typed: dict[str, str], stored: str
) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/readings/new?subject={L1}").text)
    answer = client.post("/readings/new", data={**READING, **typed, "form_token": token})
    assert answer.status_code == 303
    with open_registry(db) as registry:
        assert registry.rows("SELECT value FROM readings") == [{"value": stored}]


def test_the_cautions_are_asked_for_once_in_a_session(app: Flask) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/readings/new?subject={L1}").text)
    sent = {**READING, "kind": "insulation", "value": "200", "prefix": "M", "form_token": token}
    statuses = [
        client.post("/readings/new", data={**sent, **more}).status_code
        for more in ({}, {"cautions": "1"}, {})
    ]
    assert statuses == [422, 303, 303]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"enclosure": "MDB", "state": "landed", "terminal": ""}, "needs its terminal"),
        ({"enclosure": "MDB", "state": "floating", "terminal": ""}, "capped or loose"),
        ({"enclosure": "MDB", "state": "landed", "terminal": "x" * 90}, "It may have 40"),
    ],
)
def test_an_end_that_cannot_be_landed_so_leaves_the_form_as_it_was(
    app: Flask, typed: dict[str, str], told: str
) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/{L1}").text)
    answer = client.post(f"/ends/{L1}", data={**typed, "form_token": token})
    assert answer.status_code == 422
    assert told in answer.text
    assert f'value="{typed["terminal"]}"' in answer.text


def test_an_end_is_landed_from_the_page(app: Flask, db: Path) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/{L1}").text)
    data = {"enclosure": "PH1", "state": "landed", "terminal": "TB1:7", "form_token": token}
    answer = client.post(f"/ends/{L1}", data=data)
    assert (answer.status_code, answer.location.partition("?")[0]) == (303, f"/{L1}")
    shown = client.get(answer.location).text
    assert "Stored:" in shown
    assert 'action="/undo"' in shown
    with open_registry(db) as registry:
        end = record_of(registry, L1)["ends"][1]
    assert (end["terminal"], end["state"]) == ("TB1:7", "landed")


def test_find_leads_to_what_is_called_so_and_says_what_a_mistyped_tag_may_be(app: Flask) -> None:
    client = signed_in(app)
    for typed, place in (
        (L1, f"/{format_tag(L1)}"),
        ("w1", "/raceways/W1"),
        ("mdb", "/enclosures/MDB"),
    ):
        assert client.get(f"/find?q={typed}").headers["Location"] == place
    slip = L1[:6] + ("A" if L1[6] != "A" else "B")
    assert f"Did you mean {format_tag(L1)}?" in client.get(f"/find?q={slip}").text
    assert client.get("/BOX/MDB").headers["Location"] == "/enclosures/MDB"
    assert CODE not in client.get("/").text


def test_what_is_wrong_is_said_without_the_command_line_that_would_help(app: Flask) -> None:
    page = signed_in(app).get("/trouble?q=nonsense").text
    assert "No conductor or terminal is called &#39;nonsense&#39;.<" in page


def test_another_ring_out_under_way_is_named_without_the_options_of_a_command(app: Flask) -> None:
    client = signed_in(app)
    token = form_token(client.get("/ringouts/P1").text)
    begun = {"near": "MDB", "far": "PH1", "crew": "1", "form_token": token}
    assert client.post("/ringouts/P1/begin", data=begun).status_code == 303
    refused = client.post("/ringouts/P1/begin", data={**begun, "crew": "2"})
    assert refused.status_code == 422
    assert "A ring-out of P1 with other gear is under way: alone.<" in refused.text
    assert "--switch" not in refused.text


def test_a_short_circuit_on_one_terminal_is_asked_about_before_it_is_stored(
    app: Flask, db: Path
) -> None:
    client = signed_in(app)
    token = form_token(client.get(f"/{L1}").text)
    landing = {"enclosure": "PH1", "state": "landed", "terminal": "X:1", "form_token": token}
    assert client.post(f"/ends/{L1}", data=landing).status_code == 303
    asked = client.post(f"/ends/{L2}", data=landing)
    assert asked.status_code == 422
    assert "that is a short circuit or an earth fault" in asked.text
    assert 'name="sure"' in asked.text
    assert "--anyway" not in asked.text
    with open_registry(db) as registry:
        assert site_of(registry).one(Conductor, L2).to_end.terminal is None
    assert client.post(f"/ends/{L2}", data={**landing, "sure": "1"}).status_code == 303
    with open_registry(db) as registry:
        assert site_of(registry).one(Conductor, L2).to_end.terminal == "X:1"


def _label(app: Flask, code: str = CODE, **typed: str) -> tuple[int, str]:
    """Tap on what the page of L1 offers for a label; return what comes of it."""
    client = signed_in(app, code)
    token = form_token(client.get(f"/{L1}").text)
    place = {"from": "MDB Q4:1", "to": "PH1"}[typed["end"]]
    data = {"place": place, **typed, "form_token": token}
    answer = client.post(f"/ends/{L1}/label", data=data)
    return answer.status_code, answer.text


def test_a_tap_says_that_a_label_is_on_and_another_takes_it_back(
    app: Flask, db: Path, tmp_path: Path
) -> None:
    with open_registry(db) as registry:
        OpenSite(registry).print_labels(L1, "flag-70x16-300", tmp_path / "l.pdf")
    page = signed_in(app).get(f"/{L1}").text
    assert page.count("Label is on</button>") == 1  # the far end isn't identified
    assert "Identify this end before you label it." in page
    assert _label(app, end="from", label="on")[0] == 303
    assert _label(app, end="from", label="on")[0] == 303  # a second tap changes nothing
    with open_registry(db) as registry:
        ends = record_of(registry, L1)["ends"]
        assert [end["labelled"] for end in ends] == [True, False]
        (row,) = registry.rows("SELECT by FROM placed_labels")
        assert row["by"] == "phone-1"
    assert "Label is not on</button>" in signed_in(app).get(f"/{L1}").text
    assert _label(app, end="from", label="off")[0] == 303
    with open_registry(db) as registry:
        assert not record_of(registry, L1)["ends"][0]["labelled"]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"end": "to", "label": "on"}, "isn&#39;t identified"),
        ({"end": "to", "label": "by-hand"}, "isn&#39;t identified"),
        ({"end": "from", "label": "on"}, "has no printed label"),
        ({"end": "from", "label": "on", "place": "MDB Q9:9"}, "was changed since"),
        ({"end": "from", "label": "glued"}, "Say whether the label is on"),
        ({"end": "from", "label": "off"}, "is noted as on"),
    ],
)
def test_a_tap_for_a_label_that_can_not_be_on_is_refused_on_the_page(
    app: Flask, db: Path, typed: dict[str, str], told: str
) -> None:
    status, page = _label(app, **typed)
    assert (status, told in page, "--by-hand" in page) == (422, True, False), page
    with open_registry(db) as registry:
        assert registry.rows("SELECT 1 FROM placed_labels") == []


def test_a_label_written_by_hand_is_noted_from_the_page(app: Flask, db: Path) -> None:
    assert "Hand-written label is on" in signed_in(app).get(f"/{L1}").text
    assert _label(app, end="from", label="by-hand")[0] == 303
    with open_registry(db) as registry:
        assert record_of(registry, L1)["ends"][0]["labelled"]
    client = signed_in(app, READ_CODE)
    page = client.get(f"/{L1}").text
    assert "Label is not on" not in page  # who may only read, sees no buttons


@pytest.mark.parametrize("text", [f"WT:{L1}", f"HTTP://OLD:8080/{L1}"])
def test_the_search_box_opens_what_a_labels_text_names(app: Flask, text: str) -> None:
    client = signed_in(app)
    answer = client.get("/find", query_string={"q": text})
    assert (answer.status_code, answer.location) == (303, f"/{L1[:3]}-{L1[3:]}")
    answer = client.get("/find", query_string={"q": "WT:BOX/PH1"})
    assert (answer.status_code, answer.location) == (303, "/enclosures/PH1")
    assert client.get(f"/api/conductors/WT:{L1}").status_code == 200
