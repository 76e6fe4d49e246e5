# SPDX-License-Identifier: MIT
"""How a record stands: what is proved, what failed, what is open; and what to do next."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.labels import PRINTED, UNTRUE
from wiretrack.model.tags import looks_like_tag, parse_tag
from wiretrack.procedure import RINGOUT
from wiretrack.readings import kind_of
from wiretrack.store.label_log import last_stock
from wiretrack.store.lists import circuits_after, pull_list
from wiretrack.store.procedures import begun
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.report.punchlist import (
    DOUBTFUL,
    FAILED,
    IDENTIFY,
    LABEL,
    LAND,
    OWED,
    UNDECIDED,
    members,
    open_points_about,
    punch_part,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.ends import DueLabel
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.test.plan import OwedTest

FEW = 200  # conductors that a next step is looked for in at once, unless one circuit has more
# What is done first: nothing gets a label before it is known to be good.
_BEFORE = (UNDECIDED, IDENTIFY, LAND, FAILED, LABEL, UNTRUE, DOUBTFUL, OWED)


@dataclass(frozen=True)
class NextStep:
    """What a person would do next: a job, and what it is done with, in the order of the words."""

    job: str
    about: tuple[str | None, ...] = ()


@dataclass(frozen=True)
class Standing:
    """How many of the readings that are needed pass, what is open, and what to do next."""

    needed: int
    passed: int
    points: list[OpenPoint]
    next: NextStep

    @property
    def failed(self) -> list[OpenPoint]:
        """What is undecided, then the readings that failed, then those in doubt."""
        return [point for point in self.points if point.what in (UNDECIDED, FAILED, DOUBTFUL)]

    @property
    def to_do(self) -> Counter[str]:
        """How often each other thing is open, in the order of the work."""
        return Counter(point.what for point in self.points if point not in self.failed)


def standing(registry: Registry, what: str) -> Standing:
    """Return how a conductor, circuit, pull, raceway or enclosure stands."""
    named, site = resolve(registry, what), site_of(registry)
    points = open_points_about(registry, named.what, named.code, site)
    found = [c for c in members(site, named.what, named.code) if c.retired_at is None]
    codes = dict.fromkeys(code for c in found for code in c.circuits)
    names = {c.tag for c in found} if named.what != "circuit" else None
    needed = owed = 0
    for circuit in site.find(Circuit, "code", codes):
        if circuit.retired_at is None:
            steps = site.knowledge.planned(circuit), circuit.owed
            counts = [sum(names is None or s.subject in names for s in some) for some in steps]
            needed, owed = needed + counts[0], owed + counts[1]
    about = str(found[0].tag) if named.what == "conductor" and found else named.code
    if not points:
        first = next(iter(codes), None)
        done = named.what == "circuit" or first is None
        then = NextStep("report", (first,)) if done else standing(registry, first or "").next
    else:
        then = next_step(registry, points, about)
    return Standing(needed, needed - owed, points, then)


def steps_after(registry: Registry, what: str) -> list[NextStep]:
    """Return each job that is left with a record, in the order of the work, once each."""
    stands, about = standing(registry, what), resolve(registry, what).code
    jobs: dict[str, NextStep] = {stands.next.job: stands.next}
    for kind in _BEFORE:
        if found := [point for point in stands.points if point.what == kind]:
            step = next_step(registry, found, about)
            jobs.setdefault(step.job, step)
    return list(jobs.values())


def after_reading(registry: Registry, what: str) -> NextStep:
    """Return what to do after a reading of what is called so: its fault, or the next reading."""
    named = resolve(registry, what)
    if named.what == "conductor":
        codes = site_of(registry).one(Conductor, named.code).circuits
        what = codes[0] if codes else what
    stands = standing(registry, what)
    measured = [point for point in stands.points if point.what in (FAILED, DOUBTFUL, OWED)]
    return next_step(registry, measured) if measured else stands.next


def after_landing(registry: Registry, tag: str) -> NextStep:
    """Return what to do once an end is landed: with the others of its pull, or of its circuit."""
    conductor = site_of(registry).one(Conductor, parse_tag(tag))
    return standing(registry, conductor.pull or next(iter(conductor.circuits), tag)).next


def after_mending(registry: Registry, tag: str) -> NextStep:
    """Return to measure the circuit of a faulty conductor once it is mended."""
    conductor = site_of(registry).one(Conductor, tag_of(registry, tag))
    return NextStep("mended", conductor.circuits[:1] or (None,))


def after_change(
    registry: Registry, labels_due: Sequence[DueLabel], tests_owed: Sequence[OwedTest]
) -> NextStep:
    """Return what to do after a change of the work: print labels due, else measure what is owed."""
    if labels_due:
        return NextStep("due", (last_stock(registry),))
    if tests_owed:
        owner = _conductor(site_of(registry), tests_owed[0].subject)
        if owner and owner.circuits:
            return NextStep("test", (owner.circuits[0],))
    return next_on_site(registry)


def next_on_site(registry: Registry, found: Sequence[OpenPoint] | None = None) -> NextStep:
    """Return what to do next on the site, where this is all that is `found` open.

    Without it, it is looked for in the first circuits alone: a large site takes long.
    """
    if not found and not any(circuit.conductors for circuit in circuits_after(registry, 0, FEW)):
        pulls = pull_list(registry)[0]
        return NextStep("add-pull", (pulls[0].code,)) if pulls else NextStep("fill")
    points = punch_part(registry, 0, FEW).rows if found is None else found
    if found is None and not points:
        return NextStep("open")
    return next_step(registry, points)


def next_step(registry: Registry, points: Sequence[OpenPoint], about: str = "") -> NextStep:
    """Return what a person would do next where this is open, in the order of the work.

    Labels are drawn, and looked for, of all that `about` names; without it, of the pull of the
    first of them, or of what it serves.
    """
    if not points:
        return NextStep("report", (None,))
    site = site_of(registry)
    first = min(points, key=lambda point: _BEFORE.index(point.what))
    if first.what == UNDECIDED:
        return NextStep("decide")
    owner = _conductor(site, first.subject)
    pull = owner.pull if owner else None
    if first.what == IDENTIFY and owner:
        under_way = begun(registry, RINGOUT, pull=pull) if pull else None
        boxes = () if under_way and not under_way[1] else (owner.from_end.enclosure, first.box)
        return NextStep("ringout", (pull, *boxes))
    if first.what == LAND:
        return NextStep("land", (first.subject, first.box))
    if first.what in (LABEL, UNTRUE):
        group = about or pull or (owner.circuits[0] if owner and owner.circuits else first.subject)
        if first.detail.endswith(PRINTED):
            return NextStep("placed", (group,))
        return NextStep("print", (group, last_stock(registry)))
    if first.what == FAILED and owner:
        job, *words = kind_of(first.detail.partition(":")[0]).if_failed
        if job != "test":
            return NextStep(job, (*words, first.subject))
    return NextStep("test", (owner.circuits[0] if owner else _circuit(site, first),))


def _conductor(site: Site, subject: str) -> Conductor | None:
    if "/" in subject or not looks_like_tag(subject) or site.at(Circuit, "code", subject):
        return None
    return site.one(Conductor, parse_tag(subject))


def _circuit(site: Site, point: OpenPoint) -> str:
    """Return a circuit that a reading of a device, or of itself, is owed by."""
    if site.at(Circuit, "code", point.subject):
        return point.subject
    found = site.at(Conductor, "enclosure", point.box or "")
    circuits = site.find(Circuit, "code", {code for c in found for code in c.circuits})
    owing = (k.code for k in circuits if any(str(s.subject) == point.subject for s in k.owed))
    return next(owing, "")
