# SPDX-License-Identifier: MIT
"""The engine of merges changed for the worse: random histories notice each such change."""

from __future__ import annotations

import importlib
import os
import shutil
import sys
from pathlib import Path

import pytest

from tests.drawing import HOURS
from tests.merging.laptops import (
    add_box,
    equip,
    laptops_that_loaded_apart,
    remove_boxes,
    rename_box,
)
from tests.merging.test_histories import ACTIONS, APART, wander

SEEDS = range(8)
BOXES = (add_box, add_box, equip, equip, remove_boxes, remove_boxes, rename_box)
# A module of the store, a piece of its source, and what takes its place.
MUTANTS = [
    ("union", "found |= {owner: self._operations.folded(owner) for owner in retired} |",
     "found |= {} |"),
    ("union", "self._write_open(owner, folded, removals.open.get(owner))",
     "self._write_open(owner, folded, None)"),
    ("tails", "have = entry.number\n",
     "have = None\n"),
    ("naming", "for record in bearers[1:]:\n                self._set_aside",
     "for record in bearers[2:]:\n                self._set_aside"),
    ("union", "due += [part for part in parts if part not in found]",
     "pass"),
    ("tails", "self._known[each.writer] = known",
     "pass"),
    ("operations", "found.sort(key=itemgetter(0))",
     "pass"),
    ("union", "self._keep_base(owner, before)\n            if any",
     "if any"),
    ("operations", "return other.number <= self._vector(one).get(other.writer, 0)",
     "return True"),
    ("operations", "return other.number <= self._vector(one).get(other.writer, 0)",
     "return False"),
    ("removing", "self._void = {by for by, worked in self._worked.items() if worked}",
     "self._void = set()"),
    ("removing", "not self._void.issuperset(removed)",
     "not self._void.intersection(removed)"),
    ("removing", "if REMOVED not in row",
     "if True"),
    ("fold", "held = [one for one in held if not self._knows(said.by, one.by)] + [said]",
     "held = [said]"),
    ("fold", "held = [one for one in held if not self._knows(said.by, one.by)] + [said]",
     "held = [*held, said]"),
    ("fold", "held.sort(key=attrgetter(\"order\"))",
     "pass"),
    ("fold", "if _differ(holding):\n            if name",
     "if len(holding) > 2:\n            if name"),
    ("fold", "whole = [one for one in whole if not knows(operation, one)] + [operation]",
     "whole = [*whole, operation]"),
    ("fold", "return sorted(held, key=_in_use_first) if name == RETIRED else held",
     "return held"),
    ("fold", "if before is None or not any(before.value):",
     "if True:"),
    ("fold", '"ends": {"landing": ("enclosure_id", "terminal_id", "state")},',
     ""),
    ("fold", "whole = [one for one in whole if not knows(operation, one)] + [operation]",
     "whole = [operation]"),
]  # fmt: skip
# Noticed where copies loaded one file apart, and boxes are removed with what is in them.
LOADED_APART = [
    ("same", "first = min(joined)",
     "first = max(joined)"),
    ("same", "self.ids |= {part_id(one, end): part_id(first, end) for end in ends}",
     "pass"),
    ("same", "self.tags[called] = min(self._called.get(first, {called}))",
     "pass"),
    ("operations", "text in self.same.all_of(ids)]",
     "text in ids]"),
    ("operations", "frozenset(said.get(\"of\", ()))",
     "frozenset()"),
    ("union", "mark = {\"loaded\": 1} if loaded else {}",
     "mark = {}"),
    ("fold", "apart = one.is_loaded and not any(knows(one, earlier) for earlier in work)",
     "apart = False"),
    ("removing", "self._removed[by] = owners",
     "self._removed[by] = owners[:1]"),
    ("removing", "ids.update(*map(self._add, owners))",
     "ids.update(*map(self._add, owners[:1]))"),
    ("operations", "if said.get(\"kind\") == \"load\":",
     "if False:"),
    ("operations", "(*_NOTES, TABLE)",
     "_NOTES"),
    ("union", "SELECT 1 FROM {table} WHERE id = ? AND ? NOT IN",
     "SELECT 1 WHERE ? NOT NULL AND ? NOT IN"),
]  # fmt: skip
MUTANTS += LOADED_APART
SOON = (0, 2, 5, 10, 22)  # what one of the first histories notices


def changed(module: str, old: str, new: str) -> None:
    """Let a module be what its changed source makes it, wherever it is used."""
    name = f"wiretrack.store.{module}"
    there = importlib.import_module(name)
    source = Path(there.__file__ or "").read_text("utf-8")
    assert source.count(old) == 1, f"{old!r} is there {source.count(old)} times"
    before = dict(vars(there))
    exec(compile(source.replace(old, new), name, "exec"), vars(there))
    for other in [each for key, each in sys.modules.items() if key.startswith("wiretrack.")]:
        for key, value in before.items():
            if vars(other).get(key) is value and not key.startswith("__"):
                setattr(other, key, vars(there)[key])


def noticed(folder: Path, mutant: tuple[str, str, str]) -> bool:
    """Return whether a history goes wrong in a process whose engine is changed."""
    process = os.fork()
    if process == 0:
        status = 2
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            changed(*mutant)
            status = 1
            for seed in SEEDS:
                shutil.rmtree(folder / "run", ignore_errors=True)
                (folder / "run").mkdir()
                if mutant in LOADED_APART:
                    wander(folder / "run", seed, 60, APART, laptops_that_loaded_apart)
                else:
                    wander(folder / "run", seed, 60, BOXES if mutant[0] == "removing" else ACTIONS)
            status = 0
        finally:
            os._exit(status)
    status = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    assert status in (0, 1), "it can't be changed so"
    return status == 1


@pytest.mark.full
@pytest.mark.parametrize("number", range(len(MUTANTS)) if HOURS else SOON)
def test_random_histories_notice_a_change_of_the_engine_for_the_worse(
    number: int, tmp_path: Path
) -> None:
    assert noticed(tmp_path, MUTANTS[number]), MUTANTS[number]


def test_each_piece_that_is_changed_is_there_once() -> None:
    for module, old, _ in MUTANTS:
        source = Path(importlib.import_module(f"wiretrack.store.{module}").__file__ or "")
        assert source.read_text("utf-8").count(old) == 1, (module, old)
