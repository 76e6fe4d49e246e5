# SPDX-License-Identifier: MIT
"""Forms without any script: what was typed stays, and what is wrong is said beside the field."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2
from tests.web.conftest import CODE, form_token, signed_in
from wiretrack.registry import wiring
from wiretrack.registry.store import open_registry
from wiretrack.tags import format_tag
from wiretrack.tasks.showing import show

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
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/{L1}")
    with open_registry(db) as registry:
        end = show(registry, L1)[1]["ends"][1]
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
    assert "No terminal is called &#39;nonsense&#39;. Look for it.<" in page


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
        assert wiring.ends_of(registry, L2)[1].terminal is None
    assert client.post(f"/ends/{L2}", data={**landing, "sure": "1"}).status_code == 303
    with open_registry(db) as registry:
        assert wiring.ends_of(registry, L2)[1].terminal == "X:1"
