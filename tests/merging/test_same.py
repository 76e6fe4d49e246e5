# SPDX-License-Identifier: MIT
"""Records that came in apart and are said to be the same: one record, with the work of both."""

from __future__ import annotations

import itertools
import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.merging.laptops import Laptop, one, write
from tests.merging.model import Copy
from tests.pump import PUMP
from tests.record_of import record_of
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError
from wiretrack.model.tags import normalise
from wiretrack.store import replay
from wiretrack.store.same import ContradictionError, Same
from wiretrack.store.store import open_registry
from wiretrack.store.writing import insert, new_id
from wiretrack.tasks.change.merging import MergeResult, decided, merge, same
from wiretrack.tasks.change.undoing import undo
from wiretrack.tasks.describe.sites import dump_site, load_site, new_site
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

READING = {"kind": "continuity", "subject": "", "value": "0.4 ohm", "at": "2026-01-02T03:04:05Z"}


def site(**more: Any) -> dict[str, Any]:
    """Return the pump's site without tags, as a file that somebody typed."""
    wires = [{k: v for k, v in each.items() if k != "tag"} for each in PUMP["conductors"]]
    left = {k: v for k, v in PUMP.items() if k not in ("conductors", "readings")}
    return left | {"conductors": wires} | more


@pytest.fixture
def apart(tmp_path: Path) -> tuple[Laptop, Laptop]:
    """Two laptops that began a registry each, and loaded one file."""
    file = tmp_path / "site.json"
    file.write_text(json.dumps(site()), "utf-8")
    return begun(tmp_path, "a", file), begun(tmp_path, "b", file)


def begun(folder: Path, name: str, file: Path) -> Laptop:
    path = folder / f"{name}.db"
    new_site(path, f"site of {name}")
    with open_registry(path) as registry:
        load_site(registry, file)
    return Laptop(path, Copy(itertools.count()))


def tags(laptop: Laptop) -> list[str]:
    with laptop.open() as registry:
        return [row["tag"] for row in registry.rows("SELECT tag FROM conductors ORDER BY nr")]


def measure(laptop: Laptop, tag: str, value: str) -> None:
    with laptop.open() as registry:
        log_reading(registry, ReadingText(subject=tag, kind="continuity", value=value))


def join(laptop: Laptop, other: Laptop, **how: Any) -> MergeResult:
    with laptop.open() as registry:
        return merge(registry, other.path, same=lambda _: True, **how)


def shown(laptop: Laptop, what: str) -> dict[str, Any]:
    with laptop.open() as registry:
        return record_of(registry, what)


def say(laptop: Laptop, *names: str) -> str:
    with laptop.open() as registry:
        return same(registry, *names).change


def counted(laptop: Laptop) -> dict[str, int]:
    tables = ("enclosures", "circuits", "conductors", "terminals", "devices", "ends", "site")
    return {table: one(laptop, f"SELECT count(*) FROM {table}") for table in tables}


def test_one_command_makes_one_site_of_two_that_loaded_one_file(
    apart: tuple[Laptop, Laptop],
) -> None:
    a, b = apart
    first, second = tags(a)[0], tags(b)[0]
    alone = counted(a)
    measure(a, first, "0.31")
    measure(b, second, "0.32")
    with (
        pytest.raises(BadInputError, match="don't descend from one another") as caught,
        a.open() as r,
    ):
        merge(r, b.path)
    assert "--same" in told(caught.value)
    found = join(a, b)
    assert found.undecided == []
    assert found.same.records["conductor"] == len(tags(a))
    assert counted(a) == alone
    assert [r["value"] for r in shown(a, first)["readings"]] == [0.31, 0.32]
    assert shown(a, first)["tag"] == shown(a, second)["tag"]
    assert {normalise(shown(a, first)["tag"])} <= {first, second}
    with a.open() as registry, b.open() as other:
        mine, theirs = (punch_list(each) for each in (registry, other))
    assert len(mine) == len(theirs)
    b.merge(a)
    assert b.state() == a.state()
    assert (a.problems(), b.problems()) == ([], [])
    measure(b, second, "0.33")
    a.merge(b)
    assert len(shown(a, first)["readings"]) == 3
    assert a.state() == b.state()
    assert join(a, b).same.change is None


def test_all_is_made_again_once_for_what_is_the_same(
    apart: tuple[Laptop, Laptop], monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[replay.Replay] = []
    begin = replay.Replay.__init__

    def counted(self: replay.Replay, same: Same) -> None:
        made.append(self)
        begin(self, same)

    monkeypatch.setattr(replay.Replay, "__init__", counted)
    a, b = apart
    join(a, b)
    assert len(made) == 1
    assert a.problems() == []
    assert len(made) == 2
    say(a, "MDB", "PH1")
    assert len(made) == 3


def test_it_does_not_matter_who_says_it_and_both_may(apart: tuple[Laptop, Laptop]) -> None:
    a, b = apart
    c = a.twin(a.path.with_name("c.db"))
    measure(b, tags(b)[0], "0.32")
    join(a, b)
    join(b, c)
    a.merge(b)
    b.merge(a)
    assert a.state() == b.state()
    c.merge(a)
    assert c.state() == a.state()
    assert [each.problems() for each in (a, b, c)] == [[], [], []]


def test_a_look_says_how_many_and_writes_nothing(apart: tuple[Laptop, Laptop]) -> None:
    a, b = apart
    before = a.state()
    assert join(a, b, look=True).same.records["circuit"] == len(PUMP["circuits"])
    assert a.state() == before
    with a.open() as registry, pytest.raises(BadInputError, match="weren't said to be the same"):
        merge(registry, b.path, same=lambda _: False)
    assert a.state() == before


def test_two_that_loaded_other_files_are_not_joined(apart: tuple[Laptop, Laptop]) -> None:
    a, _ = apart
    file = a.path.with_name("other.json")
    file.write_text(
        json.dumps(site(pulls=[], circuits=PUMP["circuits"]) | {"conductors": []}), "utf-8"
    )
    with pytest.raises(BadInputError, match="loaded no file of the same content"):
        join(a, begun(a.path.parent, "d", file))


def test_undo_parts_them_again_and_each_keeps_its_own(apart: tuple[Laptop, Laptop]) -> None:
    a, b = apart
    first, second = tags(a)[0], tags(b)[0]
    measure(a, first, "0.31")
    measure(b, second, "0.32")
    change = join(a, b).same.change
    joined = a.state()
    with a.open() as registry:
        undo(registry, change)
    assert [r["value"] for r in shown(a, first)["readings"]] == [0.31]
    assert [r["value"] for r in shown(a, second)["readings"]] == [0.32]
    assert one(a, "SELECT count(*) FROM enclosures WHERE code = 'MDB (2)'") == 1
    assert a.problems() == []
    with a.open() as registry:
        undo(registry)
    again = a.state()
    assert {t: again[t] for t in joined if t != "same_records"} == {
        t: joined[t] for t in joined if t != "same_records"
    }
    assert a.problems() == []


def test_what_both_say_differently_is_undecided_and_either_tag_leads_to_it(a: Laptop) -> None:
    b = a.twin(a.path.with_name("b.db"))
    for laptop, where in ((a, "shed"), (b, "yard")):
        with laptop.open() as registry, registry.write() as db:
            box = {"id": new_id(), "code": "JB9", "where": where, "wet": 1}
            insert(db, "enclosures", [box])
    a.merge(b)
    say(a, "JB9 (2)", "JB9")
    assert [(each.key, len(each.values)) for each in a.undecided()] == [("enclosure/JB9/where", 2)]
    b.merge(a)
    assert b.state() == a.state()
    assert b.problems() == []


def test_of_two_that_one_copy_added_nothing_is_lost(a: Laptop) -> None:
    """Whoever added the second one knew of the first, and not that they are the same."""
    boxes = (("JB8", "shed", "one"), ("JB9", "yard", None))
    for code, where, name in boxes:
        with a.open() as registry, registry.write() as db:
            box = {"id": new_id(), "code": code, "where": where, "name": name}
            insert(db, "enclosures", [box])
    say(a, "JB8", "JB9")
    keys = {each.field: [said.value for said in each.values] for each in a.undecided()}
    assert keys == {"code": ["JB8", "JB9"], "where": ["shed", "yard"]}
    assert one(a, "SELECT name FROM enclosures WHERE code = 'JB8'") == "one"
    assert a.problems() == []
    b = a.twin(a.path.with_name("b.db"))
    with b.open() as registry:
        decided(registry, ["enclosure/JB8/code=2", "enclosure/JB9/where=1"])
    a.merge(b)
    assert a.undecided() == []
    assert one(a, "SELECT \"where\" FROM enclosures WHERE code = 'JB9'") == "shed"
    assert a.problems() == []


def test_two_wires_of_one_load_become_one_that_keeps_what_both_say(a: Laptop) -> None:
    first, second = tags(a)[:2]
    measure(a, first, "0.31")
    measure(a, second, "0.32")
    say(a, first, second)
    assert shown(a, first)["tag"] == shown(a, second)["tag"]
    assert len(shown(a, first)["readings"]) == 2
    assert {"conductors", "ends"} >= {each.table for each in a.undecided()} != set()
    assert a.problems() == []
    b = a.twin(a.path.with_name("b.db"))
    with b.open() as registry:
        undo(registry)
    assert b.problems() == []
    assert len(tags(b)) == len(tags(a)) + 1


def test_that_another_loaded_the_file_too_is_no_work_on_what_one_retired_or_removed(
    apart: tuple[Laptop, Laptop],
) -> None:
    a, b = apart
    retired = "UPDATE conductors SET retired_at = '2026-01-01', retired_because = 'removed'"
    write(b, f"{retired} WHERE tag = ?", tags(b)[0])
    write(b, "DELETE FROM instruments WHERE code = 'M2'")
    assert join(a, b).undecided == []
    assert one(a, "SELECT count(*) FROM conductors WHERE retired_at NOT NULL") == 1
    b.merge(a)
    assert b.state() == a.state()
    measure(b, tags(b)[1], "0.31")
    assert [each.problems() for each in (a, b)] == [[], []]


def test_aliases_of_aliases_come_to_one_in_every_order(a: Laptop, tmp_path: Path) -> None:
    for code in ("JB1", "JB2", "JB3", "JB4"):
        write(a, "INSERT INTO enclosures (id, code) VALUES (?, ?)", new_id(), code)
    b, c = a.twin(tmp_path / "b.db"), a.twin(tmp_path / "c.db")
    say(a, "JB1", "JB2")
    say(b, "JB3", "JB2")
    say(b, "JB4", "JB2")
    say(c, "JB4", "JB1")
    for laptop, order in ((a, (b, c)), (c, (b, a))):
        for other in order:
            laptop.merge(other)
    b.merge(c)
    assert a.state() == b.state() == c.state()
    assert one(a, "SELECT count(*) FROM enclosures WHERE code GLOB 'JB[1-4]*'") == 1
    assert [each.problems() for each in (a, b, c)] == [[], [], []]


def test_two_kinds_can_not_be_the_same(a: Laptop, b: Laptop) -> None:
    with a.open() as registry, pytest.raises(BadInputError) as caught:
        same(registry, "MDB", "PUMP")
    assert told(caught.value) == (
        "MDB (enclosure) and PUMP (circuit) can't be the same. Name two records of one kind."
    )
    with a.open() as registry, pytest.raises(BadInputError, match="are one record already"):
        same(registry, "MDB", "mdb")


def forged(laptop: Laptop, other: Laptop, what: str, *ids: str) -> None:
    """Let a copy say that two ids are the same, whatever they are; all others refuse that."""
    row = {"id": new_id(), "what": what, "record": ids[0], "other": ids[1], "at": "2026"}
    with laptop.open() as registry, pytest.raises(ContradictionError), registry.write() as db:
        insert(db, "same_records", [row])
    with pytest.MonkeyPatch.context() as patch, laptop.open() as registry:
        patch.setattr(replay, "make_again", lambda _: None)
        with registry.write() as db:
            insert(db, "same_records", [row])
    (refused,) = other.merge(laptop).taken.refused
    assert refused.why.endswith(f"{what} {ids[0]} and {ids[1]} can't be the same")
    assert other.problems() == []
    assert any("can't be the same" in each for each in laptop.problems())


def test_a_box_and_a_circuit_are_refused_whoever_says_so(a: Laptop, b: Laptop) -> None:
    forged(b, a, "enclosure", *(one(b, f"SELECT id FROM {t}") for t in ("enclosures", "circuits")))


def test_two_readings_that_differ_are_refused_whoever_says_so(a: Laptop, b: Laptop) -> None:
    tag = tags(b)[0]
    measure(b, tag, "0.31")
    measure(b, tag, "9.99")
    forged(b, a, "reading", *sorted(b.ids("readings")))
    assert len(a.ids("readings")) == 2  # what was written before that is taken


def test_sites_that_nobody_brought_are_refused(a: Laptop, b: Laptop) -> None:
    forged(b, a, "site", one(b, "SELECT id FROM site"), one(b, "SELECT id FROM enclosures"))


def test_a_dump_keeps_that_both_tags_lead_there(
    apart: tuple[Laptop, Laptop], tmp_path: Path
) -> None:
    a, b = apart
    both = tags(a)[0], tags(b)[0]
    join(a, b)
    file = tmp_path / "all.json"
    with a.open() as registry:
        dump_site(registry, file)
    new_site(tmp_path / "new.db", "new")
    with open_registry(tmp_path / "new.db") as registry:
        load_site(registry, file)
        assert {record_of(registry, tag)["tag"] for tag in both} == {shown(a, both[0])["tag"]}
        dump_site(registry, tmp_path / "again.json")
    assert (tmp_path / "again.json").read_bytes() == file.read_bytes()
