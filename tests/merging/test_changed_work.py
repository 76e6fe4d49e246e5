# SPDX-License-Identifier: MIT
"""The work changed at random in two copies, cut, replaced, retired, swapped: together it holds."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import pytest

from tests.changing.barn import BARN
from tests.changing.test_at_random import STEPS, Chance, is_done
from tests.drawing import full
from tests.merging.laptops import Laptop
from tests.merging.model import Copy
from tests.record_of import add_document
from wiretrack.model.parts import SiteFacts
from wiretrack.store.loading import create_registry
from wiretrack.store.undecided import decide

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("seed", [*range(4), *map(full, range(4, 10))])
def test_work_changed_apart_is_whole_together_and_both_copies_come_to_it(
    seed: int, tmp_path: Path
) -> None:
    by = Chance(seed)
    create_registry(tmp_path / "a.db", SiteFacts(name="new"))
    a = Laptop(tmp_path / "a.db", Copy(itertools.count()))
    with a.open() as registry:
        add_document(registry, BARN)
    b = a.twin(tmp_path / "b.db")
    for laptop in (a, b):
        with laptop.open() as registry:
            for step in by.choices(STEPS, k=6):
                is_done(registry, step, by)
    logs = a.ids("readings") | b.ids("readings")
    a.merge(b)
    b.merge(a)
    assert a.state() == b.state()
    assert a.ids("readings") == logs
    assert a.problems() == b.problems() == []
    decide_all(a, by)
    b.merge(a)
    assert a.state() == b.state()
    assert a.undecided() == []
    assert a.problems() == b.problems() == []


def decide_all(laptop: Laptop, by: Chance) -> None:
    """Decide everything, each for one of its values."""
    while found := laptop.undecided():
        with laptop.open() as registry:
            name = f"N{by.randrange(10**6)}"
            answer = name if found[0].field == "same" else str(by.randint(1, len(found[0].values)))
            decide(registry, found[0].key, answer)
