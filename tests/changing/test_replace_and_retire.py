# SPDX-License-Identifier: MIT
"""Conductors replaced, pulled out or abandoned: out of the work, never out of the record."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from tests.changing.barn import L1, SOCKET, N
from tests.record_of import record_of
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RetiredError
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.store import label_log
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.source import site_of
from wiretrack.tasks.change.replacing import Replaced, Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.change.swapping import swap
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.store.store import Registry

AT = "2026-05-02"
TAG1 = format_tag(L1)


def replaced(registry: Registry, **more: Any) -> tuple[Conductor, Conductor, Replaced]:
    done = replace_conductor(registry, Replacement(tag=L1, at=AT, **more), who="cellar")
    tags = [parse_tag(getattr(done, key)) for key in ("follows", "tag")]
    old, new = (site_of(registry).one(Conductor, tag) for tag in tags)
    return old, new, done


def test_the_new_one_is_where_the_old_one_was_and_the_rest_is_unknown(barn: Registry) -> None:
    old, new, done = replaced(barn, size="4 mm2", colour="brown")
    assert (old.retired_because, old.retired_at, new.follows) == ("replaced", AT, L1)
    for end in ("from_end", "to_end"):
        was, now = getattr(old, end), getattr(new, end)
        assert (now.enclosure, now.terminal, now.state) == (was.enclosure, was.terminal, was.state)
        assert now.mark is None
    assert (new.circuit, new.function, new.pull) == (old.circuit, old.function, old.pull)
    assert (new.size, new.colour) == ("4 mm2", "BN")
    assert [new.metal, new.insulation, new.strands, new.length_m, new.note] == [None] * 5
    assert done.taken_over == []
    assert "length_m" in done.unknown
    assert problems(barn) == []


def test_like_for_like_takes_over_what_such_a_conductor_shares_but_not_its_length(
    barn: Registry,
) -> None:
    old, new, done = replaced(barn, same=True, strands=7)
    for name in ("size", "metal", "insulation", "colour"):
        assert getattr(new, name) == getattr(old, name)
    assert (new.strands, new.length_m, new.note) == (7, None, None)
    assert done.taken_over == ["size", "metal", "insulation", "colour"]


def test_a_new_wire_is_no_core_of_the_old_cable(barn: Registry) -> None:
    barn.db.execute("UPDATE conductors SET cable = 'K1', core = '1' WHERE tag = ?", [L1])
    old, new, _ = replaced(barn, same=True)
    assert (old.cable, old.core, new.cable, new.core) == ("K1", "1", None, "1")


def test_no_reading_is_taken_over_so_every_test_is_owed(barn: Registry) -> None:
    assert "continuity" not in {step.kind for step in owed_tests(barn, "LIGHT")}
    _, new, done = replaced(barn, same=True)
    tag = str(new.tag)
    owed = {(s.kind, s.subject) for s in owed_tests(barn, "LIGHT")}
    assert {("continuity", tag), ("insulation", tag), ("voltage", tag)} <= owed
    assert {tag} <= {t.subject for t in done.tests_owed}
    assert record_of(barn, tag)["readings"] == []
    assert len(record_of(barn, tag)["earlier"][0]["readings"]) == 4


def test_a_replaced_one_that_stays_in_its_raceway_is_abandoned(barn: Registry) -> None:
    old, _, done = replaced(barn, same=True, abandoned=True)
    assert old.retired_because == "abandoned"
    assert "may still be live" in done.cautions[0]


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({}, "The size of the new conductor isn't stated. Give --size, or --same if it is like"
         " the old one."),
        ({"size": "five"}, None),
        ({"same": True, "strands": 0}, "0 strands can't be. Give from 1 to 10000."),
        ({"same": True, "metal": "Fe"}, None),
        ({"same": True, "colour": "plaid"}, None),
        ({"same": True, "length": "-3 m"}, None),
        ({"same": True, "length": "inf"}, None),
        ({"same": True, "outer_diameter": "3 km"}, None),
        ({"same": True, "at": "soon"}, "'soon' is not a day or a time. Write it like 2026-05-02 or"
         " 2026-05-02 10:15."),
    ],
)  # fmt: skip
def test_a_fact_that_can_not_be_is_refused_and_nothing_is_written(
    barn: Registry, more: dict[str, Any], sentence: str | None
) -> None:
    before = document(barn)
    with pytest.raises(BadInputError) as caught:
        replace_conductor(barn, Replacement(tag=L1, **more))
    assert sentence in (None, told(caught.value))
    assert document(barn) == before


def test_a_change_in_the_future_is_refused(barn: Registry) -> None:
    later = (datetime.now(UTC) + timedelta(days=3)).date().isoformat()
    with pytest.raises(BadInputError) as caught:
        retire(barn, L1, abandoned=False, at=later)
    assert told(caught.value) == (
        f"{later} lies in the future. Change the record once the work is done."
    )


def test_readings_dated_after_the_change_are_remarked(barn: Registry) -> None:
    """The barn was read on 2026-03-01."""
    assert replaced(barn, size="4 mm2")[2].notes == []
    told = retire(barn, N, abandoned=False, at="2020-01-01").notes
    tag = format_tag(N)
    assert f"Read after 2020-01-01, in the record: {tag}. One of the days is wrong." in told


def _replace(registry: Registry, tag: str, at: str) -> object:
    return replace_conductor(registry, Replacement(tag=tag, same=True, at=at))


def _retire(registry: Registry, tag: str, at: str) -> object:
    return retire(registry, tag, abandoned=False, at=at)


def _swap(registry: Registry, tag: str, at: str) -> object:
    return swap(registry, (tag, N), "D", at=at)


@pytest.mark.parametrize("change", [_replace, _retire, _swap])
def test_nothing_is_changed_before_it_was_there(
    barn: Registry, change: Callable[[Registry, str, str], object]
) -> None:
    _, new, _ = replaced(barn, size="4 mm2")
    tag = new.tag
    before = document(barn)
    with pytest.raises(BadInputError) as caught:
        change(barn, tag, "2026-04-30")
    assert told(caught.value) == (
        f"{format_tag(tag)} came of {TAG1} on {AT}, so it can't have been changed on 2026-04-30."
        " Look at the day of the change."
    )
    assert document(barn) == before
    change(barn, tag, "2026-05-01")  # where clocks are behind, this was the day of the change


def test_a_circuit_is_retired_with_all_its_conductors(barn: Registry) -> None:
    retire(barn, "SOCKET", abandoned=False, at="2026-05-02 10:00")  # it would need N and PE
    done = retire(barn, "light", abandoned=False, at="2026-05-02 10:15", who="cellar")
    assert (done.what, done.code, len(done.conductors)) == ("circuit", "LIGHT", 3)
    gone = site_of(barn).at(Conductor, "circuit", "LIGHT")
    assert [conductor.retired_because for conductor in gone] == ["removed"] * 3
    circuit = site_of(barn).one(Circuit, "LIGHT")
    assert circuit.retired_at is not None
    assert circuit.retired_at.startswith("2026-05-02T")
    assert done.notes == [
        "Nothing is landed any more on A Q1:2, D TB1:1, A N:1, D TB1:2, A PE:1, D PE:1."
    ]
    assert problems(barn) == []
    assert owed_tests(barn, "LIGHT") == []


def test_what_is_retired_is_not_retired_again(barn: Registry) -> None:
    retire(barn, N, abandoned=True, at=AT)
    retire(barn, "SOCKET", abandoned=False, at=AT)
    before = document(barn)
    for what, sentence in (
        (N, f"{format_tag(N)} was abandoned in its raceway on {AT}. It is kept for the record"
         " only."),
        ("SOCKET", f"Circuit SOCKET was retired on {AT}. It is kept for the record only."),
        (SOCKET, f"{format_tag(SOCKET)} was pulled out on {AT}. It is kept for the record only."),
    ):  # fmt: skip
        with pytest.raises(RetiredError) as caught:
            retire(barn, what, abandoned=False)
        assert told(caught.value) == sentence
    assert document(barn) == before


def test_labels_on_abandoned_conductors_are_to_be_taken_off(barn: Registry) -> None:
    printed = {"tag": N, "end": "to", "form": "wrap", "stock": "s", "legend": {"circuit": "LIGHT"}}
    label_log.add_prints(barn, [printed])
    done = retire(barn, N, abandoned=True, at=AT)
    assert [(row.tag, row.end, row.place) for row in done.take_off] == [
        (format_tag(N), "to", "D TB1:2")]  # fmt: skip


def test_who_retired_what_is_in_the_history(barn: Registry) -> None:
    retire(barn, N, abandoned=False, at=AT, who="cellar")
    change: Any = document(barn).rest["changes"][-1]
    assert (change["by"], change["new"]["retired_because"]) == ("cellar", "removed")
