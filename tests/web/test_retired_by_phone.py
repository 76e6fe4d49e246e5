# SPDX-License-Identifier: MIT
"""Retired conductors and circuits on the pages: said in large words, and what is in their place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2, PE
from tests.web.conftest import signed_in
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient


@pytest.fixture
def member(app: Flask, db: Path) -> FlaskClient:
    """A client of the pump's site: L1 read and replaced, L2 abandoned."""
    with open_registry(db) as registry:
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.31 ohm"))
        replace_conductor(registry, Replacement(tag=L1, same=True))
        retire(registry, L2, abandoned=True)
    return signed_in(app)


def follower(db: Path) -> str:
    with open_registry(db) as registry:
        rows = registry.rows("SELECT tag FROM conductors WHERE follows_id IS NOT NULL")
    return format_tag(rows[0]["tag"])


def test_a_replaced_conductor_leads_to_the_one_in_its_place_and_back(
    member: FlaskClient, db: Path
) -> None:
    new = follower(db)
    page = member.get(f"/{L1}").text
    assert '<p class="figure">RETIRED: replaced' in page
    assert f'<a class="tag" href="/{new}">' in page
    assert "0.31 Ω" in page
    assert "Log a reading" not in page
    assert "Open points" not in page
    page = member.get(f"/{new}").text
    assert "RETIRED" not in page
    assert f'<a class="tag" href="/{format_tag(L1)}">' in page
    assert "0.31 Ω" in page.split("from which it came")[1]


def test_an_abandoned_conductor_is_said_to_be_live_perhaps_wherever_it_ends(
    member: FlaskClient,
) -> None:
    for path in (f"/{L2}", "/enclosures/MDB", "/enclosures/PH1"):
        page = member.get(path).text
        assert "may still be live" in page.replace("\n", " ")
    assert format_tag(L2) in member.get("/enclosures/PH1").text
    for path in ("/circuits/PUMP", "/pulls/P1", "/raceways/W1"):
        assert format_tag(L2) in member.get(path).text.split("<summary>Retired: ")[1]


def test_no_page_of_what_is_retired_is_a_server_error(member: FlaskClient, db: Path) -> None:
    with open_registry(db) as registry:
        retire(registry, "PUMP", abandoned=False)
    assert "RETIRED" in member.get("/circuits/PUMP").text
    for tag in (L1, L2, PE):
        for path in (
            f"/{tag}", f"/readings/new?subject={tag}", f"/trouble?q={tag}", f"/trees/{tag}",
            f"/faults/{tag}?method=joint&along=0.4", f"/map?lit={tag}", f"/find?q={tag}",
        ):  # fmt: skip
            assert member.get(path).status_code < 500
    for path in ("/tests/PUMP", "/tests", "/punchlist", "/ringouts", "/ringouts/P1", "/map",
                 "/pulls/P1", "/raceways/W1", "/enclosures/MDB", "/searches/PUMP"):  # fmt: skip
        assert member.get(path).status_code < 500
