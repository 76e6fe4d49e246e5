# SPDX-License-Identifier: MIT
"""Random histories of copies that are changed apart and meet: whoever meets whom, all agree."""

from __future__ import annotations

import random
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import strategies as st

from tests.drawing import HOURS, drawn, full
from tests.merging.laptops import (
    CODES,
    EDITS,
    TAGS,
    Laptop,
    add_box,
    annotate,
    equip,
    first_laptop,
    land,
    laptops_that_loaded_apart,
    load_apart,
    place_label,
    print_label,
    read,
    remove_boxes,
    rename_box,
    retire,
    ring,
)
from tests.merging.laptops import search as search_on
from tests.merging.model import IN_USE, REMOVED, RETIRED
from tests.record_of import record_of
from wiretrack.errors import BadInputError
from wiretrack.model.tags import normalise
from wiretrack.procedure import FAULT_SEARCH, RINGOUT
from wiretrack.store import procedures
from wiretrack.store.schema import LOG_TABLES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

step = st.tuples(st.sampled_from((*EDITS, rename_box)), st.sampled_from(CODES), st.integers(0, 11))
# Few records, so that copies meet over the same ones: 3 lands, 0 and 12 cap the same end.
close_step = st.tuples(
    st.sampled_from((annotate, land, add_box, rename_box, retire, remove_boxes, equip)),
    st.sampled_from(CODES[:2]),
    st.sampled_from((0, 3, 12)),
)


FEW = [0, *map(full, range(1, 12 if HOURS else 2))]  # seeds; the first is of a short history


def edit(laptop: Laptop, steps: list[Any]) -> None:
    for action, code, number in steps:
        action(laptop, code, number)


def held(laptop: Laptop) -> dict[tuple[str, str], str | None]:
    """Return the fields that the model knows, as the registry shows them."""
    found: dict[tuple[str, str], str | None] = {}
    with laptop.open() as registry:
        for row in registry.rows(
            "SELECT b.id, coalesce(u.said ->> 'name', b.code) AS code, b.name FROM enclosures AS b"
            " LEFT JOIN undecided AS u ON u.record = b.id AND u.field = 'same'"
            " WHERE b.name LIKE 'N0%'"
        ):
            box = laptop.called(row["id"])
            found[box, "code"], found[box, "name"] = row["code"], row["name"]
        for row in registry.rows(
            "SELECT c.tag, c.note, c.retired_because, c.retired_at, e.state, t.code AS terminal"
            " FROM conductors AS c JOIN ends AS e ON e.conductor_id = c.id AND e.side = 'to'"
            " LEFT JOIN terminals AS t ON t.id = e.terminal_id"
        ):
            tag = laptop.called(normalise(row["tag"]))
            terminal = f" {row['terminal']}" if row["terminal"] else ""
            found[tag, "note"] = row["note"]
            found[tag, "landing"] = row["state"] and f"{row['state']}, PH1{terminal}"
            retired = row["retired_because"]
            found[tag, RETIRED] = retired and f"{retired}, {row['retired_at']}"
    return {name: value for name, value in found.items() if value is not None}


def said(laptop: Laptop) -> dict[tuple[str, str], set[str]]:
    """Return what is undecided, as the model calls it."""
    found = {}
    for each in laptop.undecided():
        if each.field == "same":
            continue
        words = [value.value.split() for value in each.values]
        if each.field == "landing":
            values = {f"{w[-1]}, {' '.join(w[:-1])}" for w in words}
        elif each.field == RETIRED:
            values = {IN_USE if w == ["in", "use"] else f"{w[1]}, {w[0]}" for w in words}
        else:
            values = {" ".join(w) for w in words}
        is_wire = each.table in ("conductors", "ends")
        name = each.key.split("/")[1].replace("-", "") if is_wire else each.record
        found[laptop.called(name), each.field] = values
    return found


def check(laptop: Laptop) -> None:
    """Compare a copy with the model: each field, what is undecided, who has one name, the logs."""
    values = laptop.model.values()
    shown = {name: IN_USE for name in values if name[1] == RETIRED} | held(laptop)
    assert shown.keys() == {name for name in values if name[1] != REMOVED}
    assert {name for name in shown if shown[name] not in values[name]} == set()
    both = {name for name in shown if IN_USE in values[name]}
    assert {name for name in both if shown[name] != IN_USE} == set()
    assert said(laptop) == {name: them for name, them in values.items() if len(them) > 1}
    ids = {laptop.called(each): each for each in laptop.ids("enclosures")}
    namesakes = laptop.model.namesakes().items()
    second = {
        (code, box) for code, those in namesakes for box in sorted(ids[each] for each in those)[1:]
    }
    named = [each for each in laptop.undecided() if each.field == "same"]
    assert {(each.values[0].value, each.record) for each in named} == second
    assert logged(laptop) == laptop.model.logs
    if laptop.names and laptop.ids("same_records"):
        there = {laptop.wire(number) for number in range(3)}.union(*map(laptop.ids, CAME_APART))
        assert there & laptop.names.keys() <= laptop.standing


def logged(laptop: Laptop) -> set[str]:
    return set().union(*(laptop.ids(log) for log in LOG_TABLES if log != "same_records"))


def meet(laptops: list[Laptop]) -> None:
    """Let every copy take what any other has, and all come to the same."""
    for other in laptops[1:]:
        laptops[0].merge(other)
    for other in laptops[1:]:
        other.merge(laptops[0])
        assert other.state() == laptops[0].state()
    check(laptops[0])
    assert [laptop.problems() for laptop in laptops] == [[]] * len(laptops)


@drawn(2, 10, st.lists(step, max_size=4), st.lists(step, min_size=6, max_size=10),
       st.lists(step, min_size=6, max_size=10))  # fmt: skip
def test_it_does_not_matter_which_of_two_copies_takes_the_other(
    before: list[Any], one: list[Any], two: list[Any]
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        edit(a, before)
        b = a.twin(folder / "b.db")
        edit(a, one)
        edit(b, two)
        again, other = a.twin(folder / "a2.db"), b.twin(folder / "b2.db")
        a.merge(b)
        other.merge(again)
        assert a.state() == other.state()
        for merged in (a, other):
            check(merged)


@drawn(2, 10, st.lists(step, min_size=6, max_size=10), st.lists(step, min_size=6, max_size=10))
def test_merging_twice_is_merging_once_and_the_other_is_only_read(
    one: list[Any], two: list[Any]
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        b = a.twin(folder / "b.db")
        edit(a, one)
        edit(b, two)
        untouched = b.path.read_bytes()
        a.merge(b)
        assert b.path.read_bytes() == untouched
        state = a.state()
        assert a.merge(b).nothing_new
        assert a.state() == state
        b.merge(a)
        assert b.state() == state
        assert a.merge(b).nothing_new


@drawn(2, 10, st.tuples(*[st.lists(step, min_size=5, max_size=8)] * 3))
def test_three_copies_come_to_the_same_in_any_grouping(steps: tuple[list[Any], ...]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        b, c = a.twin(folder / "b.db"), a.twin(folder / "c.db")
        for laptop, own in zip((a, b, c), steps, strict=True):
            edit(laptop, own)
        a2, b2 = a.twin(folder / "a2.db"), b.twin(folder / "b2.db")
        a.merge(b)
        a.merge(c)
        b2.merge(c)
        a2.merge(b2)
        assert a.state() == a2.state()
        check(a)
        check(a2)


@drawn(
    2,
    10,
    st.lists(
        st.tuples(st.integers(0, 2), st.one_of(close_step, close_step, st.integers(0, 2))),
        min_size=14,
        max_size=26,
    ),
)
def test_copies_that_meet_criss_cross_hold_what_the_model_says(events: list[Any]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        laptops = [a, a.twin(folder / "b.db"), a.twin(folder / "c.db")]
        for number, what in events:
            if not isinstance(what, int):
                edit(laptops[number], [what])
            elif what != number:
                laptops[number].merge(laptops[what])
        for laptop in laptops:
            check(laptop)
        meet(laptops)


@pytest.mark.parametrize("seed", [0, *map(full, range(1, 8 if HOURS else 3))])
def test_long_histories_of_three_copies_hold_what_the_model_says(seed: int, tmp_path: Path) -> None:
    wander(tmp_path, seed, 60)


@pytest.mark.parametrize("seed", FEW)
def test_copies_that_loaded_one_file_apart_hold_what_the_model_says(
    seed: int, tmp_path: Path
) -> None:
    laptops = wander(tmp_path, seed, 40 if seed else 10, APART, laptops_that_loaded_apart)
    for tag in (each for each, name in laptops[0].names.items() if name in TAGS):
        for laptop in laptops:
            with laptop.open() as registry:
                found = record_of(registry, tag)["tag"]
            assert laptop.called(normalise(found)) == laptop.called(tag)


@pytest.mark.parametrize("seed", FEW)
def test_whoever_says_when_that_loads_are_of_one_thing_all_agree(seed: int, tmp_path: Path) -> None:
    """Copies that merge before anybody says it, too; told by what must hold, without a model."""
    chance = random.Random(seed)
    laptops = three_copies(tmp_path)
    for _ in range(30 if seed else 10):
        laptop, other = chance.sample(laptops, 2)
        luck = chance.random()
        if luck < 0.35:
            with suppress(BadInputError):  # it has that file already, or no two loads are apart
                if luck < 0.15:
                    load_apart(laptop)
                else:
                    laptop.merge(other, same=luck < 0.25)
        else:
            chance.choice(APART)(laptop, chance.choice(CODES), chance.randrange(12))
    states = []
    for first, *others in ((0, 1, 2), (1, 2, 0), (2, 1, 0))[: 3 if seed else 2]:
        them = [laptops[at].twin(tmp_path / f"{first}{at}.db") for at in (first, *others)]
        for other in them[1:]:
            them[0].merge(other)
        for other in them[1:]:
            other.merge(them[0])
        states += [laptop.state() for laptop in them]
    assert [state for state in states if state != states[0]] == []
    assert logged(them[0]) == them[0].model.logs
    assert [laptop.problems() for laptop in them] == [[]] * 3
    with them[0].open() as registry:
        for row in registry.rows("SELECT tag, other_tag FROM same_records WHERE tag NOT NULL"):
            one, other = (record_of(registry, tag)["tag"] for tag in row.values())
            assert one == other


ACTIONS = (annotate, land, land, *EDITS, rename_box, remove_boxes)
CAME_APART = ("enclosures", "terminals", "conductors")
APART = (
    annotate, land, land, retire, read, print_label, place_label, add_box, equip, equip, rename_box,
    remove_boxes,
)  # fmt: skip


def three_copies(folder: Path) -> list[Laptop]:
    a = first_laptop(folder)
    return [a, a.twin(folder / "b.db"), a.twin(folder / "c.db")]


def wander(
    folder: Path, seed: int, steps: int, actions: Sequence[Any] = ACTIONS,
    begin: Callable[[Path], list[Laptop]] = three_copies,
) -> list[Laptop]:  # fmt: skip
    """Copies are made, put back from a copy made earlier, and meet whenever they like."""
    chance = random.Random(seed)
    laptops = begin(folder)
    kept: dict[int, Laptop] = {}
    for number in range(steps):
        at, other = chance.sample(range(3), 2)
        laptop = laptops[at]
        luck = chance.random()
        if luck < 0.3 and laptop.is_apart(laptops[other]):
            with pytest.raises(BadInputError, match="don't descend from one another"):
                laptop.merge(laptops[other])
        elif luck < 0.3:
            laptop.merge(laptops[other])
            check(laptop)
        elif luck < 0.35:
            kept[at] = laptop.twin(folder / f"kept{number}.db")
        elif luck < 0.4 and at in kept:
            laptop.restore(kept.pop(at))
        else:
            action = chance.choice(actions)
            action(laptop, chance.choice(CODES), chance.choice((0, 3, 12, 2, 5)))
    meet(laptops)
    return laptops


@drawn(2, 10, st.lists(step, max_size=10))
def test_a_copy_that_nobody_touched_takes_exactly_the_other(steps: list[Any]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        b = a.twin(folder / "b.db")
        edit(b, steps)
        assert not a.merge(b).undecided
        assert a.state() == b.state()


@drawn(2, 10, st.tuples(*[st.lists(st.integers(2, 4), max_size=6)] * 3))
def test_what_a_ring_out_and_a_search_go_on_by_is_the_longest_way(
    numbers: tuple[list[int], ...],
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = first_laptop(folder)
        laptops = [a, a.twin(folder / "b.db"), a.twin(folder / "c.db")]
        searched, rung = [], []
        for laptop, own in zip(laptops, numbers, strict=True):
            for number in own:
                search_on(laptop, "", number)
                ring(laptop, "JB1", number)
            searched.append(way(laptop, FAULT_SEARCH))
            rung.append(way(laptop, RINGOUT))
        for other in laptops[1:]:
            a.merge(other)
        with a.open() as registry:
            search = procedures.latest(registry, FAULT_SEARCH, circuit="PUMP")
            ringout = procedures.latest(registry, RINGOUT, pull="P1")
        assert search is not None
        assert ringout is not None
        assert [answer.id for answer in search.answers] == longest(searched)
        assert len(ringout.answers) == len(longest(rung))


def way(laptop: Laptop, kind: str) -> list[str]:
    sql = (
        "SELECT a.id FROM procedure_answers AS a JOIN procedures AS g ON g.id = a.procedure_id"
        " WHERE g.kind = ? ORDER BY a.seq"
    )
    with laptop.open() as registry:
        return [row["id"] for row in registry.rows(sql, [kind])]


def longest(ways: list[list[str]]) -> list[str]:
    return min(ways, key=lambda ids: (-len(ids), ids))
