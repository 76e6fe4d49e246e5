# SPDX-License-Identifier: MIT
"""wiretrack from Python: what the package exports, and its verbs on the demo site."""

from __future__ import annotations

import doctest
import inspect
import json
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

import wiretrack
from tests.manual import PAGES
from wiretrack import days, library
from wiretrack.files import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

TAG = "0AZ-EMTB"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[wiretrack.OpenSite]:
    with wiretrack.new(tmp_path / "barn.db", "Barn") as made:
        made.load_file(shipped("demo_db") / "site.json")
        yield made


def test_every_public_name_is_there_documented_and_in_an_example_that_is_run() -> None:
    assert 30 <= len(wiretrack.__all__) <= 50
    names = {name: getattr(wiretrack, name) for name in wiretrack.__all__}
    names |= {
        name: member
        for name, member in inspect.getmembers(wiretrack.OpenSite)
        if not name.startswith("_") and name in vars(wiretrack.OpenSite)
    }
    shown = "".join(e.source for e in doctest.DocTestParser().get_examples(library.__doc__ or ""))
    for name, known in names.items():
        assert inspect.getdoc(known), name
        assert re.search(rf"\.{name}\b", shown), name


def test_importing_the_package_imports_nothing_else_of_it() -> None:
    code = "import wiretrack, sys; print([m for m in sys.modules if m.startswith('wiretrack.')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_an_entity_knows_its_route_readings_verdicts_and_what_it_owes(
    site: wiretrack.OpenSite,
) -> None:
    conductor = site.conductor(TAG.lower())
    assert str(conductor.tag) == TAG
    assert {end.enclosure for end in conductor.ends} <= {*conductor.route.boxes}
    assert {r.verdict.outcome for r in conductor.readings} <= {"pass", "fail", "doubt"}
    assert all(c.tag in {m.tag for m in site.circuit(c.circuits[0]).conductors}
               for c in site.conductors if c.circuits)  # fmt: skip


def test_a_reading_is_logged_judged_and_seen_at_once(site: wiretrack.OpenSite) -> None:
    before = len(site.conductor(TAG).readings)
    reading = site.log(TAG, "continuity", "900 ohm", by="A. Tester")
    assert reading.verdict.outcome == "fail"
    assert len(site.conductor(TAG).readings) == before + 1
    with pytest.raises(wiretrack.BadInputError):
        site.log(TAG, "continuity", "no ohms")
    assert len(site.conductor(TAG).readings) == before + 1


def test_an_end_is_landed_and_capped(site: wiretrack.OpenSite) -> None:
    end = site.conductor(TAG).to_end
    now = site.land(TAG, end.enclosure, state="capped")
    assert (now.here.state, now.here.terminal) == ("capped", None)
    with pytest.raises(wiretrack.AskedError):
        site.land(TAG, end.enclosure, "TB9:9")
    assert site.land(TAG, end.enclosure, "TB9:9", sure=True).here.terminal == "TB9:9"


def test_labels_a_dump_a_copy_and_the_rules(site: wiretrack.OpenSite, tmp_path: Path) -> None:
    printed = site.print_labels(TAG, "flag-90x25-300", tmp_path / "labels.pdf")
    assert printed.labels == 2
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
    site.dump(tmp_path / "all.json")
    held = json.loads((tmp_path / "all.json").read_text("utf-8"))
    assert len(held["conductors"]) == len(site.conductors)
    site.backup(tmp_path / "copy.db")
    with wiretrack.open(tmp_path / "copy.db") as copy:
        assert copy.problems() == []
        assert [c.tag for c in copy.conductors] == [c.tag for c in site.conductors]
    code = site.conductor(TAG).circuits[0]
    assert {finding.outcome for finding in site.check(code)} <= {"pass", "fail", "doubt"}
    assert site.search(TAG)[0].code == site.conductor(TAG).tag


def test_a_ring_out_is_led_from_python(site: wiretrack.OpenSite) -> None:
    pull = next(p for p in site.pulls if p.far_ends)
    near, far = pull.route.boxes[0], pull.far_ends[0].enclosure
    ringing = site.ring_out(pull.code, near, far)
    step = ringing.next_step()
    ringing.answer(step, {"ohms": "OL"})
    assert site.ring_out(pull.code, near, far).steps_done == 1


@pytest.mark.parametrize(("page", "site"), [("readme", "barn"), ("python", "site")])
def test_the_manual_s_python_does_what_it_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, page: str, site: str
) -> None:
    (block,) = [
        part.split("```")[0] for part in PAGES[page].read_text("utf-8").split("```pycon\n")[1:]
    ]
    monkeypatch.chdir(tmp_path)
    with wiretrack.new(tmp_path / "wiretrack.db", "Barn") as made:
        made.load_file(shipped("demo_db") / f"{site}.json")
    example = doctest.DocTestParser().get_doctest(block, {}, "README", "README.md", 0)
    assert example.examples
    assert doctest.DocTestRunner(verbose=False).run(example).failed == 0


def test_a_registry_that_was_closed_is_never_asked_for_its_time_zone(tmp_path: Path) -> None:
    wiretrack.new(tmp_path / "site.db", "Mill", time_zone="America/New_York").close()
    assert days.day("2026-11-28T02:05:00Z") in ("2026-11-27", "2026-11-28")
