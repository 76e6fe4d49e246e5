# SPDX-License-Identifier: MIT
"""What one reading that a phone sends costs: each record that it needs is read once."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1
from tests.web.conftest import BEARER, reading

if TYPE_CHECKING:
    from flask import Flask


# What the reading rests on; the write's begin and end, who writes, the reading, what it touched and
# the entry before, the entry, and that nobody writes.
MOST = 8


def statements(app: Flask, document: dict[str, Any], status: int, **headers: str) -> list[str]:
    """Return the SQL that one posted reading asks for; what triggers do isn't told apart."""
    client, connection = app.test_client(), app.extensions["registries"].own().db.conn
    asked: list[str] = []
    connection.set_trace_callback(asked.append)
    answer = client.post("/api/readings", json=document, headers=BEARER | headers)
    connection.set_trace_callback(None)
    assert answer.status_code == status
    ours = (sql for sql in asked if "'main'." not in sql)  # the search's own name its tables so
    return [sql for sql, _ in groupby(ours)]


@pytest.mark.parametrize(
    "changed",
    [
        {"instrument": None},
        {},
        {"kind": "insulation", "value": "500 Mohm", "against": "PE", "test_voltage": "500 V"},
    ],
)
def test_a_reading_takes_eight_statements_with_its_meter_and_the_log(
    app: Flask, changed: dict[str, Any]
) -> None:
    assert (
        app.test_client().post("/api/readings", json=reading(), headers=BEARER).status_code == 201
    )
    document = {key: value for key, value in reading(**changed).items() if value is not None}
    first = statements(app, document, 201)
    assert len(first) <= MOST, "\n".join(first)
    assert sum("FROM conductors AS c LEFT JOIN pulls" in " ".join(s.split()) for s in first) == 1


def test_the_path_is_read_too_where_the_record_that_was_seen_is_named(app: Flask) -> None:
    statements(app, reading(), 201)  # the first write of a copy begins its writer
    seen = app.test_client().get(f"/api/conductors/{L1}", headers=BEARER).headers["ETag"]
    assert len(statements(app, reading(), 201, **{"If-Match": seen})) <= MOST + 1


def test_a_reading_sent_again_is_found_and_not_written(app: Flask) -> None:
    document = reading()
    statements(app, document, 201)
    again = statements(app, document, 200)
    assert not [sql for sql in again if sql == "COMMIT"]


def test_a_reading_of_one_kept_id_and_other_words_is_refused_and_not_written(app: Flask) -> None:
    document = reading()
    statements(app, document, 201)
    again = statements(app, document | {"value": "0.9 ohm"}, 409)
    assert not [sql for sql in again if sql == "COMMIT"]
