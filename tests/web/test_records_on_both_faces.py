# SPDX-License-Identifier: MIT
"""A record says the same on a page and in the binder: one set of templates shows it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.binder.conftest import bound
from tests.binder.crawling import records
from tests.pump import L1
from tests.web.conftest import reading, settings_of, signed_in
from wiretrack import web
from wiretrack.model.tags import format_tag
from wiretrack.render import binder
from wiretrack.render.records import TEMPLATES
from wiretrack.web.app import create_app

FACT = re.compile(r"<dt>(.*?)</dt><dd>(.*?)</dd>", re.DOTALL)
RECORDS = {
    f"/{format_tag(L1)}": format_tag(L1),
    "/circuits/PUMP": "circuits/PUMP.html",
    "/enclosures/MDB": "enclosures/MDB.html",
    "/raceways/W1": "raceways/W1.html",
    "/pulls/P1": "pulls/P1.html",
}


def plain(markup: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", markup).split())


def readings(page: str) -> list[str]:
    """Return the first line of each reading of a page: its verdict, value and kind."""
    shown = page.split('<ul class="readings">')[1].split("</ul>")[0]
    return [plain(item.split('<span class="small">')[0]) for item in shown.split("<li")[1:]]


def test_each_fact_and_reading_of_a_page_is_in_the_binder_in_the_same_words(
    db: Path, tmp_path: Path
) -> None:
    app = create_app(settings_of(db))
    client = signed_in(app)
    assert client.post("/api/readings", json=reading(), headers=_token(client)).status_code == 201
    made = bound(db, tmp_path / "binder")
    wires, told = records(made.folder), 0
    for address, path in RECORDS.items():
        page, paper = client.get(address).text, wires.get(path) or made.text(path)
        own = {(name, plain(value)) for name, value in FACT.findall(page)}
        facts = {(name, plain(value)) for name, value in FACT.findall(paper)}
        assert {fact for fact in own - facts if fact[0] != "Route"} == set(), path
        told += len(own)
    assert told > 12
    address, path = next(iter(RECORDS.items()))
    shown = [line.split(">", 1)[1] for line in readings(client.get(address).text)]
    assert len(shown) == 1
    assert [line.split(">", 1)[1] for line in readings(wires[path])] == shown


def _token(client) -> dict[str, str]:  # type: ignore[no-untyped-def]
    return {"X-Form-Token": client.get("/api/session").json["form_token"]}


@pytest.mark.parametrize("name", [file.name for file in sorted(TEMPLATES.iterdir())])
def test_no_face_has_a_template_of_its_own_for_a_record(name: str) -> None:
    for face in (web, binder):
        assert not (Path(str(face.__file__)).parent / "templates" / name).exists()
