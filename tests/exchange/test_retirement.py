# SPDX-License-Identifier: MIT
"""What a site file says about retired circuits and conductors must agree."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from pathlib import Path

    from tests.exchange.conftest import Faults

GONE = {"retired_at": "2026-05-02", "retired_because": "replaced"}


@pytest.fixture
def changed(site: dict[str, Any]) -> dict[str, Any]:
    """The small site, with PVM-P02N in the place of PVM-P01P."""
    site["conductors"][0] |= GONE
    site["conductors"][1]["follows"] = "pvm-p01p"
    return site


def test_a_conductor_in_the_place_of_a_retired_one_is_read(
    changed: dict[str, Any], tmp_path: Path
) -> None:
    (tmp_path / "site.json").write_text(json.dumps(changed))
    old, new = read_site(tmp_path / "site.json").conductors
    assert (old.retired_at, old.retired_because, new.follows) == (*GONE.values(), "PVMP01P")


@pytest.mark.parametrize(
    ("table", "row", "more", "sentence"),
    [
        ("conductors", 1, {"retired_at": "2026-05-02"}, "conductors[1].retired_because: A retired"
         " conductor has both retired_at and retired_because. Add this one."),
        ("conductors", 1, {"retired_because": "cut"}, "conductors[1].retired_at: A retired"
         " conductor has both retired_at and retired_because. Add this one."),
        ("conductors", 1, {**GONE, "retired_because": "lost"}, "conductors[1].retired_because:"
         " 'lost' is not a reason to retire a conductor. Allowed: cut, replaced, removed,"
         " abandoned."),
        ("conductors", 1, {**GONE, "retired_at": "in May"}, "conductors[1].retired_at: 'in May' is"
         " not a day or a time. A day like 2026-05-02, or a time with its offset like"
         " 2026-05-02T10:15:00+02:00 (RFC 3339)."),
        ("conductors", 1, {**GONE, "retired_at": "2026-02-30"}, "conductors[1].retired_at:"
         " '2026-02-30' is not a time. Write it like 2026-05-02T10:15:00+02:00."),
        ("conductors", 1, {"follows": "PVM-P02N"}, "conductors[1].follows: The conductor follows"
         " itself. Name the one that it came from."),
        ("conductors", 1, {"follows": "ABC-DEFG"}, None),
        ("conductors", 0, {"follows": "PVM-P02N"}, "conductors[0].follows: PVM-P02N is not"
         " retired, so none can follow it. Retire it, or leave this out."),
        ("circuits", 0, {"retired_at": "2026-05-02"}, "conductors[0].circuit: The circuit 'K' is"
         " retired, this conductor of it is not. Retire it too, or correct one."),
    ],
)  # fmt: skip
def test_what_does_not_agree_is_named(
    site: dict[str, Any],
    faults: Faults,
    table: str,
    row: int,
    more: dict[str, str],
    sentence: str | None,
) -> None:
    site[table][row] |= more
    found = faults(site)
    assert len(found) == (2 if table == "circuits" else 1)
    if sentence:
        assert found[0] == sentence


def test_conductors_can_not_follow_each_other_in_a_circle(
    changed: dict[str, Any], faults: Faults
) -> None:
    changed["conductors"][1] |= GONE
    changed["conductors"][0]["follows"] = "PVM-P02N"
    sentence = "The conductor follows itself. Name the one that it came from."
    assert faults(changed) == [f"conductors[{at}].follows: {sentence}" for at in (0, 1)]
