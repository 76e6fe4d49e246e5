# SPDX-License-Identifier: MIT
"""Every address and every form, given nonsense: words in answer, never a server error."""

from __future__ import annotations

import itertools
import random
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from tests.pump import L1, L2
from tests.web.conftest import form_token, signed_in
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.trouble.searching import start

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

from wiretrack.store.store import open_registry

NONSENSE = (
    "", " ", "0", "-1", "nan", "inf", "1e400", "9" * 60, "<b>&\"'", "a\x00b", "\x1b[31m", "\u202e",
    "\ud7ff\uffff", "../../etc", "'; DROP TABLE readings;--", "ohm", "=", "x=y", ",", ":", "1:0",
    "0:1", "20 C", "-300 C", "999999 C", "1e-300", "OL", ">", "é" * 500, "raceway", "PE", L1, L2,
    "PUMP", "MDB", "P1", "W1", "M1", "NOPE", "MDB/Q4:1", "enclosure MDB", "x y",
    "both-ends", "good", "c", "done", "5 nF",
)  # fmt: skip
FIELDS = (
    "q", "lit", "what", "after", "first", "subject", "kind", "value", "prefix", "over", "minus",
    "leads", "temp", "instrument", "against", "test_voltage", "note", "at", "id", "cautions",
    "circuit", "text", "of", "take_back",
    "near", "far", "tags", "raceway", "start", "crew", "far_colours", "resistors",
    "again", "seen", "typed", "ohms", "number", "symptom", "outcome", "state", "terminal",
    "enclosure", "method", "near_joined", "murray", "varley", "set_ohms", "good", "loop",
    "fault_ohms", "raceway_ohms", "along", "like", "temps", "cell_temp", "irradiance", "reading",
    "beside", "sources", "tag", "next", "name", "code", "change", "together", "length", "size",
    "colour", "function", "count", "did", "poles", "path", "from", "to.enclosure",
)  # fmt: skip
PLACES = {
    "text": (L1, "NOPE", "000000"), "tag": (L1, "x"),
    "code": ("PUMP", "MDB", "W1", "NOPE", "site"),
    "kind": ("circuit", "conductor", "NOPE"), "circuit": ("PUMP", "NOPE"),
    "pull": ("P1", "W1"), "tags": (L1, f"{L1} {L2}", "NOPE"),
    "what": (L1, "MDB/Q4:1", "NOPE", "enclosure", "terminal", "site"),
    "start": ("0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "x", "NOPE"),
    "enclosure": ("MDB", "NOPE"), "device": ("Q4", "x"),
    "filename": ("pages.css", "../app.py"), "name": ("MDB/Q4", "PUMP", L1, "NOPE/", "/x"),
}  # fmt: skip


@pytest.fixture
def busy(app: Flask, db: Path) -> FlaskClient:
    """A client of a site where a ring-out and a search are under way."""
    with open_registry(db) as registry:
        start(registry, "tripping-breaker", "PUMP")
        Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
    return signed_in(app)


def addresses(app: Flask) -> list[tuple[str, str]]:
    """Return every address with each of its likely places, and whether it takes a form."""
    found = []
    for rule in app.url_map.iter_rules():
        names = sorted(rule.arguments)
        for values in itertools.product(*(PLACES[name] for name in names)):
            built = app.url_map.bind("127.0.0.1").build(
                rule.endpoint, dict(zip(names, values, strict=True)), force_external=False
            )
            found += [(m, built) for m in ("GET", "POST") if m in (rule.methods or ())]
    return found


def nonsense(rng: random.Random) -> dict[str, Any]:
    """Return some fields with some nonsense in them."""
    return {name: rng.choice(NONSENSE) for name in rng.sample(FIELDS, 14)}


@pytest.mark.parametrize("seed", [0, 1, *map(full, range(2, 6))])
def test_nonsense_is_answered_in_words(busy: FlaskClient, app: Flask, seed: int) -> None:
    rng = random.Random(seed)
    token = form_token(busy.get("/").text)
    for method, address in addresses(app):
        if address in ("/sign-out", "/sign-in"):
            continue  # the session is still needed
        for _ in range(2):
            sent = nonsense(rng)
            if method == "GET":
                answer = busy.get(address, query_string=sent)
            else:
                answer = busy.post(address, data={**sent, "form_token": token})
            answer.close()
            assert answer.status_code < 500, (method, address, sent)


@pytest.mark.parametrize("method", ["both-ends", "joined", "one-end", "murray", "varley", "joint",
                                    "break"])  # fmt: skip
def test_nonsense_in_every_field_of_a_measurement(busy: FlaskClient, method: str) -> None:
    rng = random.Random(method)
    for _ in range(60):
        sent = {name: rng.choice(NONSENSE) for name in FIELDS[34:]}
        answer = busy.get(f"/faults/{L1}", query_string={**sent, "method": method})
        assert answer.status_code < 500, sent
