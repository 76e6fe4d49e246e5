# SPDX-License-Identifier: MIT
"""A file may build on what the registry holds, but not repeat it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from wiretrack.exchange.known import AllButThese, EmptyKnown, Renames
from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from tests.exchange.conftest import Faults

UUID = "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"


class Mill:
    """A registry with boxes A, B and C, the pull P through W1 and W2, and one conductor."""

    retired: frozenset[tuple[str, str]] = frozenset()

    def has(self, what: str, key: str | tuple[str, str]) -> bool:
        others = {
            ("terminal", ("A", "T1")), ("device", ("A", "Q4")), ("conductor", "PVMP01P"),
            ("reading id", UUID), ("conductor id", UUID),
        }  # fmt: skip
        return (what, key) in others or (isinstance(key, str) and key in self.codes(what))

    def raceway_ends(self, code: str) -> tuple[str, str] | None:
        return {"W1": ("A", "B"), "W2": ("C", "B")}.get(code)

    def pull_path(self, code: str) -> tuple[str, ...] | None:
        return ("W1", "W2") if code == "P" else None

    def cores(self, cable: str) -> Iterable[tuple[str, str | None, str | None]]:
        return [("PVMP01P", "1", "P")] if cable == "K1" else []

    def is_retired(self, what: str, code: str) -> bool:
        return (what, code) in self.retired

    def codes(self, what: str) -> Iterable[str]:
        held = {"enclosure": "A B C", "raceway": "W1 W2", "circuit": "K", "pull": "P"}
        return held.get(what, "M1").split()


def more() -> dict[str, Any]:
    """Return a file that adds one conductor and one reading to the mill."""
    return {
        "format": "wiretrack-site/1",
        "conductors": [
            {
                "circuit": "K",
                "function": "L1",
                "size": "4 mm2",
                "pull": "P",
                "from": {"enclosure": "A", "terminal": "T1"},
                "to": {"enclosure": "C"},
            }
        ],
        "readings": [
            {
                "kind": "continuity",
                "subject": "PVM-P01P",
                "value": "0.3 ohm",
                "instrument": "M1",
                "supersedes": UUID,
            }
        ],
    }


def test_a_file_builds_on_what_the_registry_holds(tmp_path: Path) -> None:
    file = tmp_path / "more.json"
    file.write_text(json.dumps(more()))
    assert read_site(file, Mill()).readings[0].supersedes == UUID


def test_without_that_registry_everything_is_missing(faults: Faults) -> None:
    assert [fault.split(":")[0] for fault in faults(more(), EmptyKnown())] == [
        "conductors[0].circuit",
        "conductors[0].pull",
        "conductors[0].from.enclosure",
        "conductors[0].to.enclosure",
        "readings[0].instrument",
        "readings[0].subject",
        "readings[0].supersedes",
    ]


def test_what_the_registry_holds_is_not_taken_twice(faults: Faults) -> None:
    document = more()
    document["enclosures"] = [{"code": "A"}]
    document["terminals"] = [{"enclosure": "A", "code": "T1"}]
    document["devices"] = [{"enclosure": "A", "code": "Q4"}]
    document["conductors"][0] |= {"tag": "PVM-P01P", "id": UUID.upper()}
    assert faults(document, Mill()) == [
        "enclosures[0].code: The registry has an enclosure 'A' already. Give this one another"
        " code.",
        "terminals[0].code: The registry has a terminal 'T1' already. Give this one another code.",
        "devices[0].code: The registry has a device 'Q4' already. Give this one another code.",
        "conductors[0].id: The registry has a conductor of this identifier already. Load each"
        " record once.",
        "conductors[0].tag: The registry has a conductor tagged PVM-P01P already. Leave it out"
        " where a new one is meant.",
    ]


def test_a_route_through_the_registry_is_followed(faults: Faults) -> None:
    document = more()
    document["enclosures"] = [{"code": "D"}]
    document["raceways"] = [{"code": "W3", "from": "C", "to": "D"}]
    document["pulls"] = [{"code": "P2", "path": ["W1", "W3"]}]
    document["conductors"][0]["to"]["enclosure"] = "D"
    assert faults(document, Mill()) == [
        "pulls[0].path: The raceways 'W1' (A - B) and 'W3' (C - D) don't follow on each other."
        " List them in the order of the pull.",
        "conductors[0].pull: The ends, in 'A' and 'D', are not joined by the path of pull 'P':"
        " A - B - C. Correct an end, the pull or its path.",
    ]


def test_a_slip_in_a_tag_and_a_near_code_are_looked_for_in_the_registry(faults: Faults) -> None:
    document = more()
    document["readings"][0] |= {"subject": "PVM-P07P", "instrument": "N1"}
    assert faults(document, Mill()) == [
        "readings[0].instrument: No instrument is called 'N1' in the file or the registry. Close to"
        " it: M1.",
        "readings[0].subject: 'PVM-P07P' is not a tag: the check character is wrong. Did you mean"
        " PVM-P01P?",
    ]


def test_an_empty_registry_knows_nothing() -> None:
    empty = EmptyKnown()
    assert [empty.raceway_ends("W1"), empty.pull_path("P")] == [None, None]
    assert not empty.has("enclosure", "A")
    assert not empty.has("terminal", ("A", "T1"))
    assert not empty.has("device", ("A", "Q4"))
    assert not empty.has("conductor", "PVMP01P")
    assert not empty.has("reading id", UUID)
    assert list(empty.codes("enclosure")) == []


def test_a_file_that_is_kept_is_known_beside_the_rows_of_a_file() -> None:
    class Kept(Mill):
        def has(self, what: str, key: str | tuple[str, str]) -> bool:
            return (what, key) == ("file", "ab")

    assert AllButThese(Kept(), set(), Renames()).has("file", "ab")
    assert not AllButThese(Kept(), set(), Renames()).has("file", "cd")


def test_a_conductor_can_only_follow_one_that_the_registry_has_retired(
    tmp_path: Path, faults: Faults
) -> None:
    document = more()
    document["conductors"][0]["follows"] = "PVM-P01P"
    assert faults(document, Mill()) == [
        "conductors[0].follows: PVM-P01P is not retired, so none can follow it."
        " Retire it, or leave this out."
    ]
    mill = Mill()
    mill.retired = frozenset({("conductor", "PVMP01P")})
    (tmp_path / "more.json").write_text(json.dumps(document))
    assert read_site(tmp_path / "more.json", mill).conductors[0].follows == "PVMP01P"


def test_no_conductor_is_added_to_a_circuit_that_the_registry_has_retired(faults: Faults) -> None:
    mill = Mill()
    mill.retired = frozenset({("circuit", "K")})
    assert faults(more(), mill) == [
        "conductors[0].circuit: The circuit 'K' is retired, this conductor of it is not."
        " Retire it too, or correct one."
    ]


def test_a_core_that_the_registry_has_is_no_other_wire(faults: Faults) -> None:
    document = more()
    document["conductors"][0] |= {"cable": "K1", "core": "1"}
    assert faults(document, Mill()) == [
        "conductors[0].core: PVM-P01P in the registry is core '1' of cable 'K1' too. Give each core"
        " its own."
    ]


def test_a_cable_of_the_registry_goes_through_no_second_pull(
    faults: Faults, tmp_path: Path
) -> None:
    document = more()
    document["conductors"][0] |= {"cable": "K1", "core": "2"}
    (tmp_path / "more.json").write_text(json.dumps(document), "utf-8")
    assert read_site(tmp_path / "more.json", Mill()).conductors[0].core == "2"
    document["raceways"] = [{"code": "W3", "from": "A", "to": "C"}]
    document["pulls"] = [{"code": "P2", "path": ["W3"]}]
    document["conductors"][0]["pull"] = "P2"
    assert faults(document, Mill()) == [
        "conductors[0].pull: PVM-P01P in the registry, of the same cable, lies in pull 'P'. All"
        " cores of a cable lie in one."
    ]
