# SPDX-License-Identifier: MIT
"""The demo: an invented mill is registered, a pull rung out, tested, labelled and looked up."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack import manner
from wiretrack.encoding import INLINE, document
from wiretrack.errors import BadInputError
from wiretrack.progress import steps
from wiretrack.resources import shipped
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.demo_meter import DemoMeter
from wiretrack.tasks.describe.sites import load_site, new_site, verify
from wiretrack.tasks.find.showing import scan
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.label.printing import print_to_file
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.report.report import WrittenReport, write_report
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.printing import LabelsPrinted
    from wiretrack.tasks.test.testing import Logged

REGISTRY, SHEET, PICTURE, REPORT = "wiretrack.db", "labels.pdf", "label.png", "report.html"
SHEET_STOCK, PICTURE_STOCK = "flag-90x25-letter", "flag-70x16-300"
WHO = "demo"


@dataclass(frozen=True)
class RungOut:
    """The boxes between which the demo rang a pull out, and what it found."""

    kind: str = field(default=Result.kind, init=False, metadata={"json": "step"})
    result: Result = field(metadata={"json": INLINE})
    pull: str
    near: str
    far: str


@dataclass(frozen=True)
class DemoTest:
    """A test that the demo logged: what became of it, and how it was stated."""

    logged: Logged = field(metadata={"json": INLINE})
    stated: dict[str, str] = field(metadata={"json": INLINE})


@dataclass(frozen=True)
class Demo:
    """What the demo did and found."""

    folder: Path
    registry: Path
    loaded: dict[str, int]
    ringout: RungOut
    unfinished: Wanted
    verdicts: dict[str, int]
    failed: tuple[DemoTest, ...]
    sheet: LabelsPrinted
    picture: LabelsPrinted
    report: WrittenReport
    scanned: dict[str, Any]
    open_points: dict[str, int]
    whole: bool


def build_demo(folder: Path) -> Demo:
    """Build the demo registry in `folder` and do the main job on it.

    Raises
    ------
    BadInputError
        If the folder already holds a registry or the demo's files.
    """
    made = [folder / name for name in (REGISTRY, SHEET, PICTURE, REPORT)]
    for file in made:
        if file.exists():
            raise BadInputError(f"{file} exists already. Choose another folder for the demo.")
    folder.mkdir(parents=True, exist_ok=True)
    meter = json.loads((shipped("demo_db") / "meter.json").read_text("utf-8"))
    new_site(made[0], "Demo")
    stage = iter(steps(range(5), "steps of the demo"))
    with open_registry(made[0], "cli") as registry:
        next(stage)
        loaded = load_site(registry, shipped("demo_db") / "site.json", who=WHO)
        manner.use_once_asked(registry.manner)
        next(stage)
        ringout = _ring_out(registry, meter["ringout"])
        next(stage)
        unfinished = _begin(registry, meter["unfinished"])
        logged = [_log(registry, test) for test in meter["tests"]]
        next(stage)
        sheet = print_to_file(registry, meter["ringout"]["pull"], SHEET_STOCK, made[1])
        first = ringout.result.matches[0].near
        picture = print_to_file(registry, first, PICTURE_STOCK, made[2])
        next(stage)
        report = write_report(registry, None, made[3], by=WHO)
        return Demo(
            folder=folder,
            registry=made[0],
            loaded=loaded.added,
            ringout=ringout,
            unfinished=unfinished,
            verdicts=_counted(test.logged.verdict.outcome for test in logged),
            failed=tuple(test for test in logged if test.logged.verdict.outcome == "fail"),
            sheet=sheet,
            picture=picture,
            report=report,
            scanned=document(scan(registry, made[2])[0]),
            open_points=_counted(row.what for row in punch_list(registry)),
            whole=verify(registry).ok,
        )


def _wanted(facts: dict[str, Any]) -> Wanted:
    return Wanted(
        pull=facts["pull"],
        near=facts["near"],
        far=facts["far"],
        references=facts["reference"],
        far_colours=",".join(facts["far_colours"]),
    )


def _ring_out(registry: Registry, facts: dict[str, Any]) -> RungOut:
    """Ring a pull out to its end, the demo's meter answering."""
    ringing, meter = Ringing.begin(registry, _wanted(facts)), DemoMeter(facts)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, meter.answer(step))
    return RungOut(ringing.finish(WHO), facts["pull"], facts["near"], facts["far"])


def _begin(registry: Registry, facts: dict[str, Any]) -> Wanted:
    """Begin a ring-out and stop while it runs, as people do."""
    wanted, meter = _wanted(facts), DemoMeter(facts)
    ringing, touches = Ringing.begin(registry, wanted), 0
    while touches < 3 and not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, meter.answer(step))
        touches += step.is_touch
    return wanted


def _log(registry: Registry, stated: dict[str, Any]) -> DemoTest:
    return DemoTest(log_reading(registry, ReadingText(**stated, by=WHO), who=WHO), stated)


def _counted(words: Any) -> dict[str, int]:
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return counts
