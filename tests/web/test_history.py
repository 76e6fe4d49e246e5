# SPDX-License-Identifier: MIT
"""The history of a record on a phone, and a change that is taken back there."""

from __future__ import annotations

import re
from html import unescape
from typing import TYPE_CHECKING

from tests.pump import L1
from tests.web.conftest import LOG_CODE, READ_CODE, form_token, signed_in
from wiretrack.library import OpenSite
from wiretrack.store.store import open_registry
from wiretrack.tasks.trouble import searching
from wiretrack.tasks.trouble.search import Answer

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

TAG = f"{L1[:3]}-{L1[3:]}"
PAGE = f"/history/conductor/{TAG}"


def landed(db: Path, *states: str) -> list[str]:
    with OpenSite(open_registry(db), who="Mira") as site:
        found = []
        for state in states:
            site.land(L1, "PH1", state=state)
            found.append(site.registry.commit.change)
        return found


def state(db: Path) -> str | None:
    with OpenSite(open_registry(db)) as site:
        return site.conductor(L1).to_end.state


def post(client: FlaskClient, **form: str) -> tuple[int, str]:
    token = form_token(client.get(PAGE).text)
    answer = client.post(PAGE, data={"form_token": token, **form})
    return answer.status_code, answer.text


def test_a_record_leads_to_its_history_and_a_change_is_taken_back_there(
    app: Flask, db: Path
) -> None:
    (change,) = landed(db, "capped")
    client = signed_in(app)
    assert f'href="{PAGE}"' in client.get(f"/{TAG}").text
    page = client.get(PAGE).text
    assert "to state unknown → capped" in page
    assert "by Mira" in page
    assert re.search(r">\d{4}-\d\d-\d\d \d\d:\d\d</time>", page)  # no seconds: 320 px wide it broke
    assert post(client, change=change)[0] == 303
    assert state(db) is None
    newest = client.get(PAGE).text.partition("<main")[2].split("<h2>")[1]
    assert "to state capped → unknown" in newest
    assert "by phone-1" in newest


def test_what_later_work_rests_on_is_asked_about_beside_it(app: Flask, db: Path) -> None:
    first, second = landed(db, "capped", "loose")
    client = signed_in(app)
    status, page = post(client, change=first)
    assert status == 422
    assert f"Later work rests on change {first}" in page
    assert "Take 1 later change back too" in page
    assert "wiretrack undo" not in page
    assert state(db) == "loose"
    assert post(client, change=first, together="1")[0] == 303
    assert state(db) is None
    status, page = post(client, change=second)
    assert status == 422
    assert "was taken back already" in page


def test_a_button_is_offered_where_a_change_can_be_taken_back_else_what_works(
    app: Flask, db: Path, tmp_path: Path
) -> None:
    with OpenSite(open_registry(db), who="Mira") as site:
        site.log(L1, "continuity", "0.31 ohm", temp="20 C")
        site.print_labels(L1, "flag-90x25-300", tmp_path / "labels.pdf")
        searching.start(site.registry, "insulation-alarm", L1)
        searching.answer(site.registry, "PUMP", Answer("no"))
    first, _ = landed(db, "capped", "loose")
    client = signed_in(app)
    assert post(client, change=first, together="1")[0] == 303

    def shown(page: str) -> list[tuple[str, str]]:
        told = client.get(page).text.partition("<main")[2].split("<h2>")[1:]
        offers = ("Undo this", "Taken back since", "Open the search")
        lines = [each.partition("<li>")[2].partition("</li>")[0] for each in told]
        return [(line, next((offer for offer in offers if offer in each), ""))
                for line, each in zip(lines, told, strict=True)]  # fmt: skip

    undone, loose, capped, printed, read, _ = shown(PAGE)
    assert [offer for _, offer in (undone, loose, capped)] == [
        "Undo this",
        *["Taken back since"] * 2,
    ]
    assert "label printed" in printed[0]
    assert "continuity" in read[0]
    assert printed[1] == read[1] == ""
    assert ("search on PUMP begun", "Open the search") in shown("/history/circuit/PUMP")
    assert 'href="/searches/PUMP"' in client.get("/history/circuit/PUMP").text


def test_who_may_not_change_records_reads_the_history_alone(app: Flask, db: Path) -> None:
    (change,) = landed(db, "capped")
    for code in (READ_CODE, LOG_CODE):
        client = signed_in(app, code)
        page = client.get(PAGE).text
        assert "to state unknown → capped" in page
        assert "Undo this" not in page
        assert client.post(PAGE, data={"change": change}).status_code in (400, 403)
    assert state(db) == "capped"


def test_any_kind_of_record_has_one_and_others_are_not_found(app: Flask) -> None:
    client = signed_in(app)
    for what in (
        "circuit/PUMP",
        "enclosure/MDB",
        "terminal/MDB/Q4:1",
        "site/site",
        "instrument/M1",
    ):
        assert client.get(f"/history/{what}").status_code == 200, what
    for what in ("circuit/NOPE", "soup/PUMP", "circuit/MDB"):
        assert client.get(f"/history/{what}").status_code == 404, what
    assert client.get("/history/circuit/PUMP?most=x").status_code == 200


def test_what_is_not_found_is_said_once_and_how_to_go_on(app: Flask) -> None:
    page = signed_in(app).get("/find?q=zzz").text
    assert page.count("Nothing here") == 1
    assert "Try fewer words" in page


def test_a_reading_is_corrected_from_the_history_as_from_the_command_line(
    app: Flask, db: Path
) -> None:
    with OpenSite(open_registry(db)) as site:
        wrong = site.log(L1, "continuity", "0.9 ohm").id
    client = signed_in(app)
    link = re.search(r'href="(/readings/new[^"]*)">Correct this reading<', client.get(PAGE).text)
    assert link
    form = client.get(unescape(link[1])).text
    assert "Correct a reading" in form
    assert 'class="tabs"' not in form  # of another kind is another reading
    assert "0.9 Ω" in form
    assert f'name="supersedes" value="{wrong}"' in form
    sent = {"form_token": form_token(form), "subject": TAG, "kind": "continuity"}
    sent |= {"value": "0.3 ohm", "supersedes": wrong or ""}
    assert client.post("/readings/new", data={**sent, "form_token": ""}).status_code == 403
    assert client.post("/readings/new", data=sent).status_code == 303
    with OpenSite(open_registry(db)) as site:
        read = {one.value: one.superseded_by and one.superseded_by.value
                for one in site.conductor(L1).readings}  # fmt: skip
    assert read == {"0.9 ohm": "0.3 ohm", "0.3 ohm": None}
    page = client.get(PAGE).text
    assert page.count("Correct this reading") == 1  # the later one
    again = client.post("/readings/new", data=sent)
    assert again.status_code == 422
    assert "superseded already" in again.text
    reader = signed_in(app, READ_CODE)
    assert "Correct this reading" not in reader.get(PAGE).text
