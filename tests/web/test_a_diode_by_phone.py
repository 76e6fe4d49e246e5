# SPDX-License-Identifier: MIT
"""Two look-alikes told apart with a diode on the phone's pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.test_ringout import two_look_alikes
from tests.web.conftest import form_token, signed_in
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask

BEGIN = {"near": "MDB", "far": "PH1", "start": "near", "crew": "1"}


@pytest.fixture
def phone(app: Flask, db: Path, tmp_path: Path) -> Any:
    """Return somebody signed in, in front of a pull of two conductors alike."""
    with open_registry(db) as registry:
        two_look_alikes(registry, tmp_path)
    return signed_in(app)


def begin(phone: Any, **more: str) -> str:
    token = form_token(phone.get("/ringouts/P2").text)
    data = {**BEGIN, **more, "form_token": token}
    assert phone.post("/ringouts/P2/begin", data=data).status_code == 303
    return token


def answer(phone: Any, token: str, typed: str) -> None:
    seen = phone.get("/api/ringouts/P2").json["version"]
    data = {"seen": seen, "typed": typed, "form_token": token}
    assert phone.post("/ringouts/P2/answers", data=data).status_code == 303


def test_the_form_asks_for_a_diode_and_the_step_says_where_the_band_goes(phone: Any) -> None:
    assert 'name="diode"' in phone.get("/ringouts/P2").text
    begin(phone, diode="1")
    page = phone.get("/ringouts/P2").text
    assert "Put a diode over two ends" in page
    assert "band on" in page
    assert "an ohms range may be too weak" in page


def test_each_touch_says_which_lead_goes_where_and_takes_the_volts(phone: Any) -> None:
    token = begin(phone, diode="1")
    answer(phone, token, "done")
    page = phone.get("/ringouts/P2").text
    assert "Touch, on the diode range" in page
    assert "<small>red:</small>" in page
    assert "<small>black:</small>" in page
    assert "or the volts shown" in page
    answer(phone, token, "0.6")
    assert "<b>0.6 V</b>" in phone.get("/ringouts/P2").text


def test_two_look_alikes_are_rung_out_by_phone(phone: Any) -> None:
    token = begin(phone, diode="1")
    for typed in ("done", "0.6", "o", "done", "c", "o", "o"):
        answer(phone, token, typed)
    state = phone.get("/api/ringouts/P2").json
    assert state["over"]
    assert {match["far"] for match in state["matches"]} == {"1", "2"}
    assert "P2 is rung out" in phone.get("/ringouts/P2").text
    assert phone.get("/ringouts/P2/log").status_code == 200


def test_without_a_diode_the_page_says_what_would_help(phone: Any) -> None:
    begin(phone)
    assert "diode over two of them" in phone.get("/ringouts/P2").text
