# SPDX-License-Identifier: MIT
"""What is asked of one circuit, box or device takes the same on a site many times as large.

Counted are the steps of sqlite's own machine: they are the same each time, on any computer.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import pytest

from tests.benchmarks.pages_speed import tag_of
from tests.benchmarks.parts_speed import panels
from tests.drawing import HOURS, full
from tests.web.conftest import settings_of, signed_in
from wiretrack.encoding import document
from wiretrack.model.tags import format_tag
from wiretrack.store.searching import find
from wiretrack.store.store import open_registry
from wiretrack.tasks.find.showing import show
from wiretrack.tasks.find.tracing import joined_with, trace
from wiretrack.tasks.label.ends import label_due
from wiretrack.tasks.report.checking import check, markings
from wiretrack.tasks.report.punchlist import open_points_about, punch_list
from wiretrack.tasks.report.report import report
from wiretrack.tasks.test.plan import owed_tests
from wiretrack.tasks.trouble import searching
from wiretrack.tasks.trouble.isolation import isolation
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse

    from wiretrack.store.store import Registry

CIRCUIT, FED, TAG, BOX, WAY = "C150", "FEED1", tag_of(600), "P1", "W1"
EACH, MORE = 10, 1.1  # steps a count; what a deeper tree of an index may take more
ASKED: dict[str, Callable[[Registry], Any]] = {
    "show a conductor": lambda r: show(r, TAG),
    "show an enclosure": lambda r: show(r, BOX),
    "show a raceway": lambda r: show(r, WAY),
    "trace": lambda r: trace(r, TAG),
    "tree": lambda r: joined_with(r, TAG),
    "find": lambda r: find(r, TAG),
    "check a circuit": lambda r: check(r, CIRCUIT),
    "check a feeder": lambda r: check(r, FED),
    "check a conductor": lambda r: check(r, TAG),
    "check an enclosure": lambda r: check(r, BOX),
    "check a raceway": lambda r: check(r, WAY),
    "marking": lambda r: markings(r, CIRCUIT),
    "label due": lambda r: label_due(r, CIRCUIT),
    "what is open of a circuit": lambda r: open_points_about(r, "circuit", CIRCUIT),
    "report of a circuit": lambda r: report(r, CIRCUIT),
    "report of a feeder": lambda r: report(r, FED),
    "isolate a breaker": lambda r: isolation(r, [BOX, "F150"]),
    "isolate a panel": lambda r: isolation(r, ["M0", "FM1"]),
    "symptom: dead circuit": lambda r: searching.start(r, "dead-circuit", TAG),
    "symptom: tripping breaker": lambda r: searching.start(r, "tripping-breaker", CIRCUIT),
    "test plan": lambda r: owed_tests(r, CIRCUIT),
}


PAGES = ("/devices/P1/F150", "/devices/M0/FM1", f"/enclosures/{BOX}", f"/circuits/{CIRCUIT}",
         f"/{format_tag(TAG)}")  # fmt: skip


def steps(registry: Registry, ask: Callable[[], Any]) -> int:
    """Return the steps that a question takes on a registry, to the next ten."""
    ticks = list[int]()
    registry.connection.set_progress_handler(lambda: ticks.append(EACH), EACH)
    assert document(ask()) is not None  # what a record reads only when it is shown counts too
    registry.connection.set_progress_handler(None, 0)
    return sum(ticks)


def shown(member: FlaskClient, page: str) -> TestResponse:
    """Return a page that is there."""
    answer = member.get(page)
    assert answer.status_code == 200
    return answer


def counted(path: Path) -> dict[str, int]:
    """Return the steps of every question and page."""
    found = {}
    with open_registry(path) as registry:
        for name, ask in ASKED.items():
            found[name] = steps(registry, partial(ask, registry))
    app = create_app(settings_of(path))
    member = signed_in(app)
    for page in PAGES:
        own = app.extensions["registries"].own()
        found[page] = steps(own, partial(shown, member, page))
    app.extensions["registries"].close()
    return found


@pytest.mark.parametrize("larger", [4_000, full(100_000 if HOURS else 20_000)])
def test_a_question_about_a_part_takes_the_same_on_a_larger_site(
    tmp_path: Path, larger: int
) -> None:
    paths = [tmp_path / f"{count}.db" for count in (1_000, larger)]
    for path, count in zip(paths, (1_000, larger), strict=True):
        panels(path, count)
    small, large = map(counted, paths)
    for name, count in small.items():
        print(f"{name:26} {count:9,} {large[name]:9,}")
    assert min(small.values()) > 0
    assert not {n: large[n] for n, count in small.items() if large[n] > count * MORE}


def test_a_list_of_the_whole_site_takes_more_but_in_proportion(tmp_path: Path) -> None:
    counts = (500, 2_000)
    for count in counts:
        panels(tmp_path / f"{count}.db", count)
    for ask in (check, punch_list):
        taken = []
        for count in counts:
            with open_registry(tmp_path / f"{count}.db") as registry:
                taken.append(steps(registry, partial(ask, registry)))
        assert 2 < taken[1] / taken[0] < 4 * MORE, (ask.__name__, taken)
