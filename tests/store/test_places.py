# SPDX-License-Identifier: MIT
"""A place is found however people write it; where several are meant, each is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wiretrack.errors import AmbiguousError, NotFoundError
from wiretrack.model.entities import Enclosure
from wiretrack.model.entity import Point
from wiretrack.store.places import place_called
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry


@pytest.fixture(scope="module")
def mill(mill_template: Path) -> Iterator[Registry]:
    with open_registry(mill_template) as opened:
        yield opened


# Of the demo's site file: MDP has the breakers Q1 to Q5 and the bus BUS, CTL the fuse F1.
Q4, Q4_4 = ("device", Point("MDP", "Q4")), ("terminal", Point("MDP", "Q4:4"))
PLACES = [
    ("MDP/Q4", Q4), ("mdp/q4", Q4), ("MDP Q4", Q4), ("Q4 in MDP", Q4), ("breaker 4 in MDP", Q4),
    ("breaker Q4 in the MDP", Q4), ("MDP breaker 4", Q4), ("MDP, breaker 4", Q4), ("Q4", Q4),
    ("device 4 in MDP", Q4), ("MDP/Q4:4", Q4_4), ("MDP Q4:4", Q4_4), ("MDP Q4 4", Q4_4),
    ("MDP/Q4/4", Q4_4), ("terminal Q4:4 in MDP", Q4_4), ("Q4:4", Q4_4), ("Q4 4 in MDP", Q4_4),
    ("fuse 1 in CTL", ("device", Point("CTL", "F1"))),
    ("terminal L in LT1", ("terminal", Point("LT1", "L"))),
    ("bus in MDP", ("device", Point("MDP", "BUS"))),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place"), PLACES)
def test_a_place_is_read_as_people_write_it(
    mill: Registry, text: str, place: tuple[str, Point]
) -> None:
    found = place_called(mill, text)
    assert (found.what, found.point) == place
    named = resolve(mill, text, ("conductor", "device", "terminal"))
    assert (named.what, named.point) == place


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("breaker 13 in MDP", ""), ("fuse 4 in MDP", ""), ("terminal Q4 in MDP", ""), ("MDP", ""),
        ("", ""), ("/", ""), ("Q4 in", ""), ("in MDP", ""), ("MDP/Q44", "MDP/Q4"),
        ("MPD/Q4", ""), ("isolator 4 in MDP", ""), ("-4 in MDP", ""), ("breaker ٤ in MDP", ""),
    ],
)  # fmt: skip
def test_what_is_no_place_is_refused_with_what_is_near(
    mill: Registry, text: str, near: str
) -> None:
    with pytest.raises(NotFoundError) as caught:
        place_called(mill, text, ("device",) if "terminal" in text else ("device", "terminal"))
    assert near in " ".join(caught.value.near)


@pytest.mark.parametrize(
    ("text", "choices"),
    [
        ("terminal 4 in MDP", ("MDP/Q1:4", "MDP/Q2:4", "MDP/Q3:4", "MDP/Q4:4")),
        ("terminal 1 in CTL", ("CTL/F1:1", "CTL/TB3:1")),
        ("BUS", ("BYP/BUS", "MDP/BUS")),
    ],
)
def test_what_may_be_several_places_names_them(
    mill: Registry, text: str, choices: tuple[str, ...]
) -> None:
    with pytest.raises(AmbiguousError) as caught:
        place_called(mill, text)
    assert caught.value.choices == choices
    for choice in choices:
        assert place_called(mill, choice).code == choice


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_every_place_of_a_site_is_found_as_it_is_written(
    mill: Registry, data: st.DataObject
) -> None:
    box = data.draw(st.sampled_from(site_of(mill).every(Enclosure)))
    things = [("terminal", each.code) for each in box.terminals]
    things += [("device", each.code) for each in box.devices]
    if not things:
        return
    what, code = data.draw(st.sampled_from(things))
    for text in (f"{box.code}/{code}", f"{box.code} {code}", f"{what} {code} in {box.code}"):
        assert place_called(mill, text, (what,)).point == Point(box.code, code)
