# SPDX-License-Identifier: MIT
"""Two copies whose work was changed apart, at random: cut, replaced, retired, swapped, read."""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path

from hypothesis import strategies as st

from tests.changing.barn import BARN, FREE, L1, N
from tests.changing.test_at_random import (
    STEPS,
    Chance,
    check_dump,
    check_lists,
    is_done,
)
from tests.drawing import drawn
from tests.merging.laptops import Laptop, look, merge
from tests.merging.model import Copy
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import format_tag
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.loading import add_document, create_registry
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.cut_ends import CutEnds
from wiretrack.tasks.change.dividing import Division
from wiretrack.tasks.change.extending import Extension, extend
from wiretrack.tasks.change.swapping import swap

CHANGES = 4


def barn(path: Path) -> Laptop:
    create_registry(path, SiteFacts(name="new"))
    with open_registry(path) as opened:
        add_document(opened, BARN, who="laptop-1")
    return Laptop(path, Copy(itertools.count()))


def work(laptop: Laptop, by: Chance) -> None:
    with laptop.open() as registry:
        for step in by.choices(STEPS, k=CHANGES):
            is_done(registry, step, by)


@drawn(3, 15, st.integers(0, 2**32 - 1))
def test_whoever_takes_the_others_work_comes_to_the_same_and_nothing_is_lost(seed: int) -> None:
    """Every conflict is decided for the same copy, whichever takes the other."""
    by = Chance(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a = barn(folder / "a.db")
        work(a, by)
        b = a.twin(folder / "b.db")
        work(a, by)
        work(b, by)
        a2, b2 = a.twin(folder / "a2.db"), b.twin(folder / "b2.db")
        both = {table: a.ids(table) | b.ids(table) for table in ("readings", "conductors", "ends")}
        merge(a, b, rest="mine")
        merge(b2, a2, rest="theirs")
        assert a.state() == b2.state()
        assert {table: a.ids(table) for table in both} == both
        assert look(a, b).is_empty
        merge(b, a)
        assert b.state() == a.state()
        with a.open() as registry:
            assert problems(registry) == []
            check_lists(registry)
            check_dump(registry, folder)


def test_ends_found_crossed_in_both_copies_are_asked_about_in_words(tmp_path: Path) -> None:
    a = barn(tmp_path / "a.db")
    b = a.twin(tmp_path / "b.db")
    for laptop, day in ((a, "2026-05-02"), (b, "2026-05-03")):
        with laptop.open() as registry:
            swap(registry, (L1, N), "D", at=day)
    keys = {conflict.key: conflict.theirs.value for conflict in look(a, b).undecided}
    tags = (format_tag(L1), format_tag(N))
    assert keys == {f"end/{tag}/to/found-crossed": "2026-05-03" for tag in tags}


def test_a_box_that_a_pull_is_decided_not_to_pass_leaves_its_conductors_without_a_route(
    tmp_path: Path,
) -> None:
    a = barn(tmp_path / "a.db")
    b = a.twin(tmp_path / "b.db")
    for laptop, box in ((a, "NEW1"), (b, "NEW2")):
        with laptop.open() as registry:
            wanted = Extension(
                what=("SOCKET",), through=box, new_box="junction-box",
                division=Division(raceway="W1", into=f"{box}A,{box}B"),
                ends=CutEnds(others="capped"), at="2026-05-02",
            )  # fmt: skip
            done = extend(registry, wanted).cut[0]
    pieces = sorted((done.near.tag, done.far.tag))
    found = merge(a, b, rest="mine")
    assert found["off_the_way"] == [{"pull": "P", "enclosure": "NEW2", "tags": pieces}]
    with a.open() as registry:
        found_now = document(registry).conductors
        check_dump(registry, tmp_path)
    lost = {str(c.tag) for c in found_now if c.pull is None and c.tag != FREE}
    assert lost == set(pieces)
    assert merge(b, a)["off_the_way"] == []
    assert b.state() == a.state()
