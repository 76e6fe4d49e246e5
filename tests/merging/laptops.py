# SPDX-License-Identifier: MIT
"""Laptops that carry copies of the pump's registry: edits by hand and by the program, merges."""

from __future__ import annotations

import itertools
import json
import shutil
import tempfile
import uuid
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from tests.merging.model import IN_USE, PLACE, WORK, Copy
from tests.pump import L1, L2, PE, PUMP
from wiretrack.model.entities import Reading
from wiretrack.model.tags import normalise
from wiretrack.procedure import FAULT_SEARCH, RINGOUT
from wiretrack.store import changing, label_log, procedures, reading_log, writing
from wiretrack.store.health import backup, problems
from wiretrack.store.schema import LOG_TABLES, NOTED_TABLES
from wiretrack.store.store import Registry, open_registry
from wiretrack.store.undecided import Undecided, undecided
from wiretrack.tasks.change.merging import MergeResult
from wiretrack.tasks.change.merging import merge as merge_file
from wiretrack.tasks.describe.sites import load_site, new_site

TAGS = (L1, L2, PE)
CODES = ("JB1", "JB2", "JB3")
_NUMBERS = itertools.count(1)


@dataclass
class Laptop:
    """One copy: its file, and what the model says that it holds."""

    path: Path
    model: Copy
    # What the model calls the ids and tags that came in apart; all others it calls as they are.
    names: dict[str, str] = field(default_factory=dict)
    standing: frozenset[str] = frozenset()  # which of them stand for the others, once that is known

    def called(self, one: str) -> str:
        """Return what the model calls an id or a tag."""
        return self.names.get(one, one)

    def wire(self, number: int) -> str:
        """Return the tag that one of three conductors has here."""
        name = TAGS[number % 3]
        tags = [tag for tag, called in self.names.items() if called == name]
        sql = "SELECT tag FROM conductors WHERE tag IN (SELECT value FROM json_each(?))"
        return str(one(self, sql, json.dumps(tags)) or name) if tags else name

    def edit(self, record: str, name: str, value: str) -> None:
        """Tell the model of an edit."""
        self.model.edit(self.called(record), name, self.called(value))

    def is_apart(self, other: Laptop) -> bool:
        """Return whether nothing that either holds says that both are of one site."""
        joined = (each.ids("same_records") for each in (self, other))
        return bool(self.names) and not any(joined)

    def open(self) -> Registry:
        """Open the registry."""
        return open_registry(self.path)

    def beside(self, path: Path) -> Laptop:
        """Return a laptop that holds the same, by the model."""
        return replace(self, path=path, model=self.model.twin())

    def twin(self, path: Path) -> Laptop:
        """Hand a copy to another laptop."""
        with self.open() as registry:
            backup(registry, path)
        return self.beside(path)

    def restore(self, earlier: Laptop) -> None:
        """Put an earlier copy of this laptop's registry back in its place."""
        shutil.copy(earlier.path, self.path)
        for beside in ("-wal", "-shm"):
            self.path.with_name(self.path.name + beside).unlink(missing_ok=True)
        self.model = earlier.model.twin()

    def merge(self, other: Laptop, *, same: bool = False) -> MergeResult:
        """Merge another laptop's copy into this one; say that what both loaded apart is one."""
        with self.open() as registry:
            result = merge_file(registry, other.path, same=(lambda _: True) if same else None)
        self.model.merge(other.model)
        return result

    def undecided(self) -> list[Undecided]:
        """Return what is undecided."""
        with self.open() as registry:
            return undecided(registry)

    def problems(self) -> list[str]:
        """Return what is wrong with the registry, by its log and without."""
        with self.open() as registry:
            return [str(each) for each in problems(registry)]

    def state(self) -> dict[str, list[tuple[Any, ...]]]:
        """Return all rows of the record and what is undecided, in an order of their own."""
        skipped = ("nr", "came", "seq")
        with self.open() as registry:
            return {
                table: sorted(
                    (
                        tuple(value for name, value in row.items() if name not in skipped)
                        for row in registry.rows(f"SELECT * FROM {table}")
                    ),
                    key=repr,
                )
                for table in (*NOTED_TABLES, *LOG_TABLES, "changes", "undecided")
            }

    def ids(self, table: str) -> set[str]:
        """Return the identifiers in a table."""
        with self.open() as registry:
            return {row["id"] for row in registry.rows(f"SELECT id FROM {table}")}


@cache
def _first_file() -> bytes:
    """Return a registry of the pump with a fault search and a ring-out begun, to be copied."""
    with tempfile.TemporaryDirectory() as folder:
        path, file = Path(folder) / "first.db", Path(folder) / "pump.json"
        file.write_text(json.dumps(PUMP), encoding="utf-8")
        new_site(path, "Example")
        with open_registry(path) as registry:
            load_site(registry, file)
            about = {"circuit": "PUMP", "symptom": "dead-circuit"}
            procedures.start(registry, FAULT_SEARCH, about, {}, after=None)
            about = {"pull": "P1", "near": "MDB", "far": "PH1"}
            procedures.start(registry, RINGOUT, about, {}, after=None)
        return path.read_bytes()


def first_laptop(folder: Path) -> Laptop:
    """Make the registry of the pump, and the model of it before any edit."""
    path = folder / "first.db"
    path.write_bytes(_first_file())
    return Laptop(path, Copy(itertools.count()))


# Boxes that can be removed with what is in them, and where a wire can be landed at the pump.
_LOADED: dict[str, Any] = {
    **PUMP,
    "conductors": [{k: v for k, v in each.items() if k != "tag"} for each in PUMP["conductors"]],
    "enclosures": [
        *PUMP["enclosures"],
        *({"code": f"BX{number}", "name": f"N0LOADED{number}"} for number in (1, 2)),
    ],
    "terminals": [
        *({"enclosure": "PH1", "code": f"X{code}"} for code in CODES),
        *({"enclosure": f"BX{number}", "code": f"T0{number}"} for number in (1, 2)),
    ],
}
_MORE = ("format", "enclosures", "terminals", "circuits", "conductors")
_NAMED = (
    "SELECT id, code, name, NULL AS box FROM enclosures UNION ALL"
    " SELECT t.id, e.code || ':' || t.code, NULL, iif(e.name LIKE 'N0%', e.id, NULL)"
    " FROM terminals AS t JOIN enclosures AS e ON e.id = t.enclosure_id"
)


@cache
def _loaded_apart() -> tuple[list[bytes], Laptop]:
    """Return three registries of one file; and one laptop's names for the records of all."""
    model, ids = Copy(itertools.count()), dict[str, list[str]]()
    said: dict[str, tuple[str, ...]] = {}
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "pump.json"
        file.write_text(json.dumps(_LOADED), encoding="utf-8")
        laptops = [Laptop(Path(name) / f"{each}.db", model) for each in "abc"]
        wires: list[list[tuple[str, str]]] = [[], [], []]
        for laptop in laptops:
            new_site(laptop.path, "Example")
            with laptop.open() as registry:
                load_site(registry, file)
                for row in registry.rows(_NAMED):
                    ids.setdefault(row["code"], []).append(row["id"])
                    if row["box"] or (row["name"] or "").startswith("N0"):
                        said[row["code"]] = (row["box"] or "", row["name"] or "")
                there = registry.rows("SELECT id, tag FROM conductors ORDER BY nr")
                for wire, row in zip(wires, there, strict=True):
                    wire.append((row["id"], row["tag"]))
        for other in laptops[1:]:
            with laptops[0].open() as registry:
                merge_file(registry, other.path, same=lambda _: True)
        names = {each: min(those) for those in ids.values() for each in those}
        names |= {each: min(wire)[0] for wire in wires for each, _ in wire}
        standing = frozenset(names.values()) | {min(wire)[1] for wire in wires}
        names |= {tag: name for name, wire in zip(TAGS, wires, strict=True) for _, tag in wire}
        first = Laptop(Path(name), model, names, standing)
        for code, (box, called) in said.items():
            if box:
                first.edit(ids[code][0], PLACE, box)
            else:
                first.edit(ids[code][0], "code", code)
                first.edit(ids[code][0], "name", called)
        return [laptop.path.read_bytes() for laptop in laptops], first


def load_apart(laptop: Laptop) -> None:
    """Load the file into a copy of a registry that has its site already."""
    boxes = [each for each in _LOADED["enclosures"] if each["code"].startswith("BX")]
    circuits = [each | {"code": "SPARE"} for each in _LOADED["circuits"]]
    wires = [
        each | {"circuit": "SPARE", "from": {"enclosure": "MDB"}} for each in _LOADED["conductors"]
    ]
    more = {"enclosures": boxes, "circuits": circuits, "conductors": wires}
    file = laptop.path.with_suffix(".json")
    file.write_text(
        json.dumps({k: v for k, v in (_LOADED | more).items() if k in _MORE}), encoding="utf-8"
    )
    with laptop.open() as registry:
        before = laptop.ids("conductors")
        load_site(registry, file)
        rows = registry.rows("SELECT id, tag FROM conductors ORDER BY nr")
    new = [row["tag"] for row in rows if row["id"] not in before]
    laptop.names.update(zip(new, TAGS, strict=False))  # none where the file is here already


def laptops_that_loaded_apart(folder: Path) -> list[Laptop]:
    """Make three laptops that loaded one file apart; only the first one knows that it is one."""
    files, first = _loaded_apart()
    found = [first.beside(folder / f"{name}.db") for name in "abc"]
    for laptop, content in zip(found, files, strict=True):
        laptop.path.write_bytes(content)
    for box in sorted({record for record, _ in (e.field for e in first.model.events.values())}):
        found[0].edit(box, WORK, IN_USE)  # to say what is the same speaks of each
    return found


def add_box(laptop: Laptop, code: str, _: int) -> None:
    """Add a box of a code that others may take too; its name is its own."""
    name, record = f"N{next(_NUMBERS):05}", str(uuid.uuid4())
    with laptop.open() as registry:
        if registry.row("SELECT 1 FROM enclosures WHERE code = ?", [code]):
            return
        with registry.write("someone") as db:
            writing.insert(db, "enclosures", [{"id": record, "code": code, "name": name}])
    laptop.edit(record, "code", code)
    laptop.edit(record, "name", name)


def rename_box(laptop: Laptop, code: str, number: int) -> None:
    """Give one of the added boxes another code."""
    with laptop.open() as registry:
        if registry.row("SELECT 1 FROM enclosures WHERE code = ?", [code]):
            return
        boxes = registry.rows("SELECT id FROM enclosures WHERE name LIKE 'N0%' ORDER BY name")
        if not boxes:
            return
        record = boxes[number % len(boxes)]["id"]
        with registry.write("someone") as db:
            db.execute("UPDATE enclosures SET code = ? WHERE id = ?", [code, record])
    laptop.edit(record, "code", code)


def equip(laptop: Laptop, code: str, number: int) -> None:
    """Put a terminal into one of the added boxes."""
    with laptop.open() as registry:
        boxes = registry.rows("SELECT id FROM enclosures WHERE name LIKE 'N0%' ORDER BY name")
        if not boxes:
            return
        box, record = boxes[number % len(boxes)]["id"], str(uuid.uuid4())
        row = {"id": record, "enclosure_id": box, "code": f"T{next(_NUMBERS)}"}
        with registry.write("someone") as db:
            writing.insert(db, "terminals", [row])
    laptop.edit(record, PLACE, box)


def remove_boxes(laptop: Laptop, _: str, number: int) -> None:
    """Remove one of the added boxes, or two, and the terminals in them."""
    with laptop.open() as registry:
        boxes = registry.rows("SELECT id FROM enclosures WHERE name LIKE 'N0%' ORDER BY name")
        found = {boxes[(number + more) % len(boxes)]["id"] for more in range(1 + number % 2)
                 if boxes}  # fmt: skip
        if not found:
            return
        listed = json.dumps([*found])
        among = "IN (SELECT value FROM json_each(?))"
        sql = f"SELECT id FROM terminals WHERE enclosure_id {among}"
        terminals = {row["id"] for row in registry.rows(sql, [listed])}
        with registry.write("someone") as db:
            db.execute(f"DELETE FROM terminals WHERE enclosure_id {among}", [listed])
            db.execute(f"DELETE FROM enclosures WHERE id {among}", [listed])
    laptop.model.remove(map(laptop.called, found | terminals))


def annotate(laptop: Laptop, code: str, number: int) -> None:
    """Write a note to a conductor."""
    tag, text = laptop.wire(number), f"note {code}"
    with laptop.open() as registry:
        if registry.row("SELECT 1 FROM conductors WHERE tag = ? AND note = ?", [tag, text]):
            return
        with registry.write("someone") as db:
            db.execute("UPDATE conductors SET note = ? WHERE tag = ?", [text, tag])
    laptop.edit(tag, "note", text)


def land(laptop: Laptop, code: str, number: int) -> None:
    """Land a conductor's end at the pump on a terminal, or cap it."""
    tag = laptop.wire(number)
    terminal = None if number % 4 == 0 else f"X{code}"
    state = "landed" if terminal else "capped"
    value = f"{state}, PH1 {terminal}" if terminal else f"{state}, PH1"
    with laptop.open() as registry:
        shown = registry.row(
            "SELECT 1 FROM ends AS e JOIN conductors AS c ON c.id = e.conductor_id LEFT JOIN"
            " terminals AS t ON t.id = e.terminal_id WHERE c.tag = ? AND e.side = 'to'"
            " AND e.state IS ? AND t.code IS ?",
            [tag, state, terminal],
        )
        if shown:
            return
        changing.land_end(registry, tag, "to", state, terminal, who="someone")
    laptop.edit(tag, "landing", value)
    laptop.edit(tag, WORK, IN_USE)


def retire(laptop: Laptop, _: str, number: int) -> None:
    """Retire a conductor, once."""
    tag, reason = laptop.wire(number), ("removed", "abandoned")[number % 2]
    with laptop.open() as registry:
        if registry.row("SELECT 1 FROM conductors WHERE tag = ? AND retired_at NOT NULL", [tag]):
            return
        with registry.write("someone") as db:
            db.execute(
                "UPDATE conductors SET retired_at = ?, retired_because = ? WHERE tag = ?",
                ["2026-01-01", reason, tag],
            )
    laptop.edit(tag, "retired", f"{reason}, 2026-01-01")


def read(laptop: Laptop, _: str, number: int) -> None:
    """Log a reading, or one that replaces the latest that nothing replaces."""
    tag = laptop.wire(number)
    with laptop.open() as registry:
        older = registry.row(
            "SELECT r.id, c.tag FROM readings AS r JOIN conductors AS c ON c.id = r.conductor_id"
            " WHERE r.id NOT IN (SELECT supersedes FROM readings WHERE supersedes NOT NULL)"
            " ORDER BY r.id LIMIT 1"
        )
        replaced = older["id"] if older and number % 2 else None
        subject = older["tag"] if older and replaced else tag
        reading = Reading(
            kind="continuity", subject=subject, value="0.3", number=0.3, unit="ohm",
            at="2026-01-01T00:00:00+00:00", supersedes=replaced,
        )  # fmt: skip
        laptop.model.logs.add(reading_log.add_reading(registry, reading))
    laptop.edit(normalise(subject), WORK, IN_USE)


def print_label(laptop: Laptop, code: str, number: int) -> None:
    """Print a label."""
    before = laptop.ids("label_prints")
    row = {"tag": laptop.wire(number), "end": "to", "form": "flag", "stock": "s"}
    with laptop.open() as registry:
        label_log.add_prints(registry, [{**row, "legend": {"circuit": code}}])
    laptop.model.logs |= laptop.ids("label_prints") - before
    laptop.edit(row["tag"], WORK, IN_USE)


def place_label(laptop: Laptop, code: str, number: int) -> None:
    """Say that a label is on its wire, or take that back."""
    before, tag = laptop.ids("placed_labels"), laptop.wire(number)
    with laptop.open() as registry:
        said = registry.row(
            "SELECT p.id, c.tag FROM placed_labels AS p JOIN conductors AS c"
            " ON c.id = p.conductor_id WHERE p.takes_back IS NULL ORDER BY p.id LIMIT 1"
        )
        row: dict[str, Any] = {"tag": tag, "end": "to", "legend": {"circuit": code}}
        if said and number % 2:
            row = {"tag": said["tag"], "end": "to", "takes_back": said["id"]}
        with registry.write():
            label_log.add_placed(registry, [row], who="roof")
    laptop.model.logs |= laptop.ids("placed_labels") - before
    laptop.edit(normalise(row["tag"]), WORK, IN_USE)


def ring(laptop: Laptop, code: str, number: int) -> None:
    """Answer a step of the ring-out, correct one, or finish it."""
    before = laptop.ids("procedure_answers")
    with laptop.open() as registry:
        found = procedures.latest(registry, RINGOUT, pull="P1")
        assert found is not None
        if number % 5 == 0:
            result = {"matches": [], "walks": len(found.answers)}
            if found.result is None:
                procedures.finish(registry, found, result)
        elif number % 5 == 1 and found.answers:
            first = found.answers[0]
            procedures.add_answer(registry, found, first.step, {"again": code}, supersedes=first)
        else:
            procedures.add_answer(registry, found, {"step": number}, {"answer": code})
    laptop.model.logs |= laptop.ids("procedure_answers") - before


def search(laptop: Laptop, _: str, number: int) -> None:
    """Answer a question of the search for a fault, correct one, or finish it."""
    before = laptop.ids("procedure_answers")
    with laptop.open() as registry:
        found = procedures.latest(registry, FAULT_SEARCH, circuit="PUMP")
        assert found is not None
        if number % 5 == 0 and found.result is None:
            procedures.finish(registry, found, {"left": [len(found.answers)]})
            return
        older = found.answers[0] if number % 5 == 1 and found.answers else None
        procedures.add_answer(
            registry, found, {"question": number}, {"outcome": "yes"}, supersedes=older
        )
    laptop.model.logs |= laptop.ids("procedure_answers") - before


EDITS = (
    add_box, equip, remove_boxes, annotate, land, retire, read, print_label, place_label, ring,
    search,
)  # fmt: skip


def write(laptop: Laptop, sql: str, *values: Any) -> None:
    """Change the record by hand."""
    with laptop.open() as registry, registry.write(laptop.path.stem) as db:
        db.execute(sql, values)


def one(laptop: Laptop, sql: str, *values: Any) -> Any:
    """Return the first value that a query finds."""
    with laptop.open() as registry:
        row = registry.row(sql, list(values))
        return row and next(iter(row.values()))
