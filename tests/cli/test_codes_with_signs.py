# SPDX-License-Identifier: MIT
"""A code as IEC 81346-1:2022 writes it, with =, - or + before it, is typed as any other."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.warm import never_wait_for_the_disk
from wiretrack.cli.group import run

if TYPE_CHECKING:
    from tests.cli.conftest import Wiretrack

ADDED = [
    ("enclosure", "=A1", "kind=panelboard"),
    ("enclosure", "--", "-K1", "kind=box"),
    ("enclosure", "kind=box", "+B2"),
    ("enclosure", "--kind", "box", "=A1+B2-K1"),
    ("device", "=A1/-Q1", "kind=breaker", "poles=1-2"),
    ("device", "--like", "=A1/-Q1", "=A1/-Q2"),
    ("terminal", "-K1/-X1:1"),
    ("raceway", "-W1", "from==A1", "to=-K1"),
    ("pull", "-P1", "path=-W1"),
    ("circuit", "=C1", "system=ac-1ph"),
    ("conductor", "L1", "circuit==C1", "size=4mm2", "--pull", "-P1", "from==A1/-Q1:2", "to=-K1"),
]  # fmt: skip


@pytest.fixture(scope="module")
def added(pump_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A registry to which such records were added by the command line, made once to be copied."""
    path = Path(shutil.copy(pump_template, tmp_path_factory.mktemp("signed")))
    with pytest.MonkeyPatch.context() as patch:
        never_wait_for_the_disk(patch.setattr)
        for words in ADDED:
            assert run(["--db", str(path), "add", *words]) == 0, words
    return path


@pytest.fixture
def signed(wiretrack: Wiretrack, db: Path, added: Path) -> Wiretrack:
    """The command line on a registry that holds such records."""
    shutil.copy(added, db)
    return wiretrack


def test_each_is_in_the_record_by_its_code(signed: Wiretrack) -> None:
    record = signed("dump").json
    codes = {row["code"] for table in ("enclosures", "raceways", "pulls", "circuits")
             for row in record[table]}  # fmt: skip
    assert codes >= {"=A1", "-K1", "+B2", "=A1+B2-K1", "-W1", "-P1", "=C1"}
    devices = {(row["enclosure"], row["code"]) for row in record["devices"]}
    assert devices >= {("=A1", "-Q1"), ("=A1", "-Q2")}
    wire = next(row for row in record["conductors"] if row.get("circuit") == "=C1")
    assert (wire["from"]["enclosure"], wire["from"]["terminal"]) == ("=A1", "-Q1:2")
    assert (wire["to"]["enclosure"], wire["pull"]) == ("-K1", "-P1")


@pytest.mark.parametrize("before", [(), ("--",)])
@pytest.mark.parametrize(
    "command",
    ["show =A1", "show -K1", "show +B2", "show =A1+B2-K1", "show -W1", "show -P1", "show =C1",
     "trace =A1/-Q1:2", "isolate =A1/-Q1", "check -W1", "punchlist -K1", "history -K1",
     "test plan =C1", "test cautions =C1", "label due -P1", "note -K1 lid", "find -K1",
     "set -K1 where=barn", "set =A1 where=barn", "label fit =C1 --stock wrap-26x40-300"],
)  # fmt: skip
def test_every_command_takes_it_with_and_without_a_double_hyphen(
    signed: Wiretrack, command: str, before: tuple[str, ...]
) -> None:
    words = command.split()
    place = next(n for n, word in enumerate(words) if word[0] in "=-+")
    options = [word for word in words[place:] if word.startswith(("--", "wrap"))]
    rest = [word for word in words[place:] if word not in options]
    ran = signed(*words[:place], *options, *before, *rest)
    assert ran.status in (0, 1), ran.err  # 1: a check that fails
    assert "error" not in ran.err


def test_a_wire_is_landed_where_codes_have_signs(signed: Wiretrack) -> None:
    tag = signed("show", "=C1", "--json").json["conductors"][0]["tag"]
    assert signed("land", tag, "-K1", "--terminal", "-X1:1").status == 0
    assert signed("show", tag, "--json").json["ends"][1]["terminal"] == "-X1:1"


def test_what_comes_next_can_be_pasted_into_any_shell(signed: Wiretrack) -> None:
    """Zsh takes a word that begins with = for the path of a program, but in quotes."""
    assert signed("note", "=A1", "lid").out.splitlines()[-1].endswith(" show '=A1'")


def test_options_stay_options_before_and_behind_it(signed: Wiretrack) -> None:
    for words in (("-K1", "--json"), ("--json", "-K1"), ("--json", "--", "-K1")):
        assert signed("show", *words).json["code"] == "-K1"
    assert "Usage" in signed("show", "-h").out
    assert signed("trace", "-K1/-X1:1", "--json", "--no-such").status == 2
    assert signed("show", "-K9").err.startswith("error: Nothing here is called '-K9'")


def test_a_field_without_a_value_is_still_named(signed: Wiretrack) -> None:
    assert "'=B2' is no FIELD=VALUE" in signed("set", "=A1", "=B2").err
    assert "One code is enough" in signed("add", "enclosure", "=A3", "=A4").err
