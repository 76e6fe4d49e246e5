# SPDX-License-Identifier: MIT
"""Fault finding by phone: the guided search, the place of a fault, what is joined, strings."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PUMP
from tests.web.conftest import READ_CODE, form_token, settings_of, signed_in
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.test.testing import ReadingText, log_reading
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse

TAG, OTHER = format_tag(L1), format_tag(L2)
# IEC 60228:2004 table 2, stranded copper of 4 mm²: 4.61 ohm/km at 20 °C.
OHM_PER_M = 4.61e-3
LENGTH_M = 67.0


@pytest.fixture
def member(app: Flask) -> FlaskClient:
    """A client that is signed in."""
    return signed_in(app)


def post(client: FlaskClient, path: str, **data: str) -> TestResponse:
    token = form_token(client.get("/").text)
    return client.post(path, data={"form_token": token, **data})


def begun(client: FlaskClient) -> str:
    """Begin a search for what trips PUMP, its cautions confirmed; return its page."""
    answer = post(client, "/searches", symptom="tripping-breaker", what="PUMP")
    assert answer.headers["Location"] == "/searches/PUMP"
    post(client, "/searches/PUMP/cautions")
    return client.get("/searches/PUMP").text


def seen(page: str) -> str:
    return page.split('name="seen" value="')[1].split('"')[0]


def asked(page: str) -> str:
    """Return the question of a search's page."""
    return page.split('<h1 class="do')[1].split(">", 1)[1].split("<")[0]


def test_a_search_asks_nothing_before_its_cautions_are_confirmed(member: FlaskClient) -> None:
    post(member, "/searches", symptom="tripping-breaker", what="PUMP")
    page = member.get("/searches/PUMP").text
    assert "I have done this" in page
    assert 'value="yes"' not in page
    post(member, "/searches/PUMP/cautions")
    page = member.get("/searches/PUMP").text
    assert 'value="yes"' in page
    assert "Is the insulation of" in page


def test_an_answer_that_is_undone_is_asked_again_and_stays_in_the_registry(
    member: FlaskClient, db: Path
) -> None:
    page = begun(member)
    question = asked(page)
    data = {"seen": seen(page), "outcome": "no", "value": ">200 M"}
    assert post(member, "/searches/PUMP/answers", **data).status_code == 303
    page = member.get("/searches/PUMP").text
    assert asked(page) != question
    assert "&gt;200 M" in page
    assert "phone-1" in page.split("<h2>Log</h2>")[1]
    post(member, "/searches/PUMP/undo", seen=seen(page))
    page = member.get("/searches/PUMP").text
    assert asked(page) == question
    assert "<h2>Log</h2>" not in page
    with open_registry(db) as registry:
        rows = registry.rows("SELECT answer FROM procedure_answers ORDER BY seq")
    kept = [json.loads(row["answer"]) for row in rows]
    assert [(a.get("outcome"), a.get("undone")) for a in kept] == [("no", None), (None, True)]


def test_a_correction_changes_what_follows(member: FlaskClient) -> None:
    page = begun(member)
    post(member, "/searches/PUMP/answers", seen=seen(page), outcome="no")
    page = member.get("/searches/PUMP").text
    answer = post(member, "/searches/PUMP/corrections", seen=seen(page), number="1", outcome="yes")
    assert answer.status_code == 303
    log = member.get("/searches/PUMP").text.split("<h2>Log</h2>")[1]
    assert "<b>yes</b>" in log
    assert "corrected" in log


def test_of_two_answers_to_one_question_the_second_is_shown_the_next(member: FlaskClient) -> None:
    page = begun(member)
    data = {"seen": seen(page), "outcome": "no"}
    assert post(member, "/searches/PUMP/answers", **data).status_code == 303
    answer = post(member, "/searches/PUMP/answers", **data)
    assert answer.status_code == 409
    assert "answered or changed already. Here is the one that stands now." in answer.text


@pytest.mark.parametrize(
    ("path", "data", "told"),
    [
        ("/searches", {"symptom": "gremlins", "what": "PUMP"}, "is not a symptom"),
        ("/searches", {"symptom": "tripping-breaker", "what": "NOPE"}, "called &#39;NOPE&#39;"),
        ("/searches", {"symptom": "tripping-breaker", "what": ""}, 'id="fault-what"'),
        ("/searches", {"symptom": "tripping-breaker", "what": "PUMP", "at": "NOPE"},
         'id="fault-at"'),
        ("/searches", {"symptom": "dead-circuit", "what": "PUMP"}, "Name the one at the load"),
        ("/searches/PUMP/answers", {"outcome": "maybe"}, "&#39;maybe&#39; is no answer"),
        ("/searches/PUMP/answers", {"outcome": "no", "value": "9" * 501}, "It may have 500"),
        ("/searches/PUMP/corrections", {"outcome": "no", "number": "9"}, "no answer 9"),
        ("/searches/PUMP/corrections", {"outcome": "no", "number": "x"}, "no answer 0"),
        ("/searches/PUMP/undo", {}, "nothing was answered yet"),
    ],
)  # fmt: skip
def test_wrong_input_to_a_search_is_said_and_what_was_typed_stays(
    member: FlaskClient, path: str, data: dict[str, str], told: str
) -> None:
    given = dict(data)
    if path != "/searches":
        given["seen"] = seen(begun(member))
    answer = post(member, path, **given)
    assert answer.status_code == 422
    assert told in answer.text
    for name in ("what", "at", "value"):
        if name in data:
            assert f'value="{data[name]}"' in answer.text


def test_a_search_that_was_never_begun_leads_to_the_page_that_begins_one(
    member: FlaskClient,
) -> None:
    assert member.get("/searches/PUMP").headers["Location"] == "/trouble?q=PUMP"
    assert member.get("/searches/NOPE").status_code == 404


def test_who_may_only_read_sees_a_search_and_cannot_answer_it(app: Flask) -> None:
    begun(signed_in(app))
    reader = signed_in(app, READ_CODE)
    post(reader, "/searches/PUMP/cautions")
    page = reader.get("/searches/PUMP").text
    assert asked(page)
    answer = post(reader, "/searches/PUMP/answers", seen=seen(page), outcome="no")
    assert answer.status_code == 403


def readings_of_a_short(at_m: float, fault_ohm: float = 0.05) -> tuple[str, str]:
    """Return what both ends read of a short at a distance: out and back, and the fault."""
    near = 2 * OHM_PER_M * at_m + fault_ohm
    far = 2 * OHM_PER_M * (LENGTH_M - at_m) + fault_ohm
    return f"{near:.4f} ohm", f"{far:.4f} ohm"


def placed(client: FlaskClient, at_m: float) -> str:
    near, far = readings_of_a_short(at_m)
    query = {"method": "both-ends", "against": OTHER, "near": near, "far": far, "temps": "20 C",
             "leads": "0"}  # fmt: skip
    answer = client.get(f"/faults/{TAG}", query_string=query)
    assert answer.status_code == 200
    return answer.text


def mark_of(page: str) -> tuple[int, int]:
    found = re.search(r'class="mark".*?cx="(\d+)" cy="(\d+)"', page, re.DOTALL)
    assert found is not None
    return int(found[1]), int(found[2])


@pytest.mark.parametrize("at_m", [10.0, 31.0, 60.0])
def test_a_short_is_placed_where_it_was_made(member: FlaskClient, at_m: float) -> None:
    figure = placed(member, at_m).split('<p class="figure">')[1]
    told = re.match(r"([0-9.]+) m \([0-9.]+ ft\) from MDB", figure)
    assert told is not None
    assert float(told[1]) == pytest.approx(at_m, abs=0.5)


def test_the_mark_on_the_map_moves_along_the_lit_raceway(member: FlaskClient) -> None:
    pages = [placed(member, at_m) for at_m in (5.0, 33.5, 62.0)]
    assert all('<a class="raceway lit" href="/raceways/W1"' in page for page in pages)
    ends = {
        code: re.search(rf'href="/enclosures/{code}"><rect x="(\d+)" y="(\d+)"', pages[0])
        for code in ("MDB", "PH1")
    }
    tops = {code: int(found[2]) for code, found in ends.items() if found}
    heights = [mark_of(page)[1] for page in pages]
    if tops["MDB"] > tops["PH1"]:
        heights.reverse()
    assert heights == sorted(set(heights))
    assert min(tops.values()) < heights[0]
    assert heights[-1] < max(tops.values()) + 52


@pytest.mark.parametrize(
    ("method", "typed", "field"),
    [
        ("both-ends", {"against": OTHER, "near": "0.3x", "far": "0.5"}, "near"),
        ("both-ends", {"against": OTHER, "near": "0.3"}, "far"),
        ("both-ends", {"against": "NOPE", "near": "0.3", "far": "0.5"}, "against"),
        ("both-ends", {"against": OTHER, "near": "0.3", "far": "OL"}, "far"),
        ("both-ends", {"against": OTHER, "near": "0.3", "far": "0.5", "at": "NOPE"}, "at"),
        ("both-ends", {"against": OTHER, "near": "0.3", "far": "0.5", "temps": "warm"}, "temps"),
        ("both-ends", {"against": OTHER, "near": "0.3", "far": "0.5", "temps": "W9=5 C"}, "temps"),
        ("both-ends", {"against": OTHER, "near": "0.3", "far": "0.5", "instrument": "Z"},
         "instrument"),
        ("murray", {"murray": "many", "good": OTHER}, "murray"),
        ("varley", {"varley": "1:1", "good": OTHER}, "set_ohms"),
        ("joint", {"along": "0.5", "like": "0.3"}, "like"),
        ("break", {"near": "5 nF", "far": "cold"}, "far"),
    ],
)  # fmt: skip
def test_a_wrong_measurement_is_said_beside_its_field_and_stays(
    member: FlaskClient, method: str, typed: dict[str, str], field: str
) -> None:
    answer = member.get(f"/faults/{TAG}", query_string={"method": method, **typed})
    assert answer.status_code == 422
    assert f'id="fault-{field}"' in answer.text
    assert "--" not in answer.text.split(f'id="fault-{field}"')[1].split("</p>")[0]
    for name, text in typed.items():
        if name != "instrument":
            assert f'name="{name}" type="text" maxlength="500"' in answer.text
            assert f'value="{text}"' in answer.text


@pytest.mark.parametrize(
    "typed",
    [
        {"against": OTHER, "near": "9", "far": "0.001"},
        {"against": "raceway", "near": "0.3", "far": "0.3"},
        {"against": TAG, "near": "-4", "far": "nan"},
        {"against": OTHER, "near": "1e400", "far": "1"},
    ],
)
def test_an_impossible_measurement_is_never_a_server_error(
    member: FlaskClient, typed: dict[str, str]
) -> None:
    answer = member.get(f"/faults/{TAG}", query_string={"method": "both-ends", **typed})
    assert answer.status_code == 422
    assert 'class="fault"' in answer.text


def test_an_unknown_conductor_is_said_beside_its_field(member: FlaskClient) -> None:
    for path in ("/faults/NOPE?method=joint&along=1", "/faults/NOPE,%20X?method=joint&along=1"):
        answer = member.get(path)
        assert answer.status_code == 422
        assert 'id="fault-tags"' in answer.text
    assert member.get(f"/faults?tag={TAG}").headers["Location"] == f"/faults/{TAG}"


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[FlaskClient]:
    """A client of a site with a breaker, a PV string, old readings and markup in its codes."""
    document = json.loads(json.dumps(PUMP))
    markup = 'W"<b>1'
    document["raceways"][0]["code"] = document["pulls"][0]["path"][0] = markup
    document["devices"] = [
        {"enclosure": "MDB", "code": "Q4", "kind": "breaker", "closed": True,
         "poles": [["Q4:1", "IN:1"]]}
    ]  # fmt: skip
    document["circuits"].append(
        {"code": "PV1", "title": "roof", "system": "dc-pv",
         "module": {"voc": "50 V", "voc_pct_per_k": -0.3, "series": 8}}
    )  # fmt: skip
    db, file = tmp_path / "wired.db", tmp_path / "site.json"
    file.write_text(json.dumps(document), "utf-8")
    new_site(db, "Example")
    with open_registry(db) as registry:
        load_site(registry, file)
        for year, ohms in ((2022, "900 M"), (2023, "700 M"), (2024, "500 M")):
            log_reading(
                registry,
                ReadingText(
                    subject=L1, kind="insulation", value=ohms, against="PE", temp="20 C",
                    test_voltage="500 V", at=f"{year}-05-02T10:00:00+02:00",
                ),
            )  # fmt: skip
    app = create_app(settings_of(db))
    yield signed_in(app)
    app.extensions["registries"].close()


def test_a_devices_page_says_what_goes_dead(wired: FlaskClient) -> None:
    assert "/devices/MDB/Q4" in wired.get("/enclosures/MDB").text
    page = wired.get("/devices/MDB/Q4?sources=MDB/IN:1").text
    dead = page.split("<h2>Goes dead</h2>")[1].split("<h2>")[0]
    assert TAG in dead
    titles = ("<h2>Goes dead</h2>", "<h2>Before you touch anything</h2>", "<h2>Stays live</h2>")
    assert sorted(titles, key=page.index) == list(titles)
    answer = wired.get("/devices/MDB/Q4?sources=NOPE/1")
    assert answer.status_code == 422
    assert 'id="fault-sources"' in answer.text
    assert 'value="NOPE/1"' in answer.text
    assert wired.get("/devices/MDB/Q9").status_code == 404


def test_what_is_joined_is_drawn_and_listed(wired: FlaskClient) -> None:
    page = wired.get(f"/trees/{TAG}").text
    assert page.count("<svg") == 1
    assert "breaker" in page.split("<pre>")[1]
    assert wired.get("/trees/NOPE").status_code == 404


def test_readings_over_the_years_are_plotted_on_the_conductors_page(wired: FlaskClient) -> None:
    page = wired.get(f"/{TAG}").text
    assert "insulation to PE over the years" in page
    plot = page.split("<svg")[1].split("</svg>")[0]
    assert plot.count("<circle") == 3
    assert "<svg" not in wired.get(f"/{OTHER}").text


def test_markup_in_a_code_stays_text_in_every_drawing(wired: FlaskClient) -> None:
    near, far = readings_of_a_short(20.0)
    query = {"method": "both-ends", "against": OTHER, "near": near, "far": far}
    for page in (
        wired.get(f"/faults/{TAG}", query_string=query).text,
        wired.get(f"/map?lit={TAG}").text,
    ):
        assert "<b>1" not in page
        assert "W&quot;&lt;b&gt;1" in page or "W&#34;&lt;b&gt;1" in page or "&lt;b&gt;1" in page


def test_a_strings_page_says_what_it_should_read(wired: FlaskClient) -> None:
    assert "/strings/PV1" in wired.get("/circuits/PV1").text
    assert "400.0 V" in wired.get("/strings/PV1").text  # 8 modules of 50 V at 25 °C
    page = wired.get("/strings/PV1?cell_temp=45+C").text
    assert "376.0 V" in page  # 400 V less 20 K of 0.3 % each
    page = wired.get("/strings/PV1?cell_temp=25+C&reading=350+V&cautions=1").text
    assert "one module fewer" in page


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"cell_temp": "warm"}, "cell_temp"),
        ({"reading": "much", "cell_temp": "20 C"}, "reading"),
        ({"reading": "400 V"}, "cell_temp"),
        ({"irradiance": "sunny", "cell_temp": "20 C"}, "irradiance"),
        ({"reading": "400 V", "beside": "PV9=3"}, "beside"),
        ({"reading": "400 V", "beside": "PV1"}, "beside"),
        ({"reading": "400 V", "cell_temp": "20 C", "instrument": "Z9"}, "instrument"),
    ],
)
def test_a_wrong_field_of_a_string_is_said_beside_it(
    wired: FlaskClient, typed: dict[str, Any], field: str
) -> None:
    answer = wired.get("/strings/PV1", query_string=typed)
    assert answer.status_code == 422
    assert f'id="fault-{field}"' in answer.text


def test_the_string_of_a_circuit_that_is_none_is_said_in_words(wired: FlaskClient) -> None:
    assert "is no PV circuit" in wired.get("/strings/PUMP").text
    assert wired.get("/strings/NOPE").status_code == 404
