# SPDX-License-Identifier: MIT
"""Classes whose methods are made when they are used behave as the standard library's, the judge."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import os
import pickle
import subprocess
import sys
from dataclasses import field
from threading import Barrier, Thread
from typing import TYPE_CHECKING, Any, ClassVar

import pytest

from wiretrack import late

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MADE: dict[str, Any] = {}


def both(make: Callable[[Any], type]) -> tuple[type, type]:
    """Return the class that each of the two decorators makes."""
    return make(late.dataclass), make(dataclasses.dataclass)


def plain(dataclass: Any) -> type:
    @dataclass(frozen=True)
    class Reach:
        box: str
        length_m: float | None = None
        walls: tuple[int, ...] = field(default_factory=tuple)
        seen: list[int] = field(default_factory=list, compare=False, repr=False)
        most: ClassVar[int] = 7

        def __post_init__(self) -> None:
            if self.box == "":
                raise ValueError("no box")

    return Reach


def named(dataclass: Any) -> type:
    @dataclass(frozen=True)
    class Base:
        code: str

    @dataclass(frozen=True, kw_only=True)
    class Named(Base):
        name: str | None = None
        kept: int = field(default=3, init=False)

    return Named


def changing(dataclass: Any) -> type:
    @dataclass(order=True)
    class Changing:
        number: int
        told: str = ""

    return Changing


def outcome(ask: Callable[[Any], Any], of: type) -> Any:
    try:
        return ask(of)
    except Exception as error:
        return type(error), str(error)


ASKED: list[tuple[Callable[[Any], type], Callable[[Any], Any]]] = [
    (plain, lambda c: repr(c("A"))),
    (plain, lambda c: repr(c("A", 2.0, walls=(1,)))),
    (plain, lambda c: c()),
    (plain, lambda c: c("A", box="B")),
    (plain, lambda c: c("A", 1, (), [], 5)),
    (plain, lambda c: c("A", depth=1)),
    (plain, lambda c: c("")),
    (plain, lambda c: c("A").seen is c("A").seen),
    (plain, lambda c: c("A", seen=[1]) == c("A", seen=[2])),
    (plain, lambda c: (c("A") == c("B"), c("A") == "A", c("A") != c("A"))),
    (plain, lambda c: len({c("A"), c("A", seen=[1]), c("B")})),
    (plain, lambda c: hash(c("A")) == hash(("A", None, ()))),
    (plain, lambda c: setattr(c("A"), "box", "B")),
    (plain, lambda c: delattr(c("A"), "box")),
    (plain, lambda c: repr(dataclasses.replace(c("A"), length_m=1.5))),
    (plain, lambda c: dataclasses.asdict(c("A", 1.0))),
    (plain, lambda c: [(f.name, f.kw_only, f.type) for f in dataclasses.fields(c)]),
    (plain, lambda c: (dataclasses.is_dataclass(c), c("A").most, c.__match_args__)),
    (plain, lambda c: copy.deepcopy(c("A", 1.0)) == c("A", 1.0)),
    (plain, lambda c: list(vars(c(length_m=1.0, box="A")))),
    (named, lambda c: repr(c(code="A"))),
    (named, lambda c: repr(c("A", name="B"))),
    (named, lambda c: c("A", "B")),
    (named, lambda c: c("A", kept=4)),
    (named, lambda c: c(code="A") == c("A")),
    (changing, lambda c: sorted([c(2), c(1, "b"), c(1)], reverse=True)[0].number),
    (changing, lambda c: c(1) < "a"),
    (changing, lambda c: hash(c(1))),
    (changing, lambda c: setattr(c(1), "number", 2)),
]


@pytest.mark.parametrize("calls", [1, 500], ids=["at first", "once compiled"])
def test_a_class_behaves_as_one_of_the_standard_library(calls: int) -> None:
    for make, ask in ASKED:
        ours, theirs = both(make)
        found = [outcome(ask, ours) for _ in range(calls)]
        wanted = outcome(ask, theirs)
        assert found[0] == wanted, (make.__name__, ask.__code__.co_firstlineno)
        assert found[-1] == wanted, (make.__name__, ask.__code__.co_firstlineno)


@late.dataclass(frozen=True)
class Kept:
    box: str


def test_an_object_is_pickled() -> None:
    assert pickle.loads(pickle.dumps(Kept("A"))) == Kept("A")


def test_two_threads_that_make_the_first_objects_of_a_class_get_the_same_fields() -> None:
    for _ in range(20):
        cls, together = plain(late.dataclass), Barrier(4)
        found: list[Any] = []

        def use(cls: Any = cls, together: Barrier = together, found: Any = found) -> None:
            together.wait()
            found.append((repr(cls("A", 1.0)), [f.compare for f in dataclasses.fields(cls)]))

        threads = [Thread(target=use) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len({str(each) for each in found}) == 1
        assert len(found) == 4


@pytest.mark.parametrize("make", [plain, named, changing])
def test_it_says_what_it_is_made_of(make: Callable[[Any], type]) -> None:
    ours, theirs = both(make)
    wanted = inspect.signature(theirs)
    assert inspect.signature(ours) == wanted.replace(return_annotation=inspect.Signature.empty)

    class Own(ours):  # type: ignore[misc,valid-type]
        def __init__(self, only: str) -> None:
            pass

    assert list(inspect.signature(Own).parameters) == ["only"]


def test_an_expression_is_that_of_the_standard_library() -> None:
    number = late.pattern("([a-z]+)-([0-9]+)", 2)
    assert number.fullmatch("JT-1")[2] == "1"  # type: ignore[index]
    assert (number.pattern, number.groups) == ("([a-z]+)-([0-9]+)", 2)


# What a look-up does without; each is imported by the function that needs it.
NOT_FOR_SHOW = (
    "email", "hashlib", "http", "jinja2", "jsonschema", "platformdirs", "rich", "secrets",
    "shutil", "sqlite_utils", "ssl", "statistics", "tempfile", "wiretrack.chain",
    "wiretrack.cli.asking", "wiretrack.cli.completing", "wiretrack.electrical.rules",
    "wiretrack.store.log", "wiretrack.store.undecided", "wiretrack.store.union",
)  # fmt: skip
MOST = 93  # modules of this program


def test_show_loads_no_more_than_it_needs(mill_db: Path) -> None:
    script = (
        "import dataclasses, sys\nfrom wiretrack.cli.group import run\n"
        "run(['show', '0AZ-EMTB'])\n"
        "ours = [n for n in sys.modules if n.startswith('wiretrack')]\n"
        "early = dataclasses.dataclass\n"
        "made = [n for n in ours if vars(sys.modules[n]).get('dataclass') is early]\n"
        "print('loaded', *sys.modules, 'made at import', *made)"
    )
    told = subprocess.run(
        [sys.executable, "-c", script], cwd=mill_db.parent, check=True,
        env=os.environ | {"WIRETRACK_DB": str(mill_db)}, capture_output=True, text=True,
    ).stdout  # fmt: skip
    shown, _, rest = told.rpartition("loaded ")
    loaded, _, made = rest.partition(" made at import")
    assert "0AZ-EMTB" in shown
    assert [name for name in loaded.split() if name in NOT_FOR_SHOW] == []
    assert len([name for name in loaded.split() if name.startswith("wiretrack")]) <= MOST
    assert not made.split()


@pytest.mark.parametrize("frozen", [True, False])
def test_it_says_whether_it_is_frozen_so_that_any_dataclass_can_inherit(frozen: bool) -> None:
    # Python 3.13 asks it of every base; 3.11 and 3.12 of one.
    class Code:
        code: str = ""

    class Name:
        name: str = "barn"

    made: Any = late.dataclass(frozen=frozen)(Code), dataclasses.dataclass(frozen=frozen)(Name)
    for one in made:
        assert dataclasses.fields(one)
        assert one.__dataclass_params__.frozen is frozen
    both_of: Any = dataclasses.dataclass(frozen=frozen)(type("Both", made, {}))
    assert {one.name for one in dataclasses.fields(both_of)} == {"code", "name"}


class Crossed:
    """One whose two answers each need the other answer of another one."""

    def __init__(self, meeting: Barrier, inner: Crossed | None = None) -> None:
        self.meeting, self.inner = meeting, inner

    @late.cached_property
    def one(self) -> int:
        if self.inner is None:
            return 1
        self.meeting.wait(30)  # until both threads are amid the outer answers
        return self.inner.other + 1

    @late.cached_property
    def other(self) -> int:
        if self.inner is None:
            return 1
        self.meeting.wait(30)
        return self.inner.one + 1


def test_two_threads_that_each_ask_for_what_the_other_works_out_do_not_wait_for_good() -> None:
    meeting, found = Barrier(2), list[int]()
    asked = [Crossed(meeting, Crossed(meeting)) for _ in range(2)]
    threads = [
        Thread(target=lambda: found.append(asked[0].one), daemon=True),
        Thread(target=lambda: found.append(asked[1].other), daemon=True),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert found == [2, 2]


def test_what_is_worked_out_once_is_kept_with_the_object() -> None:
    asked = Crossed(Barrier(1))
    assert (asked.one, vars(asked)["one"]) == (1, 1)
    vars(asked)["one"] = 5
    assert asked.one == 5
    del asked.one
    assert asked.one == 1
    assert isinstance(Crossed.one, late.cached_property)
