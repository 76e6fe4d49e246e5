# SPDX-License-Identifier: MIT
"""The demo: an invented mill is registered, a pull rung out, tested, labelled and looked up.

Its meter knows the bundle as it really lies in its raceway, and nothing of the planning.
"""

from __future__ import annotations

import itertools
import json
from collections import Counter, defaultdict
from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack import manner
from wiretrack.encoding import INLINE, document
from wiretrack.errors import BadInputError
from wiretrack.files import shipped
from wiretrack.late import dataclass
from wiretrack.model.tags import format_tag
from wiretrack.progress import steps
from wiretrack.ringout.answers import Done, Ohms
from wiretrack.ringout.bundle import RACEWAY
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, Unjoin
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site, verify
from wiretrack.tasks.find.showing import scan
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.label.ends import Wanted as Labels
from wiretrack.tasks.label.printing import PrintOrder, print_wanted
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.report.report import WrittenReport, write_report
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
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
    """Build the demo registry in `folder` and do the main job on it."""
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
        texts = ((ReadingText(**test, by=WHO), test) for test in meter["tests"])
        logged = [DemoTest(log_reading(registry, text, who=WHO), test) for text, test in texts]
        next(stage)
        pull = Labels(what=meter["ringout"]["pull"])
        sheet = print_wanted(registry, pull, PrintOrder(stock=SHEET_STOCK, out=made[1]), who=WHO)
        first = Labels(what=ringout.result.matches[0].near)
        picture = print_wanted(
            registry, first, PrintOrder(stock=PICTURE_STOCK, out=made[2]), who=WHO
        )
        next(stage)
        report = write_report(registry, None, made[3], by=WHO)
        return Demo(
            folder=folder,
            registry=made[0],
            loaded=loaded.added,
            ringout=ringout,
            unfinished=unfinished,
            verdicts=Counter(test.logged.verdict.outcome for test in logged),
            failed=tuple(test for test in logged if test.logged.verdict.outcome == "fail"),
            sheet=sheet,
            picture=picture,
            report=report,
            scanned=document(scan(registry, made[2])[0]),
            open_points=Counter(row.what for row in punch_list(registry)),
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
    ringing, meter = Ringing.begin(registry, _wanted(facts), who=WHO), DemoMeter(facts)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, meter.answer(step), who=WHO)
    return RungOut(ringing.finish(WHO), facts["pull"], facts["near"], facts["far"])


def _begin(registry: Registry, facts: dict[str, Any]) -> Wanted:
    """Begin a ring-out and stop while it runs, as people do."""
    wanted, meter = _wanted(facts), DemoMeter(facts)
    ringing, touches = Ringing.begin(registry, wanted, who=WHO), 0
    while touches < 3 and not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, meter.answer(step), who=WHO)
        touches += step.is_touch
    return wanted


Node = tuple[str, str]


class DemoMeter:
    """Answers join, walk and probe steps from the facts of one bundle (a part of meter.json)."""

    def __init__(self, facts: Mapping[str, Any]) -> None:
        self._leads_ohm = float(facts["leads_ohm"])
        self._bad = {format_tag(b["tag"]): float(b["extra_ohm"]) for b in facts["bad_joins"]}
        self._joins: dict[str, list[list[str]]] = {"near": [], "far": []}
        self._wires: list[tuple[Node, Node, float]] = [
            (("near", format_tag(tag)), ("far", mark), float(facts["ohms"][tag]))
            for mark, tag in facts["arrangement"].items()
        ]
        raceway = (("near", RACEWAY), ("far", RACEWAY), float(facts["raceway_ohm"]))
        self._wires.append(raceway)

    def answer(self, step: Action) -> Answer:
        """Return the answer to a step, as a careful person with a two-decimal meter gives it."""
        if isinstance(step, Join):
            self._joins[step.at] = [list(group) for group in step.groups]
        elif isinstance(step, Unjoin):
            held = self._joins[step.at] if step.ends else []
            self._joins[step.at] = [[e for e in group if e not in step.ends] for group in held]
        elif isinstance(step, Probe):
            one, other = ((step.at, end) for end in step.between)
            ohms = self._path_ohm(one, other)
            return Ohms(None if ohms is None else round(ohms + self._leads_ohm, 2))
        return Done()

    def _path_ohm(self, start: Node, goal: Node) -> float | None:
        """Return the resistance along the joined conductors, or `None` if there is no path."""
        links = self._links()
        best, waiting = {start: 0.0}, [start]
        while waiting:
            here = waiting.pop(0)
            for there, ohms in links[here]:
                if there not in best or best[here] + ohms < best[there]:
                    best[there] = best[here] + ohms
                    waiting.append(there)
        return best.get(goal)

    def _links(self) -> defaultdict[Node, list[tuple[Node, float]]]:
        links: defaultdict[Node, list[tuple[Node, float]]] = defaultdict(list)
        joins = [
            ((place, one), (place, other), self._bad.get(one, 0.0) + self._bad.get(other, 0.0))
            for place, groups in self._joins.items()
            for group in groups
            for one, other in itertools.pairwise(group)
        ]
        for one, other, ohms in [*self._wires, *joins]:
            links[one].append((other, ohms))
            links[other].append((one, ohms))
        return links
