# SPDX-License-Identifier: MIT
"""Long lists come in parts; all parts together are the whole."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.benchmarks.pages_speed import part, tag_of
from tests.record_of import add_document
from tests.web.conftest import settings_of, signed_in
from wiretrack.store.lists import AT_ONCE, circuit_list, pull_list
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.describe.sites import new_site
from wiretrack.tasks.report.punchlist import punch_list, punch_part
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask.testing import FlaskClient

CONDUCTORS = 4 * (2 * AT_ONCE + 40)  # four a circuit, a hundred circuits a pull


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A registry of more circuits than one part of a list shows."""
    db = tmp_path_factory.mktemp("large") / "large.db"
    new_site(db, "Large")
    with open_registry(db) as registry:
        add_document(registry, part(0, CONDUCTORS))
        retire(registry, "C7", abandoned=False)
    return db


@pytest.fixture
def member(large: Path) -> Iterator[FlaskClient]:
    app = create_app(settings_of(large))
    yield signed_in(app)
    app.extensions["registries"].close()


@pytest.mark.parametrize("most", [1, 50, 333, 10**6])
def test_the_parts_of_the_punch_list_are_the_whole_of_it(large: Path, most: int) -> None:
    with open_registry(large) as registry:
        whole = punch_list(registry)
        rows, after, parts = [], 0, 0
        while True:
            found = punch_part(registry, after, most)
            rows += found.rows
            parts += 1
            if found.next is None:
                break
            after = found.next
    assert sorted(map(repr, rows)) == sorted(map(repr, whole))
    if most < CONDUCTORS:
        assert parts > 1
    assert not any(row.subject.replace("-", "") == tag_of(28) for row in rows)  # retired


def test_every_circuit_and_pull_is_in_one_part(large: Path) -> None:
    with open_registry(large) as registry:
        codes: list[str] = []
        after: int | None = 0
        while after is not None:
            rows, after = circuit_list(registry, after)
            assert len(rows) <= AT_ONCE
            codes += [row.code for row in rows]
        pulls = pull_list(registry)[0]
    assert codes == [f"C{n}" for n in range(CONDUCTORS // 4) if n != 7]
    assert [(row.code, row.boxes) for row in pulls[:2]] == [
        ("R0", ("P0", "J0")),
        ("R1", ("P1", "J1")),
    ]
    assert (pulls[0].conductors, pulls[0].identified) == (396, 0)


def test_links_lead_through_every_part(member: FlaskClient) -> None:
    for start, wanted in (("/tests", f"C{CONDUCTORS // 4 - 1}"), ("/punchlist", tag_of(30)[:3])):
        page = member.get(start).text
        for _ in range(10):
            if wanted in page:
                break
            following = re.findall(r'class="button" href="([^"]+)"', page)[-1]
            page = member.get(following.replace("&amp;", "&")).text
        assert wanted in page


@pytest.mark.parametrize("typed", ["-1", "x", "9" * 40, "1e9", "٣", ""])
def test_a_part_that_is_none_begins_the_list_or_is_empty(member: FlaskClient, typed: str) -> None:
    for path in ("/punchlist", "/tests", "/ringouts"):
        assert member.get(path, query_string={"after": typed, "first": typed}).status_code == 200
